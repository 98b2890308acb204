"""Real drawings through `import`, and a folder of them planned.

    python -m tests.hard.real_drawings --seconds 30
    python -m tests.hard.real_drawings --each FOLDER

Without ``--each`` the shared drawings of a public machine come into a book, three of each part are ordered,
planned and checked, and the layouts that were written are read again. With it each drawing below a folder
goes through the command in a book of its own: ezdxf's example files, say, which lie in `integration_tests`
of its source package (`pip download --no-binary :all: --no-deps ezdxf`).
"""

from __future__ import annotations

import argparse
import datetime
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from typer.testing import CliRunner

from sheetplan.app.check import check_book
from sheetplan.app.import_parts import ImportAsked
from sheetplan.app.import_run import import_drawings
from sheetplan.app.new import new_book
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.checking import check_plan
from sheetplan.cli.commands import app
from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.drawings.reading.files import drawings_below
from sheetplan.model import Plan, Weight
from sheetplan.planning import never, quiet
from sheetplan.shapes import area
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import ORDERS, STOCK
from sheetplan.workbook.package.cells import BookEdit
from sheetplan.workbook.schema import InputPage

SHARED = Path(__file__).parents[3] / "shared" / "drawings"
"""Source: github.com/nortd/lasersaur, its job files."""

OF_EACH = 3
SHEET = {"Sheet": "MS3", "Material": "mild steel", "Thickness": "3 mm", "Width": 1250, "Length": 2500,
         "Price": 95}  # fmt: skip
DAY = datetime.date(2026, 11, 2)

OURS = ("Traceback", "Error", "None", "object at 0x")
"""What no sentence for a planner holds."""

Figures = dict[str, object]


def planned(home: Path, folder: Path, seconds: float) -> Figures:
    """Bring a folder into a new book, order, plan, check; raises AssertionError where anything is amiss."""
    shutil.copytree(folder, home / "drawings")
    book = home / "book.xlsx"
    new_book(book, demo=False, units=Units.MM)
    begun = time.process_time()
    done = import_drawings(book, ImportAsked((home / "drawings",), "mild steel", "3 mm"))
    read = time.process_time() - begun
    names = [part.name for part in done.found.new]
    add(book, STOCK, [SHEET])
    add(book, ORDERS, [{"Order": "O-1", "Item": name, "Quantity": OF_EACH} for name in names])
    told = check_book(book).problems
    assert not [problem for problem in told if problem.weight is not Weight.NOTE], told
    outcome = plan_book(book, PlanAsked(DAY, seconds=seconds, seed=1), stop=never, report=quiet)
    assert outcome.plan is not None, outcome.problems
    assert outcome.drawings is not None
    assert check_plan(outcome.plan) == ()
    pieces = sum(len(layout.placements) * layout.repeats for layout in layouts(outcome.plan))
    assert pieces == OF_EACH * len(names)
    read_again(outcome.plan, outcome.drawings)
    return {
        "drawings": len(list((home / "drawings").glob("*.dxf"))),
        "parts": len(names),
        "drawn": sum(part.drawn for part in done.found.new),
        "refused": len(done.found.refused),
        "questions": len(done.found.asked),
        "seconds to import": round(read, 2),
        "notes of check": len(told),
        "pieces planned": pieces,
        "sheets": sum(layout.repeats for layout in layouts(outcome.plan)),
        "layouts read again": len(layouts(outcome.plan)),
    }


def layouts(plan: Plan) -> list:
    return [layout for group in plan.groups for layout in group.layouts]


def add(book: Path, page: InputPage, rows: list[dict[str, object]]) -> None:
    """Type rows into a table of the book."""
    edit = BookEdit(book.read_bytes())
    edit.add_rows(page.table, rows, tuple(column.heading for column in page.columns))
    book.write_bytes(edit.done())


def read_again(plan: Plan, drawings: Path) -> None:
    """Each layout's drawing holds as much metal as its parts, read as a drawing of parts."""
    for layout in layouts(plan):
        [path] = drawings.glob(f"*-{layout.tag}_*.dxf")
        report = read_bytes(path.name, path.read_bytes(), ReadingChoices(Units.MM), time.process_time)
        assert report.good, (path.name, report.findings)
        metal = sum(area(plan.job.parts[placed.part].outline) for placed in layout.placements)
        drawn = sum(area(part.outline) for part in report.parts)
        assert abs(drawn - metal) < 1e-6 * metal, (path.name, drawn, metal)


def each(home: Path, path: Path) -> tuple[str, list[str]]:
    """One drawing through the command: how it ended, and what was refused or asked.

    Raises AssertionError where it ended otherwise than it should, or said what is no sentence.
    """
    (home / "drawings").mkdir()
    shutil.copy(path, home / "drawings" / path.name)
    book = home / "book.xlsx"
    new_book(book, demo=False, units=Units.MM)
    result = CliRunner().invoke(app, ["import", str(book), str(home / "drawings")])
    assert result.exit_code == 0, (path.name, result.output, result.exception)
    said = result.output.splitlines()
    refused = [line for line in said if line.startswith("cannot be used: ")]
    for line in refused:
        why = line.partition(f"{path.name}")[2].partition(": ")[2]
        assert len(why.split()) >= 3, (path.name, line)
        assert not any(word in why for word in OURS), (path.name, why)
    [counts] = [line for line in said if "added to Kits" in line]
    found = "parts" if not counts.startswith("0 new parts") else "refused" if refused else "nothing to cut"
    again = CliRunner().invoke(app, ["check", str(book)])
    assert again.exit_code in (0, 1), (path.name, again.output, again.exception)
    return found, refused


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--each", type=Path, help="a folder of drawings, each through the command")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CACHE_HOME"] = folder
        if asked.each is None:
            for name, figure in planned(Path(folder), SHARED, asked.seconds).items():
                print(f"{name}: {figure}")
            return
        ends: Counter[str] = Counter()
        for number, path in enumerate(drawings_below(asked.each)):
            home = Path(folder) / str(number)
            home.mkdir()
            begun = time.process_time()
            found, refused = each(home, path)
            ends[found] += 1
            print(f"{path.name}: {found}, {time.process_time() - begun:.1f} s", *refused, sep="\n    ")
        print(*(f"{count} {found}" for found, count in ends.items()), sep="; ")


if __name__ == "__main__":
    sys.exit(main())
