"""The same tables give the same results in every host."""

import datetime
import os
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.check import check_tables
from sheetplan.app.live import run_live
from sheetplan.app.new import new_book, template_path
from sheetplan.app.plan import PlanAsked, plan_on
from sheetplan.pages.values import RESULT_PAGES, Column, Kind, Link, Picture, ResultPage, ResultTable
from sheetplan.planning.progress import never
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import INPUT_PAGES
from sheetplan.workbook.hosts.calc import CalcBook, edits_message
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.hosts.excel import ExcelBook, inputs_only, written
from sheetplan.workbook.outcomes import BookError
from sheetplan.workbook.port import Host
from tests.app.cut_book import planned_book
from tests.nasty.worst_book import png
from tests.workbook.hosts.calc_end import CalcEnd, request
from tests.workbook.hosts.excel_engine import opened
from tests.workbook.hosts.seeded_books import AWKWARD, seeded_book

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")

Cells = dict[str, dict[tuple[int, int], Any]]
"""What stands on each result page, by row and column from 0."""


def of_workbook(book: openpyxl.Workbook) -> Cells:
    return {
        name: {
            (cell.row - 1, cell.column - 1): (cell.value, cell.data_type)
            for row in book[name].iter_rows() for cell in row if cell.value is not None
        }
        for name in RESULT_PAGES if name in book.sheetnames
    }  # fmt: skip


def closed(path: Path) -> tuple[Host, Callable[[], Cells]]:
    return ClosedBook(path), lambda: of_workbook(openpyxl.load_workbook(path))


def excel(path: Path) -> tuple[Host, Callable[[], Cells]]:
    book = opened(path)
    return ExcelBook(book), lambda: of_workbook(book.impl.plain)


def calc(path: Path) -> tuple[Host, Callable[[], Cells]]:
    end = CalcEnd()
    host = CalcBook(request(path), end.lines(), end)

    def results() -> Cells:
        return {
            name: {
                (row, column): (value, "s" if isinstance(value, str) else "n")
                for row, column, _, _, value, _ in page["cells"] if value not in (None, "")
            }
            for name, page in end.pages.items()
        }  # fmt: skip

    return host, results


MILLISECOND = 1.0 / 86_400_000.0
"""In days."""


def in_days(value: Any) -> float:
    return value / datetime.timedelta(days=1) if isinstance(value, datetime.timedelta) else float(value)


def differing(one: dict[tuple[int, int], Any], other: dict[tuple[int, int], Any]) -> list[Any]:
    """Places where two pages differ; a file keeps 16 digits of a number, a program all of them."""

    def same(place: tuple[int, int]) -> bool:
        if place not in one or place not in other:
            return False
        (value, kind), (other_value, other_kind) = one[place], other[place]
        times = [days for days in (value, other_value) if isinstance(days, datetime.timedelta)]
        if times:  # openpyxl reads a time as one, to the millisecond; other ends give days
            return in_days(value) == pytest.approx(in_days(other_value), abs=MILLISECOND)
        if kind == other_kind == "n":
            return bool(value == pytest.approx(other_value, rel=1e-14, abs=1e-300))
        return (value, kind) == (other_value, other_kind)

    return [(p, one.get(p), other.get(p)) for p in sorted({*one, *other}) if not same(p)]


HOSTS = {"closed": closed, "excel": excel, "calc": calc}


def copied(tmp_path: Path, name: str, source: Path) -> Path:
    """A book in a folder of its own, with the demo's drawings beside it."""
    folder = tmp_path / name
    folder.mkdir()
    if source.name.startswith("demo"):
        new_book(folder / "demo.xlsx", demo=True, units=Units.INCH)
    return Path(shutil.copy(source, folder / "harbour.xlsx"))


class Recorded(ClosedBook):
    """A closed book that remembers the pages that were written."""

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        self.pages = tuple(pages)
        return super().write(pages, units)


def test_the_demo_book_gives_the_same_pages_in_every_host(tmp_path: Path) -> None:
    """One plan for all hosts: on a busy machine the clock may end a search sooner than another."""
    source = template_path(demo=True, units=Units.INCH)
    planned = Recorded(copied(tmp_path, "planned", source))
    outcome = plan_on(
        planned, PlanAsked(datetime.date(2026, 11, 2), seconds=0.5, seed=7), stop=never, workers=1
    )
    assert outcome.plan is not None
    jobs, found = [], {}
    for name, open_ in HOSTS.items():
        host, results = open_(copied(tmp_path, name, source))
        jobs.append(check_tables(host.read(), host.path).job)
        assert host.write(planned.pages, Units.INCH) == host.path
        found[name] = results()
    assert jobs[0] is not None
    assert jobs[0] == jobs[1] == jobs[2]
    assert sum(len(cells) for cells in found["closed"].values()) > 500
    drawn = {page.name for page in planned.pages}
    assert drawn >= {"Plan", "Buy", "Layouts", "Made", "Problems"}
    for name in ("excel", "calc"):
        for page in drawn & set(RESULT_PAGES):
            assert differing(found[name][page], found["closed"][page]) == [], f"{name}: {page}"


SEEDS = int(os.environ.get("SHEETPLAN_SEEDS", "6"))
"""Books of both units, one in four with sizes that may stop a plan; ``SHEETPLAN_SEEDS=100`` tries more."""


@pytest.mark.parametrize("seed", range(SEEDS))
def test_seeded_books_give_the_same_results_in_every_host(tmp_path: Path, seed: int) -> None:
    """Read in every host; planned once; the pages written in every host and compared."""
    source = seeded_book(tmp_path / "seeded.xlsx", seed)
    opened_ones = {name: open_(copied(tmp_path, name, source)) for name, open_ in HOSTS.items()}
    readings = [host.read() for host, _ in opened_ones.values()]
    assert set(readings[0].tables) >= {page.name for page in INPUT_PAGES}
    assert set(readings[0].tables) == set(readings[1].tables) == set(readings[2].tables)
    assert inputs_only(readings[0]) == inputs_only(readings[1]) == inputs_only(readings[2])
    outcomes = [check_tables(tables, host.path) for tables, (host, _) in zip(
        readings, opened_ones.values(), strict=True)]  # fmt: skip
    assert outcomes[0].problems == outcomes[1].problems == outcomes[2].problems
    assert outcomes[0].job == outcomes[1].job == outcomes[2].job
    planned = Recorded(copied(tmp_path, "planned", source))
    outcome = plan_on(
        planned, PlanAsked(datetime.date(2026, 11, 2), seconds=0.1, seed=seed), stop=never, workers=1
    )
    assert (outcome.plan is None) == outcomes[0].stops
    units = list(Units)[seed % 2]
    found = {}
    for name, (host, results) in opened_ones.items():
        host.write(planned.pages, units)
        found[name] = results()
    drawn = {page.name for page in planned.pages}
    assert drawn == (set(RESULT_PAGES) if outcome.plan else {"Problems"})
    for name in ("excel", "calc"):
        for page in drawn:
            assert differing(found[name][page], found["closed"][page]) == [], f"{name}: {page}"


@pytest.mark.parametrize("name", HOSTS)
def test_merged_cells_and_hidden_rows_are_told_by_every_host(tmp_path: Path, name: str) -> None:
    book = openpyxl.load_workbook(template_path(demo=True, units=Units.INCH))
    for row in (6, 9, 10):
        book["Parts"].row_dimensions[row].hidden = True
    book["Stock"].merge_cells("K5:L6")
    book["Orders"].merge_cells("A7:B7")
    book.save(tmp_path / "demo_odd.xlsx")
    host, _ = HOSTS[name](copied(tmp_path, name, tmp_path / "demo_odd.xlsx"))
    said = [(p.page, p.cell, p.what) for p in host.read().problems]
    assert ("Parts", None, "Rows 6, 9 to 10 are hidden and read all the same.") in said
    assert [(page, cell) for page, cell, what in said if "merged" in what] == [
        ("Orders", "A7"),
        ("Stock", "K5"),
    ]


@pytest.mark.parametrize("name", HOSTS)
def test_messages_reach_the_rows_of_a_page_that_was_renamed(tmp_path: Path, name: str) -> None:
    """The rows' formulas look for the page's own name; people and links want the one in the book."""
    book = openpyxl.load_workbook(template_path(demo=True, units=Units.INCH))
    book["Orders"]["C6"] = "ten"
    book["Orders"].title = "Our orders"
    book.save(tmp_path / "demo_renamed.xlsx")
    host, results = HOSTS[name](copied(tmp_path, name, tmp_path / "demo_renamed.xlsx"))
    outcome = plan_on(host, PlanAsked(datetime.date(2026, 11, 2), seconds=0.1, seed=7), stop=never, workers=1)
    assert outcome.plan is None
    cells = {value for value, _ in results()["Problems"].values()}
    assert "Orders!6" in cells
    assert any("Our orders" in str(value) and "C6" in str(value) for value in cells)


def pages(rows: Sequence[tuple[Any, ...]]) -> tuple[ResultPage, ...]:
    columns = (Column("Text"), Column("Link"), Column("Length", Kind.LENGTH), Column("Picture", Kind.PICTURE))
    return (ResultPage("Plan", "=title", ("-line",), (ResultTable("PlanTexts", columns, tuple(rows)),)),)


@pytest.mark.parametrize("name", HOSTS)
def test_text_stays_text_and_pages_are_replaced_not_piled_up(tmp_path: Path, name: str) -> None:
    host, results = HOSTS[name](copied(tmp_path, name, template_path(demo=True, units=Units.INCH)))
    picture = Picture(png(40, 20, (9, 9, 9)), 40.0, 20.0, "a picture")
    rows = [(text, Link(text, "#Parts!A5"), 25.4 * n, picture) for n, text in enumerate(AWKWARD)]
    host.read()
    host.write(pages(rows + rows), Units.INCH)
    host.write(pages(rows), Units.INCH) if name != "closed" else None
    if name == "closed":
        host.read()
        host.write(pages(rows), Units.INCH)
    cells = results()["Plan"]
    assert cells[0, 0] == ("=title", "s")
    assert cells[1, 0] == ("-line", "s")
    for number, text in enumerate(AWKWARD):
        assert cells[4 + number, 0] == (text, "s")
        assert cells[4 + number, 1] == (text, "s")
        assert cells[4 + number, 2] == (pytest.approx(number), "n")
    assert max(row for row, _ in cells) == 3 + len(AWKWARD)


def test_excel_pictures_links_tables_and_names(tmp_path: Path) -> None:
    book = opened(copied(tmp_path, "excel", template_path(demo=True, units=Units.INCH)))
    host = ExcelBook(book)
    before = book.sheets.active.name
    picture = Picture(png(40, 20, (9, 9, 9)), 40.0, 20.0, "a picture")
    for count in (3, 2):
        host.read()
        rows = [("L", Link("drawing", "layouts/L 1.dxf"), 1.0, picture)] * count
        host.write((*pages(rows), ResultPage("New page", "new")), Units.INCH)
    plain = book.impl.plain["Plan"]
    assert [i.name for i in plain._images] == ["sheetplan picture 1", "sheetplan picture 2"]
    assert plain._images[0].place["width"] == 40.0
    assert plain.row_dimensions[5].height == 32.0
    assert plain["B5"].hyperlink.target == "layouts/L%201.dxf"
    assert list(plain.tables) == ["PlanTexts"]
    assert plain.tables["PlanTexts"].ref == "A4:D6"
    assert plain["C5"].number_format == "#,##0.000"
    assert plain["A4"].fill.fgColor.rgb.endswith("D7E5E2")
    assert book.sheets.active.name == before
    assert "New page" in [s.name for s in book.sheets][-1:]
    assert book.app.screen_updating


def test_inputs_changed_under_way_stop_the_writing(tmp_path: Path) -> None:
    path = copied(tmp_path, "excel", template_path(demo=True, units=Units.INCH))
    book = opened(path)
    host = ExcelBook(book)
    host.read()
    book.impl.plain["Parts"]["A5"] = "another part"
    with pytest.raises(BookError, match="changed while the run"):
        host.write(pages([]), Units.INCH)
    end = CalcEnd({"changed": True})
    with pytest.raises(BookError, match="changed while the run"):
        CalcBook(request(path), end.lines(), end).write(pages([]), Units.INCH)


def test_a_page_of_the_planners_is_not_replaced(tmp_path: Path) -> None:
    book = opened(copied(tmp_path, "excel", template_path(demo=True, units=Units.INCH)))
    book.impl.plain.create_sheet("Mine")["A1"] = "my own"
    host = ExcelBook(book)
    host.read()
    with pytest.raises(BookError, match="page Mine is your own"):
        host.write((ResultPage("Mine", "t"),), Units.INCH)
    assert book.impl.plain["Mine"]["A1"].value == "my own"


@pytest.mark.parametrize("name", HOSTS)
def test_number_formats_are_those_that_each_program_writes_in_its_own_way(tmp_path: Path, name: str) -> None:
    """ECMA-376, 18.8.30: a format's comma and point stand for the signs of the program's language."""
    path = copied(tmp_path, name, template_path(demo=True, units=Units.INCH))
    host, results = HOSTS[name](path)
    host.read()
    host.write(pages([("a", Link("b", "#Parts!A5"), 25.4 * 1234.5, None)]), Units.INCH)
    assert results()["Plan"][4, 2] == (1234.5, "n")
    formats = {
        "closed": lambda: openpyxl.load_workbook(path)["Plan"]["C5"].number_format,
        "excel": lambda: host._book.impl.plain["Plan"]["C5"].number_format,  # type: ignore[attr-defined]
        "calc": lambda: look_of(host._outgoing.pages["Plan"], 4, 2)["number_format"],  # type: ignore[attr-defined]
    }
    assert formats[name]() == "#,##0.000"


@pytest.mark.parametrize("name", HOSTS)
def test_a_hidden_column_is_there_and_not_seen(tmp_path: Path, name: str) -> None:
    path = copied(tmp_path, name, template_path(demo=True, units=Units.INCH))
    host, results = HOSTS[name](path)
    table = ResultTable("PlanTexts", (Column("Shown"), Column("Key", hidden=True)), (("a", "b"),))
    host.read()
    host.write((ResultPage("Plan", "title", (), (table,)),), Units.INCH)
    assert results()["Plan"][3, 1] == ("b", "s")

    def excel_width(letter: str) -> float:
        return float(host._book.impl.plain["Plan"].column_dimensions[letter].width)  # type: ignore[attr-defined]

    hidden = {
        "closed": lambda: openpyxl.load_workbook(path)["Plan"].column_dimensions["B"].hidden,
        "excel": lambda: excel_width("B") == 0.0 < excel_width("A"),
        "calc": lambda: host._outgoing.pages["Plan"]["hidden"] == [1],  # type: ignore[attr-defined]
    }
    assert hidden[name]()


def look_of(page: dict[str, Any], row: int, column: int) -> dict[str, Any]:
    [look] = [cell[3] for cell in page["cells"] if cell[:2] == [row, column]]
    return dict(page["looks"][look])


@pytest.mark.parametrize("name", HOSTS)
def test_a_search_that_is_stopped_gives_its_plan_and_says_so(tmp_path: Path, name: str) -> None:
    (tmp_path / "source").mkdir()
    host, results = HOSTS[name](copied(tmp_path, name, planned_book(tmp_path / "source", plan_it=False)))
    outcome = plan_on(
        host, PlanAsked(datetime.date(2026, 11, 2), seconds=5.0, seed=1), stop=lambda: True, workers=1
    )
    assert outcome.plan is not None
    assert outcome.plan.stopped_early
    assert any("stopped early" in str(value) for value, _ in results()["Plan"].values())


@pytest.mark.parametrize("name", HOSTS)
def test_a_page_of_the_planners_with_a_result_pages_name_stays(tmp_path: Path, name: str) -> None:
    source = openpyxl.load_workbook(template_path(demo=True, units=Units.INCH))
    del source["Plan"]
    source.create_sheet("Plan")["A1"] = "my own plan"
    source.save(tmp_path / "own.xlsx")
    path = copied(tmp_path, name, tmp_path / "own.xlsx")
    host, _ = HOSTS[name](path)
    host.read()
    if name == "closed":
        assert host.write(pages([]), Units.INCH) != path
    elif name == "excel":
        with pytest.raises(BookError, match="page Plan is your own"):
            host.write(pages([]), Units.INCH)
    else:
        asked = {**request(path), "facts": {"planners": ["Plan"], "read only": False}}
        end = CalcEnd()
        assert not run_live(CalcBook(asked, end.lines(), end), "plan", never)
        assert any("page Plan is your own" in str(one.get("tell", "")) for one in end.said)
    assert openpyxl.load_workbook(path)["Plan"]["A1"].value == "my own plan"


@pytest.mark.parametrize("name", ["excel", "calc"])
def test_a_day_goes_to_a_program_as_a_day(tmp_path: Path, name: str) -> None:
    """To Excel as a date of its own, to Calc by a name that it reads as one in every language."""
    host, _ = HOSTS[name](copied(tmp_path, name, template_path(demo=True, units=Units.INCH)))
    assert isinstance(host, ExcelBook | CalcBook)
    host.read()
    edit = host.edit()
    edit.set("Orders", "D5", datetime.date(2026, 12, 4))
    if isinstance(host, CalcBook):
        assert edits_message(edit.done())["cells"] == [["Orders", 4, 3, {"day": "2026-12-04"}]]
    else:
        host.change(edit.done(), (), Units.INCH, save=False)
        (write,) = edit.done().cells
        assert written(write.value) == datetime.datetime(2026, 12, 4)
        value = host._book.impl.plain["Orders"]["D5"].value
        assert value == datetime.datetime(2026, 12, 4)
