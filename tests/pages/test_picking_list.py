"""The picking list and the labels: every piece that the plan makes for an order, once."""

from __future__ import annotations

import datetime
import re
from collections import Counter
from dataclasses import replace

import pytest

from sheetplan.model import Kit, Order, OrderProgress, Plan
from sheetplan.money.order_shares import pieces_made
from sheetplan.pages.contents import uses_of
from sheetplan.pages.drawing.marks import part_colours
from sheetplan.pages.paper import labels
from sheetplan.pages.paper.labels import LABELS, labels_pdf, part_labels
from sheetplan.pages.paper.lists import pick_orders, picking_list_pdf, spare_picks
from sheetplan.trade.units import Units
from tests.pages.pdf_reading import pages_of, paths, touching, words

TODAY = datetime.date(2026, 11, 3)


def test_every_piece_made_is_picked_once(inch_plan: Plan) -> None:
    picked: Counter[str] = Counter()
    for order in pick_orders(inch_plan):
        for pick in order.picks:
            picked[pick.part] += pick.pieces
    assert picked == pieces_made(inch_plan)


def test_shorts_and_layouts_are_named(inch_plan: Plan) -> None:
    order = next(order for order in pick_orders(inch_plan) if order.order == "H-2043")
    gusset = next(pick for pick in order.picks if pick.part.startswith("BK-300"))
    assert (gusset.pieces, gusset.short, gusset.layouts) == (2, 2, (("L2", 2),))
    assert (order.asked, order.whole) == (4, 2)


def test_what_is_picked_from_each_layout_is_what_its_ticket_gives_the_order(inch_plan: Plan) -> None:
    uses = uses_of(inch_plan)
    by_layout: Counter[tuple[str, str]] = Counter()
    for order in pick_orders(inch_plan):
        for pick in order.picks:
            assert sum(pieces for _, pieces in pick.layouts) == pick.pieces
            by_layout.update({(tag, pick.part): pieces for tag, pieces in pick.layouts})
    for pick in spare_picks(inch_plan):
        assert sum(pieces for _, pieces in pick.layouts) == pick.pieces
        by_layout.update({(tag, pick.part): pieces for tag, pieces in pick.layouts})
    assert by_layout == {key: sum(use.pieces for use in some) for key, some in uses.items()}


def test_the_list_as_pages(inch_plan: Plan) -> None:
    pages = pages_of(picking_list_pdf(inch_plan, today=TODAY, mark="KRTM"))
    texts = [page.extract_text() for page in pages]
    assert len(pages) == 1
    told = " ".join(texts[0].split())
    starts = [told.index(said) for said in (
        "B H-2042: ladder rail, 6 kits due 2026-11-12", "A H-2041: cleat set, 8 kits due 2026-11-20",
        "C H-2043: fender plate, 4 kits 2 of 4 kits can be completed from what the plan cuts. no date",
        "H-2044: single part no date",
    )]  # fmt: skip
    assert starts == sorted(starts)
    assert "L2; 2 short" in told
    assert all(touching(words(page)) == [] for page in pages)


def in_units(plan: Plan, units: Units) -> Plan:
    """The same metal in a book of these units."""
    return replace(plan, job=replace(plan.job, settings=replace(plan.job.settings, units=units)))


def test_a_label_for_each_bundle(inch_plan: Plan) -> None:
    bundles = list(part_labels(inch_plan))
    assert len(bundles) == len({(label.part, label.order) for label in bundles}) == 9
    assert sum(int(label.count.split()[0]) for label in bundles) == sum(pieces_made(inch_plan).values())
    colours = part_colours(inch_plan.job)
    for label in bundles:
        kit = colours.letters.get(label.item, ""), colours.fills.get(label.item, "")
        assert (label.letter, label.fill) == kit
    assert {label.letter for label in bundles} == {"A", "B", "C", ""}


@pytest.mark.parametrize("units", Units)
def test_a_label_says_what_its_part_is_and_shows_the_letter_on_its_fill(
    inch_plan: Plan, units: Units
) -> None:
    parts = {
        name: replace(part, description=f"what {name} is") for name, part in inch_plan.job.parts.items()
    }
    plan = in_units(replace(inch_plan, job=replace(inch_plan.job, parts=parts)), units)
    (page,) = pages_of(labels_pdf(plan))
    said = [one.text for one in words(page)]
    bundles = list(part_labels(plan))
    assert all(bundle.description in said for bundle in bundles)
    letters = [one for one in words(page) if one.text in ("A", "B", "C")]
    assert len(letters) == sum(bundle.letter != "" for bundle in bundles)
    for one, bundle in zip(letters, [b for b in bundles if b.letter], strict=True):
        x, y = one.box[0] + 0.1, one.box[1] + 0.1
        (under,) = [
            path for path in paths(page)
            if path.box[0] < x < path.box[2] and path.box[1] < y < path.box[3]
        ]  # fmt: skip
        fill = [int(bundle.fill[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        assert under.fill == pytest.approx(fill, abs=0.01)


def grown(plan: Plan, kinds: int, orders: int) -> Plan:
    """The plan with so many parts to a kit and so many orders, of which nothing is made."""
    part = plan.job.parts["CB-101"]
    parts = {f"LG-{n}": replace(part, name=f"LG-{n}") for n in range(kinds)}
    kit = Kit("long kit", dict.fromkeys(parts, 1))
    asked = tuple(Order(f"H-3{n:02}", "long kit", 1, due=f"2026-12-{n + 1:02}") for n in range(orders))
    job = replace(plan.job, parts=plan.job.parts | parts, kits={"long kit": kit}, orders=asked)
    groups = tuple(replace(gp, group=replace(gp.group, needs=())) for gp in plan.groups)
    return replace(plan, job=job, groups=groups)


@pytest.mark.parametrize(("kinds", "orders"), [(3, 25), (9, 12), (70, 2), (46, 3)])
def test_headings_are_repeated_and_never_stand_alone(inch_plan: Plan, kinds: int, orders: int) -> None:
    """On every page each heading has a row under it, each row its heading above it, and a kit runs on."""
    plan = grown(inch_plan, kinds, orders)
    pages = pages_of(picking_list_pdf(plan, today=TODAY, mark="KRTM"))
    assert len(pages) < orders or kinds > 40
    rows = 0
    for page in pages:
        said = [one.text for one in words(page) if re.match(r"H-3|LG-|Got", one.text)]
        listed = said[: next((i for i, one in enumerate(said) if one.startswith("BK")), len(said))]
        kinds_said = "".join({"H": "h", "G": "g", "L": "r"}[one[0]] for one in listed)
        assert re.match(r"(hgr+)+", kinds_said), kinds_said
        rows += kinds_said.count("r")
    assert rows == kinds * orders


def test_what_is_cut_already_says_its_gauge_and_that_it_is_cut(inch_plan: Plan) -> None:
    """By hand: of 8 cleat sets the rings are cut before the plan, which needs and makes none."""
    job = inch_plan.job
    order = job.orders[0]
    loose = replace(order, item="CB-101", line=order.line)
    groups = tuple(
        replace(
            gp, layouts=tuple(
                replace(la, placements=tuple(p for p in la.placements if p.part != "RG-9"))
                for la in gp.layouts
            ),
            group=replace(gp.group, needs=tuple(n for n in gp.group.needs if n.part != "RG-9")),
        )
        for gp in inch_plan.groups
    )  # fmt: skip
    begun = (OrderProgress(order, cut={"RG-9": 8}), *map(OrderProgress, job.orders[1:]))
    job = replace(job, orders=(loose, *job.orders[1:]), progress=begun)
    plan = replace(inch_plan, job=job, groups=groups)
    (ring,) = [pick for one in pick_orders(plan) for pick in one.picks if pick.part == "RG-9"]
    assert (ring.gauge, ring.cut, ring.pieces, ring.layouts) == ('mild steel 1/4"', 8, 0, ())
    (page,) = pages_of(picking_list_pdf(plan, today=TODAY, mark="KRTM"))
    said = [one.text for one in words(page)]
    at = said.index("RG-9")
    assert said[at - 1 : at + 6] == ["☐", "RG-9", 'mild steel 1/4"', "14 x 14", "1", "8", "8 cut already"]


def test_a_kit_ordered_twice_stands_under_each_order(inch_plan: Plan) -> None:
    orders = (*inch_plan.job.orders, Order("H-2099", "cleat set", 2, due="2026-10-30"))
    plan = replace(inch_plan, job=replace(inch_plan.job, orders=orders))
    told = [(order.order, order.kit) for order in pick_orders(plan)]
    assert told[0] == ("H-2099", "cleat set")
    assert ("H-2041", "cleat set") in told


@pytest.mark.parametrize("units", Units)
def test_words_stay_on_their_own_label(inch_plan: Plan, units: Units) -> None:
    sheet = LABELS[units]
    # The labels fill the paper without overlapping or leaving it.
    assert sheet.left + (sheet.columns - 1) * sheet.pitch_x + sheet.width <= sheet.paper.width + 0.01
    assert sheet.top + (sheet.rows - 1) * sheet.pitch_y + sheet.height <= sheet.paper.height + 0.01
    for page in pages_of(labels_pdf(in_units(inch_plan, units))):
        said = words(page)
        assert touching(said) == []
        for one in said:
            column = int((one.box[0] - sheet.left) // sheet.pitch_x)
            row = int((sheet.paper.height - sheet.top - one.box[3]) // sheet.pitch_y)
            left = sheet.left + column * sheet.pitch_x
            top = sheet.paper.height - sheet.top - row * sheet.pitch_y
            assert left + 4 <= one.box[0]
            assert one.box[2] <= left + sheet.width - 4
            assert top - sheet.height + 4 <= one.box[1]
            assert one.box[3] <= top - 4


@pytest.mark.parametrize(("count", "sheets"), [(1, 1), (9, 1), (10, 1), (11, 2), (20, 2), (21, 3)])
def test_a_sheet_of_labels_is_begun_only_when_the_last_is_full(
    inch_plan: Plan, monkeypatch: pytest.MonkeyPatch, count: int, sheets: int
) -> None:
    """A sheet of 2 x 4 in has ten."""
    some = list(part_labels(inch_plan))[:1] * count
    monkeypatch.setattr(labels, "part_labels", lambda plan: some)
    pages = pages_of(labels_pdf(inch_plan))
    assert len(pages) == sheets
    assert sum("pcs" in said.text for page in pages for said in words(page)) == count
