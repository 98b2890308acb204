"""Cuts recorded as they really went: several at once, by code, late, on another sheet, stopped half way."""

import datetime
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.month import MonthRack
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut import AGAIN, record_cuts, record_marked
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import read_records, read_steps
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.undo import undo_cut
from sheetplan.rack.kept_plan import EXACT_FILE, KeptPlan, kept_plan_of
from sheetplan.shapes import area, place
from sheetplan.trade.units import Units
from sheetplan.workbook.reading.book import read_tables
from tests.app.cut_book import (
    DAY,
    cell,
    copied,
    fill,
    plan,
    planned_book,
    record_cut,
    state,
    write,
    write_all,
)

WIDER = "MS10-5x10"
SMALLER = "MS10-3x4"
THICKER = "MS316"


def shop_book(folder: Path) -> Path:
    """Two gauges, so two layouts at least, and full sheets of other sizes that the plan does not want."""
    book = planned_book(folder, plan_it=False, as_it_is=True)
    opened = openpyxl.load_workbook(book)
    metal = {"Material": "mild steel", "Thickness": "10 ga"}
    thick = {"Material": "mild steel", "Thickness": "3/16 in"}
    fill(opened, "Stock", [
        {"Sheet": "MS10", **metal, "Width": 48, "Length": 96, "On hand": 3, "Price": 140},
        {"Sheet": WIDER, **metal, "Width": 60, "Length": 120, "On hand": 2, "Price": 900},
        {"Sheet": SMALLER, **metal, "Width": 36, "Length": 48, "On hand": 1, "Price": 800},
        {"Sheet": THICKER, **thick, "Width": 48, "Length": 96, "On hand": 4, "Price": 150},
    ])  # fmt: skip
    fill(opened, "Parts", [
        {"Part": "PLATE", **metal, "Width": 12, "Length": 15},
        {"Part": "BRACE", **metal, "Width": 6, "Length": 18},
        {"Part": "RING", **metal, "Width": 30, "Length": 30},
        {"Part": "LID", **thick, "Width": 40, "Length": 60},
    ])  # fmt: skip
    fill(opened, "Orders", [
        {"Order": "H-1", "Item": "frame", "Quantity": 5},
        {"Order": "H-2", "Item": "BRACE", "Quantity": 4},
        {"Order": "H-3", "Item": "LID", "Quantity": 2},
    ])  # fmt: skip
    opened.save(book)
    plan(book)
    return book


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shop_book(tmp_path_factory.mktemp("made"))


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def kept(book: Path) -> KeptPlan:
    [path] = (book.parent / "layouts").glob("plan-*/" + EXACT_FILE)
    return kept_plan_of(path.read_text(encoding="utf-8"))


def layout_of(book: Path, part: str) -> str:
    """The tag of the layout that makes a part."""
    return next(
        tag for tag, one in kept(book).layouts.items() if part in {p.part for p in one.layout.placements}
    )


def record(book: Path, *asked: CutAsked) -> list[object]:
    return [done.step for done in record_cuts(book, asked, today=DAY)]


def test_several_layouts_are_recorded_together_and_taken_back_together(book: Path) -> None:
    before = state(book.parent)
    plates, lids = layout_of(book, "PLATE"), layout_of(book, "LID")
    first, second = record(book, CutAsked(plates), CutAsked(f"{lids}x2"))
    assert (first.number, second.number, second.times) == (1, 2, 2)
    assert cell(book, "Stock", "MS10", "On hand") == 2
    assert cell(book, "Stock", THICKER, "On hand") == 2
    assert cell(book, "Cut log", 2, "Times cut") == 2
    assert len(set(first.left) | set(second.left)) == len(first.left) + len(second.left)
    assert look(book).problems == ()
    once = state(book.parent)
    _, said = undo_cut(book)
    assert sum("was taken back" in sentence for sentence in said) == 2
    assert cell(book, "Stock", "MS10", "On hand") == 3
    assert cell(book, "Stock", THICKER, "On hand") == 4
    after = state(book.parent)
    rack = {name for name in after if name.startswith("rack/") and "steps" not in name}
    assert rack == {"rack/taken back.json"} | {name for name in before if name.startswith("rack/")}
    record(book, CutAsked(plates), CutAsked(f"{lids}x2"))
    assert state(book.parent) == once


def test_where_one_of_several_is_refused_none_is_recorded(book: Path) -> None:
    before = state(book.parent)
    with pytest.raises(Refused, match="no layout L9"):
        record(book, CutAsked(layout_of(book, "PLATE")), CutAsked("L9"))
    lids = layout_of(book, "LID")
    with pytest.raises(Refused, match="recorded already: 2 of 2"):
        record(book, CutAsked(f"{lids}x2"), CutAsked(lids))
    assert {k: v for k, v in state(book.parent).items() if "steps" not in k} == before


def test_cuts_of_one_sheet_size_lower_its_count_by_all_of_them(book: Path) -> None:
    lids = layout_of(book, "LID")
    record(book, CutAsked(f"{lids}x1"), CutAsked(f"{lids}x1"))
    assert cell(book, "Stock", THICKER, "On hand") == 2
    assert cell(book, "Layouts", lids, "Cut so far") == 2


def test_the_code_on_the_ticket_is_taken(book: Path) -> None:
    mark, tag = kept(book).mark, layout_of(book, "PLATE")
    [step] = record(book, CutAsked(f"{mark.lower()}-{tag.lower()}"))
    assert (step.plan, step.layout) == (mark, tag)
    with pytest.raises(Refused, match="is a ticket of plan ABCD, not of EFGH"):
        record(book, CutAsked(f"ABCD-{tag}", plan="EFGH"))


def forgotten(book: Path) -> None:
    """What the next plan would start from is gone, as in books of earlier versions: it numbers from L1."""
    [path] = (book.parent / "layouts").glob("plan-*/choices.json")
    path.unlink()


def test_a_number_that_may_mean_an_older_ticket_is_asked_about(book: Path) -> None:
    old, tag = kept(book).mark, layout_of(book, "PLATE")
    forgotten(book)
    write(book, "Orders", "H-2", "Quantity", 9)
    new = plan(book)
    assert new != old
    before = state(book.parent)
    with pytest.raises(Refused, match=f"{tag} may be a ticket of plan {new} or of an earlier plan") as asked:
        record(book, CutAsked(tag))
    assert f"{old}-{tag}" in asked.value.remedy
    assert f"sheetplan cut yard.xlsx {new}-{tag}" in asked.value.remedy
    assert {k: v for k, v in state(book.parent).items() if "steps" not in k} == before
    [step] = record(book, CutAsked(f"{old}-{tag}"))
    assert step.plan == old
    # The old ticket is used up now, so the number means today's alone.
    [step] = record(book, CutAsked(tag, again=True))
    assert step.plan == new


def test_a_number_that_only_an_older_plan_has_is_no_layout_of_this_one(book: Path) -> None:
    old, tag = kept(book).mark, layout_of(book, "PLATE")
    write(book, "Orders", "H-2", "Quantity", 9)
    plan(book)
    with pytest.raises(Refused, match=f"has no layout {tag}") as asked:
        record(book, CutAsked(tag))
    assert f"Say its code: {old}-{tag}" in asked.value.remedy


def test_the_same_layout_in_an_older_plan_is_no_question(book: Path) -> None:
    """Its gauge has not changed, so it is the layout of the old ticket, and counts for that."""
    old, lids = kept(book).mark, layout_of(book, "LID")
    write(book, "Orders", "H-2", "Quantity", 9)
    plan(book)
    [step] = record(book, CutAsked(lids))
    assert step.plan == old


def test_a_cut_recorded_late_counts_in_the_month_in_which_it_was_made(book: Path) -> None:
    tag = layout_of(book, "PLATE")
    day = datetime.date(2026, 10, 30)
    [step] = record(book, CutAsked(tag, date=day))
    assert step.date == "2026-10-30"
    assert str(cell(book, "Cut log", 1, "Date"))[:10] == "2026-10-30"
    assert [cut.date for cut in MonthRack(book, read_tables(book)).cuts] == ["2026-10-30"]
    record_of = read_records(book.parent / "rack", Units.INCH)[step.left[0]].now
    assert {cut.date for cut in record_of.cuts} == {"2026-10-30"}
    with pytest.raises(Refused, match="still to come"):
        record(book, CutAsked(tag, again=True, date=DAY + datetime.timedelta(days=1)))


def test_a_remnant_is_not_cut_before_it_came_to_the_rack(book: Path) -> None:
    [step] = record(book, CutAsked(layout_of(book, "PLATE")))
    write(book, "Orders", "H-2", "Quantity", 9)
    mark = plan(book)
    tags = {getattr(one.layout.sheet, "tag", None): t for t, one in kept(book).layouts.items()}
    tag = tags[step.left[0]]
    with pytest.raises(Refused, match=r"came to the rack on 2026-11-25 \(step 1\)"):
        record(book, CutAsked(f"{mark}-{tag}", date=datetime.date(2026, 11, 24)))


def test_a_day_changed_on_the_cut_log_is_named(book: Path) -> None:
    record(book, CutAsked(layout_of(book, "PLATE")))
    opened = openpyxl.load_workbook(book)
    sheet = opened["Cut log"]
    head = next(row for row in sheet.iter_rows() if row[0].value == "Step")
    column = next(c.column for c in head if c.value == "Date")
    sheet.cell(head[0].row + 1, column).value = "2026-10-31"
    opened.save(book)
    [note] = [p for p in check_book(book).problems if "2026-10-31" in p.what]
    assert "step 1" in note.what
    assert "2026-11-25" in note.what
    assert "--date" in note.remedy


def test_another_full_sheet_than_planned(book: Path) -> None:
    tag = layout_of(book, "PLATE")
    done = record_cut(book, CutAsked(tag, on=WIDER.lower()), today=DAY)
    step = done.step
    assert (step.sheet, step.on, step.from_stock) == (WIDER, "", 1)
    assert f"cut from 1 of {WIDER} instead of MS10" in done.sentences[0]
    assert cell(book, "Stock", WIDER, "On hand") == 1
    assert cell(book, "Stock", "MS10", "On hand") == 3
    [remnant] = step.left
    assert (cell(book, "Remnants", remnant, "Width"), cell(book, "Remnants", remnant, "Length")) == (60, 120)
    # By hand: 60 x 120 in of 10 ga (0.1345 in) at 7850 kg/m3.
    by_hand = 1524.0 * 3048.0 * 0.1345 * 25.4 * 7850e-9
    assert step.weights.taken == pytest.approx(by_hand, rel=1e-5)  # 10 ga is 0.1345 in to four digits
    assert step.weights.metal_cost == pytest.approx(900.0)
    undo_cut(book)
    assert cell(book, "Stock", WIDER, "On hand") == 2


def test_another_sheet_that_does_not_do_is_refused(book: Path) -> None:
    tag, before = layout_of(book, "PLATE"), state(book.parent)
    with pytest.raises(Refused, match=f"does not fit on {SMALLER}"):
        record(book, CutAsked(tag, on=SMALLER))
    with pytest.raises(Refused, match=f"{THICKER} is mild steel 3/16 in; the layout is for mild steel 10 ga"):
        record(book, CutAsked(tag, on=THICKER))
    with pytest.raises(Refused, match="nor a sheet MS99"):
        record(book, CutAsked(tag, on="MS99"))
    assert {k: v for k, v in state(book.parent).items() if "steps" not in k} == before


def test_a_sheet_that_was_stopped_half_way(book: Path) -> None:
    tag = layout_of(book, "PLATE")
    before = state(book.parent)
    planned = kept(book).layouts[tag].layout
    braces = sum(p.part == "BRACE" for p in planned.placements)
    with pytest.raises(Refused, match="PLATE lies 10 times") as asked:
        record(book, CutAsked(tag, only=("BRACE", "PLATE=4")))
    assert "#1 at" in asked.value.remedy
    assert "#10 at" in asked.value.remedy
    done = record_cut(book, CutAsked(tag, only=("BRACE", "PLATE#1-3,5")), today=DAY)
    step = done.step
    assert step.pieces == {"BRACE": braces, "PLATE": 4}
    assert f"Stopped half way: 6 x PLATE not cut; {AGAIN}." in done.sentences
    assert "stopped, not cut: 6 x PLATE" in str(cell(book, "Cut log", 1, "Note"))
    # The record has just what was cut, where the plan had it: its metal is metal again elsewhere.
    record_of = read_records(book.parent / "rack", Units.INCH)[step.left[0]].now
    assert len(record_of.cuts) == braces + 4
    parts = kept(book).parts
    plates = sorted(
        (p for p in planned.placements if p.part == "PLATE"), key=lambda p: _corner(parts[p.part].outline, p)
    )
    wanted = {_corner(parts["PLATE"].outline, plates[n]) for n in (0, 1, 2, 4)}
    lie = {(round(c.loop.vertices[0][0], 3), round(c.loop.vertices[0][1], 3)) for c in record_of.cuts}
    assert len(lie) == braces + 4
    corners = {_low(cut.loop) for cut in record_of.cuts if cut.part == "PLATE"}
    assert corners == wanted
    metal = 48 * 96 * 25.4**2 - (braces * 6 * 18 + 4 * 12 * 15) * 25.4**2
    assert record_of.metal_left == pytest.approx(metal, rel=1e-9)
    assert area(record_of.edge) == pytest.approx(48 * 96 * 25.4**2)
    # The six plates are asked for again, and are planned in the metal that is left.
    job = check_book(book).job
    assert (
        sum(o.quantity for o in job.orders if o.item == "PLATE")
        + 2 * sum(o.quantity for o in job.orders if o.item == "frame")
        == 6
    )
    undo_cut(book)
    assert cell(book, "Stock", "MS10", "On hand") == 3
    assert not read_steps(book.parent / "rack")
    assert {n for n in before if n.startswith("rack/")} <= set(state(book.parent))


def _low(loop: object) -> tuple[float, float]:
    xs, ys = [v[0] for v in loop.vertices], [v[1] for v in loop.vertices]
    return round(min(xs), 3), round(min(ys), 3)


def _corner(outline: object, placement: object) -> tuple[float, float]:
    return _low(place(outline, placement).outer)


@pytest.mark.parametrize(
    ("only", "says"),
    [
        (("HOOK",), "'HOOK' names no piece"),
        (("PLATE=11",), "11 of PLATE cannot be cut"),
        (("PLATE#11",), "PLATE#11: PLATE lies 10 times"),
        (("PLATE=0",), "No piece of L"),
    ],
)
def test_pieces_that_are_not_there_are_refused(book: Path, only: tuple[str, ...], says: str) -> None:
    with pytest.raises(Refused, match=says):
        record(book, CutAsked(layout_of(book, "PLATE"), only=only))


def test_what_was_otherwise_stands_beside_the_mark(book: Path) -> None:
    tag = layout_of(book, "PLATE")
    write_all(
        book,
        ("Layouts", tag, "Cut now", 1),
        ("Layouts", tag, "How", f"on {WIDER}; date 2026-11-20; only BRACE, PLATE#1,2; by Ann"),
    )  # fmt: skip
    [done] = record_marked(book, today=DAY)
    assert (done.step.sheet, done.step.date, done.step.by) == (WIDER, "2026-11-20", "Ann")
    assert done.step.pieces["PLATE"] == 2
    assert cell(book, "Layouts", tag, "Cut now") is None
    assert cell(book, "Layouts", tag, "How") is None
    write_all(
        book,
        ("Layouts", tag, "Cut now", 1),
        ("Layouts", tag, "How", "upside down"),
    )  # fmt: skip
    with pytest.raises(Refused, match="'upside down', which cannot be read"):
        list(record_marked(book, today=DAY))
