"""What is wrong in the planner's book, said so that it can be put right.

Problems are values, and all are found in one pass. Exceptions are for us.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


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

    @property
    def where(self) -> str:
        """Page and cell as a person would say them."""
        if self.cell:
            return f"{self.page}!{self.cell}"
        return f"{self.page}, row {self.row}" if self.row else self.page
