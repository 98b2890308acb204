"""Cuts of a book that names drawings: whatever can be planned can be recorded."""

from pathlib import Path

import ezdxf
import pytest

from sheetplan.app.month import month_of
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.undo import undo_cut
from sheetplan.planning.progress import quiet
from tests.app.cut_book import DAY, cell, plan, planned_book, record_cut, write


@pytest.fixture
def drawn_book(tmp_path: Path) -> Path:
    """The small book with its braces as a drawing, a ring of 6 in with a hole of 3 in."""
    book = planned_book(tmp_path, plan_it=False)
    drawing = ezdxf.new(units=1)
    drawing.modelspace().add_circle((0, 0), 3)
    drawing.modelspace().add_circle((0, 0), 1.5)
    drawing.saveas(tmp_path / "brace.dxf")
    for heading, value in (("Drawing", "brace.dxf"), ("Width", 6), ("Length", 6)):
        write(book, "Parts", "BRACE", heading, value)
    plan(book)
    return book


def test_a_cut_of_drawn_parts_is_recorded_looked_at_and_taken_back(drawn_book: Path) -> None:
    done = record_cut(drawn_book, CutAsked("L1"), today=DAY)
    assert done.step.times == 1
    assert look(drawn_book) is not None
    assert cell(drawn_book, "Stock", "MS10", "On hand") == 2
    undo_cut(drawn_book)
    assert cell(drawn_book, "Stock", "MS10", "On hand") == 3


def test_a_month_with_drawn_parts_is_balanced(drawn_book: Path) -> None:
    record_cut(drawn_book, CutAsked("L1"), today=DAY)
    outcome = month_of(drawn_book, "2026-11", report=quiet)
    assert outcome.metals is not None, outcome.problems
