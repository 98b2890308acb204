"""The page Layouts: one row a layout, with picture, parts and the link to its drawing."""

from __future__ import annotations

from dataclasses import replace

from sheetplan.model import Placement, Plan
from sheetplan.money.cutting_order import cutting_order
from sheetplan.money.cutting_plan import timetable
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.layouts import layouts_page
from sheetplan.pages.contents import MOST_LINES, parts_text
from sheetplan.pages.drawing.files import CELL_HEIGHT, CELL_WIDTH
from sheetplan.pages.values import Cell, Link, Picture
from sheetplan.trade.units import Units
from sheetplan.workbook.style import BODY_SIZE
from sheetplan.workbook.writing.grid import MAX_ROW_POINTS, Role, grid_of, look_of
from tests.pages.drawn import layout_pictures


def cells(plan: Plan) -> list[dict[str, Cell]]:
    figures = plan_figures(plan)
    page = layouts_page(
        plan, figures, pictures=layout_pictures(plan, figures), drawings={"L1": "layouts/plan-KRTM/L1.dxf"},
        days=timetable(plan, None),
    )  # fmt: skip
    table = page.tables[0]
    return [dict(zip([c.heading for c in table.columns], row, strict=True)) for row in table.rows]


def test_a_layout_with_all_that_the_shop_asks_for(inch_plan: Plan) -> None:
    first, second, _ = cells(inch_plan)
    assert (first["Layout"], first["Times to cut"]) == ("L1", 2)
    assert first["Drawing"] == Link("DXF", "layouts/plan-KRTM/L1.dxf")
    sheet = str(first["Sheet"]).splitlines()
    assert sheet[:3] == ["mild steel 10 ga", "48 x 96 in", "rack A2"]
    # 30.5 x 93.25 in of 10 ga at 7850 kg/m3 are 49.2 kg; of the area and so of 60 per cent of 92.50,
    # 61.72 per cent.
    work = str(first["One sheet"]).splitlines()
    assert work[4:] == ["cropped to 30.5 x 93.25 in", "108.5 lb", "34.26 USD"]
    assert [line.split(" ", 1)[1] for line in work[:4]] == ["yield", "ft to cut", "pierces", "min"]
    sheet = str(second["Sheet"]).splitlines()
    assert sheet[1:4] == ["remnant R-017", "48 x 40 in", "rack R1"]
    assert sheet[-1] == "in the rack"
    assert second["Drawing"] is None
    # The remnant's edge is no rectangle, so no rectangle is promised.
    assert not str(second["One sheet"]).count(" x ")


def test_rows_come_in_the_order_of_the_tickets_with_date_and_metal(inch_plan: Plan) -> None:
    """Of two sheets of the first layout one is bought; the last layout's is bought and waits, due or not."""
    turns = cutting_order(inch_plan)
    rows = cells(inch_plan)
    assert [row["Layout"] for row in rows] == [turn.layout.tag for turn in turns]
    assert "1 on hand, 1 to buy" in str(rows[0]["Sheet"])
    for row, turn in zip(rows, turns, strict=True):
        assert (f"due {turn.due}" in str(row["Sheet"])) is bool(turn.due)
    group = inch_plan.groups[0]
    (count,) = group.sheets
    ordered = (replace(count, sheet=replace(count.sheet, on_hand=2, on_order=1), from_rack=2, to_buy=0),)
    plan = replace(inch_plan, groups=(replace(group, sheets=ordered), *inch_plan.groups[1:]))
    assert "1 on hand, 1 to come" in str(cells(plan)[0]["Sheet"])


def test_the_number_is_large_and_the_picture_takes_what_the_paper_leaves(inch_plan: Plan) -> None:
    """Twice the area of a picture that is 314 points wide, and no row taller than a spreadsheet takes."""
    figures = plan_figures(inch_plan)
    pictures = layout_pictures(inch_plan, figures)
    days = timetable(inch_plan, None)
    page = layouts_page(inch_plan, figures, pictures=pictures, drawings={}, days=days)
    grid = grid_of(page, Units.INCH)
    number = next(cell for cell in grid.cells if cell.role is Role.BODY)
    look = look_of(number, Units.INCH)
    assert (number.value, look.bold) == ("L1", True)
    assert look.size > 1.5 * BODY_SIZE
    assert CELL_WIDTH * CELL_HEIGHT > 2 * 314 * 250
    assert CELL_HEIGHT < MAX_ROW_POINTS
    assert max(picture.picture.width for picture in pictures.values()) > 1.4 * 314 - 1


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
    long = listed(42, "wall bracket of pier ")
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
        pictures, days = layout_pictures(plan, figures), timetable(plan, None)
        page = layouts_page(plan, figures, pictures=pictures, drawings={}, days=days)
        assert grid_of(page, units).paper.across == 1
