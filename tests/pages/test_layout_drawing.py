"""A layout as a drawing: to scale, every kind of part named or keyed, nothing outside its frame."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Job, Layout, Placement, Plan
from sheetplan.model.turns import Corner
from sheetplan.pages.drawing import marks
from sheetplan.pages.drawing.layout_drawing import FLATNESS, LayoutDrawing, LayoutDrawings, round_length
from sheetplan.pages.drawing.lettering import text_width
from sheetplan.pages.drawing.marks import Area, Drawing, Hold, Line, Words
from sheetplan.shapes import Box, area, box, place
from sheetplan.trade.units import MM_PER_INCH
from tests.pages import conftest as harbour

SIZES = [(380.0, 250.0), (540.0, 300.0), (720.0, 540.0)]
HAIR = 0.01


def layouts(plan: Plan) -> Iterator[Layout]:
    for group_plan in plan.groups:
        yield from group_plan.layouts


def words(drawing: Drawing) -> list[Words]:
    return [mark for mark in drawing.marks if isinstance(mark, Words)]


def room(mark: Words) -> tuple[float, float, float, float]:
    wide = text_width(mark.text, mark.size, bold=mark.bold)
    back = {Hold.START: 0.0, Hold.MIDDLE: wide / 2, Hold.END: wide}[mark.hold]
    half = mark.size * 0.4
    if mark.upward:
        return mark.x - half, mark.y - back, mark.x + half, mark.y - back + wide
    return mark.x - back, mark.y - half, mark.x - back + wide, mark.y + half


def overlaps(drawing: Drawing) -> list[tuple[str, str]]:
    listed = [(mark.text, room(mark)) for mark in words(drawing)]
    return [
        (one, other)
        for place, (one, a) in enumerate(listed)
        for other, b in listed[place + 1 :]
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_nothing_reaches_out_and_no_words_touch(inch_plan: Plan, width: float, height: float) -> None:
    for layout in layouts(inch_plan):
        drawing = LayoutDrawings(inch_plan.job).of(layout, width, height).drawing
        assert drawing.width <= width + HAIR
        assert drawing.height <= height + HAIR
        for mark in drawing.marks:
            if isinstance(mark, Words):
                corners = [room(mark)[:2], room(mark)[2:]]
            else:
                corners = [*(mark.points if isinstance(mark, Line) else [p for r in mark.rings for p in r])]
            for x, y in corners:
                assert -HAIR <= x <= drawing.width + HAIR
                assert -HAIR <= y <= drawing.height + HAIR
        assert overlaps(drawing) == []


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_kind_of_part_is_named_or_keyed(inch_plan: Plan, width: float, height: float) -> None:
    for layout in layouts(inch_plan):
        drawn = LayoutDrawings(inch_plan.job).of(layout, width, height)
        shown = [mark.text for mark in words(drawn.drawing)]
        # A long name may stand in two lines, one mark after the other.
        run_together = "".join(shown).replace(" ", "")
        for part in {placement.part for placement in layout.placements}:
            if part in drawn.keys:
                assert drawn.keys[part] in shown, part
            else:
                assert part.replace(" ", "") in run_together, part
        parts = {placement.part for placement in layout.placements}
        by_size = sorted(parts, key=lambda part: (-area(inch_plan.job.parts[part].outline), part))
        assert drawn.keys == {part: str(by_size.index(part) + 1) for part in drawn.keys}


def test_a_part_has_one_key_in_the_book_and_on_the_ticket(inch_plan: Plan) -> None:
    for layout in layouts(inch_plan):
        small, large = (
            LayoutDrawings(inch_plan.job).of(layout, width, height).keys
            for width, height in (SIZES[0], SIZES[-1])
        )
        assert small.keys() >= large.keys()
        assert {part: small[part] for part in large} == large


def height(mark: Area) -> float:
    ys = [y for _, y in mark.rings[0]]
    return max(ys) - min(ys)


def bar_length(drawn: LayoutDrawing) -> float:
    """Points from end to end of the fields of the scale bar."""
    bar_height = 4.0
    fields = [
        mark.rings[0]
        for mark in drawn.drawing.marks
        if isinstance(mark, Area) and mark.edge == marks.INK and height(mark) == pytest.approx(bar_height)
    ]
    assert len(fields) == 5
    xs = [x for ring in fields for x, _ in ring]
    return max(xs) - min(xs)


def test_the_scale_bar_is_as_long_as_it_says(inch_plan: Plan) -> None:
    for layout in layouts(inch_plan):
        drawn = LayoutDrawings(inch_plan.job).of(layout, 540, 300)
        assert bar_length(drawn) == pytest.approx(drawn.bar_mm * drawn.points_per_mm)
        said = f"{drawn.bar_mm / MM_PER_INCH:g} in"
        assert said in [mark.text for mark in words(drawn.drawing)]


def test_parts_are_drawn_to_scale_and_in_place(inch_plan: Plan) -> None:
    layout = next(layouts(inch_plan))
    drawn = LayoutDrawings(inch_plan.job).of(layout, 540, 300)
    sheet, *parts = [mark.rings[0] for mark in drawn.drawing.marks if isinstance(mark, Area)][:2]
    first = layout.placements[0]
    assert first.part == "CB-101"
    left, bottom = min(x for x, _ in sheet), min(y for _, y in sheet)
    xs, ys = [x for x, _ in parts[0]], [y for _, y in parts[0]]
    scale = drawn.points_per_mm
    assert (min(xs) - left, min(ys) - bottom) == pytest.approx((first.x * scale, first.y * scale))
    assert (max(xs) - min(xs), max(ys) - min(ys)) == pytest.approx((304.8 * scale, 152.4 * scale))


@pytest.mark.parametrize("corner", list(Corner))
def test_the_datum_is_marked_at_its_corner(inch_plan: Plan, corner: Corner) -> None:
    job = replace(inch_plan.job, settings=replace(inch_plan.job.settings, datum=corner))
    drawing = LayoutDrawings(job).of(next(layouts(inch_plan)), 540, 300).drawing
    (angle,) = [mark for mark in drawing.marks if isinstance(mark, Line) and mark.ink == marks.DATUM]
    x, y = angle.points[1]
    assert (x > drawing.width / 2) is corner.is_right
    assert (y > drawing.height / 2) is corner.is_upper
    assert overlaps(drawing) == []


def test_what_remains_is_hatched_with_its_size(inch_plan: Plan) -> None:
    keep = Box(0.0, 20 * MM_PER_INCH, 96 * MM_PER_INCH, 48 * MM_PER_INCH)
    layout = next(layouts(inch_plan))
    with_it = LayoutDrawings(inch_plan.job).of(layout, 540, 300, keep).drawing
    hatch = [mark for mark in with_it.marks if isinstance(mark, Line) and mark.ink == marks.KEEP_LINE]
    assert len(hatch) > 50
    assert "keep 28 x 96 in" in [mark.text for mark in words(with_it)]
    assert overlaps(with_it) == []
    without = LayoutDrawings(inch_plan.job).of(layout, 540, 300).drawing
    assert not [mark for mark in without.marks if isinstance(mark, Line) and mark.ink == marks.KEEP_LINE]


def test_old_cuts_are_shaded(inch_plan: Plan) -> None:
    remnant_layout = list(layouts(inch_plan))[1]
    drawing = LayoutDrawings(inch_plan.job).of(remnant_layout, 540, 300).drawing
    assert sum(isinstance(mark, Area) and mark.fill == marks.OLD_CUT for mark in drawing.marks) == 2


def test_the_same_kit_has_the_same_fill_on_every_sheet(inch_plan: Plan) -> None:
    fills: dict[str, set[str | None]] = {}
    colours = marks.part_colours(inch_plan.job)
    for layout in layouts(inch_plan):
        drawing = LayoutDrawings(inch_plan.job).of(layout, 540, 300).drawing
        drawn = [mark for mark in drawing.marks if isinstance(mark, Area) and mark.edge == marks.EDGE]
        for placement, mark in zip(layout.placements, drawn, strict=False):
            fills.setdefault(colours.of_part[placement.part], set()).add(mark.fill)
    assert all(len(seen) == 1 for seen in fills.values())
    assert len({next(iter(seen)) for seen in fills.values()}) == len(fills) == 4


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_letter_of_a_kit_stands_before_names_and_in_the_legend(
    inch_plan: Plan, width: float, height: float
) -> None:
    colours = marks.part_colours(inch_plan.job)
    for layout in layouts(inch_plan):
        drawing = LayoutDrawings(inch_plan.job).of(layout, width, height).drawing
        shown = words(drawing)
        kits = {colours.of_part[placement.part] for placement in layout.placements}
        assert {colours.lettered(kit) for kit in kits} <= {mark.text for mark in shown}
        letters = [mark.text for mark in shown if mark.bold and mark.text != "datum"]
        # Where a part is too small for more than its key, the list beside the picture says its kit.
        assert set(letters) <= {colours.letters[kit] for kit in kits}
        before = list(pairwise(shown))
        for letter, name in before:
            if letter.bold and name.text in colours.of_part:
                assert letter.text == colours.letter(name.text)
                assert (letter.size, letter.upward) == (name.size, name.upward)
    rings = [name for letter, name in before if letter.bold and name.text == "RG-9"]
    assert len(rings) == (6 if width > 700.0 else 0), "the ring's metal has no room for both below that"


@given(st.floats(1e-3, 1e6))
def test_a_round_length_is_at_most_what_was_asked_and_not_much_less(about: float) -> None:
    assert about / 2.5 < round_length(about) * (1 + 1e-6)
    assert round_length(about) <= about * (1 + 1e-6)


def crowded(job: Job, count: int) -> Layout:
    """So many small parts on one sheet."""
    return Layout("L9", job.stock[0], tuple(
        Placement("CB-102", (0.25 + 4.25 * (i % 20)) * MM_PER_INCH, (0.25 + 3.25 * (i // 20)) * MM_PER_INCH)
        for i in range(count)
    ))  # fmt: skip


@pytest.mark.parametrize("count", [1, 60, 280])
def test_one_part_and_a_crowd_are_both_drawn_without_touching_words(inch_plan: Plan, count: int) -> None:
    drawn = LayoutDrawings(inch_plan.job).of(crowded(inch_plan.job, count), 380, 250)
    label = drawn.keys.get("CB-102", "CB-102")
    assert sum(mark.text == label for mark in words(drawn.drawing)) == count
    assert overlaps(drawn.drawing) == []


@given(
    st.floats(0.0, 360.0), st.booleans(), st.floats(300.0, 900.0), st.floats(300.0, 600.0),
    st.sampled_from(["CB-101", "RG-9"]),
)  # fmt: skip
def test_a_part_is_drawn_as_it_lies(turn: float, mirrored: bool, x: float, y: float, name: str) -> None:
    job = harbour.job()
    placement = Placement(name, x, y, turn, mirrored)
    layout = Layout("L1", job.stock[0], (placement,))
    drawn = LayoutDrawings(job).of(layout, 540, 300)
    sheet, part = [mark.rings for mark in drawn.drawing.marks if isinstance(mark, Area)][:2]
    left, bottom = min(x for x, _ in sheet[0]), min(y for _, y in sheet[0])
    true = box(place(job.parts[name].outline, placement))
    xs = [(x - left) / drawn.points_per_mm for x, _ in part[0]]
    ys = [(y - bottom) / drawn.points_per_mm for _, y in part[0]]
    stray = FLATNESS / drawn.points_per_mm
    assert (min(xs), min(ys), max(xs), max(ys)) == pytest.approx(tuple(true), abs=stray + HAIR)
    assert len(part) == 1 + len(job.parts[name].outline.holes)
