"""Counts of the rack: which sheets were seen on which day, and which were missed twice.

A count says nothing of a sheet that came to the rack later. One that two counts in a row did not see is asked
about until it is seen, or its row says that it is gone; it is planned on all the same, since that is the
planner's to say.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sheetplan.model.job import Remnant
from sheetplan.rack.step import Step

KEPT = 12
"""Counts that are kept: a year of monthly ones."""

ASKED_AFTER = 2
"""So many counts in a row that did not see a sheet have it asked about."""


@dataclass(frozen=True, slots=True)
class Count:
    """One walk along the rack: its day, as ``2026-11-27``, and the tags seen."""

    day: str
    seen: frozenset[str]


def with_count(counts: Iterable[Count], new: Count) -> tuple[Count, ...]:
    """The counts by day with one more; one of the same day is replaced, the oldest go."""
    others = (one for one in counts if one.day != new.day)
    return tuple(sorted((*others, new), key=lambda one: one.day)[-KEPT:])


def counts_text(counts: Iterable[Count]) -> str:
    """Counts as a file's text."""
    value = {"format": 1, "counts": [{"day": one.day, "seen": sorted(one.seen)} for one in counts]}
    return json.dumps(value, ensure_ascii=False, indent=1) + "\n"


def counts_of(text: str) -> tuple[Count, ...]:
    """The counts that `counts_text` wrote, by day; ValueError where the text is damaged."""
    try:
        found = [
            Count(str(one["day"]), frozenset(map(str, one["seen"]))) for one in json.loads(text)["counts"]
        ]
    except (KeyError, TypeError) as error:
        raise ValueError(str(error)) from error
    return tuple(sorted(found, key=lambda one: one.day))


def missed_twice(
    remnants: Iterable[Remnant], counts: Sequence[Count], steps: Iterable[Step]
) -> Iterator[tuple[Remnant, str]]:
    """Sheets that the last counts did not see, though they were in the rack by then, and the days."""
    last = counts[-ASKED_AFTER:]
    if len(last) < ASKED_AFTER:
        return
    came: dict[str, str] = {}
    for step in steps:
        # One that was cut again lay there before: the first step that left it is when it came.
        for tag in step.left:
            came[tag] = min(came.get(tag, step.date), step.date)
    for remnant in remnants:
        if not any(remnant.tag in one.seen for one in last) and came.get(remnant.tag, "") < last[0].day:
            yield remnant, " and ".join(one.day for one in last)
