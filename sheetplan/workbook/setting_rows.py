"""The rows of the `Settings` page, named once."""

from __future__ import annotations

from dataclasses import dataclass

from sheetplan.model.settings import Corner, DrawingFormat
from sheetplan.trade.units import Units
from sheetplan.workbook.schema import Holds
from sheetplan.workbook.words import DecimalWord, KeepWord, choices

NOT_STATED = ""
"""What the template holds where only the shop can know the value: an empty cell, read as none."""


@dataclass(frozen=True, slots=True)
class SettingRow:
    """One row of the `Settings` table. ``usual`` and ``usual_mm`` are what the template holds."""

    name: str
    holds: Holds
    note: str
    usual: str | float
    usual_mm: str | float | None = None
    choices: tuple[str, ...] = ()

    def usual_in(self, units: Units) -> str | float:
        """The template's value in a book of these units."""
        return self.usual_mm if units is Units.MM and self.usual_mm is not None else self.usual


SETTING_ROWS = (
    SettingRow("Units", Holds.CHOICE, "in: inches, pounds, square feet. mm: millimetres, kilograms, "
               "square metres.", "in", "mm", choices(Units)),
    SettingRow("Output folder", Holds.TEXT, "Folder beside the book for drawings and tickets.", "layouts"),
    SettingRow("Datum corner", Holds.CHOICE, "Corner of the sheet that layouts are measured from.",
               Corner.LOWER_LEFT, None, choices(Corner)),
    SettingRow("Seconds to spend", Holds.NUMBER, "How long a plan may search. More seconds, less waste.", 20),
    SettingRow("Seed", Holds.COUNT, "Same book, same seed and same seconds: same plan.", 1),
    SettingRow("Least remnant length", Holds.LENGTH, "What is left of a sheet is kept if it is at least "
               "this long, in {length}.", 12, 300),
    SettingRow("Least remnant width", Holds.LENGTH, "And at least this wide, in {length}.", 12, 300),
    SettingRow("What is left", Holds.CHOICE, "crop to a rectangle: a straight cut parts the largest useful "
               "rectangle from the rest. keep as it is: the whole sheet goes back with its old cuts.",
               KeepWord.RECTANGLE, None, choices(KeepWord)),
    SettingRow("On hand counts at", Holds.SHARE, "What sheets on hand count of their price when plans "
               "are compared. Below 100%, what is paid for is used unless that wastes clearly more.", 0.85),
    SettingRow("Remnants count at", Holds.SHARE, "What a remnant counts of its metal's price, by its largest "
               "rectangle: one that is used, unless its Value is written, and one that goes back.", 0.6),
    SettingRow("Extra gap to old cuts", Holds.LENGTH, "More clear metal to a remnant's old cuts than the "
               "gap, for edges that may be warped, in {length}.", 0, 0),
    SettingRow("Cost of moving", Holds.MONEY, "What it costs to move 100 {weight}s of sheets off a remnant "
               "and back on the pile; 0: not counted.", 0),
    SettingRow("Drawing format", Holds.CHOICE, "The kind of DXF that your table's program takes.",
               DrawingFormat.R2000, None, choices(DrawingFormat)),
    SettingRow("Page for tablets", Holds.YES_NO, "yes: plan.html beside the drawings, for a tablet or "
               "telephone at the table: pictures, search, ticks of what is cut.", "yes", None, ("yes", "no")),
    SettingRow("Layouts as SVG too", Holds.YES_NO, "yes: each layout is written as SVG beside its DXF.",
               "no", None, ("yes", "no")),
    SettingRow("Kerf offset", Holds.YES_NO, "yes: cut half a kerf beside the edges, if the table's "
               "program does not.", "no", None, ("yes", "no")),
    SettingRow("Mark small holes", Holds.YES_NO, "yes: holes below the least of the page Cutting are marked "
               "at their middle, to be drilled, and not cut.", "no", None, ("yes", "no")),
    SettingRow("Curve tolerance", Holds.LENGTH, "How far splines and ellipses of a drawing may stray from "
               "the arcs that replace them, in {length}.", 0.002, 0.05),
    SettingRow("Drawing folders", Holds.TEXT, "More folders with part drawings beside the book's own; "
               "semicolons between.", NOT_STATED),
    SettingRow("Layers to cut", Holds.TEXT, "Layers of drawings that are cut; empty: told apart by name "
               "and line style.", NOT_STATED),
    SettingRow("Layers to mark", Holds.TEXT, "Layers of drawings that are marked on the part.", NOT_STATED),
    SettingRow("Layers to leave out", Holds.TEXT, "Layers of drawings that are neither cut nor marked.",
               NOT_STATED),
    SettingRow("Currency", Holds.TEXT, "Sign or letters shown with amounts of money.", "USD", "EUR"),
    SettingRow("Decimal sign", Holds.CHOICE, "point or comma: how numbers are written in texts and on paper; "
               "empty: as the program or the computer does. A number alone in its cell is shown as the "
               "program does. You may type either.", NOT_STATED, None, choices(DecimalWord)),
    SettingRow("Save with the plan", Holds.YES_NO, "yes: an open book is saved once it holds a new plan, "
               "since drawings and tickets are new then too.", "no", None, ("yes", "no")),
    SettingRow("Cutting hours", Holds.NUMBER, "How many hours a day the table cuts, for the page Cutting "
               "order: the shop's own figure, put in yours (6 is common practice, no source).", 6),
    SettingRow("Cutting days", Holds.TEXT, "On which days of the week it cuts, such as Mon to Thu, Sat. No "
               "layout depends on hours or days.", "Mon to Fri"),
    SettingRow("Minutes to load", Holds.NUMBER, "Laying one sheet on the table (3 is common practice, no "
               "source); empty: not counted. In the times of tickets and days, and in costs.", NOT_STATED),
    SettingRow("Minutes to square", Holds.NUMBER, "Squaring it (1 is common practice, no source).",
               NOT_STATED),
    SettingRow("Minutes to unload", Holds.NUMBER, "Taking its parts and its skeleton off (6 is common "
               "practice, no source).", NOT_STATED),
    SettingRow("Minutes to clean", Holds.NUMBER, "Taking the dross off one part, beside the table (1 is "
               "common practice, no source).", NOT_STATED),
    SettingRow("Machine hour cost", Holds.MONEY, "Cost of one hour of the table, where the page Cutting "
               "states no Hour cost.", NOT_STATED),
    SettingRow("Hand hour cost", Holds.MONEY, "Cost of one hour of hands at loading, unloading and cleaning.",
               NOT_STATED),
    SettingRow("Shop name", Holds.TEXT, "How your shop calls itself on a customer's page.", NOT_STATED),
    SettingRow("Mark-up", Holds.SHARE, "What a quote adds to its cost where its row does not say.",
               NOT_STATED),
    SettingRow("Lift limit", Holds.NUMBER, "The most that your gear, crew and local rules let you lift at "
               "once, in {weight}s; empty: not stated.", NOT_STATED),
)
