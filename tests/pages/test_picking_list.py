"""The picking list and the labels: every piece that the plan makes for an order, once."""

from __future__ import annotations

import datetime
from collections import Counter

import pytest

from sheetplan.model import Plan
from sheetplan.money.allocation import pieces_made
from sheetplan.pages.part_labels import LabelSize, labels_pdf, part_labels
from sheetplan.pages.picking_list import pick_orders, picking_list_pdf
from tests.pages.pdf_reading import pages_of, touching, words

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
    assert (gusset.pieces, gusset.short, gusset.layouts) == (2, 2, ("L2",))
    assert (order.asked, order.whole) == (4, 2)


def test_the_list_as_pages(inch_plan: Plan) -> None:
    pages = pages_of(picking_list_pdf(inch_plan, today=TODAY, mark="KRTM"))
    texts = [page.extract_text() for page in pages]
    assert len(pages) == 4
    assert ["Pick: cleat set" in texts[0], "Pick: fender plate" in texts[1]] == [True, True]
    assert "2 of 4 kits can be completed" in texts[1]
    assert "Pick: single parts" in texts[3]
    assert "H-2044" in texts[3]
    assert all(touching(words(page)) == [] for page in pages)


def test_a_label_for_a_bundle_or_for_a_piece(inch_plan: Plan) -> None:
    bundles = list(part_labels(inch_plan))
    assert len(bundles) == len({(label.part, label.order) for label in bundles}) == 9
    pieces = list(part_labels(inch_plan, each_piece=True))
    assert len(pieces) == sum(pieces_made(inch_plan).values())
    assert pieces[0].count == f"1 of {bundles[0].count.split()[0]}"


@pytest.mark.parametrize("size", list(LabelSize))
def test_words_stay_on_their_own_label(inch_plan: Plan, size: LabelSize) -> None:
    sheet = size.sheet
    # The labels fill the paper without overlapping or leaving it.
    assert sheet.left + (sheet.columns - 1) * sheet.pitch_x + sheet.width <= sheet.paper.width + 0.01
    assert sheet.top + (sheet.rows - 1) * sheet.pitch_y + sheet.height <= sheet.paper.height + 0.01
    for page in pages_of(labels_pdf(inch_plan, labels=size, each_piece=True)):
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


@pytest.mark.parametrize(("skip", "sheets"), [(0, 1), (2, 2), (10, 1), (12, 2)])
def test_a_begun_sheet_is_used_up_first(inch_plan: Plan, skip: int, sheets: int) -> None:
    # Nine bundles on sheets of ten.
    pages = pages_of(labels_pdf(inch_plan, labels=LabelSize.LARGE_INCH, skip=skip))
    assert len(pages) == sheets
    assert sum("pcs" in said.text for page in pages for said in words(page)) == 9


def test_no_empty_sheet_when_the_labels_fill_the_last(inch_plan: Plan) -> None:
    pages = pages_of(labels_pdf(inch_plan, labels=LabelSize.LARGE_INCH, skip=1))
    assert len(pages) == 1
