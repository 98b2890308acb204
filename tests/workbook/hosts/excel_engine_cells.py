"""Cells of the Excel for tests, and what Excel makes of text that is written into them."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from typing import Any

from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from xlwings import base_classes as base

EPOCH = datetime.datetime(1899, 12, 30)
MONTHS_AND_DAYS = re.compile(r"^(\d{1,2})[-/](\d{1,2})$")


def as_excel_reads(text: str) -> Any:
    """What Excel makes of text that is typed or written without the apostrophe."""
    if text.startswith("'"):
        return text[1:]
    stripped = text.strip()
    if stripped[:1] == "=" or (stripped[:1] in "+-@" and len(stripped) > 1 and not _number(stripped)):
        return "=" + stripped.lstrip("=")
    if _number(stripped):
        return float(stripped.rstrip("%")) / (100 if stripped.endswith("%") else 1)
    day = MONTHS_AND_DAYS.match(stripped)
    if day and 1 <= int(day[1]) <= 12 and 1 <= int(day[2]) <= 31:
        return EPOCH.replace(year=2026, month=int(day[1]), day=min(int(day[2]), 28))
    fraction = re.match(r"^(\d+) (\d+)/(\d+)$", stripped)
    if fraction:
        return int(fraction[1]) + int(fraction[2]) / int(fraction[3])
    if stripped.upper() in ("TRUE", "FALSE"):
        return stripped.upper() == "TRUE"
    return text


def _number(text: str) -> bool:
    return bool(re.match(r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?%?$", text))


class Range(base.Range):
    has_array = False
    api = True

    def __init__(self, sheet: Any, r: int, c: int, r2: int, c2: int) -> None:
        self.sheet, self.r, self.c, self.r2, self.c2 = sheet, r, c, r2, c2

    row = property(lambda self: self.r)
    column = property(lambda self: self.c)
    shape = property(lambda self: (self.r2 - self.r + 1, self.c2 - self.c + 1))
    coords = property(lambda self: (self.sheet.name, self.r, self.c, len(self), 1))
    address = property(lambda self: self.get_address(True, True, False))
    left = property(lambda self: (self.c - 1) * 48.0)
    top = property(
        lambda self: sum(self.sheet.plain.row_dimensions[r].height or 15.0 for r in range(1, self.r))
    )

    def get_address(self, *_: Any) -> str:
        first, last = f"${get_column_letter(self.c)}${self.r}", f"${get_column_letter(self.c2)}${self.r2}"
        return first if len(self) == 1 else f"{first}:{last}"

    def __len__(self) -> int:
        return self.shape[0] * self.shape[1]

    def __call__(self, i: int, j: int | None = None) -> Range:
        if j is None:
            i, j = (i - 1) // self.shape[1] + 1, (i - 1) % self.shape[1] + 1
        return Range(self.sheet, self.r + i - 1, self.c + j - 1, self.r + i - 1, self.c + j - 1)

    def _rows(self) -> Any:
        return self.sheet.plain.iter_rows(self.r, self.r2, self.c, self.c2)

    def _each(self) -> Iterator[Any]:
        return (cell for row in self._rows() for cell in row)

    @property
    def raw_value(self) -> Any:
        block = [[cell.value for cell in row] for row in self._rows()]
        return block[0][0] if len(self) == 1 else block

    @raw_value.setter
    def raw_value(self, block: Any) -> None:
        for i, row in enumerate(self._rows()):
            for j, cell in enumerate(row):
                value = block[i][j] if isinstance(block, list | tuple) else block
                kept = isinstance(value, str) and value.startswith("'")
                if isinstance(value, str):
                    value = as_excel_reads(value)
                cell.value = None if value == "" else value
                if kept:
                    cell.data_type = "s"
                    cell.quotePrefix = True

    @property
    def font(self) -> FontOf:
        return FontOf(self)

    @property
    def borders(self) -> BordersOf:
        return BordersOf(self)

    @property
    def color(self) -> Any:
        raise NotImplementedError

    @color.setter
    def color(self, value: Any) -> None:
        for cell in self._each():
            cell.fill = PatternFill("solid", fgColor=_hex(value))

    @property
    def number_format(self) -> str:
        return str(self.sheet.plain.cell(self.r, self.c).number_format)

    @number_format.setter
    def number_format(self, value: str) -> None:
        for cell in self._each():
            cell.number_format = value

    def _align(self, **what: Any) -> None:
        for cell in self._each():
            before = cell.alignment
            kept = {
                "horizontal": before.horizontal,
                "vertical": before.vertical,
                "wrap_text": before.wrap_text,
            }
            cell.alignment = Alignment(**(kept | what))

    wrap_text = property(None, lambda self, value: self._align(wrap_text=value))
    horizontal_alignment = property(None, lambda self, value: self._align(horizontal=value))
    vertical_alignment = property(None, lambda self, value: self._align(vertical=value))

    @property
    def column_width(self) -> float:
        return float(self.sheet.plain.column_dimensions[get_column_letter(self.c)].width)

    @column_width.setter
    def column_width(self, value: float) -> None:
        assert 0 <= value <= 255
        for column in range(self.c, self.c2 + 1):
            self.sheet.plain.column_dimensions[get_column_letter(column)].width = value

    @property
    def row_height(self) -> float | None:
        """None where rows differ, 0 where all are hidden, as Excel says it."""
        rows = [self.sheet.plain.row_dimensions[r] for r in range(self.r, self.r2 + 1)]
        heights = {0.0 if row.hidden else float(row.height or 15.0) for row in rows}
        return heights.pop() if len(heights) == 1 else None

    @row_height.setter
    def row_height(self, value: float) -> None:
        assert 0 <= value <= 409
        for row in range(self.r, self.r2 + 1):
            self.sheet.plain.row_dimensions[row].height = value

    def _merged(self) -> Any:
        blocks = self.sheet.plain.merged_cells.ranges
        return [b for b in blocks if b.min_row <= self.r2 and self.r <= b.max_row
                and b.min_col <= self.c2 and self.c <= b.max_col]  # fmt: skip

    @property
    def merge_cells(self) -> bool | None:
        """None where some cells are merged and others are not, as Excel says it."""
        covered = sum(
            (min(b.max_row, self.r2) - max(b.min_row, self.r) + 1)
            * (min(b.max_col, self.c2) - max(b.min_col, self.c) + 1)
            for b in self._merged()
        )
        return False if not covered else True if covered == len(self) else None

    @property
    def merge_area(self) -> Range:
        assert len(self) == 1
        block = self._merged()[0]
        return Range(self.sheet, block.min_row, block.min_col, block.max_row, block.max_col)

    @property
    def formula(self) -> Any:
        formulas = self.sheet.book.formulas
        block = [
            [
                formulas.get((self.sheet.name, cell.coordinate), (None, None))[0] or str(cell.value or "")
                for cell in row
            ]
            for row in self._rows()
        ]
        return block[0][0] if len(self) == 1 else tuple(tuple(row) for row in block)

    def copy(self, destination: Any = None) -> None:
        """Values, formulas and formats; addresses in formulas do not occur in tables of the template."""
        target, formulas = destination.impl, self.sheet.book.formulas
        for source, made in zip(self._each(), target._each(), strict=True):
            made.value, made.number_format = source.value, source.number_format
            formula = formulas.get((self.sheet.name, source.coordinate))
            if formula is not None:
                formulas[self.sheet.name, made.coordinate] = formula

    def merge(self, across: bool) -> None:
        self.sheet.plain.merge_cells(
            start_row=self.r, start_column=self.c, end_row=self.r2, end_column=self.c2
        )

    def add_hyperlink(self, address: str, text: str, tip: str) -> None:
        cell = self.sheet.plain.cell(self.r, self.c)
        cell.hyperlink = address
        cell.value = as_excel_reads(text)


class FontOf(base.Font):
    def __init__(self, cells: Range) -> None:
        self.cells = cells

    def _set(self, **what: Any) -> None:
        for cell in self.cells._each():
            before = cell.font
            kept = {"name": before.name, "size": before.size, "bold": before.bold, "color": before.color}
            cell.font = Font(**(kept | what))

    name = property(None, lambda self, value: self._set(name=value))
    size = property(None, lambda self, value: self._set(size=value))
    bold = property(None, lambda self, value: self._set(bold=value))
    color = property(None, lambda self, value: self._set(color=_hex(value)))


class BordersOf(base.Borders):
    def __init__(self, cells: Range) -> None:
        self.parent = cells

    def set(self, which: Any, *, line_style: Any = None, weight: Any = None, color: Any = None) -> None:
        for side in which:
            assert side in ("edge_bottom", "edge_top", "inside_horizontal")
            line = Side(weight, color=_hex(color))
            for cell in self.parent._each():
                cell.border = Border(top=line) if side == "edge_top" else Border(bottom=line)


def _hex(colour: Any) -> str:
    return colour.lstrip("#") if isinstance(colour, str) else "{:02X}{:02X}{:02X}".format(*colour)
