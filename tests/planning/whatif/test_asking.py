from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache, partial

from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.checking import check_layout
from sheetplan.model import Job, Kit, Layout, Loop, Order, Outline, Part, Placement, Plan, Remnant, SheetSize
from sheetplan.planning import RunOptions, never, plan_job, quiet
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.whatif.beds import Bed, filler_of, held_by, room_of
from sheetplan.planning.whatif.capacity import WORKS, Found, Inquiry, Work, sets_beside, sets_on_sheets
from sheetplan.planning.whatif.fits import Fits, fits_of, with_room_of
from sheetplan.shapes import circle_loop
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from tests.planning.books import STEEL, TEN_GAUGE, job, made, part, remnant, rule, sheet


def book() -> Job:
    """A kit and a loose part on sheets of 1000 x 1000 without gap and margin, so that all can be counted."""
    parts = [part("Deck", 500, 400), part("Tab", 100, 100), part("Door", 1000, 300)]
    orders = [Order("A", "Table", 3, line=2), Order("B", "Door", 2, line=3)]
    plain = job(parts, orders, [sheet("S", 1000, 1000, on_hand=2, price=10.0)], cutting=rule(0.0, 0.0))
    return replace(plain, kits={"Table": Kit("Table", {"Deck": 1, "Tab": 2})})


@cache
def answered() -> tuple[Plan, Fits]:
    plan = replanned(book())
    return plan, all_of(plan)


def all_of(plan: Plan) -> Fits:
    return fits_of(plan, stop=never, report=quiet)


def replanned(changed: Job) -> Plan:
    return plan_job(changed, RunOptions(0.5, clock=lambda: 0.0))


def test_kits_from_the_stock_on_hand() -> None:
    """A table takes 220,000 mm2; four decks and eight tabs leave 120,000 mm2 of a sheet in a strip."""
    _, answers = answered()
    (kits,) = answers.on_hand
    assert (kits.kit, kits.whole, kits.bottleneck) == ("Table", 8, "Carbon steel 10 ga")
    assert kits.by_gauge == {"Carbon steel 10 ga": 8}


def test_kits_per_sheet() -> None:
    (share,) = answered()[1].per_sheet
    assert (share.kits, share.sheets, share.each) == (4, 1, 4.0)


def test_half_kits_are_counted_over_two_sheets() -> None:
    """Three plates of 400 fill a sheet's length of 1200; a kit of two is one and a half a sheet."""
    half = job([part("Plate", 400, 900)], [Order("A", "Pair", 1)], [sheet("S", 1200, 1000, price=1.0)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    half = replace(half, kits={"Pair": Kit("Pair", {"Plate": 2})})
    (share,) = all_of(replanned(half)).per_sheet
    assert (share.kits, share.sheets, share.each) == (3, 2, 1.5)


def test_a_rounded_order_takes_no_further_sheet_and_one_more_does() -> None:
    plan, answers = answered()
    cost = plan.groups[0].cost
    for answer in answers.round_up:
        order = plan.job.orders[answer.order]
        for more, same in ((answer.extra, True), (answer.extra + 1, False)):
            grown = replace(order, quantity=order.quantity + more)
            orders = tuple(grown if o is order else o for o in plan.job.orders)
            again = replanned(replace(plan.job, orders=orders)).groups[0].cost
            assert (again <= cost + 1e-9) is same or more > order.quantity
    assert any(answer.extra for answer in answers.round_up)


def test_one_more_sheet_makes_what_it_is_said_to_add() -> None:
    """The stock is limited to what the plan uses and the sheet more; the order grows by what is said."""
    plan, answers = answered()
    used = plan.groups[0].sheets[0].used
    for answer in answers.one_more:
        (stock,) = plan.job.stock
        grown = replace(stock, on_hand=used + 1, buy_limit=0)
        order = Order("More", answer.item, answer.adds)
        changed = replace(plan.job, stock=(grown,), orders=(*plan.job.orders, order))
        assert not replanned(changed).groups[0].short


def test_one_more_sheet_where_pieces_are_short() -> None:
    short = job([part("Plate", 500, 900)], [Order("A", "Plate", 5)],
                [sheet("S", 1000, 1000, on_hand=1, buy_limit=0)], cutting=rule(0.0, 0.0))  # fmt: skip
    plan = replanned(short)
    assert made(plan.groups[0]) == {"Plate": 2}
    (answer,) = all_of(plan).one_more
    assert (answer.item, answer.adds, answer.short) == ("Plate", 2, True)


def test_one_more_sheet_promises_no_kits_that_another_gauge_holds_up() -> None:
    """Three sets take three quarters of a thin sheet and one and a half thick ones, so one more set fits.

    Another thin sheet has room for four more decks, but only one more set is whole.
    """
    thick = Thickness(6.35, "1/4 in")
    floor = replace(part("Floor", 1000, 500), thickness=thick)
    book = job([part("Deck", 500, 500), floor], [Order("A", "Set", 3)],
               [sheet("Thin", 1000, 1000, price=1.0),
                replace(sheet("Thick", 1000, 1000, price=1.0), thickness=thick)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    rules = (*book.rules, replace(book.rules[0], thickness=thick))
    book = replace(book, rules=rules, kits={"Set": Kit("Set", {"Deck": 1, "Floor": 1})})
    answers = all_of(replanned(book))
    found = {one.sheet.name: (one.adds, one.whole, one.held_up) for one in answers.one_more}
    assert found == {
        "Thin": (4, 1, "Carbon steel 1/4 in"),
        "Thick": (2, 1, "Carbon steel 10 ga"),
    }
    for sets, thin, two in ((4, 2, 2), (5, 2, 2)):
        stock = tuple(
            replace(one, on_hand=thin if one.name == "Thin" else two, buy_limit=0) for one in book.stock
        )
        again = replanned(replace(book, stock=stock, orders=(Order("A", "Set", sets),)))
        assert any(one.short for one in again.groups) is (sets > 4)


def test_a_picked_plan_has_its_own_room_for_whole_kits() -> None:
    """Room in the other gauges is that of the plan in use."""
    _, answers = answered()
    plan = answered()[0]
    emptier = replace(plan, groups=tuple(replace(g, layouts=g.layouts[:1]) for g in plan.groups))
    assert with_room_of(emptier, answers, stop=never, report=quiet).one_more == answers.one_more


def test_spares_give_way_to_an_order_that_is_rounded_up() -> None:
    spare = job([part("Plate", 500, 500), part("Blank", 500, 500, spare=9)],
                [Order("A", "Plate", 2), Order("B", "Blank", 1)], [sheet("S", 1000, 1000, price=1.0)],
                cutting=rule(0.0, 0.0))  # fmt: skip
    plan = replanned(spare)
    assert made(plan.groups[0]) == {"Plate": 2, "Blank": 2}
    assert [(one.extra, one.is_most) for one in all_of(plan).round_up] == [(1, True), (1, True)]


def test_a_locked_layout_has_no_room() -> None:
    book = job([part("Plate", 500, 500)], [Order("A", "Plate", 3)], [sheet("S", 1000, 1000, price=1.0)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    plan = replanned(book)
    assert [one.extra for one in all_of(plan).round_up] == [1]
    (group,) = plan.groups
    held = replace(group, layouts=tuple(replace(layout, locked=True) for layout in group.layouts))
    assert [one.extra for one in all_of(replace(plan, groups=(held,))).round_up] == [0]


def test_stopped_answers_are_those_that_were_ready() -> None:
    found = fits_of(answered()[0], stop=lambda: True, report=quiet)
    assert found == Fits(whole=False, searched=False)


# What sheets hold: one function, by its own word checked piece by piece.


def corner(name: str, leg: float) -> Part:
    """A right triangle: two of them fill a square."""
    return Part(name, STEEL.name, TEN_GAUGE, Outline(Loop(((0, 0, 0), (leg, 0, 0), (0, leg, 0)))))


def disc(name: str, radius: float) -> Part:
    return Part(name, STEEL.name, TEN_GAUGE, Outline(circle_loop(radius, radius, radius)))


def shelf(parts: Sequence[Part], gap: float = 5.0, margin: float = 10.0) -> Job:
    orders = [Order(one.name, one.name, 1) for one in parts]
    stock = [sheet("S", 1000.0, 500.0, price=1.0), sheet("T", 800.0, 400.0, price=1.0)]
    return job(list(parts), orders, stock, [remnant("R-1", 450.0, 350.0)], cutting=rule(gap, margin))


def inquiry_of(book: Job, work: Work = WORKS[0], known: tuple[Layout, ...] = ()) -> Inquiry:
    (group,), _ = make_groups(book)
    return Inquiry(filler_of(group, book.parts, book.settings), known, work)


def laid_faults(found: Found, book: Job, one: dict[str, int], metal: dict[SheetSize | Remnant, int]) -> list:
    """What is wrong with an answer: sheets beyond those there are, pieces too few, layouts that clash."""
    (group,), _ = make_groups(book)
    faults: list[object] = []
    for sheet_, count in metal.items():
        used = sum(bed.count for bed in found.beds if bed.metal == sheet_)
        faults += [f"{used} of {count} used"] * (used > count)
    held = held_by(found.beds)
    faults += [name for name, count in one.items() if held[name] < count * found.sets]
    for bed in found.beds:
        if bed.placements:
            layout = Layout("L1", bed.metal, bed.placements)
            faults += check_layout(layout, group, book.parts, Units.MM)
    assert found.sets <= found.most
    return faults


MIXED = shelf((corner("Corner", 120.0), disc("Disc", 60.0), part("Bar", 300.0, 40.0)))


@settings(max_examples=25, deadline=None)
@given(
    st.fixed_dictionaries({"Corner": st.integers(0, 3), "Disc": st.integers(0, 2), "Bar": st.integers(1, 2)}),
    st.integers(1, 9), st.sampled_from([0, 1]), st.booleans(),
)  # fmt: skip
def test_more_sheets_never_fit_fewer_sets(
    one: dict[str, int], most: int, size: int, with_true_shapes: bool
) -> None:
    book = MIXED
    work = WORKS[1] if with_true_shapes and most < 3 else WORKS[0]
    counts = []
    for number in range(1, most + 1):
        metal: dict[SheetSize | Remnant, int] = {book.stock[size]: number}
        found = sets_on_sheets(inquiry_of(book, work), one, metal)
        assert laid_faults(found, book, one, metal) == []
        counts.append(found.sets)
    assert counts == sorted(counts)
    assert counts[0] > 0


@settings(max_examples=15, deadline=None)
@given(st.fixed_dictionaries({"Corner": st.integers(1, 3), "Bar": st.integers(0, 2)}), st.integers(0, 2))
def test_more_kinds_of_metal_never_fit_fewer_sets(one: dict[str, int], sheets: int) -> None:
    few: dict[SheetSize | Remnant, int] = {MIXED.stock[0]: sheets + 1}
    more: dict[SheetSize | Remnant, int] = {**few, MIXED.stock[1]: sheets, MIXED.remnants[0]: 1}
    first, second = (sets_on_sheets(inquiry_of(MIXED), one, metal) for metal in (few, more))
    assert laid_faults(second, MIXED, one, more) == []
    assert second.sets >= first.sets


def test_more_time_never_says_less() -> None:
    """A book of a kit of true shapes, its questions stopped after ever more steps."""
    kit = {"K": Kit("K", {"Corner": 3, "Disc": 1, "Bar": 1})}
    plan = replanned(replace(MIXED, kits=kit, orders=(Order("A", "K", 3), Order("B", "Disc", 2, must=False))))
    known: dict[object, float] = {}
    for steps in (3, 10, 20, 40, 80, 160, 320, 10_000):
        counts = iter(range(steps))
        found = fits_of(plan, stop=partial(_over, counts), report=quiet)
        said = {
            **{("hand", one.kit): float(one.whole) for one in found.on_hand},
            **{("sheet", one.kit, one.sheet.name): one.each for one in found.per_sheet},
            **{("more", one.item, one.sheet.name): float(one.adds) for one in found.one_more},
            **{("room", one.order): float(one.extra) for one in found.round_up},
        }
        assert set(said) >= set(known)
        assert all(said[key] >= count for key, count in known.items())
        known = said
    assert found.whole
    assert found.searched


def _over(counts: Iterator[int]) -> bool:
    return next(counts, None) is None


def test_what_a_layout_of_the_plan_holds_is_never_denied() -> None:
    """As many sets as the layout has, and on two sheets twice as many, without a search."""
    book = MIXED
    one = {"Corner": 2, "Disc": 1}
    found = sets_on_sheets(inquiry_of(book, WORKS[1]), one, {book.stock[0]: 1})
    (bed,) = found.beds
    known = (Layout("L1", book.stock[0], bed.placements),)
    for number in (1, 2, 3):
        quick = sets_on_sheets(inquiry_of(book, known=known), one, {book.stock[0]: number})
        assert quick.sets >= found.sets * number


def test_the_bound_by_area_says_when_there_cannot_be_more() -> None:
    """Four squares of 500 fill 1000 x 1000; of discs of that size there are no more, though area is left."""
    parts = [part("Plate", 500, 500), disc("Disc", 250.0)]
    book = job(parts, [Order(one.name, one.name, 1) for one in parts], [sheet("S", 1000, 1000)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    for one in ({"Plate": 1}, {"Disc": 1}, {"Plate": 2}):
        found = sets_on_sheets(inquiry_of(book), one, {book.stock[0]: 2})
        sets = 8 // sum(one.values())
        assert (found.sets, found.most, found.is_most) == (sets, sets, True)
    assert not sets_on_sheets(inquiry_of(MIXED), {"Disc": 1, "Corner": 1}, {MIXED.stock[0]: 1}).is_most


def test_what_fits_on_no_sheet_and_what_nothing_fits_on() -> None:
    parts = [part("Long", 2000, 100), part("Plate", 100, 100)]
    book = job(parts, [Order(one.name, one.name, 1) for one in parts], [sheet("S", 1000, 1000)],
               [remnant("R", 20, 20)])  # fmt: skip
    inquiry = inquiry_of(book)
    assert sets_on_sheets(inquiry, {"Long": 1}, {book.stock[0]: 3}) == Found(0, 0)
    assert sets_on_sheets(inquiry, {"Plate": 1}, {book.remnants[0]: 1}) == Found(0, 0)
    assert sets_on_sheets(inquiry, {"Plate": 1}, {}) == Found(0, 0)
    assert sets_on_sheets(inquiry, {"Plate": 0}, {book.stock[0]: 1}) == Found(0, 0)


def test_room_beside_pieces_that_lie_anywhere() -> None:
    """A triangle that fills the sheet's box leaves its hollow; boxes find no room there, true shapes do."""
    parts = [corner("Corner", 400.0), corner("Small", 180.0)]
    book = job(parts, [Order(one.name, one.name, 1) for one in parts], [sheet("S", 420.5, 420.5)],
               cutting=rule(5.0, 10.0))  # fmt: skip
    beds = [Bed(book.stock[0], (Placement("Corner", 10.123, 10.0877),))]
    assert sets_beside(inquiry_of(book), {"Small": 1}, beds, 9).sets == 0
    found = sets_beside(inquiry_of(book, replace(WORKS[1], tries=1)), {"Small": 1}, beds, 9)
    assert found.sets >= 1
    assert found.beds[0].placements[:1] == beds[0].placements
    assert laid_faults(found, book, {"Small": 1}, {book.stock[0]: 1}) == []


def test_pieces_that_are_owed_come_before_any_set() -> None:
    book = job([part("Plate", 500, 500)], [Order("A", "Plate", 2)], [sheet("S", 1000, 1000)],
               cutting=rule(0.0, 0.0))  # fmt: skip
    plan = replanned(book)
    beds = room_of(plan.groups[0]).beds
    assert sets_beside(inquiry_of(book), {"Plate": 1}, beds, 9).sets == 2
    assert sets_beside(inquiry_of(book), {"Plate": 1}, beds, 9, {"Plate": 1}).sets == 1
    assert sets_beside(inquiry_of(book), {"Plate": 1}, beds, 9, {"Plate": 3}).sets == 0


def test_an_order_of_which_some_is_not_made_is_none_to_round_up() -> None:
    """Four plates fit on the sheet that is bought; of ten that are cut if they fit, three are made."""
    book = job(
        [part("Plate", 500, 500)],
        [Order("A", "Plate", 1), Order("B", "Plate", 10, must=False)],
        [sheet("S", 1000, 1000, price=1.0)], cutting=rule(0.0, 0.0),
    )  # fmt: skip
    plan = replanned(book)
    assert made(plan.groups[0]) == {"Plate": 4}
    assert all_of(plan).round_up == ()
