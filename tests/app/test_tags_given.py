"""Tags of sheets that were taken back, and on what the book and the rack disagree; by hand."""

import json
from dataclasses import replace
from types import SimpleNamespace

from sheetplan.app.rack.belonging import _other
from sheetplan.app.rack.folder import CutOf, TagsGiven, cut_of, highest_number
from sheetplan.app.rack.repair import _as_in_row
from sheetplan.model import Remnant, rectangle
from sheetplan.rack.record import Record, from_row
from sheetplan.rack.step import Step
from sheetplan.trade.thickness import Thickness

CUT = CutOf("KRTM", "L1", 2, "")
OTHER = CutOf("KRTM", "L2", 1, "R-001")


def step(number: int, layout: str, times: int, *left: str, on: str = "") -> Step:
    return Step(
        number=number, date="2026-11-25", plan="KRTM", layout=layout, times=times, left=left, on=on
    )


BACK = TagsGiven().after_undo(step(1, "L1", 2, "R-003", "R-004"))
"""A cut of two sheets was taken back."""


def test_a_cut_recorded_again_has_its_tags_again() -> None:
    assert TagsGiven(0, ((CUT, ("R-003", "R-004")),)) == BACK
    assert BACK.again(CUT, 2, ["R-001"]) == ("R-003", "R-004")
    assert BACK.again(CUT, 1, []) == (), "it leaves fewer sheets"
    assert BACK.again(CUT, 2, ["R-004"]) == (), "another sheet has one of them"
    assert BACK.again(OTHER, 2, []) == ()
    assert TagsGiven().again(CUT, 2, []) == ()


def test_only_the_last_that_was_taken_back_has_its_tags_again() -> None:
    both = BACK.after_undo(step(2, "L2", 1, "R-001", "R-007", on="R-001"))
    assert both.waiting[-1] == (OTHER, ("R-007",)), "the sheet that was cut keeps its tag anyway"
    assert both.again(CUT, 2, []) == ()
    assert both.again(OTHER, 1, []) == ("R-007",)
    assert both.after_cut(OTHER, ["R-007"]) == BACK
    assert BACK.after_undo(step(3, "L3", 1)) == BACK, "it left nothing"


def test_after_another_cut_no_tag_comes_again_and_no_number_twice() -> None:
    assert BACK.highest_number == 4
    assert BACK.after_cut(OTHER, ["R-005"]) == TagsGiven(4)
    assert BACK.after_cut(CUT, ["R-003", "R-005"]) == TagsGiven(4), "with other tags it is another one"
    assert BACK.after_cut(OTHER, []) == BACK
    assert TagsGiven(9).highest_number == 9
    assert highest_number(["R-010", "R-9", "R-x", "S-99"]) == 10
    assert highest_number([]) == 0


def test_what_is_remembered_and_nothing_where_there_is_nothing() -> None:
    assert TagsGiven().content() is None
    assert TagsGiven(4).content() is not None
    told = json.loads(BACK.content() or b"")
    assert (told["highest"], told["waiting"]) == (
        0, [{"plan": "KRTM", "layout": "L1", "times": 2, "on": "", "tags": ["R-003", "R-004"]}],
    )  # fmt: skip
    assert cut_of(step(2, "L2", 1, on="R-001")) == OTHER


def log(*rows: dict[str, object]) -> SimpleNamespace:
    """A page Cut log with such rows."""
    lines = [
        SimpleNamespace(cells={name: SimpleNamespace(value=value) for name, value in row.items()})
        for row in rows
    ]
    return SimpleNamespace(tables={"Cut log": SimpleNamespace(rows=lines)})


def test_steps_of_which_the_page_cut_log_says_something_else() -> None:
    steps = {1: step(1, "L1", 2), 2: step(2, "L2", 1), 3: step(3, "L3", 1)}
    first = {"Step": 1, "Plan": "KRTM", "Layout": "L1", "Times cut": 2}
    second = {"Step": 2, "Plan": "KRTM", "Layout": "L2", "Times cut": 1}
    assert _other(steps, log(first, second)) == ()
    for change in ({"Plan": "ABCD"}, {"Layout": "L9"}, {"Times cut": 3}):
        assert _other(steps, log(first, {**second, **change})) == (2,)
    assert _other(steps, log({**first, "Step": 9, "Times cut": 7}, {**first, "Step": "none"})) == ()
    assert _other(steps, SimpleNamespace(tables={})) == ()


def test_a_row_tells_the_size_of_a_sheet_until_a_later_cut_changes_it() -> None:
    sheet = Remnant("R-1", "mild steel", Thickness(6.35, "1/4 in"), rectangle(900.0, 500.0).outer)
    record = from_row(sheet)

    def fits(row: Remnant | None, *cut_from: str, record: Record = record) -> bool:
        rows = [{"Cut from": one} for one in cut_from]
        return _as_in_row(SimpleNamespace(tables=log(*rows), row={"R-1": row}.get), record)  # type: ignore[arg-type]

    shorter = replace(sheet, edge=rectangle(880.0, 500.0).outer)
    narrower = replace(sheet, edge=rectangle(900.0, 480.0).outer)
    assert fits(sheet, "MS10")
    assert not fits(shorter, "MS10")
    assert not fits(narrower)
    assert fits(shorter, "MS10", "remnant R-1"), "the row is that of after the later cut"
    assert not fits(shorter, "remnant R-2")
    assert fits(None)
    assert fits(shorter, record=replace(record, used_up=True))
