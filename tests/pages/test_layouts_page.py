"""The page Layouts: one row a layout, with picture, parts and the link to its drawing."""

from __future__ import annotations

from dataclasses import replace

from sheetplan.model import Placement, Plan
from sheetplan.money.figures import plan_figures
from sheetplan.pages.layouts_page import layouts_page
from sheetplan.pages.parts_on import MOST_LINES, parts_text
from sheetplan.pages.pictures import CELL_HEIGHT, CELL_WIDTH, layout_pictures
from sheetplan.pages.values import Cell, Link, Picture
from sheetplan.trade.units import Units
from sheetplan.workbook.page_grid import grid_of


def cells(plan: Plan) -> list[dict[str, Cell]]:
    figures = plan_figures(plan)
    page = layouts_page(
        plan, figures, pictures=layout_pictures(plan, figures), drawings={"L1": "layouts/plan-KRTM/L1.dxf"}
    )
    table = page.tables[0]
    return [dict(zip([c.heading for c in table.columns], row, strict=True)) for row in table.rows]


def test_a_layout_with_all_that_the_shop_asks_for(inch_plan: Plan) -> None:
    first, second, _ = cells(inch_plan)
    assert (first["Layout"], first["Times to cut"], first["Gauge"]) == ("L1", 2, "mild steel 10 ga")
    assert first["Drawing"] == Link("L1 DXF", "layouts/plan-KRTM/L1.dxf")
    assert first["Sheet"] == "48 x 96 in\nrack A2"
    # 30.5 x 93.25 in of 10 ga at 7850 kg/m3 are 49.2 kg; of the area and so of 60 per cent of 92.50,
    # 61.72 per cent.
    assert first["Remnant left"] == "cropped to 30.5 x 93.25 in\n108.5 lb, 34.26 USD"
    assert second["Sheet"] == "remnant R-017\n48 x 40 in\nrack R1"
    assert second["Drawing"] is None
    # The remnant's edge is no rectangle, so no rectangle is promised.
    assert second["Remnant left"] is None


def test_the_list_decodes_the_keys_of_the_picture(inch_plan: Plan) -> None:
    figures = plan_figures(inch_plan)
    keys = layout_pictures(inch_plan, figures)["L1"].keys
    text = str(cells(inch_plan)[0]["Parts on it"])
    assert keys
    for part, key in keys.items():
        assert f" x {part} = {key}" in text
    assert "4 x CB-101\n" in text


def test_a_list_of_more_parts_than_a_row_shows_ends_with_their_count(inch_plan: Plan) -> None:
    layout = inch_plan.groups[0].layouts[0]

    def listed(count: int, name: str) -> list[str]:
        placed = tuple(Placement(f"{name}{i}", 0.0, 0.0) for i in range(10, 10 + count))
        return parts_text(replace(layout, placements=placed)).splitlines()

    assert len(listed(MOST_LINES, "P-")) == MOST_LINES
    short = listed(42, "P-")
    assert len(short) == MOST_LINES - 1  # the last takes two lines of the column
    assert short[-1] == "and 16 more parts, which the ticket lists"
    long = listed(42, "wall bracket of the outer pier ")
    assert len(long) == (MOST_LINES - 2) // 2 + 1
    assert long[-1] == "and 29 more parts, which the ticket lists"


def test_pictures_fit_their_cell_and_say_what_they_show(inch_plan: Plan) -> None:
    for row in cells(inch_plan):
        picture = row["Picture"]
        assert isinstance(picture, Picture)
        assert 0 < picture.width <= CELL_WIDTH
        assert 0 < picture.height <= CELL_HEIGHT
        assert str(row["Layout"]) in picture.alt
        assert picture.png.startswith(b"\x89PNG")


def test_the_page_prints_on_one_sheet_across(inch_plan: Plan, mm_plan: Plan) -> None:
    """A column a little wider would cost a second sheet of paper for every three layouts."""
    for plan, units in ((inch_plan, Units.INCH), (mm_plan, Units.MM)):
        figures = plan_figures(plan)
        page = layouts_page(plan, figures, pictures=layout_pictures(plan, figures), drawings={})
        assert grid_of(page, units).paper.across == 1
