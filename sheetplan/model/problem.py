"""What is wrong in the planner's book, said so that it can be put right.

Problems are values, and all are found in one pass. Exceptions are for us.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum

MOST_QUOTED = 300
"""Characters that are quoted of a cell or a path: a cell holds 32,767, and a sentence is to be read."""

_LONG_QUOTE = re.compile(rf"`([^`]{{{MOST_QUOTED + 1},}})`")


class Weight(StrEnum):
    """How much a problem matters to the plan."""

    STOPS = "stops the plan"
    LEFT_OUT = "row left out"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Problem:
    """One finding: where, what, and what to do.

    ``row`` is the workbook row (1 is the first), ``cell`` an address such as ``D7``; both are
    None where the finding is about a page or the whole book. ``follows`` names the row whose problem is the
    cause of this one, as ``Parts!12``; ``missing`` is the file that is not there, where it is about one.
    """

    page: str
    row: int | None
    cell: str | None
    what: str
    remedy: str
    weight: Weight = Weight.STOPS
    follows: str = field(default="", compare=False)
    missing: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        for name in ("what", "remedy"):
            object.__setattr__(self, name, _LONG_QUOTE.sub(_cut_short, getattr(self, name)))

    @property
    def where(self) -> str:
        """Page and cell as a person would say them."""
        if self.cell:
            return f"{self.page}!{self.cell}"
        return f"{self.page}, row {self.row}" if self.row else self.page


@dataclass(frozen=True, slots=True)
class Unstated:
    """A cell with its heading that is empty, what a price leaves out for it, and what to do."""

    cell: str
    what: str
    remedy: str = "Write 0 if that is meant."

    @property
    def said(self) -> str:
        """All of it in words."""
        return f"{self.cell} {self.what}. {self.remedy}"


def _cut_short(quote: re.Match[str]) -> str:
    text = quote[1]
    return f"`{text[: MOST_QUOTED // 2]} ... {text[-MOST_QUOTED // 2 :]}` ({len(text):,} characters)"
