"""Steps that change rack and book together, each all or nothing: cuts recorded, taken back, looked at.

From below: `folder` holds the records and commits steps, `known` says what they mean for the job,
`changes` writes the book with them, `opened` hands all of it to a step.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sheetplan.model import Problem


class Refused(Exception):
    """The step is not done; ``what`` and ``remedy`` are sentences for the planner.

    ``about`` is the field of what was asked that it is about, where it is about one.
    """

    def __init__(
        self, what: str, remedy: str, problems: tuple[Problem, ...] = (), *, about: str = ""
    ) -> None:
        super().__init__(f"{what} {remedy}")
        self.what, self.remedy, self.problems, self.about = what, remedy, problems, about
