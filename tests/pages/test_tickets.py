"""Tickets as PDF, read back from the file's own vectors and words."""

from __future__ import annotations

import datetime
import io
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image, ImageDraw

from sheetplan.app.rack.cut_asked import _lying
from sheetplan.model import Job, Layout, Part, Placement, Plan, rectangle
from sheetplan.pages.drawing.files import png
from sheetplan.pages.paper.paper import MARGIN, Paper, paper_for
from sheetplan.pages.paper.tickets import code_drawing
from sheetplan.trade.units import MM_PER_INCH, Units
from tests.pages.drawn import tickets
from tests.pages.pdf_reading import Painted, pages_of, paths, touching, words

TODAY = datetime.date(2026, 11, 3)


def pdf(plan: Plan) -> bytes:
    drawings = {"L1": "layouts/plan-KRTM/KRTM-L1_mild-steel-10-ga.dxf"}
    return tickets(plan, TODAY, drawings)


def in_units(plan: Plan, units: Units) -> tuple[Plan, Paper]:
    """The same metal in a book of these units, and the paper that goes with them."""
    job = replace(plan.job, settings=replace(plan.job.settings, units=units))
    return replace(plan, job=job), paper_for(units)


def with_layout(plan: Plan, layout: Layout, parts: dict[str, Part] | None = None) -> Plan:
    """The plan with one layout of its first gauge and nothing else."""
    job: Job = replace(plan.job, parts={**plan.job.parts, **(parts or {})})
    return replace(plan, job=job, groups=(replace(plan.groups[0], layouts=(layout,)),))


def crowd(plan: Plan, count: int) -> Plan:
    """So many equal parts on a sheet."""
    places = tuple(
        Placement("CB-102", (0.25 + 4.25 * (i % 20)) * MM_PER_INCH, (0.25 + 3.25 * (i // 20)) * MM_PER_INCH)
        for i in range(count)
    )
    return with_layout(plan, Layout("L1", plan.job.stock[0], places, 3))


def many_kinds(plan: Plan, kinds: int) -> Plan:
    """So many different parts on a sheet, with names and descriptions of some length."""
    parts, places = {}, []
    for i in range(kinds):
        name = f"DK-{1000 + i}-LEFT"
        outline = rectangle((5.0 + 0.01 * i) * MM_PER_INCH, 4.0 * MM_PER_INCH)
        parts[name] = Part(
            name,
            "mild steel",
            plan.job.rules[0].thickness,
            outline,
            description="stiffener for the outer frame",
        )
        column, row = i % 15, i // 15
        places.append(Placement(name, (0.25 + 6.0 * column) * MM_PER_INCH, (0.25 + 4.5 * row) * MM_PER_INCH))
    return with_layout(plan, Layout("L1", plan.job.stock[0], tuple(places)), parts)


@pytest.mark.parametrize("units", Units)
def test_no_words_touch_and_all_stay_on_the_paper(inch_plan: Plan, units: Units) -> None:
    # Whole run, one part a sheet, sixty parts a sheet, sixty kinds a sheet.
    for made in (inch_plan, crowd(inch_plan, 1), crowd(inch_plan, 60), many_kinds(inch_plan, 60)):
        plan, paper = in_units(made, units)
        for page in pages_of(pdf(plan)):
            said = words(page)
            assert len(said) > 3
            assert touching(said) == []
            for one in said:
                left, bottom, right, top = one.box
                assert MARGIN - 1 <= left < right <= paper.width - MARGIN + 1, one
                assert MARGIN - 6 <= bottom < top <= paper.height - MARGIN + 1, one


def ticket_page(plan: Plan, tag: str) -> Any:
    """The page of one ticket of the run, found by its code; the cover has none."""
    (page,) = [page for page in pages_of(pdf(plan))[1:] if f"KRTM-{tag}" in page.extract_text().split()]
    return page


def ticket(plan: Plan, tag: str) -> str:
    return str(ticket_page(plan, tag).extract_text())


def test_a_ticket_says_what_the_table_needs(inch_plan: Plan) -> None:
    # The parts take 70.3 ft; the crop cut 93.25 + 30.5 in more, and the corner half a kerf outside.
    text = " ".join(ticket(inch_plan, "L1").split())
    for said in (
        "L1", "KRTM-L1", "plan KRTM", "2026-11-03", "mild steel 10 ga", "48 x 96 in", "MS10-4x8",
        "1 from rack place A2, 1 still to come (to be bought)",
        "175.8 lb each", "Cut 2 times",
        "Cut length ft", "80.6", "10 min", "20 min", "KRTM-L1_mild-steel-10-ga.dxf", "4 different parts",
        "34", "68", "First due 2026-11-12: H-2042", "Then H-2041 2026-11-20, H-2043 no date", "Taken off",
        "Size in", "Each lb", "12 x B ladder rail, 32 x A cleat set",
        "sheet squared", "first part measured", "all parts out", "remnant cropped, marked, put back",
        "Back to the rack, cropped to 30.5 x 93.25 in", "Heat number", "datum",
        "keep 30.5 x 93.25 in", "page 1 of 1",
    ):  # fmt: skip
        assert said in text, said


def test_a_remnant_is_squared_and_compared_with_the_picture(inch_plan: Plan) -> None:
    text = " ".join(ticket(inch_plan, "L2").split())
    assert "Look for tag R-017. What is left measures 48 x 40 in" in text
    assert "Touch the lower left corner" in text
    assert "Compare the 2 old cuts shaded in the picture" in text
    assert "The table finds the corner at x" in text
    assert "Squaring" not in ticket(inch_plan, "L1")


def test_orders_of_one_day_are_all_named_as_due_first(inch_plan: Plan) -> None:
    orders = tuple(replace(order, due="2026-11-09") for order in inch_plan.job.orders[:2])
    job = replace(inch_plan.job, orders=orders + inch_plan.job.orders[2:])
    text = " ".join(ticket(replace(inch_plan, job=job), "L1").split())
    assert "Cut 2 times First due 2026-11-09: H-2041, H-2042 ☐ ☐ To be cut 2026-11-03 Tue" in text
    assert "Tue Then H-2043 no date" in text


def test_many_times_are_ticked_under_the_words(inch_plan: Plan) -> None:
    layout = replace(inch_plan.groups[0].layouts[0], repeats=12)
    text = " ".join(ticket(with_layout(inch_plan, layout), "L1").split())
    assert text.count("☐ ☐") + text.count("☐") >= 12
    assert "Cut 12 times First due 2026-11-12: H-2042" in text


def test_cautions_stand_on_the_ticket(inch_plan: Plan) -> None:
    group = inch_plan.groups[0]
    metal = replace(group.group.material, gauge_series="aluminium")
    aluminium = replace(inch_plan, groups=(replace(group, group=replace(group.group, material=metal)),))
    text = " ".join(ticket(aluminium, "L1").split())
    assert "hydrogen gathers under the sheet" in text
    assert "Local codes decide" in text
    whole = [" ".join(page.extract_text().split()) for page in pages_of(pdf(aluminium))]
    assert "use rated lifting gear" in whole[0]
    assert "in full" not in whole[-1]
    assert "Cautions (full text on the cover): heavy sheets, hot and sharp" in whole[-1]
    assert "hydrogen gathers under the sheet and in the water and can explode. " in whole[-1]
    # Of what a ticket says in short the rest stands once in the run: on its cover.
    for said in ("use rated lifting gear", "follow the table maker's manual on aeration", "reminders only"):
        assert sum(said in page for page in whole) == 1
        assert said in whole[0]


def test_a_ticket_says_how_pieces_are_numbered_as_a_record_of_some_counts_them(inch_plan: Plan) -> None:
    """The words on the ticket, taken by hand: columns along the length, upwards in each."""
    layout = inch_plan.groups[0].layouts[0]
    assert "numbered from the datum corner along the length, level ones across" in ticket(inch_plan, "L1")
    lying = _lying(layout, inch_plan.job.parts, "CB-102", inch_plan.job.settings)
    places = [(layout.placements[index].x, layout.placements[index].y) for index, _, _ in lying]
    assert places == sorted(places)
    assert places[0][0] == places[1][0] < places[2][0]
    alone = with_layout(inch_plan, Layout("L1", layout.sheet, layout.placements[:1]))
    assert "numbered from" not in ticket(alone, "L1")


def test_a_long_list_runs_over_pages_with_its_head(inch_plan: Plan) -> None:
    pages = [page for page in pages_of(pdf(many_kinds(inch_plan, 60))) if "KRTM-L1" in page.extract_text()]
    assert len(pages) >= 2
    texts = [page.extract_text() for page in pages]
    for number, text in enumerate(texts, start=1):
        assert f"page {number} of {len(pages)}" in text
        assert "Per sheet" in text
    whole = "\n".join(texts)
    assert all(f"DK-{1000 + i}-" in whole for i in range(60))
    assert "60 different parts" in texts[-1]
    # The closing line is not left alone under a repeated head.
    assert texts[-1].count("DK-") >= 1


def test_sections_count_their_own_pages(inch_plan: Plan) -> None:
    feet = [page.extract_text() for page in pages_of(pdf(inch_plan))]
    assert len(feet) == 4
    assert all("page 1 of 1" in text for text in feet)
    assert "Cutting run" in feet[0]
    long = [page.extract_text() for page in pages_of(pdf(many_kinds(inch_plan, 60)))]
    assert "page 1 of 1" in long[0]
    assert [f"page {i} of {len(long) - 1}" in text for i, text in enumerate(long[1:], 1)] == [True] * (
        len(long) - 1
    )


def test_the_same_run_gives_the_same_bytes(inch_plan: Plan) -> None:
    assert pdf(inch_plan) == pdf(inch_plan)


def bar(painted: list[Painted]) -> tuple[float, float]:
    """Left and right end of the scale bar: five filled fields, 4 points high, in a row."""
    fields = [
        path for path in painted
        if path.fill is not None and path.stroke_width == 0.5 and abs(path.box[3] - path.box[1] - 4.0) < 0.01
    ]  # fmt: skip
    assert len(fields) == 5
    assert len({round(path.box[1], 3) for path in fields}) == 1
    return min(path.box[0] for path in fields), max(path.box[2] for path in fields)


@pytest.mark.parametrize(("tag", "sheet_inches", "bar_inches"), [("L1", 96.0, 20.0), ("L2", 40.0, 10.0)])
def test_the_scale_bar_is_right_by_the_vectors_of_the_file(
    inch_plan: Plan, tag: str, sheet_inches: float, bar_inches: float
) -> None:
    painted = paths(page := ticket_page(inch_plan, tag))
    left, right = bar(painted)
    (sheet,) = [path for path in painted if path.stroke_width == 1.2 and path.fill == (1.0, 1.0, 1.0)]
    points_per_inch = (sheet.box[2] - sheet.box[0]) / sheet_inches
    assert (right - left) / points_per_inch == pytest.approx(bar_inches, rel=1e-4)
    beside = [
        said.text
        for said in words(page)
        if said.box[0] - right == pytest.approx(4.0, abs=0.1) and said.size == 7.0
    ]
    assert beside == [f"{bar_inches:g} in"]


def test_parts_stand_in_the_file_where_the_plan_puts_them(inch_plan: Plan) -> None:
    painted = paths(ticket_page(inch_plan, "L1"))
    (sheet,) = [path for path in painted if path.stroke_width == 1.2 and path.fill == (1.0, 1.0, 1.0)]
    parts = [path for path in painted if path.stroke_width == 0.8 and path.fill is not None]
    layout = inch_plan.groups[0].layouts[0]
    scale = (sheet.box[2] - sheet.box[0]) / (96.0 * MM_PER_INCH)
    assert len(parts) == len(layout.placements)
    for path, placement in zip(parts, layout.placements, strict=True):
        assert path.box[0] - sheet.box[0] == pytest.approx(placement.x * scale, abs=0.01)
        assert path.box[1] - sheet.box[1] == pytest.approx(placement.y * scale, abs=0.01)


def decoded(image: Image.Image) -> list[str]:
    return [found.text for found in zxingcpp.read_barcodes(np.array(image.convert("L")))]


@pytest.mark.parametrize("units", Units)
def test_the_code_is_read_from_the_vectors_of_the_page(inch_plan: Plan, units: Units) -> None:
    plan, paper = in_units(inch_plan, units)
    for tag, page in zip(("L1", "L2", "L3"), pages_of(pdf(plan))[1:], strict=True):
        dots = 4.0
        image = Image.new("L", (round(paper.width * dots), round(paper.height * dots)), 255)
        draw = ImageDraw.Draw(image)
        for path in paths(page):
            if path.fill is not None:
                shade = round(255 * sum(path.fill) / 3)
                outline = [(x * dots, (paper.height - y) * dots) for x, y in path.rings[0]]
                draw.polygon(outline, fill=shade)
        assert decoded(image) == [f"KRTM-{tag}"]


@pytest.mark.parametrize("said", ["L1", "KRTM-L1", "KRTM-L128", "R-017", "Größe/Ä 12"])
def test_a_code_is_read_when_small_and_dirty(said: str) -> None:
    image = Image.open(io.BytesIO(png(code_drawing(said, 76.0), 150.0))).convert("L")
    assert decoded(image) == [said]
    # A blot over about 4 per cent of the code; ISO/IEC 18004 level M repairs 15.
    side = image.width
    ImageDraw.Draw(image).rectangle((side * 0.45, side * 0.55, side * 0.6, side * 0.7), fill=0)
    assert decoded(image) == [said]
