"""Tags of cuts that were taken back: a tag may stand on a sheet already, so it is not given to another.

    rack/taken back.json    the tags, and the cuts that they were given for, the last taken back at the end

A cut that is recorded again directly after it was taken back is on the same sheet and gets the same
tags; the file is then as it was before. As soon as another cut is given tags, no earlier one gets its
own again, and only the highest number is remembered.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.rack_folder import RackUnreadable
from sheetplan.rack.step import Step

TAKEN_BACK = "taken back.json"


@dataclass(frozen=True, slots=True)
class CutOf:
    """What a cut was of: two cuts that are equal here are the same cut recorded twice."""

    plan: str
    layout: str
    times: int
    on: str


@dataclass(frozen=True, slots=True)
class TagsGiven:
    """The highest number that was taken back, and the cuts that may have their tags again."""

    highest: int = 0
    waiting: tuple[tuple[CutOf, tuple[str, ...]], ...] = ()

    def again(self, cut: CutOf, count: int, taken: Iterable[str]) -> tuple[str, ...]:
        """The tags that this cut had, if it was the last to be taken back and nothing else has them."""
        if not self.waiting or self.waiting[-1][0] != cut:
            return ()
        tags = self.waiting[-1][1]
        return tags if len(tags) == count and not set(tags) & set(taken) else ()

    def after_cut(self, cut: CutOf, tags: Sequence[str]) -> TagsGiven:
        """What to remember when a cut was given tags."""
        if not tags:
            return self
        if self.waiting and self.waiting[-1] == (cut, tuple(tags)):
            return replace(self, waiting=self.waiting[:-1])
        return TagsGiven(self.highest_number)

    def after_undo(self, step: Step) -> TagsGiven:
        """What to remember when a step was taken back."""
        tags = tuple(tag for tag in step.left if tag != step.on)
        if not tags:
            return self
        return replace(self, waiting=(*self.waiting, (cut_of(step), tags)))

    @property
    def highest_number(self) -> int:
        """The highest number of any tag that was taken back."""
        return max(self.highest, highest_number(tag for _, tags in self.waiting for tag in tags))

    def content(self) -> bytes | None:
        """The file; None where there is nothing to remember."""
        if not self.highest and not self.waiting:
            return None
        value = {
            "format": 1,
            "highest": self.highest,
            "waiting": [
                {"plan": cut.plan, "layout": cut.layout, "times": cut.times, "on": cut.on, "tags": tags}
                for cut, tags in self.waiting
            ],
        }
        return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode()


def cut_of(step: Step) -> CutOf:
    """What a step cut."""
    return CutOf(step.plan, step.layout, step.times, step.on)


def highest_number(tags: Iterable[str]) -> int:
    """The highest number among tags of the tool's own kind, such as ``R-018``; 0 without any."""
    return max((int(tag[2:]) for tag in tags if tag.startswith("R-") and tag[2:].isdecimal()), default=0)


def read_tags(rack: Path) -> TagsGiven:
    """What is remembered beside a rack.

    Raises
    ------
    RackUnreadable
        The file is damaged.
    """
    path = rack / TAKEN_BACK
    if not path.exists():
        return TagsGiven()
    try:
        value = json.loads(path.read_text(encoding="utf-8"))
        waiting = tuple(
            (
                CutOf(str(one["plan"]), str(one["layout"]), int(one["times"]), str(one["on"])),
                tuple(map(str, one["tags"])),
            )
            for one in value["waiting"]
        )
        return TagsGiven(int(value["highest"]), waiting)
    except (ValueError, KeyError, TypeError) as error:
        raise RackUnreadable(f"{path.name} in {rack} is damaged ({error}).") from error
