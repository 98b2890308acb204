"""What a host reads from a book, before anyone judges it: raw tables with the address of every cell."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sheetplan.model.problem import Problem

if TYPE_CHECKING:
    from sheetplan.rack.step import Seal


@dataclass(frozen=True, slots=True)
class ErrorValue:
    """A cell that shows an error such as ``#N/A``."""

    text: str


@dataclass(frozen=True, slots=True)
class NotComputed:
    """A formula whose result nobody has worked out yet, as some programs leave it in the file."""


CellValue = (
    str | int | float | bool | datetime.datetime | datetime.date | datetime.time
    | ErrorValue | NotComputed | None
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class RawCell:
    """A value and where it stands (``D7``)."""

    value: CellValue
    address: str


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row of a table: its row in the sheet (from 1), its cells by heading as the book spells it."""

    number: int
    cells: Mapping[str, RawCell]


@dataclass(frozen=True, slots=True)
class RawTable:
    """One input table as found on its page."""

    page: str
    heading_row: int
    headings: tuple[str, ...]
    rows: tuple[RawRow, ...]


@dataclass(frozen=True, slots=True)
class BookTables:
    """All input tables found, by the page's name in `columns`; what could not be read is a problem."""

    tables: Mapping[str, RawTable]
    problems: tuple[Problem, ...] = ()
    plan: str = ""
    """The mark of the plan that the book shows; empty where it shows none."""
    seals: Mapping[str, Seal] = field(default_factory=dict)
    """Whose steps the book lists, by the page that says so; see `rack.step.Seal`."""
    comma: bool | None = None
    """Whether the program that has the book open writes numbers with a comma; None where none says so."""
