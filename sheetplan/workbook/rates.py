"""Rates that are written nowhere, and one that is written and not used.

An empty cell is no rate of nothing: a cost that it leaves out is told. A 0 that somebody typed is a decision,
and nothing is said of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sheetplan.model.job import CuttingRule, Part, SheetSize
from sheetplan.model.problem import Problem, Unstated, Weight
from sheetplan.trade.sentences import named
from sheetplan.trade.thickness import Thickness, same
from sheetplan.workbook.columns import CUTTING, SETTINGS, STOCK
from sheetplan.workbook.reading.grid import is_blank, normal
from sheetplan.workbook.reading.rows import Place, Read
from sheetplan.workbook.tables import BookTables, RawCell, RawRow

MACHINE_HOUR, HAND_HOUR, MARK_UP = "Machine hour cost", "Hand hour cost", "Mark-up"
HAND_MINUTES = ("Minutes to load", "Minutes to square", "Minutes to unload", "Minutes to clean")
HOUR_COST = "Hour cost"

MOST_ROWS = 8
"""Rows that a sentence names; of more the first few."""

Gauge = tuple[str, Thickness]


def _cell(row: RawRow, heading: str) -> RawCell | None:
    return next((cell for name, cell in row.cells.items() if normal(name) == normal(heading)), None)


def _is_empty(cell: RawCell | None) -> bool:
    return cell is None or is_blank(cell.value)


@dataclass(frozen=True, slots=True)
class RateCells:
    """The rows that prices are reckoned from; ``rules`` are those of Cutting that are in use."""

    tables: BookTables
    rules: Sequence[Read[CuttingRule]]
    stock: Sequence[Read[SheetSize]]

    def without_price(self, gauge: Gauge, sheets: Sequence[SheetSize]) -> list[str]:
        """Cells of Stock where a sheet of a gauge that a plan may take has no price."""
        names = {sheet.name for sheet in sheets if _is_of(sheet, gauge)}
        return [
            self._place(read.place, "Price") for read in self.stock
            if read.value.name in names and self._is_blank(STOCK.name, read.place, "Price")
        ]  # fmt: skip

    def unstated(self, gauges: Sequence[Gauge], mark_up: float | None) -> tuple[Unstated, ...]:
        """What a price of some gauges leaves out for an empty cell; ``mark_up`` is that of its row."""
        rules = [read for gauge in gauges for read in self.rules if _is_of(read.value, gauge)]
        found = [one for read in rules for one in self._of_rule(read)]
        found += self._of_hands()
        if mark_up is None and self._setting_empty(MARK_UP):
            found.append(Unstated(self._setting(MARK_UP), "is empty: sold at cost, without a mark-up"))
        return tuple(dict.fromkeys(found))

    def _of_rule(self, read: Read[CuttingRule]) -> Iterator[Unstated]:
        place, of = read.place, f"{read.value.material} {read.value.thickness.text}"
        if self._is_blank(CUTTING.name, place, "Feed"):
            what = f"is empty: the time that cutting {of} takes costs nothing, and the days leave it out"
            yield Unstated(self._place(place, "Feed"), what, "Write the feed of your cut chart.")
        if self._is_blank(CUTTING.name, place, "Pierce seconds"):
            yield Unstated(self._place(place, "Pierce seconds"), f"is empty: piercing {of} takes no time")
        if self._is_blank(CUTTING.name, place, HOUR_COST) and self._setting_empty(MACHINE_HOUR):
            yield Unstated(f"{self._place(place, HOUR_COST)} and {self._setting(MACHINE_HOUR)}",
                           f"are empty: the machine costs nothing for {of}")  # fmt: skip
        if all(self._is_blank(CUTTING.name, place, heading) for heading in ("Pierce cost", "Set cost")):
            yield Unstated(f"{self._place(place, 'Pierce cost')} and {self._place(place, 'Set cost')}",
                           f"are empty: consumables cost nothing for {of}")  # fmt: skip

    def _of_hands(self) -> Iterator[Unstated]:
        empty = [name for name in HAND_MINUTES if self._setting_empty(name)]
        if empty:
            verbs = ", ".join(name.removeprefix("Minutes to ") for name in empty)
            are = "is empty" if len(empty) == 1 else "are empty"
            yield Unstated(", ".join(map(self._setting, empty)), f"{are}: no time to {verbs}")
        if self._setting_empty(HAND_HOUR) and len(empty) < len(HAND_MINUTES):
            yield Unstated(self._setting(HAND_HOUR), "is empty: hands cost nothing, though their minutes are "
                           "stated")  # fmt: skip

    def _row(self, page: str, number: int) -> RawRow | None:
        table = self.tables.tables.get(page)
        return next((row for row in table.rows if row.number == number), None) if table else None

    def _is_blank(self, page: str, place: Place, heading: str) -> bool:
        row = self._row(page, place.row)
        return row is None or _is_empty(_cell(row, heading))

    def _place(self, place: Place, heading: str) -> str:
        """A cell with its heading; of a column that is not there, its row."""
        cell = place.addresses.get(heading)
        return f"{heading} ({place.sheet}!{cell})" if cell else f"{heading} ({place.sheet}, row {place.row})"

    def _setting(self, name: str) -> str:
        there = settings_cells(self.tables).get(normal(name))
        where = SETTINGS.name if there is None else f"{SETTINGS.name}!{there.address}"
        return f"{name} ({where})"

    def _setting_empty(self, name: str) -> bool:
        return _is_empty(settings_cells(self.tables).get(normal(name)))


def settings_cells(tables: BookTables) -> Mapping[str, RawCell]:
    """The cell beside each row of Settings, by its name as compared."""
    table = tables.tables.get(SETTINGS.name)
    found: dict[str, RawCell] = {}
    for row in table.rows if table else ():
        name, value = _cell(row, "Setting"), _cell(row, "Value")
        if name is not None and value is not None:
            found.setdefault(normal(str(name.value)), value)
    return found


def _is_of(thing: CuttingRule | SheetSize | Part, gauge: Gauge) -> bool:
    return thing.material == gauge[0] and same(thing.thickness, gauge[1])


def unused_hour_cost(
    tables: BookTables, rules: Sequence[Read[CuttingRule]], parts: Sequence[Read[Part]]
) -> list[Problem]:
    """A note on Machine hour cost where each row of Cutting that a part is cut by has an Hour cost."""
    setting = settings_cells(tables).get(normal(MACHINE_HOUR))
    table = tables.tables.get(CUTTING.name)
    if setting is None or is_blank(setting.value) or table is None:
        return []
    gauges = [(read.value.material, read.value.thickness) for read in parts]
    used = {read.place.row for read in rules if any(_is_of(read.value, gauge) for gauge in gauges)}
    rows = [row for row in table.rows if row.number in used]
    if not rows or any(_is_empty(_cell(row, HOUR_COST)) for row in rows):
        return []
    cells = [cell.address for row in rows if (cell := _cell(row, HOUR_COST)) is not None]
    row = next((one.number for one in tables.tables[SETTINGS.name].rows
                if setting in one.cells.values()), None)  # fmt: skip
    return [Problem(
        tables.tables[SETTINGS.name].page, row, setting.address,
        f"{MACHINE_HOUR} is not used: each row of {table.page} that a part is cut by has its own {HOUR_COST} "
        f"({named(cells, MOST_ROWS)}).",
        f"Empty {HOUR_COST} in the rows that are to cost this much an hour, or this cell.", Weight.NOTE,
    )]  # fmt: skip
