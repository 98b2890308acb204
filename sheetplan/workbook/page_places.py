"""Where a page of ours goes in a book that does not have it yet."""

from __future__ import annotations

from collections.abc import Sequence

from sheetplan.pages.values import OWNED_PAGES


def neighbours(page: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Pages of ours that stand before a page in a new book and those after it, the nearest first."""
    if page not in OWNED_PAGES:
        return (), ()
    place = OWNED_PAGES.index(page)
    return OWNED_PAGES[:place][::-1], OWNED_PAGES[place + 1 :]


def place_of(page: str, there: Sequence[str]) -> int:
    """How many of the book's pages come before a new one.

    It follows the nearest page of ours that stands before it in a new book; where the book has none of them
    it goes before the nearest that stands after it there, else to the end.

    >>> place_of("Cutting order", ("Orders", "Plan", "Buy", "Layouts", "My notes"))
    3
    """
    places = {name.casefold(): place for place, name in enumerate(there)}
    before, after = neighbours(page)
    follows = (places[name.casefold()] + 1 for name in before if name.casefold() in places)
    precedes = (places[name.casefold()] for name in after if name.casefold() in places)
    return next(follows, next(precedes, len(there)))
