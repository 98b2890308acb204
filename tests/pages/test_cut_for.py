"""What pieces are cut for: kits, single orders and spare, on tickets, labels, lists and by colour."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from sheetplan.model import Need, Order, Plan
from sheetplan.money.cutting_plan import timetable
from sheetplan.money.figures import plan_figures
from sheetplan.money.order_shares import pieces_made
from sheetplan.pages.contents import kits_by_part, uses_of, uses_text
from sheetplan.pages.drawing import marks
from sheetplan.pages.paper.labels import part_labels
from sheetplan.pages.paper.lists import picking_list_pdf, spare_picks
from sheetplan.pages.ticket_facts import Issue, ticket_facts
from tests.pages.pdf_reading import pages_of, touching, words


@pytest.fixture
def spare_plan(inch_plan: Plan) -> Plan:
    """The same layouts, with fewer cleat sets asked for, and the ladder rail's rails as single parts."""
    orders = (Order("H-2041", "cleat set", 6, line=5), Order("H-2050", "LR-210", 12, line=6))
    cleats, rails = inch_plan.job.kits["cleat set"].parts, Need(1, "LR-210", "", 12, True)
    needs = (*(Need(0, part, "cleat set", 6 * each, True) for part, each in cleats.items()), rails)
    groups = tuple(
        replace(gp, group=replace(gp.group, needs=tuple(n for n in needs if n.part in made)))
        for gp in inch_plan.groups
        for made in [{placement.part for layout in gp.layouts for placement in layout.placements}]
    )
    return replace(inch_plan, job=replace(inch_plan.job, orders=orders), groups=groups)


def test_every_piece_is_for_something_once(inch_plan: Plan) -> None:
    made = dict.fromkeys(pieces_made(inch_plan), 0)
    for (_, part), uses in uses_of(inch_plan).items():
        made[part] += sum(use.pieces for use in uses)
    assert made == pieces_made(inch_plan)


def test_a_ticket_tells_spare_pieces_from_those_of_the_kit(spare_plan: Plan) -> None:
    days = timetable(spare_plan, None)
    issue = Issue(spare_plan, plan_figures(spare_plan), datetime.date(2026, 11, 3), "KRTM", {}, days)
    first = ticket_facts(issue)[0]
    said = {part.part: (part.in_all, part.wanted_for) for part in first.parts}
    # By hand: two sheets make 8 and 44; 6 cleat sets take one CB-101 and four CB-102 each.
    assert said == {
        "CB-101": (8, "6 x A cleat set, 2 x spare"), "CB-102": (44, "24 x A cleat set, 20 x spare"),
        "LR-210": (12, "order H-2050"), "FP-7": (4, "spare"),
    }  # fmt: skip


def test_what_comes_off_the_table_last_is_spare(spare_plan: Plan) -> None:
    # Six rings are wanted: the remnant gives two, the sheet after it four more and two spare.
    uses = uses_of(spare_plan)
    assert [uses_text(uses[tag, "RG-9"]) for tag in ("L2", "L3")] == ["cleat set", "4 x cleat set, 2 x spare"]


def test_a_part_has_the_colour_of_what_it_is_cut_for_in_this_plan(spare_plan: Plan) -> None:
    colours = marks.part_colours(spare_plan.job, kits_by_part(uses_of(spare_plan)))
    assert colours.of_part["CB-102"] == "cleat set"
    assert colours.of_part["LR-210"] == colours.of_part["FP-7"] == marks.LOOSE


def test_spare_pieces_are_on_labels_and_on_the_picking_list(spare_plan: Plan) -> None:
    assert {pick.part: pick.pieces for pick in spare_picks(spare_plan)} == {
        "BK-300 gusset, left hand": 2, "CB-101": 2, "CB-102": 20, "FP-7": 4, "RG-9": 2, "WS-1": 15,
    }  # fmt: skip
    spare = [label for label in part_labels(spare_plan) if label.order == "spare"]
    assert ("CB-102", "20 pcs") in {(label.part, label.count) for label in spare}
    counts = [int(label.count.split()[0]) for label in part_labels(spare_plan)]
    assert sum(counts) == sum(pieces_made(spare_plan).values())
    last = pages_of(picking_list_pdf(spare_plan, today=datetime.date(2026, 11, 3), mark="KRTM"))[-1]
    assert "No order asks for these" in last.extract_text()
    assert touching(words(last)) == []


def test_text_beside_numbers_keeps_off_them(spare_plan: Plan) -> None:
    last = pages_of(picking_list_pdf(spare_plan, today=datetime.date(2026, 11, 3), mark="KRTM"))[-1]
    top = min(one.box[3] for one in words(last) if one.text == "Got")
    heads = {one.text: one.box for one in words(last) if abs(one.box[3] - top) < 1.0}
    assert heads["From"][0] - heads["Spare"][2] > 9.0
