"""Names that may stand once only, and names that have to be on another page."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from sheetplan.model.problem import Problem, Weight
from sheetplan.workbook.look_alikes import looks, only_alike, strangers
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
    return kept, unclear, [*problems, *_twins(kept, name, heading)]


def _twins(reads: Sequence[Read[T]], name: Callable[[T], str], heading: str) -> Iterator[Problem]:
    """A note on each name that nobody can tell from an earlier one, though letters differ."""
    first: dict[str, Read[T]] = {}
    for read in reads:
        said = name(read.value)
        earlier = first.setdefault(looks(said), read)
        if earlier is not read:
            other = name(earlier.value)
            what = f"{heading} {said} looks like that of row {earlier.place.row}, and is another. "
            what += _told_apart(said, other)
            remedy = "Write one of them anew if they are the same thing; else name it otherwise."
            yield read.place.problem(heading, what, remedy, Weight.NOTE)


def did_you_mean(said: str, names: Iterable[str]) -> str:
    """The known names that come closest, as a question with a space behind; empty where none is close.

    Where no whole name is, one that begins with nearly the same word is meant. Of a name that only looks the
    same, the letters are told that differ; of a number, the zeros that its cell has lost.

    >>> did_you_mean("galvanized", ["mild steel", "galvanised steel"])
    'Did you mean galvanised steel? '
    """
    known = list(names)
    alike = next((name for name in known if only_alike(said, name)), None)
    if alike is not None:
        return f"{_told_apart(said, alike)} Write {alike} anew, letter by letter, in one of the two places. "
    number = next((name for name in known if name != said and _number(name) == _number(said) != ""), None)
    if number is not None:
        return f"Did you mean {number}? A cell that is not formatted as text drops zeros in front. "
    for keys in ({normal(name): name for name in known}, {normal(_first_word(n)): n for n in known}):
        close: Sequence[str] = difflib.get_close_matches(normal(said), list(keys), n=2, cutoff=0.7)
        if close:
            return f"Did you mean {' or '.join(keys[key] for key in close)}? "
    return ""


def _told_apart(said: str, name: str) -> str:
    """Why two names that look the same are not."""
    odd = strangers(said, name) or strangers(name, said)
    return f"It looks like {name} and is written otherwise: {odd}." if odd else f"It only looks like {name}."


def _number(name: str) -> str:
    """A name of figures alone as a number, without zeros in front; empty for any other."""
    return name.lstrip("0") or "0" if name.isascii() and name.isdigit() else ""


def _first_word(name: str) -> str:
    return next(iter(name.split()), "")
