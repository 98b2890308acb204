"""The page Settings: a name and a value on each row."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sheetplan.model.problem import Problem, Weight
from sheetplan.model.settings import DrawingFormat, Settings
from sheetplan.model.turns import Corner
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import SETTINGS
from sheetplan.workbook.reading.cells import (
    CellFault,
    layers_of,
    length_in,
    mark_up_of,
    money_of,
    name_of,
    number_of,
    positive_number,
    share_of,
    text_of,
    weekdays_of,
    whole_of,
    word_of,
    yes_no,
)
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import RowReader, column_problems, did_you_mean, readers, template_of
from sheetplan.workbook.schema import NOT_STATED, SETTING_ROWS, DecimalWord, KeepWord
from sheetplan.workbook.tables import BookTables, CellValue, RawTable

LONGEST_SECONDS = 86_400.0
LONGEST_DAYS = 366
"""A day: longer is a typing mistake."""

LOOSEST_TOLERANCE_MM = 2.0
"""A coarser curve would be seen with the naked eye."""

LONGEST_CURRENCY = 8
"""Characters in a currency's sign or letters."""

LEAST_HOURS, HOURS_OF_DAY = 0.5, 24.0
"""Hours a day that a table may cut."""

MOVED_AT_ONCE = 100.0
"""Pounds or kilograms for which a cost of moving is stated."""

LIGHT = frozenset({"Seconds to spend", "Seed", "Shop name", "Decimal sign", "Save with the plan",
                   "Page for tablets", "Layouts as SVG too"})  # fmt: skip
"""Settings on which no amount, count or cut hangs."""

_UNITS = "Units"

_KNOWN = {normal(setting.name): setting for setting in SETTING_ROWS}


def read_settings(table: RawTable) -> tuple[Settings | None, tuple[Problem, ...]]:
    """The settings; None where the units are not known, since then no length can be read."""
    problems = list(column_problems(SETTINGS, table))
    if problems:
        return None, tuple(problems)
    rows = _named(table, problems)
    units = _units(table, rows, problems)
    if units is None:
        return None, tuple(problems)
    values = {}
    for name, (field, read) in _readers(units).items():
        held = rows.get(normal(name))
        if held is not None and not held.blank("Value"):
            values[field] = held.may("Value", read, None)
            problems += held.problems
    given = {field: value for field, value in values.items() if value is not None}
    return Settings(**{**_usual(units), **given}), tuple(problems)


def settings_missed(tables: BookTables) -> list[Problem]:
    """A note on the rows of Settings that are not there, each with what stands in for it.

    A row without a value says that this is meant, and none is left of what later templates brought. Nothing
    is said where the units are not known: then nothing is read.
    """
    table = tables.tables.get(SETTINGS.name)
    settings, _ = read_settings(table) if table else (None, ())
    if table is None or settings is None:
        return []
    there = _named(table, [])
    template = max(template_of(tables), *(row.since for row in SETTING_ROWS if normal(row.name) in there))
    missed = [row for row in SETTING_ROWS if normal(row.name) not in there and row.since <= template]
    if not missed:
        return []
    said = ", ".join(f"no row {row.name} (so: {row.usual_said(settings.units)})" for row in missed)
    return [
        Problem(
            table.page, table.heading_row, None,
            f"The page {table.page} has {said}.",
            "If that is not meant, add the row with its value. A row without a value says that it is meant.",
            Weight.NOTE,
        )
    ]  # fmt: skip


def _named(table: RawTable, problems: list[Problem]) -> dict[str, RowReader]:
    """The rows by their names as compared; what is wrong with names goes to the problems."""
    rows: dict[str, RowReader] = {}
    unknown: list[RowReader] = []
    for row in readers(SETTINGS, table, Units.INCH, Weight.STOPS):
        name = normal(row.need("Setting", name_of, ""))
        if name and name not in _KNOWN:
            unknown.append(row)
        elif name in rows:
            row.fault(
                "Setting",
                f"{_KNOWN[name].name} stands on row {rows[name].place.row} already.",
                "Delete one of the two rows.",
            )
        elif name:
            rows[name] = row
        problems += row.problems
        row.problems.clear()
    missing = [setting.name for name, setting in _KNOWN.items() if name not in rows]
    for row in unknown:
        _not_known(row, missing)
        problems += row.problems
    return rows


def _not_known(row: RowReader, missing: Sequence[str]) -> None:
    """A row that no setting has the name of: where it comes near one that is missing, the plan waits."""
    said = text_of(row.value("Setting"))
    near = did_you_mean(said, missing)
    heavy = bool(did_you_mean(said, [name for name in missing if name not in LIGHT]))
    row.fault(
        "Setting",
        f"There is no setting {said}.",
        f"{near}Write its name so, or delete the row." if near else
        f"{did_you_mean(said, [setting.name for setting in SETTING_ROWS])}The row is not used.",
        Weight.STOPS if heavy and not row.blank("Value") else Weight.NOTE,
    )  # fmt: skip


def _units(table: RawTable, rows: Mapping[str, RowReader], problems: list[Problem]) -> Units | None:
    row = rows.get(normal(_UNITS))
    if row is None or row.blank("Value"):
        what = "The book does not say which units it is written in."
        remedy = "Write in (inches and pounds) or mm (millimetres and kilograms) beside Units."
        missing = (
            row.place.problem("Value", what, remedy) if row else Problem(table.page, None, None, what, remedy)
        )
        problems.append(missing)
        return None
    units: Units | None = row.may("Value", word_of(Units), None)
    problems += row.problems
    row.problems.clear()
    return units


def _readers(units: Units) -> dict[str, tuple[str, Callable[[CellValue], Any]]]:
    """Field of `Settings` and reader of each row by its name."""
    return {
        _UNITS: ("units", word_of(Units)),
        "Output folder": ("output_folder", name_of),
        "Datum corner": ("datum", word_of(Corner)),
        "Seconds to spend": ("seconds", _seconds),
        "Seed": ("seed", whole_of),
        "Least remnant length": ("least_remnant_length", length_in(units)),
        "Least remnant width": ("least_remnant_width", length_in(units)),
        "What is left": ("crop_remnants", _cropped),
        "On hand counts at": ("on_hand_share", share_of),
        "Remnants count at": ("remnant_share", share_of),
        "Extra gap to old cuts": ("extra_gap", length_in(units)),
        "Cost of moving": ("moving_cost", _per_weight(units)),
        "Drawing format": ("drawing_format", word_of(DrawingFormat)),
        "Currency": ("currency", _currency),
        "Lift limit": ("lift_limit", _weight_in(units)),
        "Minutes to load": ("load_minutes", number_of),
        "Minutes to square": ("square_minutes", number_of),
        "Minutes to unload": ("unload_minutes", number_of),
        "Minutes to clean": ("clean_minutes", number_of),
        "Machine hour cost": ("machine_hour", money_of),
        "Hand hour cost": ("hand_hour", money_of),
        "Shop name": ("shop_name", name_of),
        "Mark-up": ("mark_up", mark_up_of),
        "Days a quote holds": ("quote_days", _days),
        "Cutting hours": ("cutting_hours", _hours),
        "Cutting days": ("cutting_days", weekdays_of),
        "Page for tablets": ("page_for_tablets", yes_no),
        "Layouts as SVG too": ("also_svg", yes_no),
        "Kerf offset": ("kerf_offset", yes_no),
        "Mark small holes": ("small_holes_marked", yes_no),
        "Curve tolerance": ("curve", _tolerance_in(units)),
        "Decimal sign": ("decimal_comma", _comma),
        "Save with the plan": ("save_plan", yes_no),
        "Drawing folders": ("drawing_folders", _folders),
        "Layers to cut": ("cut_layers", layers_of),
        "Layers to mark": ("mark_layers", layers_of),
        "Layers to leave out": ("ignored_layers", layers_of),
    }


def _usual(units: Units) -> dict[str, Any]:
    """What rows that are missing or empty stand for."""
    fields = _readers(units)
    stated = (row for row in SETTING_ROWS if row.usual_in(units) != NOT_STATED)
    return {fields[row.name][0]: fields[row.name][1](row.usual_in(units)) for row in stated}


def _seconds(value: CellValue) -> float:
    seconds = positive_number(value)
    if seconds > LONGEST_SECONDS:
        raise CellFault(f"{text_of(value)} is more than a day", "Write the seconds that a plan may search.")
    return seconds


def _hours(value: CellValue) -> float:
    hours = positive_number(value)
    if not LEAST_HOURS <= hours <= HOURS_OF_DAY:
        what = f"`{text_of(value)}` is not from half an hour to a whole day"
        raise CellFault(what, "Write the hours a day that it cuts.")
    return hours


def _days(value: CellValue) -> int:
    days = whole_of(value)
    if days > LONGEST_DAYS:
        raise CellFault(f"{days:,} days are more than a year", "Write how many days its prices hold.")
    return days


def _weight_in(units: Units) -> Callable[[CellValue], float]:
    def weight(value: CellValue) -> float:
        return positive_number(value) * units.weight_kg

    return weight


def _cropped(value: CellValue) -> bool:
    return word_of(KeepWord)(value) is KeepWord.RECTANGLE


def _comma(value: CellValue) -> bool:
    said = text_of(value)
    if said in (".", ","):
        return said == ","
    return word_of(DecimalWord)(value) is DecimalWord.COMMA


def _per_weight(units: Units) -> Callable[[CellValue], float]:
    def cost(value: CellValue) -> float:
        return money_of(value) / (MOVED_AT_ONCE * units.weight_kg)

    return cost


def _tolerance_in(units: Units) -> Callable[[CellValue], float]:
    read = length_in(units)

    def tolerance(value: CellValue) -> float:
        found = read(value)
        if not 0.0 < found <= LOOSEST_TOLERANCE_MM:
            raise CellFault(
                f"`{text_of(value)}` is no tolerance for cutting",
                f"Write a small length, such as {'0.002' if units is Units.INCH else '0.05'}.",
            )
        return found

    return tolerance


def _folders(value: CellValue) -> tuple[str, ...]:
    return tuple(folder.strip() for folder in text_of(value).split(";") if folder.strip())


def _currency(value: CellValue) -> str:
    said = text_of(value)
    if len(said) > LONGEST_CURRENCY:
        raise CellFault(f"`{said}` is too long for a currency", "Write its sign or letters, such as USD.")
    return said
