"""Changes to a book under way, on a book that only notes what is set; and what they and a plan say of it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from sheetplan.app.rack.changes import BookChanges
from sheetplan.app.rack.cut import _pieces, _spare, _take_from_stock
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.cut_files import Cut
from sheetplan.app.rack.known import offer_notes
from sheetplan.app.rack.opened import Refused
from sheetplan.model import FinishedPart, Layout, Placement, Remnant, rectangle
from sheetplan.model.turns import Corner
from sheetplan.rack.cut import new_sheet
from sheetplan.rack.kept_plan import KeptPlan, PlannedLayout
from sheetplan.rack.step import Credit
from tests.money.bookmaking import PARTS, QUARTER, SHEET, plan_of
from tests.nasty.books.plain import plain_rows, tables_of


@dataclass
class Noted:
    """A book's cells: what was set, with room for so many rows, and cells that hold formulas."""

    room: int = 1
    formulas: tuple[str, ...] = ()
    set_to: list[tuple[str, object]] = field(default_factory=list)
    rows: list[Mapping[str, object]] = field(default_factory=list)

    def set(self, page: str, address: str, value: object) -> bool:
        if address in self.formulas:
            return False
        self.set_to.append((f"{page}!{address}", value))
        return True

    def add_row(self, table: str, values: Mapping[str, object], inputs: Sequence[str]) -> int | None:
        if len(self.rows) >= self.room:
            return None
        self.rows.append(values)
        return 5


@pytest.fixture
def edit() -> Noted:
    return Noted()


@pytest.fixture
def changes(edit: Noted) -> BookChanges:
    return BookChanges(edit, tables_of(plain_rows()))  # type: ignore[arg-type]


def test_a_row_that_is_added_is_not_named_and_one_without_room_is(changes: BookChanges) -> None:
    assert changes.add_remnant({"Tag": "R-7"})
    assert changes.unwritten == []
    assert not changes.add_remnant({"Tag": "R-8"})
    assert changes.unwritten == ["a row for R-8 on the page Remnants: no blank row is left in its table"]


def test_a_purchase_without_room_is_named(changes: BookChanges) -> None:
    row = {"Sheets": 2, "Material": "mild steel", "Thickness": "10 ga"}
    assert changes.add_purchase(row)
    assert changes.unwritten == []
    assert not changes.add_purchase(row)
    (said,) = changes.unwritten
    assert said.startswith("a row for 2 x mild steel 10 ga on the page Purchases")


def test_a_count_is_written_where_it_changes(changes: BookChanges, edit: Noted) -> None:
    name = plain_rows()["Stock"][0]["Sheet"]
    there = changes.value("Stock", name, "On hand")
    assert isinstance(there, int)
    assert changes.write_count(name, "On hand", there + 2)
    assert changes.value("Stock", name, "On hand") == there + 2, "the next step finds what this one wrote"
    assert [value for _, value in edit.set_to] == [there + 2]
    assert changes.made == [], "a count is kept as a difference"
    assert not changes.write_count(name, "On hand", there + 2), "it says so already"
    assert not changes.write_count("no such size", "On hand", 1)
    assert changes.unwritten == ["On hand of no such size on the page Stock: there is no such cell"]


def test_a_formula_stays_and_is_named(changes: BookChanges, edit: Noted) -> None:
    name = plain_rows()["Stock"][0]["Sheet"]
    changes.write_count(name, "On hand", 77)
    (place, _), *_ = edit.set_to
    edit.formulas = (place.partition("!")[2],)
    changes.write("Stock", name, "On hand", 78)
    assert changes.unwritten == [f"On hand of {name} on the page Stock: a formula stands there"]
    assert changes.value("Stock", name, "On hand") == 77


def cut(*made: str) -> Cut:
    """Two plates and a bar planned, and of them cut what is said."""
    group = plan_of([]).groups[0].group
    planned = Layout("L1", SHEET, tuple(Placement(part, 0.0, 0.0) for part in ("plate", "plate", "bar")))
    stopped = replace(planned, placements=tuple(Placement(part, 0.0, 0.0) for part in made))
    return Cut(
        CutAsked("L1"), KeptPlan("KRTM", PARTS, {}), PlannedLayout(planned, group),
        PlannedLayout(stopped, group), new_sheet(SHEET, Corner.LOWER_LEFT), None, 1,
        datetime.date(2026, 11, 25),
    )  # fmt: skip


def test_pieces_of_a_stopped_sheet_that_were_not_cut() -> None:
    assert cut("plate", "plate", "bar").uncut == {}
    assert cut("plate", "bar").uncut == {"plate": 1}
    assert cut("plate").uncut == {"bar": 1, "plate": 1}
    assert cut("bar").mark == "KRTM"
    older = cut("bar")
    layout = replace(older.planned.layout, of_plan="ABCD")
    assert replace(older, planned=replace(older.planned, layout=layout)).mark == "ABCD"


def test_good_and_bad_pieces_of_some_sheets() -> None:
    """Three sheets of two plates and a bar."""
    made = cut("plate", "plate", "bar").made
    assert _pieces(made, 3, {}) == ({"bar": 3, "plate": 6}, {})
    assert _pieces(made, 3, {"plate": 1}) == ({"bar": 3, "plate": 5}, {"plate": 1})
    assert _pieces(made, 3, {"plate": 2, "bar": 3}) == ({"plate": 4}, {"bar": 3, "plate": 2})
    for bad, says in (({"bar": 4}, "4 of bar cannot be bad: 3 were cut"), ({"bar": 0}, "0 of bar cannot"),
                      ({"disc": 1}, "disc is not on L1")):  # fmt: skip
        with pytest.raises(Refused, match=says):
            _pieces(made, 3, bad)


def test_good_pieces_beyond_what_they_are_credited_for_are_spare() -> None:
    bars = Credit("H-1", "bar", "bar", 2), Credit("H-2", "bar", "bar", 1)
    credits = (*bars, Credit("H-1", "set", "plate", 4))
    assert _spare({"bar": 3, "plate": 6, "disc": 1}, credits) == {"plate": 2, "disc": 1}


def test_sheets_are_taken_from_stock_as_far_as_it_has_some(changes: BookChanges, edit: Noted) -> None:
    name = plain_rows()["Stock"][0]["Sheet"]
    there = changes.value("Stock", name, "On hand")
    sheet = replace(SHEET, name=name)
    assert _take_from_stock(changes, sheet, 1) == (there, 1)
    assert changes.value("Stock", name, "On hand") == there - 1
    assert changes.unwritten == []
    assert _take_from_stock(changes, sheet, there + 1) == (there - 1, there - 1)
    assert changes.value("Stock", name, "On hand") == 0
    (said,) = changes.unwritten
    assert said.startswith(f"Stock had {there - 1} of {name} on hand and {there + 1} were cut.")
    assert _take_from_stock(changes, sheet, 1) == (0, 0)
    assert " and 1 was cut." in changes.unwritten[-1]
    remnant = Remnant("R-1", "mild steel", QUARTER, rectangle(900.0, 500.0).outer)
    assert _take_from_stock(changes, remnant, 1) == (None, 0)


def test_finished_parts_that_a_plan_reckons_with_are_said_once_and_others_not() -> None:
    job = plan_of([]).job
    free = FinishedPart("plate", {"spare": 9})
    assert offer_notes(replace(job, finished=(free,)), Path("b.xlsx")) == []
    given = FinishedPart("bar", {"spare": 5}, {"H-1": 3, "H-2": 1})
    (note,) = offer_notes(replace(job, finished=(free, given)), Path("b.xlsx"))
    assert note.what == "From finished parts, and not made again: 4 bar for H-1 and H-2."
    assert "sheetplan parts b.xlsx --take" in note.remedy
