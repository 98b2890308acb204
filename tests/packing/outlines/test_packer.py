from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import pytest
import shapely

from sheetplan.model import Corner, Loop, Part, Placement, rectangle
from sheetplan.packing import Blank, Item
from sheetplan.packing.outlines import OutlinePacker
from sheetplan.packing.outlines.laid import on_lattice
from sheetplan.packing.outlines.packer import Packed
from sheetplan.packing.sheet_packer import Metal
from sheetplan.shapes import area
from tests.packing.outlines.shop import (
    INCH,
    KIT_PIECES,
    circle,
    faults,
    filled,
    kit_parts,
    loop,
    lying,
    part,
    polygon,
    ring,
)

GAP, MARGIN = 0.25 * INCH, 0.5 * INCH
LENGTH, WIDTH = 96 * INCH, 48 * INCH
SHEET = shapely.box(0, 0, LENGTH, WIDTH)

WORK = 100_000_000
"""Cells of maps read: a second or less."""

SIMPLER = 0.02
"""The packer tells shares of simplified outlines, which are a little larger, small ones the most."""


def blank(datum: Corner = Corner.LOWER_LEFT, cuts: tuple[Loop, ...] = ()) -> Blank:
    return Blank(rectangle(LENGTH, WIDTH).outer, cuts, MARGIN, GAP, datum)


def items(parts: tuple[Part, ...], kits: int = 1) -> list[Item]:
    return [Item(p, KIT_PIECES.get(p.name, 1) * kits, area(p.outline)) for p in parts]


@pytest.mark.parametrize("datum", list(Corner))
def test_kits_lie_right_and_to_the_datum(datum: Corner) -> None:
    parts = kit_parts()
    placed = OutlinePacker(parts).fill(blank(datum), items(parts), seed=1)
    assert len(placed) == sum(KIT_PIECES.values())
    assert not faults(parts, placed, SHEET, MARGIN, GAP)
    by_name = {p.name: p for p in parts}
    left, bottom, right, top = shapely.unary_union([lying(by_name, p) for p in placed]).bounds
    beyond = (LENGTH - right, left) if not datum.is_right else (left, LENGTH - right)
    assert beyond[0] > LENGTH / 4
    assert beyond[1] == pytest.approx(MARGIN, abs=GAP)
    assert (WIDTH - top if datum.is_upper else bottom) == pytest.approx(MARGIN, abs=GAP)


def test_a_ring_is_filled() -> None:
    parts = (part("big ring", ring(7, 5)), part("flange", ring(2, 0.5)))
    small = Blank(rectangle(15 * INCH, 15 * INCH).outer, (), MARGIN, GAP)
    placed = OutlinePacker(parts).fill(small, [Item(parts[0], 1, 100.0), Item(parts[1], 9, 1.0)], seed=1)
    assert not faults(parts, placed, shapely.box(0, 0, 15 * INCH, 15 * INCH), MARGIN, GAP)
    hole = shapely.Point(7.5 * INCH, 7.5 * INCH).buffer(5 * INCH)
    inside = [p for p in placed if p.part == "flange" and hole.contains(shapely.Point(p.x, p.y))]
    assert len(inside) >= 3


def near(parts: tuple[Part, ...], placement: Placement, cut: shapely.Polygon) -> bool:
    return lying({p.name: p for p in parts}, placement).distance(cut) < GAP


@pytest.mark.parametrize("shift", [0.0, 0.777])
def test_old_cuts_and_kept_parts_keep_their_gap(shift: float) -> None:
    """Parts that stay on the lattice are marked from known maps, those off it as obstacles."""
    parts = kit_parts()
    slab = loop((60, 0), (95, 0), (95, 18), (60, 18))
    cuts = (circle(20, 15, 9), slab, loop((0, 30), (12, 32), (18, 47), (0, 47)))
    packer = OutlinePacker(parts)
    placed = packer.fill(blank(), items(parts), seed=1)
    first = tuple(replace(p, x=p.x + shift) for p in placed)
    first = tuple(p for p in first if not any(near(parts, p, filled(cut)) for cut in cuts))
    assert len(first) >= 8
    setup = packer._setup(blank())
    rows, others = on_lattice(setup, packer._ground(Metal(blank())).crowding.field, first)
    assert (len(rows), len(others)) == ((len(first), 0) if shift == 0.0 else (0, len(first)))
    more = packer.fill(blank(cuts=cuts), items(parts), seed=1, keep=first)
    assert len(more) >= 5
    old = [filled(cut) for cut in cuts]
    assert not faults(parts, (*first, *more), SHEET, MARGIN, GAP, old)


def test_an_odd_edge_keeps_its_margin() -> None:
    edge = loop((0, 0), (96, 0), (96, 20), (50, 48), (0, 48))
    parts = kit_parts()
    placed = OutlinePacker(parts).fill(Blank(edge, (), MARGIN, GAP), items(parts, 4), seed=1)
    assert len(placed) > 40
    assert not faults(parts, placed, filled(edge), MARGIN, GAP)


def test_same_call_same_answer_and_more_effort_is_never_worse() -> None:
    parts = kit_parts()
    asked = items(parts, 4)
    fresh, used = OutlinePacker(parts), OutlinePacker(parts)
    used.fill(blank(Corner.UPPER_RIGHT), asked[:3], seed=3, effort=3)
    first = fresh.fill(blank(), asked, seed=7, effort=40)
    assert first == used.fill(blank(), asked, seed=7, effort=40)
    metal = {p.name: area(p.outline) for p in parts}
    quick = fresh.fill(blank(), asked, seed=7)
    assert sum(metal[p.part] for p in first) >= sum(metal[p.part] for p in quick)


def test_counts_are_kept() -> None:
    parts = kit_parts()
    placed = OutlinePacker(parts).fill(blank(), [Item(parts[1], 3, 1.0), Item(parts[2], 0, 9.0)], seed=1)
    assert sorted(p.part for p in placed) == [parts[1].name] * 3


def test_searching_adds_value_and_keeps_the_gap() -> None:
    parts = kit_parts()
    asked = items(parts, 6)
    packer = OutlinePacker(parts)
    metal = {p.name: area(p.outline) for p in parts}
    cuts = (circle(20, 15, 9),)
    built = packer.fill(blank(cuts=cuts), asked, seed=2, effort=20)
    searched = packer.fill(blank(cuts=cuts), asked, seed=2, effort=120)
    assert not faults(parts, searched, SHEET, MARGIN, GAP, [filled(cut) for cut in cuts])
    assert sum(metal[p.part] for p in searched) >= sum(metal[p.part] for p in built)
    assert searched == OutlinePacker(parts).fill(blank(cuts=cuts), asked, seed=2, effort=120)


def test_kept_parts_and_old_cuts_keep_their_gap_when_more_is_put_in() -> None:
    """The search on overlap pushes pieces about; what stays is an obstacle to it."""
    parts = kit_parts()
    packer, cuts = OutlinePacker(parts), (circle(70, 15, 9),)
    keep = packer.fill(blank(cuts=cuts), items(parts), seed=1)
    more = items(parts, 4)
    built = packer.fill(blank(cuts=cuts), more, seed=1, effort=2, keep=keep)
    tight = packer.fill(blank(cuts=cuts), more, seed=1, effort=2, keep=keep, work=5 * WORK)
    assert value(tight) > value(built) > 0.0
    assert not faults(parts, (*keep, *tight), SHEET, MARGIN, GAP, [filled(circle(70, 15, 9))])
    assert tight == OutlinePacker(parts).fill(
        blank(cuts=cuts), more, seed=1, effort=2, keep=keep, work=5 * WORK
    )


def test_ruin_and_recreate_is_worth_more_than_the_layout_that_it_begins_with() -> None:
    parts, cuts = kit_parts(), (circle(70, 15, 9),)
    packer, asked = OutlinePacker(parts), items(parts, 4)
    built = packer.fill(blank(cuts=cuts), asked, seed=1)
    better = packer.fill(blank(cuts=cuts), asked, seed=1, start=built, rounds=100)
    assert value(better) > value(built)
    assert not faults(parts, better, SHEET, MARGIN, GAP, [filled(cut) for cut in cuts])
    offered = {item.part.name: item.available for item in asked}
    assert all(many <= offered[name] for name, many in Counter(p.part for p in better).items())
    again = OutlinePacker(parts).fill(blank(cuts=cuts), asked, seed=1, start=built, rounds=100)
    assert better == again


def value(placements: Sequence[Placement]) -> float:
    metal = {p.name: area(p.outline) for p in kit_parts()}
    return sum(metal[p.part] for p in placements)


def made(packed: Packed) -> Counter[str]:
    return Counter(placement.part for placements in packed.placements for placement in placements)


def share_left(asked: Sequence[Item], packed: Packed) -> float:
    """What is left over, as a share of the area that the true outlines take with half the gap round them."""
    counts = made(packed)
    areas = {item.part.name: polygon(item.part.outline).buffer(GAP / 2).area for item in asked}
    left = sum((item.available - counts[item.part.name]) * areas[item.part.name] for item in asked)
    return left / sum(item.available * areas[item.part.name] for item in asked)


@pytest.mark.parametrize("kits", [4, 5])
def test_given_sheets_hold_every_piece_once(kits: int) -> None:
    """Each of two sheets gets a share; kits of 23 pieces come out whole."""
    parts = kit_parts()
    asked, sheets = items(parts, kits), [Metal(blank())] * 2
    packed = OutlinePacker(parts).fill_all(sheets, asked, seed=1, work=10 * WORK)
    assert packed.left == 0.0
    assert made(packed) == {item.part.name: item.available for item in asked}
    for placements in packed.placements:
        assert not faults(parts, placements, SHEET, MARGIN, GAP)
    assert packed == OutlinePacker(parts).fill_all(sheets, asked, seed=1, work=10 * WORK)


def test_what_given_sheets_cannot_hold_is_told_and_never_cut_twice() -> None:
    parts = kit_parts()
    asked = items(parts, 6)
    packed = OutlinePacker(parts).fill_all([Metal(blank())], asked, seed=1, work=WORK)
    assert packed.left == pytest.approx(share_left(asked, packed), abs=SIMPLER)
    assert packed.left > 0.3
    assert all(made(packed)[item.part.name] <= item.available for item in asked)
    assert not faults(parts, packed.placements[0], SHEET, MARGIN, GAP)


def test_pieces_larger_than_every_sheet_are_left_over() -> None:
    parts = (part("plate", rectangle(300.0, 200.0)), part("girder", rectangle(9000.0, 100.0)))
    asked = [Item(parts[0], 20, 1.0), Item(parts[1], 2, 1.0)]
    packed = OutlinePacker(parts).fill_all([Metal(blank())], asked, seed=1, work=WORK)
    assert made(packed) == {"plate": 20}
    assert packed.left == pytest.approx(share_left(asked, packed), abs=1e-3)


def test_an_attempt_goes_on_from_an_earlier_one() -> None:
    """Of what lies already nothing is laid again, and no more is left over than before."""
    parts = kit_parts()
    asked, sheets = items(parts, 4), [Metal(blank())] * 2
    packer = OutlinePacker(parts)
    whole = packer.fill_all(sheets, asked, seed=1, work=10 * WORK)
    assert whole.left == 0.0
    again = packer.fill_all(sheets, asked, seed=2, work=WORK, start=whole.placements)
    assert again.left == 0.0
    for before, after in zip(whole.placements, again.placements, strict=True):
        for one, other in zip(before, after, strict=True):
            assert (one.part, one.turn, one.mirrored) == (other.part, other.turn, other.mirrored)
            assert (other.x, other.y) == pytest.approx((one.x, one.y), abs=1e-9)
    small = min(range(len(whole.placements[0])), key=lambda k: value(whole.placements[0][k : k + 1]))
    short = (whole.placements[0][:small] + whole.placements[0][small + 1 :], whole.placements[1])
    mended = packer.fill_all(sheets, asked, seed=2, work=10 * WORK, start=short)
    assert mended.left == 0.0
    assert made(mended) == made(whole)
    for placements in mended.placements:
        assert not faults(parts, placements, SHEET, MARGIN, GAP)


@pytest.mark.parametrize("datum", list(Corner))
def test_a_reserved_strip_stays_free_at_the_far_end(datum: Corner) -> None:
    parts = kit_parts()
    sheets = [Metal(blank(datum), 30 * INCH), Metal(blank(datum))]
    packed = OutlinePacker(parts).fill_all(sheets, items(parts, 4), seed=1, work=WORK)
    by_name = {p.name: p for p in parts}
    for placements in packed.placements:
        assert not faults(parts, placements, SHEET, MARGIN, GAP)
    far, whole = (
        shapely.union_all([lying(by_name, p) for p in placed]).bounds for placed in packed.placements
    )
    reach = (LENGTH - far[0], LENGTH - whole[0]) if datum.is_right else (far[2], whole[2])
    assert 0.8 * LENGTH > LENGTH - 30 * INCH - MARGIN + 1e-3 >= reach[0]
    assert reach[1] > LENGTH - 30 * INCH


def kits_on_a_sheet(kits: int) -> tuple[Placement, ...]:
    parts = kit_parts()
    return OutlinePacker(parts).fill(blank(), items(parts, kits), seed=5, effort=50)


def test_one_and_two_workers_give_the_same() -> None:
    alone = [kits_on_a_sheet(1), kits_on_a_sheet(4)]
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        assert list(pool.map(kits_on_a_sheet, (1, 4))) == alone
