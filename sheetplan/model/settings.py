"""The choices of the `Settings` page."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sheetplan.model.turns import Corner
from sheetplan.trade.units import Units


class DrawingFormat(StrEnum):
    """Which DXF the table's software takes."""

    R12 = "DXF R12"
    R2000 = "DXF R2000"


@dataclass(frozen=True, slots=True)
class Settings:
    """Whole-book choices. Lengths in mm, seconds for the whole run."""

    units: Units = Units.INCH
    output_folder: str = "layouts"
    datum: Corner = Corner.LOWER_LEFT
    seconds: float = 20.0
    seed: int = 1
    least_remnant_length: float = 304.8
    least_remnant_width: float = 304.8
    drawing_format: DrawingFormat = DrawingFormat.R2000
    currency: str = "USD"
    lift_limit: float | None = None
    """The most that may be lifted at once, kg; None where the book states none."""
    crop_remnants: bool = True
    """Whether what is left of a cut sheet is cropped to its largest rectangle; else kept as it is."""
    on_hand_share: float = 0.85
    """What metal on hand counts of its price in the choice between plans, 0 to 1.

    Less than 1, so that what is paid for already is used unless that wastes clearly more.
    """
    remnant_share: float = 0.6
    """What remnants, and useful rectangles that go back to the rack, count of their metal's price, 0 to 1."""
    extra_gap: float = 0.0
    """More clear metal to old cuts than the rule's gap, mm, for edges that may be warped."""
    moving_cost: float = 0.0
    """What it costs to move one kg off a remnant and back."""
    curve: float = 0.05
    """How far splines and ellipses of a drawing may stray from the arcs that replace them, mm."""
    drawing_folders: tuple[str, ...] = ()
    """Folders beside the book's own in which drawings are looked for."""
    cut_layers: tuple[str, ...] = ()
    """Layers of drawings that are cut; empty where layers are told apart by name and line style."""
    mark_layers: tuple[str, ...] = ()
    ignored_layers: tuple[str, ...] = ()
    page_for_tablets: bool = True
    """Whether the plan is also written as a page for a browser at the table."""
    also_svg: bool = False
    """Whether each layout is written as SVG beside its DXF."""
    kerf_offset: bool = False
    """Whether cut paths are moved half a kerf off the finished edges, for tables that do not do it."""
    small_holes_marked: bool = False
    """Whether holes below the least are marked at their middle and not cut."""
    decimal_comma: bool | None = None
    """Whether numbers in texts have a comma before their decimals; None: as the system writes them."""
    save_plan: bool = False
    """Whether an open book is saved once it holds a new plan."""
    cutting_hours: float = 6.0
    """Hours a day that the table cuts; no layout depends on them, nor on the days."""
    cutting_days: tuple[int, ...] = (0, 1, 2, 3, 4)
    """Days of the week on which the table cuts, Monday 0, in their order."""
    shop_name: str = ""
    """How the shop calls itself to its customers."""
    load_minutes: float = 0.0
    """Minutes in which one sheet is laid on the table; nothing is cut meanwhile, as in the next two."""
    square_minutes: float = 0.0
    unload_minutes: float = 0.0
    """Minutes in which parts and skeleton of one sheet are taken off."""
    clean_minutes: float = 0.0
    """Minutes of hands for one part, beside the table."""
    machine_hour: float = 0.0
    """Cost of one hour of the table, where a row of the page Cutting states none."""
    hand_hour: float = 0.0
    """Cost of one hour of hands."""
    mark_up: float = 0.0
    """What a quote adds to its cost where its row does not say, 0.25 for a quarter."""
    quote_days: int | None = None
    """How many days the prices of a quote hold; None where that is not stated."""

    @property
    def sheet_minutes(self) -> float:
        """Minutes that one sheet keeps the table busy beside its cutting."""
        return self.load_minutes + self.square_minutes + self.unload_minutes
