"""What a cut leaves is what plan, ticket, drawing and page had said: cropped, as it is, and from holes."""

import math
import re
from pathlib import Path

import ezdxf
import pytest
from pypdf import PdfReader

from sheetplan.app.check import check_book
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import read_records
from sheetplan.app.rack.looking import look, write_labels
from sheetplan.app.rack.undo import undo_cut
from sheetplan.model import Weight
from sheetplan.money.figures import plan_figures
from sheetplan.planning.progress import quiet
from sheetplan.shapes import box, size
from sheetplan.trade.units import Units
from tests.app.cut_book import DAY, cell, planned_book, record_cut, ring_book, state, write

INCH = 25.4
CENT, GRAM = 0.0051, 1e-3
METAL = {"Material": "mild steel", "Thickness": "10 ga"}


def planned(book: Path) -> PlanOutcome:
    outcome = plan_book(
        book, PlanAsked(DAY, seconds=0.3, seed=1), stop=lambda: False, report=quiet, workers=1
    )
    assert outcome.plan is not None, outcome.problems
    return outcome


@pytest.mark.parametrize("as_it_is", [False, True])
def test_plan_page_ticket_drawing_log_and_record_say_the_same(tmp_path: Path, as_it_is: bool) -> None:
    book = planned_book(tmp_path, plan_it=False, as_it_is=as_it_is)
    outcome = planned(book)
    [figures] = plan_figures(outcome.plan).groups[0].layouts.values()  # type: ignore[arg-type]
    assert figures.kept is not None
    said = f"{figures.kept.width / INCH:g} x {figures.kept.length / INCH:g} in"
    said = f"as it is, with room for {said}" if as_it_is else f"cropped to {said}"
    assert said in str(cell(book, "Layouts", "L1", "One sheet")).splitlines()
    assert outcome.drawings is not None
    text = "".join(page.extract_text() for page in PdfReader(outcome.drawings / "tickets.pdf").pages)
    assert said in " ".join(text.split())
    drawing = ezdxf.readfile(next(outcome.drawings.glob("*-L1_*.dxf")))
    lines = drawing.modelspace().query("LWPOLYLINE[layer=='CROP_CUT']")
    assert len(lines) == (0 if as_it_is else 1)
    assert not any(line.closed for line in lines)

    done = record_cut(book, CutAsked("L1"), today=DAY)
    weights = done.step.weights
    for name in ("taken", "parts", "kerf", "kept"):
        assert getattr(weights, name) == pytest.approx(getattr(figures.split, name), abs=GRAM), name
    assert weights.kept_value == pytest.approx(figures.kept_value, abs=CENT)
    [tag] = done.step.left
    record = read_records(tmp_path / "rack", Units.INCH)[tag].now
    assert record is not None
    asked = (96 * INCH, 48 * INCH) if as_it_is else (figures.kept.length, figures.kept.width)
    assert size(record.edge) == pytest.approx(asked)
    assert bool(record.cuts) is as_it_is
    assert cell(book, "Remnants", tag, "Length") == pytest.approx(asked[0] / INCH, abs=1e-4)
    value = cell(book, "Remnants", tag, "Value")
    assert value == pytest.approx(figures.kept_value, abs=CENT)
    # The starter of "Remnants count at", 60 per cent, is in the value, which counts as it is from then on.
    share = figures.kept.length * figures.kept.width / (96 * 48 * INCH**2)
    assert value == pytest.approx(0.6 * figures.metal_cost * share, abs=CENT)
    job = check_book(book).job
    assert job is not None
    assert [one.value for one in job.remnants if one.tag == tag] == [value]


def test_one_cut_may_be_kept_otherwise_than_the_book_says(tmp_path: Path) -> None:
    book = planned_book(tmp_path)
    cropped = record_cut(book, CutAsked("L1"), today=DAY).step
    undo_cut(book)
    whole = record_cut(book, CutAsked("L1", crop=False), today=DAY).step
    assert cell(book, "Remnants", whole.left[0], "Length") == 96
    assert whole.weights.kept > cropped.weights.kept
    assert whole.weights.kept_value == cropped.weights.kept_value
    assert whole.weights.taken == cropped.weights.taken


def test_many_alike_that_go_back_are_named_together(tmp_path: Path) -> None:
    book = ring_book(tmp_path)
    write(book, "Orders", "H-1", "Quantity", 3)
    planned(book)
    said = " ".join(record_cut(book, CutAsked("L1"), today=DAY).sentences)
    found = re.search(r"R-(\d+) to R-(\d+) \(each disc 23\.88 in across\)", said)
    assert found, said
    assert int(found[2]) - int(found[1]) == 2
    assert said.count("disc 23.88") == 1


def test_metal_from_a_hole_gets_a_tag_and_can_be_planned_on(tmp_path: Path) -> None:
    book = ring_book(tmp_path)
    outcome = planned(book)
    [figures] = plan_figures(outcome.plan).groups[0].layouts.values()  # type: ignore[arg-type]
    [hole] = figures.left.drop_outs
    said = str(cell(book, "Layouts", "L1", "One sheet"))
    assert re.search(r"from a hole, disc 23\.88 in across with room for 16\.\d+ x 16\.\d+ in", said)
    done = record_cut(book, CutAsked("L1"), today=DAY)
    assert any(f"{done.step.left[1]} (disc 23.88 in across" in sentence for sentence in done.sentences)
    assert len(done.step.left) == 2
    assert done.step.weights.kept == pytest.approx(figures.split.kept, abs=GRAM)
    job = check_book(book).job
    assert job is not None
    held = {remnant.tag: remnant for remnant in job.remnants}
    disc = held[done.step.left[1]]
    shape = cell(book, "Remnants", disc.tag, "Shape")
    assert shape == "● disc 23.88 in"
    # By hand: a disc lacks 1 - pi / 4 of its square, and its live weight is that of the rack and the label.
    away = cell(book, "Remnants", disc.tag, "Cut away")
    assert away == pytest.approx((1 - math.pi / 4) * (size(disc.edge)[0] / INCH) ** 2, abs=1e-3)
    [line] = [one for one in look(book).lines if one.record.tag == disc.tag]
    density = job.materials[disc.material].density * 1e-9
    live = ((size(disc.edge)[0] / INCH) ** 2 - float(str(away))) * INCH**2 * disc.thickness.mm * density
    assert line.weight == pytest.approx(live, rel=1e-6)
    assert write_labels(look(book), tmp_path / "labels.pdf") == 2
    [page] = PdfReader(tmp_path / "labels.pdf").pages
    assert f"{disc.tag}\ndisc 23.88 in across\nmild steel 10 ga\n" in page.extract_text()
    # By hand: the hole is 24 in across, the kerf of the cut goes off all round.
    assert size(disc.edge)[0] < 24 * INCH < size(disc.edge)[0] + 0.2 * INCH
    assert min(hole.length, hole.width) >= 12 * INCH
    undo_cut(book)
    assert check_book(book).job.remnants == ()  # type: ignore[union-attr]


def test_an_old_sheet_with_a_corner_missing_is_planned_cut_and_taken_back(tmp_path: Path) -> None:
    row = {"Tag": "R-007", **METAL, "Width": 48, "Length": 60, "Missing width": 24, "Missing length": 30,
           "Missing corner": "upper right", "Rack place": "R1", "Sheets above": 3, "Value": 5}  # fmt: skip
    book = planned_book(tmp_path, plan_it=False, plates=1, remnants=[row])
    outcome = planned(book)
    [layout] = outcome.plan.groups[0].layouts  # type: ignore[union-attr]
    assert layout.sheet.tag == "R-007"  # type: ignore[union-attr]
    for one in layout.placements:
        assert not (one.x > 30 * INCH and one.y > 24 * INCH)
    assert "under 3 sheets" in str(cell(book, "Layouts", "L1", "Sheet"))
    before = state(tmp_path)
    record_cut(book, CutAsked("L1"), today=DAY)
    [remnant] = check_book(book).job.remnants  # type: ignore[union-attr]
    assert cell(book, "Remnants", "R-007", "Sheets above") == 0
    assert cell(book, "Remnants", "R-007", "Missing corner") is None
    assert box(remnant.edge).width * box(remnant.edge).length < 48 * 60 * INCH**2
    undo_cut(book)
    assert cell(book, "Remnants", "R-007", "Missing corner") == "upper right"
    assert cell(book, "Remnants", "R-007", "Sheets above") == 3
    unlike = {name for name, digest in state(tmp_path).items() if before.get(name) != digest}
    assert not any(name.startswith("rack/R-") for name in unlike)


def test_a_dear_pile_is_left_alone(tmp_path: Path) -> None:
    """The same remnant is taken from the top of the pile, and left where it is under fourteen sheets."""
    row = {"Tag": "R-007", **METAL, "Width": 48, "Length": 60, "Value": 5, "Sheets above": 14}
    book = planned_book(tmp_path, plan_it=False, plates=2, remnants=[row])
    write(book, "Settings", "Cost of moving", "Value", 10)
    [layout] = planned(book).plan.groups[0].layouts  # type: ignore[union-attr]
    assert getattr(layout.sheet, "tag", "") == ""
    write(book, "Remnants", "R-007", "Sheets above", 0)
    [layout] = planned(book).plan.groups[0].layouts  # type: ignore[union-attr]
    assert getattr(layout.sheet, "tag", "") == "R-007"


def test_a_step_that_was_interrupted_stops_a_plan_and_says_what_mends_it(tmp_path: Path) -> None:
    book = planned_book(tmp_path)
    (book.parent / "rack" / ".unfinished").mkdir(parents=True)
    for outcome in (check_book(book), plan_book(
        book, PlanAsked(DAY, seconds=0.3, seed=1), stop=lambda: False, report=quiet, workers=1
    )):  # fmt: skip
        [stop] = [problem for problem in outcome.problems if problem.weight is Weight.STOPS]
        assert "interrupted" in stop.what
        assert f"sheetplan rack {book.name}" in stop.remedy
    assert "dropped" in look(book).told
    assert not check_book(book).stops
