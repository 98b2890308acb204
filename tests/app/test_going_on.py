"""The next plan starts from this one: what is the same stands, what serves is kept, no number comes twice."""

import time
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.new import new_book
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.undo import undo_cut
from sheetplan.app.receive import SheetsAsked, ordered, receive
from sheetplan.model import Plan, SheetSize
from sheetplan.planning.progress import quiet
from sheetplan.trade.units import Units
from tests.app.choice_book import planned
from tests.app.cut_book import DAY, cell, copied, fill, record_cut, write

METALS = {"A": ("mild steel", "10 ga"), "B": ("mild steel", "3/16\"")}


def two_gauges(folder: Path) -> Path:
    """Two gauges, each of some sheets; two sizes can be bought."""
    path = folder / "yard.xlsx"
    new_book(path, demo=False, units=Units.INCH)
    book = openpyxl.load_workbook(path)
    parts, stock, orders = [], [], []
    for letter, (material, thickness) in METALS.items():
        metal = {"Material": material, "Thickness": thickness}
        parts += [{"Part": f"P{letter}", **metal, "Width": 20, "Length": 30},
                  {"Part": f"Q{letter}", **metal, "Width": 11, "Length": 19}]  # fmt: skip
        stock += [{"Sheet": f"{letter}-4x8", **metal, "Width": 48, "Length": 96, "Price": 140},
                  {"Sheet": f"{letter}-5x10", **metal, "Width": 60, "Length": 120, "Price": 215}]  # fmt: skip
        orders += [{"Order": f"H-{letter}", "Item": f"P{letter}", "Quantity": 15},
                   {"Order": f"H-{letter}", "Item": f"Q{letter}", "Quantity": 30}]  # fmt: skip
    fill(book, "Parts", parts)
    fill(book, "Stock", stock)
    fill(book, "Orders", orders)
    book.save(path)
    return path


def plan(book: Path, **asked: object) -> PlanOutcome:
    options = PlanAsked(DAY, **{"seconds": 0.5, "seed": 1, **asked})  # type: ignore[arg-type]
    return plan_book(book, options, stop=lambda: False, report=quiet, workers=1)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    book = two_gauges(tmp_path_factory.mktemp("made"))
    assert plan(book).plan is not None
    return book


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def drawings(book: Path, gauge: str) -> dict[str, bytes]:
    [folder] = (book.parent / "layouts").glob("plan-*")
    return {path.name: path.read_bytes() for path in folder.glob(f"*{gauge}*.dxf")}


def tags(plan: Plan, label: str) -> dict[str, int]:
    groups = [one for one in plan.groups if label in one.group.label]
    return {layout.tag: layout.repeats for one in groups for layout in one.layouts}


def making(plan: Plan, part: str) -> str:
    """The first layout that makes a part."""
    layouts = [layout for one in plan.groups for layout in one.layouts]
    return next(la.tag for la in layouts if any(placed.part == part for placed in la.placements))


def to_pay(plan: Plan) -> float:
    return sum(one.to_pay for one in plan.groups)


def test_nothing_changed_gives_the_same_mark_and_files_at_once(book: Path) -> None:
    folder = next((book.parent / "layouts").glob("plan-*"))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    start = time.process_time()
    outcome = plan(book)
    assert time.process_time() - start < 3.0
    assert outcome.mark == folder.name.removeprefix("plan-")
    after = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert {name for name in before if before[name] != after[name]} == set()
    assert before.keys() == after.keys()
    assert any("nothing was added or dropped" in str(c.value) for row in
               openpyxl.load_workbook(book)["Plan"].iter_rows(max_row=9) for c in row)  # fmt: skip


def refused(*_: object, **__: object) -> None:
    raise AssertionError("nothing has changed, so this is not asked for")


def test_nothing_changed_is_checked_and_neither_searched_nor_drawn(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sheetplan import checking
    from sheetplan.app.making import writing
    from sheetplan.pages.paper import shop_files, tickets
    from sheetplan.planning import continuing

    checked: list[Plan] = []
    check = checking.check_plan
    monkeypatch.setattr(checking, "check_plan", lambda plan: checked.append(plan) or check(plan))
    monkeypatch.setattr(continuing, "continued", refused)
    monkeypatch.setattr(writing, "draw", refused)
    monkeypatch.setattr(tickets, "tickets_pdf", refused)
    monkeypatch.setattr(shop_files, "list_files", refused)
    pictures = [len(sheet._images) for sheet in openpyxl.load_workbook(book)]
    assert plan(book).plan is not None
    assert len(checked) == 1
    assert [len(sheet._images) for sheet in openpyxl.load_workbook(book)] == pictures
    assert sum(pictures)


@pytest.mark.parametrize("pattern", ["tickets.pdf", "*-L1_*.dxf", "labels.pdf", "made.json"])
@pytest.mark.parametrize("gone", [True, False], ids=["gone", "changed"])
def test_a_file_that_is_gone_or_was_changed_is_made_again(book: Path, pattern: str, *, gone: bool) -> None:
    folder = next((book.parent / "layouts").glob("plan-*"))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    [path] = folder.glob(pattern)
    if gone:
        path.unlink()
    else:
        path.write_bytes(b"{}")
    assert plan(book).mark == folder.name.removeprefix("plan-")
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_what_is_only_shown_is_drawn_anew_where_it_was_changed(book: Path) -> None:
    """A description is no part of the plan, whose mark stays, but it stands on tickets and lists."""
    folder = next((book.parent / "layouts").glob("plan-*"))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    write(book, "Parts", "PA", "Description", "cover plate")
    outcome = plan(book)
    assert outcome.mark == folder.name.removeprefix("plan-")
    assert (folder / "picking-list.pdf").read_bytes() != before["picking-list.pdf"]


def test_an_order_more_in_one_gauge_leaves_the_other_as_it_is(book: Path) -> None:
    """Layouts, numbers and drawings of the other gauge stay byte for byte; new numbers were never given."""
    first = planned(plan(book))
    drawn, other, own = drawings(book, "3-16"), tags(first, "3/16"), tags(first, "10 ga")
    mark = next((book.parent / "layouts").glob("plan-*")).name[-4:]
    write(book, "Orders", "H-A", "Quantity", 18)
    outcome = plan(book)
    second = planned(outcome)
    assert outcome.mark != mark
    assert tags(second, "3/16") == other
    assert drawings(book, "3-16") == drawn
    highest = max(int(tag[1:]) for tag in {*other, *own})
    new = tags(second, "10 ga").keys() - own.keys()
    assert all(int(tag[1:]) > highest for tag in new)
    kept = [la for one in second.groups for la in one.layouts if la.tag in own or la.tag in other]
    assert {la.of_plan for la in kept} == {mark}
    assert to_pay(second) <= to_pay(first) + 140
    said = [str(row[0].value) for row in openpyxl.load_workbook(book)["Plan"].iter_rows(max_row=9)]
    assert any(line.startswith(f"Since plan {mark}: ") for line in said)


def test_what_is_cut_leaves_the_rest_of_the_plan_and_its_tickets_true(book: Path) -> None:
    """A ticket of the first plan is recorded after the second, by its code and by its number alone."""
    first = plan(book)
    before = planned(first)
    own = {**tags(before, "10 ga"), **tags(before, "3/16")}
    many = max(own, key=lambda tag: own[tag])
    record_cut(book, CutAsked(many, times=1), today=DAY)
    second = plan(book)
    after = planned(second)
    known = {tag: n for tag, n in (tags(after, "10 ga") | tags(after, "3/16")).items() if tag in own}
    left = {tag: own[tag] - (tag == many) for tag in known}
    assert known == left  # what is kept is kept as often as it is still uncut
    assert set(tags(before, "3/16")) - {many} <= known.keys() or set(tags(before, "10 ga")) <= known.keys()
    [price] = {
        la.sheet.price for one in before.groups for la in one.layouts
        if la.tag == many and isinstance(la.sheet, SheetSize)
    }  # fmt: skip
    assert to_pay(after) <= to_pay(before) - price  # the sheet that is cut comes with the delivery
    tag = next(tag for tag in left if tag != many)
    done = record_cut(book, CutAsked(f"{first.mark}-{tag}", times=1), today=DAY).step
    assert (done.plan, done.layout) == (first.mark, tag)
    assert cell(book, "Layouts", tag, "Cut so far") == 1
    undo_cut(book)
    assert cell(book, "Layouts", tag, "Cut so far") == 0
    assert record_cut(book, CutAsked(tag, times=1), today=DAY).step.plan == first.mark
    from sheetplan.app.rack import Refused

    with pytest.raises(Refused, match="recorded"):
        record_cut(book, CutAsked(f"{first.mark}-{tag}", times=left[tag]), today=DAY)


def test_metal_bought_and_delivered_is_used_by_the_next_plan(book: Path) -> None:
    """The walk of a shop: what the plan buys is ordered, comes, a piece is remade: one more sheet at most."""
    paid = to_pay(planned(plan(book)))
    ordered(book, SheetsAsked(), today=DAY)
    receive(book, SheetsAsked(), today=DAY)
    assert to_pay(planned(plan(book))) == 0.0
    tag = making(planned(plan(book)), "PA")
    record_cut(book, CutAsked(tag, times=1, bad={"PA": 1}), today=DAY)
    after = planned(plan(book))
    assert to_pay(after) <= 140 < paid


def test_one_piece_made_again_asks_for_no_more_than_a_sheet_for_it(book: Path) -> None:
    """Nothing else is bought anew for one bad piece, and the other gauge stays with its numbers."""
    before = planned(plan(book))
    other, tag = tags(before, "3/16"), making(before, "PA")
    [price] = {la.sheet.price for one in before.groups for la in one.layouts
               if la.tag == tag and isinstance(la.sheet, SheetSize)}  # fmt: skip
    record_cut(book, CutAsked(tag, times=1, bad={"PA": 1}), today=DAY)
    after = planned(plan(book))
    assert to_pay(after) <= to_pay(before) - price + 140
    assert tags(after, "3/16") == other


def test_more_seconds_never_count_dearer(book: Path) -> None:
    first = planned(plan(book))
    second = planned(plan(book, seconds=1.0))
    for one, other in zip(first.groups, second.groups, strict=True):
        assert other.measure <= one.measure + 1e-6


@pytest.mark.parametrize(("mark", "gauges"), [("gauge", {"10 ga"}), ("plan", {"10 ga", "3/16"})])
def test_one_mark_locks_a_gauge_or_the_plan(book: Path, mark: str, gauges: set[str]) -> None:
    first = planned(plan(book))
    tag = next(iter(tags(first, "10 ga")))
    write(book, "Layouts", tag, "Lock", mark)
    second = planned(plan(book))
    locked = {one.group.label for one in second.groups for layout in one.layouts if layout.locked}
    assert {name for name in ("10 ga", "3/16") if any(name in label for label in locked)} == gauges
    assert all(layout.locked for one in second.groups if one.group.label in locked for layout in one.layouts)


def test_a_pick_holds_while_its_gauge_is_unchanged(book: Path) -> None:
    from sheetplan.planning.picking import alternatives

    first = planned(plan(book))
    ways = [way for of_gauge in alternatives(first) for way in of_gauge if not way.in_use]
    if not ways:
        pytest.skip("the plan has no choices")
    way = ways[0]
    other = "Q" + ("B" if "10 ga" in way.gauge else "A")
    opened = openpyxl.load_workbook(book)
    row = next(r for r in opened["Orders"].iter_rows() if r[1].value == other)
    row[2].value = 29
    opened.save(book)
    outcome = plan(book, picks=(way.tag,))
    assert [one.picked for one in planned(outcome).groups if one.group.label == way.gauge] == [way.name]
    assert not [p for p in outcome.problems if "no longer answers" in p.what]


def test_a_changed_part_keeps_no_layout_with_it(book: Path) -> None:
    """A ticket that would show another outline is none that is kept."""
    first = planned(plan(book))
    write(book, "Parts", "PA", "Width", 19)
    second = planned(plan(book))
    with_part = {
        la.tag for one in first.groups for la in one.layouts if any(p.part == "PA" for p in la.placements)
    }
    assert with_part
    assert not with_part & tags(second, "10 ga").keys()


