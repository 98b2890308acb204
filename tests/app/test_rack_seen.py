"""Counts of the rack: what is seen stays quiet, what is missed twice is asked about, places are corrected."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from sheetplan.app.check import check_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.looking import SeenAsked, look, record_seen
from sheetplan.model import Weight
from sheetplan.rack.step import Kind, Step
from sheetplan.rack.usable import KEPT, Count, counts_of, counts_text, missed_twice, with_count
from tests.app.cut_book import cell, copied, planned_book, write

METAL = {"Material": "mild steel", "Thickness": "10 ga", "Width": 20, "Length": 40}
FIRST, SECOND, THIRD = (datetime.date(2026, 11, day) for day in (6, 13, 20))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    rows = [{"Tag": tag, **METAL, "Rack place": "A1", "Value": 1} for tag in ("R-1", "R-2", "R-3")]
    return planned_book(tmp_path_factory.mktemp("seen"), remnants=rows, plan_it=False)


def asked_about(book: Path) -> list[str]:
    found = [p for p in check_book(book).problems if "was not seen" in p.what]
    assert all(p.page == "Remnants" and p.row and p.weight is Weight.NOTE for p in found)
    return [p.what for p in found]


def test_what_two_counts_missed_is_asked_about_until_it_is_seen(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path)
    said = record_seen(book, SeenAsked(["R-1", "r-2"]), today=FIRST)
    assert said == ("Seen on 2026-11-06: 2 of 3 sheets that the book has in the rack.",
                    "Not seen: R-3 (place A1).")  # fmt: skip
    assert asked_about(book) == []
    said = record_seen(book, SeenAsked(["R-3"], all_others=True, places={"R-1": "B7"}), today=SECOND)
    assert said[-1].startswith("Not seen at the count before either: R-3.")
    assert asked_about(book) == ["R-3 was not seen when the rack was counted on 2026-11-06 and 2026-11-13."]
    assert cell(book, "Remnants", "R-1", "Rack place") == "B7"
    record_seen(book, SeenAsked((), all_others=True), today=THIRD)
    assert asked_about(book) == []


def test_a_sheet_that_is_said_to_be_used_up_is_asked_about_no_more(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path)
    for day in (FIRST, SECOND):
        record_seen(book, SeenAsked(["R-1", "R-2"]), today=day)
    assert len(asked_about(book)) == 1
    write(book, "Remnants", "R-3", "State", "used up")
    assert asked_about(book) == []


def test_a_row_of_remnants_that_cannot_be_used_is_told_with_the_rack(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path)
    assert look(book).problems == ()
    write(book, "Remnants", "R-3", "Width", "half")
    (problem,) = look(book).problems
    assert (problem.page, problem.weight) == ("Remnants", Weight.LEFT_OUT)
    assert [line.record.tag for line in look(book).lines] == ["R-1", "R-2"]


def test_a_count_of_the_same_day_is_replaced_and_an_unknown_tag_refused(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path)
    record_seen(book, SeenAsked(["R-1"]), today=FIRST)
    record_seen(book, SeenAsked(["R-2"]), today=FIRST)
    kept = (tmp_path / "rack" / "counts.json").read_text(encoding="utf-8")
    assert counts_of(kept) == (Count("2026-11-06", frozenset({"R-2"})),)
    with pytest.raises(Refused, match="R-9 is not in the rack"):
        record_seen(book, SeenAsked(["R-2", "R-9"]), today=SECOND)
    assert (tmp_path / "rack" / "counts.json").read_text(encoding="utf-8") == kept


def test_a_damaged_file_stops_with_a_sentence(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path)
    record_seen(book, SeenAsked(["R-1"]), today=FIRST)
    (tmp_path / "rack" / "counts.json").write_text('{"counts": [{"day": 1}]}')
    assert any("counts.json" in p.what and p.weight is Weight.STOPS for p in check_book(book).problems)


def test_counts_are_kept_for_a_year_and_come_back_as_they_were() -> None:
    counts: tuple[Count, ...] = ()
    for month in range(1, KEPT + 4):
        counts = with_count(counts, Count(f"2026-{month:02d}-01", frozenset({"R-1"})))
    assert len(counts) == KEPT
    assert counts_of(counts_text(counts)) == counts


def test_a_sheet_that_came_after_a_count_is_not_asked_about() -> None:
    from tests.rack.test_hanging import skeleton

    counts = (Count("2026-11-06", frozenset()), Count("2026-11-13", frozenset()))
    step = Step(number=1, date="2026-11-10", kind=Kind.RECEIVED, left=("R-1",))
    assert [tag.tag for tag, _ in missed_twice([skeleton()], counts, ())] == ["R-1"]
    assert list(missed_twice([skeleton()], counts, [step])) == []
