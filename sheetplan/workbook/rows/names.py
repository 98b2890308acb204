"""Names that may stand once only, and names that have to be on another page."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType

from sheetplan.model.problem import Problem, Weight
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.reader import Place, Read, T


def once_only(
    reads: Iterable[Read[T]],
    name: Callable[[T], str],
    heading: str,
    left_out: Mapping[str, Place] = MappingProxyType({}),
) -> tuple[tuple[Read[T], ...], dict[str, Place], list[Problem]]:
    """Keep the rows whose name stands once.

    A row that repeats an earlier one in every value is left out with a note. Where two rows give
    one name to different things, both are left out: nobody can say which one is meant. A row that
    could not be read (``left_out``, by names as compared) claims its name all the same.

    Returns
    -------
    tuple
        The rows kept, the rows of names that mean two things, and the problems.
    """
    first: dict[str, Read[T]] = {}
    unclear: dict[str, Place] = {}
    problems = []
    for read in reads:
        said = name(read.value)
        key, place = normal(said), read.place
        if key in left_out:
            what = f"{heading} {said} stands on row {left_out[key].row} too, and that row cannot be read."
            remedy = "Put that row right, or delete one of the two; until then neither is used."
            problems.append(place.problem(heading, what, remedy, Weight.LEFT_OUT))
            continue
        earlier = first.setdefault(key, read)
        if earlier is read:
            continue
        if earlier.value == read.value:
            what = f"This row says the same as row {earlier.place.row}."
            problems.append(place.problem(heading, what, "Delete one of them.", Weight.NOTE))
            continue
        unclear[key] = place
        what = f"{heading} {said} stands on row {earlier.place.row} already, with other values."
        remedy = "Give one of them another name, or delete it; neither is used."
        problems.append(place.problem(heading, what, remedy, Weight.LEFT_OUT))
    kept = tuple(read for key, read in first.items() if key not in unclear)
    return kept, unclear, problems


def did_you_mean(said: str, names: Iterable[str]) -> str:
    """The known names that come closest, as a question with a space behind; empty where none is close.

    Where no whole name is, one that begins with nearly the same word is meant.

    >>> did_you_mean("galvanized", ["mild steel", "galvanised steel"])
    'Did you mean galvanised steel? '
    """
    known = list(names)
    for keys in ({normal(name): name for name in known}, {normal(_first_word(n)): n for n in known}):
        close: Sequence[str] = difflib.get_close_matches(normal(said), list(keys), n=2, cutoff=0.7)
        if close:
            return f"Did you mean {' or '.join(keys[key] for key in close)}? "
    return ""


def _first_word(name: str) -> str:
    return next(iter(name.split()), "")
