"""What the search of true shapes came to, in words: nothing is said of them that it has not shown."""

from __future__ import annotations

from dataclasses import dataclass

from sheetplan.drawings.findings import counted

ROUND_SECONDS = (10, 20, 30, 60, 90, 120, 180, 240, 300, 450, 600, 900, 1200, 1800, 2700, 3600)
"""What a rough estimate of seconds is rounded up to; beyond, to whole hours."""


@dataclass(frozen=True, slots=True)
class ShapeOutcome:
    """A gauge's best plan of true shapes against its best plan of bounding boxes.

    ``saved`` is what the boxes cost more, in money; where the book has no prices (``has_prices`` False) the
    share of their metal. 0 or less: nothing. ``sheets`` are the sheets saved, below 0 where it takes more of
    them. ``at_rest`` says that the search of true shapes has nothing left to try or nothing left to gain;
    ``seconds`` is a rough estimate of the seconds for the whole run in which it would come to rest, None
    where nobody knows. ``tried`` is False where the time ran out before the first try; ``makes_more``
    says that true shapes make pieces for which bounding boxes find no metal.
    """

    saved: float = 0.0
    sheets: int = 0
    at_rest: bool = False
    seconds: float | None = None
    tried: bool = True
    has_prices: bool = True
    makes_more: bool = False


def shape_note(outcome: ShapeOutcome) -> str:
    """One sentence on what true shapes gained, or on what is not known of them yet.

    >>> shape_note(ShapeOutcome(at_rest=True))
    'True shapes were tried; they are no cheaper than bounding boxes here.'
    """
    if not outcome.tried:
        return f"True shapes may pay here, but time ran out before they were tried: {_more(outcome)}."
    if outcome.makes_more:
        return "True shape makes pieces for which bounding boxes find no metal."
    if outcome.saved > 0.0:
        return _gained(outcome)
    if outcome.at_rest:
        return "True shapes were tried; they are no cheaper than bounding boxes here."
    return (
        "True shapes are no cheaper than bounding boxes so far, but time ran out before they were tried to "
        f"the end: {_more(outcome)}."
    )


def round_seconds(seconds: float) -> int:
    """A rough estimate rounded up, so that it does not pass for a measured one.

    >>> round_seconds(34.2), round_seconds(60.0), round_seconds(5000.0)
    (60, 60, 7200)
    """
    hour = ROUND_SECONDS[-1]
    whole_hours = -int(-seconds // hour) * hour
    return next((step for step in ROUND_SECONDS if seconds <= step), whole_hours)


def _gained(outcome: ShapeOutcome) -> str:
    saved, sheets = outcome.saved, outcome.sheets
    worth = f"{saved:,.2f}" if outcome.has_prices else f"{saved:.1%} of the metal"
    if sheets > 0:
        return f"True shape saved {counted(sheets, 'sheet')}, {worth}, against bounding boxes."
    other = "cheaper" if outcome.has_prices else "smaller"
    which = f"as many sheets, but {other} ones" if sheets == 0 else f"more sheets, but {other} ones"
    return f"True shape saved {worth} against bounding boxes: {which}."


def _more(outcome: ShapeOutcome) -> str:
    if outcome.seconds is None:
        return "give more seconds"
    return f"about {round_seconds(outcome.seconds):,} seconds would do"
