"""Quotes of a planned book: what they say, what they leave alone, and how one becomes an order."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import ezdxf
import openpyxl
import pytest
from openpyxl.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

from sheetplan.app.kept_quotes import (
    keep_quotes,
    kept_quotes,
    place_for,
    quotes_file,
    quotes_json,
    recover_quotes,
    stage_quotes,
)
from sheetplan.app.quote import _Asked, _asked, _recovered, quote_book
from sheetplan.app.quote_plans import (
    Answer,
    Month,
    answered,
    never_more_than_the_next,
    planned_alone,
    planned_with,
)
from sheetplan.app.rack import Refused
from sheetplan.model import Job, Order, Plan, Remnant, Settings, Weight, rectangle
from sheetplan.model.job import QuoteLine
from sheetplan.money.figures import plan_figures
from sheetplan.money.quoting import Priced, Quoted, alone_cost
from sheetplan.planning.progress import Progress
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.outcomes import BookChanged
from tests.app.choice_book import planned, run
from tests.app.cut_book import DAY, fill
from tests.app.quote_book import LINES, copied, plan_files, quote, quote_yard
from tests.hard import quotes_add_up
from tests.hard.quotes_by_hand import faults_of
from tests.money.bookmaking import QUARTER, RULE, SHEET, STEEL, parts


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A planned book with quotes that were answered once."""
    return quote_yard(tmp_path_factory.mktemp("quotes"))


def quoted_lines(path: Path) -> list[str]:
    """What stands on the page Quoted in its first column."""
    sheet = openpyxl.load_workbook(path)["Quoted"]
    return [str(row[0].value) for row in sheet.iter_rows(max_col=1) if row[0].value is not None]


def test_quotes_are_answered_kept_and_add_up(yard: Path) -> None:
    before = plan_files(yard)
    outcome = quote(yard)
    assert plan_files(yard) == before, "a quote leaves every byte of the plan as it was"
    answers = {(one.line.name, a.quantity): a for one in outcome.quotes for a in one.answers}
    one, four = answers["Q-1", 1], answers["Q-1", 4]
    # A stand has a base and two ribs of one gauge, so that one sheet of T48 at 210 is all that is bought.
    assert one.alone.metal == four.alone.metal == 210.0
    assert one.price_each is not None
    assert four.price_each is not None
    assert four.price_each < one.price_each
    assert one.added.total <= one.alone.total + 1e-9
    assert answers["Q-3", 0].price is None
    assert answers["Q-3", 0].alone.total == answers["Q-3", 0].added.total == 0.0
    assert all(one.plan for one in outcome.quotes), "the plan of the book stands"
    assert kept_quotes(yard) == outcome.quotes
    assert faults_of(yard) == []
    told = quotes_json(outcome.quotes, outcome.units)["quotes"][0]["answers"][0]
    assert told["price_each"] == one.price_each
    names = {path.name for path in outcome.files}
    assert names == {f"Q-1 {DAY}.pdf", f"Q-2 {DAY}.pdf"}


def test_a_lock_that_the_orders_no_longer_allow_is_named_and_nothing_is_priced(
    yard: Path, tmp_path: Path
) -> None:
    path = copied(yard, tmp_path, LINES)
    held = planned(run(path)).groups[0].layouts[0]
    planned(run(path, locks=(held.tag,)))
    book = openpyxl.load_workbook(path)
    for (cell,) in book["Orders"].iter_rows(min_row=2, min_col=3, max_col=3):
        if isinstance(cell.value, int):
            cell.value = 1
    book.save(path)
    before = path.read_bytes()
    with pytest.raises(Refused) as refused:
        quote(path)
    assert "The locked layouts" in refused.value.what
    assert "nothing was priced" in refused.value.what
    assert path.read_bytes() == before


def test_ten_quotes_are_worked_out_again_by_a_script_of_its_own(yard: Path, tmp_path: Path) -> None:
    """Of kits and parts, alone and by the month, at many mark-ups; and the script sees what is a cent off."""
    rows: list[dict[str, object]] = [
        {"Quote": f"Q-{number}", "Item": item, "Quantity": many, "Mark-up": mark_up,
         "Price by": "this month" if number % 3 == 0 else None}
        for number, (item, many, mark_up) in enumerate((
            ("stand", 1, None), ("stand", 5, 0.0), ("stand", 13, 0.333), ("PLATE", 1, 0.175),
            ("PLATE", 3, 0.9), ("PLATE", 10, None), ("RIB", 1, 0.4), ("RIB", 40, 0.05), ("BASE", 2, 0.0),
            ("BASE", 17, 0.25),
        ))
    ]  # fmt: skip
    path = copied(yard, tmp_path, rows)
    outcome = quote(path)
    assert len(outcome.quotes) == 10
    assert all(one.answers[0].price is not None for one in outcome.quotes)
    assert faults_of(path) == []
    wrong = path.with_name("wrong.xlsx")
    for heading in ("Price", "Hands", "Metal", "Cost"):
        book = openpyxl.load_workbook(path)
        cell = next(cell for head, cell in amounts_of(book["Quoted"]) if head == heading)
        cell.value += 0.02
        book.save(wrong)
        assert faults_of(wrong), heading


def amounts_of(sheet: Worksheet) -> Iterator[tuple[str, Cell]]:
    """Heading and cell of each amount in the page's tables of prices and costs."""
    for name in ("QuotePrices", "QuoteCosts"):
        heads, *rows = sheet[sheet.tables[name].ref]
        for row in rows:
            for head, cell in zip(heads, row, strict=True):
                if isinstance(cell.value, float):
                    yield str(head.value), cell


def test_a_page_that_a_customer_may_have_stays_and_the_new_one_gets_a_number(tmp_path: Path) -> None:
    first, second = tmp_path / "Q-1 2026-11-24.pdf", tmp_path / "Q-1 2026-11-24 2.pdf"
    assert place_for(first, b"66.48") == first
    first.write_bytes(b"66.48")
    assert place_for(first, b"66.48") == first
    assert place_for(first, b"127.20") == second
    second.write_bytes(b"127.20")
    assert place_for(first, b"127.20") == second


def test_a_marked_quote_becomes_an_order_once(yard: Path) -> None:
    book = openpyxl.load_workbook(yard)
    sheet = book["Quotes"]
    heads = {cell.value: cell.column for cell in next(sheet.iter_rows(min_row=4, max_row=4))}
    sheet.cell(5, heads["Order it"]).value = "4"
    sheet.cell(6, heads["Order it"]).value = "7"
    book.save(yard)
    outcome = quote(yard)
    assert [problem.what.split(" of ")[2].split()[0].strip(" :") for problem in outcome.problems
                       if problem.page == "Quotes" and problem.cell == "L6"] == ["Q-2"]  # fmt: skip
    values = openpyxl.load_workbook(yard)
    rows = [[cell.value for cell in row[:3]] for row in values["Orders"].iter_rows(min_row=5)]
    assert ["Q-1", "stand", 4] in rows
    assert str(values["Quotes"].cell(5, heads["Order it"]).value).startswith(f"ordered 4 on {DAY}")
    assert {one.line.name: one.ordered for one in kept_quotes(yard)}["Q-1"] == DAY.isoformat()
    quote(yard)
    again = [[cell.value for cell in row[:3]] for row in openpyxl.load_workbook(yard)["Orders"].iter_rows()]
    assert again.count(["Q-1", "stand", 4]) == 1


def test_a_book_without_the_page_is_told_what_to_do(yard: Path, tmp_path: Path) -> None:
    old = tmp_path / "old.xlsx"
    book = openpyxl.load_workbook(yard)
    del book["Quotes"]
    book.save(old)
    with pytest.raises(Refused, match="no page Quotes"):
        quote(old)


@pytest.mark.parametrize("seed", [1, 2])
def test_what_all_orders_add_to_an_empty_month_is_what_the_month_costs(seed: int) -> None:
    assert quotes_add_up.faults_of(seed) == []


def steps(job: Job, quantities: tuple[int, ...]) -> list[Answer]:
    """What so many of part ``a`` cost, alone and beside the month of a job."""
    empty = Plan(replace(job, orders=()), ())
    month = Month.of(planned_with(empty, empty.job, job.orders, quotes_add_up.OPTIONS), {}, DAY)
    line = QuoteLine("Q-1", "a", quantities)
    found = [answered(line, many, month, job, quotes_add_up.OPTIONS, 0.5) for many in quantities]
    return never_more_than_the_next(found, month)


def in_lots() -> Job:
    """Plates of which four lie on a dear sheet; the cheap sheet of one is sold in threes, at 360 together."""
    one = replace(SHEET, name="one", length=700.0, width=700.0, price=120.0, multiple=3, on_hand=0)
    four = replace(SHEET, name="four", length=1300.0, width=1300.0, price=300.0, on_hand=0)
    book = parts(a=rectangle(550.0, 550.0))
    settings = Settings(load_minutes=3.0, clean_minutes=1.0, hand_hour=45.0)
    return Job(settings, {STEEL.name: STEEL}, (RULE,), book, {}, (), (one, four))


def test_price_each_falls_or_stays_except_where_metal_begins() -> None:
    """Alone, where another sheet is to be paid; this month, where the plans take more metal. Both happen.
    All together more never costs less."""
    falls, rises = Counter[str](), Counter[str]()
    many = (1, 2, 3, 5, 8, 13, 21)
    books = [(f"seed {seed}", quotes_add_up.small_book(seed), many) for seed in range(1, 7)]
    for book, job, quantities in (*books, ("lots", in_lots(), (1, 2, 3, 4, 5, 6))):
        for fewer, more in pairwise(steps(job, quantities)):
            for which, metal, one, other in (
                ("alone", "to_pay", fewer.alone_cost, more.alone_cost),
                ("this month", "metal", fewer.added, more.added),
            ):
                before, after = one.total / fewer.order.quantity, other.total / more.order.quantity
                rises[which] += after > before + 1e-9
                falls[which] += after < before - 1e-9
                where = f"{book}, {which}, {more.order.quantity}"
                assert after <= before + 1e-9 or getattr(other, metal) > getattr(one, metal), where
                assert one.total <= other.total + 1e-9, f"{where} cost less than {fewer.order.quantity}"
    assert all(falls[which] and rises[which] for which in ("alone", "this month")), (falls, rises)


def test_a_smaller_quantity_is_served_by_the_plan_of_a_larger_one_where_that_is_cheaper() -> None:
    """One plate on a cheap sheet would bring a lot of three, 360; on the sheet for four it pays 300. And a
    plan that was found on dear metal alone gives way to that of the larger quantity, in the month as well."""
    few, *_, many = steps(in_lots(), (1, 2, 3, 4))
    assert (few.alone_cost.to_pay, many.alone_cost.to_pay) == (300.0, 300.0)
    assert few.alone_cost.total < many.alone_cost.total
    job = in_lots()
    month, line = Month.of(Plan(job, ()), {}, DAY), QuoteLine("Q-1", "a", (3, 4))
    dear = replace(job, stock=(replace(job.stock[1], price=900.0),))
    three = answered(line, 3, month, dear, quotes_add_up.OPTIONS, 0.5)
    four = answered(line, 4, month, job, quotes_add_up.OPTIONS, 0.5)
    assert min(three.alone_cost.total, three.added.total) > max(four.alone_cost.total, four.added.total)
    less, _ = never_more_than_the_next([three, four], month)
    assert less.alone_cost.total <= four.alone_cost.total
    assert less.added.total <= four.added.total


# The sheets alone have minutes that a larger quantity shares: without them, on metal that costs nothing, each
# piece takes what one takes, to the last digit, and nothing may creep up with the number.
def test_where_no_sheet_costs_anything_each_piece_costs_the_same() -> None:
    job = in_lots()
    free = replace(
        job, stock=tuple(replace(sheet, price=0.0, multiple=1) for sheet in job.stock),
        settings=replace(job.settings, load_minutes=0.0, least_remnant_length=1e4),
    )  # fmt: skip
    found = steps(free, (1, 2, 3, 4, 7, 12))
    for answer in found:
        many = answer.order.quantity
        for cost in (answer.alone_cost, answer.added):
            assert cost.total / many == pytest.approx(found[0].alone_cost.total, rel=1e-12)
            assert cost.hand_minutes == pytest.approx(many * 1.0, rel=1e-12)
            assert cost.hands == pytest.approx(many / 60 * 45.0, rel=1e-12)
            # 2200 mm at 2000 mm/min and a pierce of a second.
            assert cost.machine_minutes == pytest.approx(many * (2200 / 2000 + 1 / 60), rel=1e-12)


@pytest.mark.parametrize("many", [3, 7, 11])
def test_a_job_alone_makes_no_spares_and_takes_nothing_from_the_rack(many: int) -> None:
    """50 spares are allowed, sheets are on hand and a remnant lies in the rack: alone, none of it counts."""
    job = in_lots()
    rest = Remnant("R-1", STEEL.name, QUARTER, rectangle(640.0, 640.0).outer, value=1.0)
    rich = replace(
        job, remnants=(rest,), stock=tuple(replace(sheet, on_hand=2) for sheet in job.stock),
        parts={name: replace(part, spare=50) for name, part in job.parts.items()},
    )  # fmt: skip
    order = Order("Q-1", "a", many)
    bare, full = (planned_alone(one, (order,), quotes_add_up.OPTIONS) for one in (job, rich))
    assert full.groups[0].layouts == bare.groups[0].layouts
    cost = alone_cost(full, plan_figures(full))
    assert (plan_figures(full).total.pieces, cost.spares) == (many, 0.0)
    assert cost.hand_minutes == pytest.approx(3.0 * cost.sheets + many)
    assert cost == alone_cost(bare, plan_figures(bare))


# Two of the seeded books in which a search that may make spares leaves one on a sheet that is cut twice.
@pytest.mark.parametrize(("seed", "sets"), [(12, 23), (17, 7)])
def test_a_quote_has_just_its_own_pieces_where_a_spare_would_come_by_itself(seed: int, sets: int) -> None:
    job = quotes_add_up.small_book(seed)
    job = replace(job, parts={name: replace(part, spare=50) for name, part in job.parts.items()})
    orders, empty = (Order("Q-1", "set", sets),), Plan(replace(job, orders=()), ())
    for plan in (
        planned_alone(job, orders, quotes_add_up.OPTIONS),
        planned_with(empty, replace(job, orders=()), orders, quotes_add_up.OPTIONS),
    ):
        assert plan_figures(plan).total.pieces == sets * sum(job.kits["set"].parts.values())


def test_hands_are_those_of_the_sheets_and_the_pieces_and_nothing_more() -> None:
    for answer in steps(in_lots(), (1, 3, 4, 9)):
        for cost in (answer.alone_cost, answer.added):
            assert cost.hand_minutes == pytest.approx(3.0 * cost.sheets + answer.order.quantity, rel=1e-12)


def test_quotes_are_as_private_as_the_book(yard: Path) -> None:
    yard.chmod(0o600)
    quotes_file(yard).unlink(missing_ok=True)  # a file keeps the rights that it has
    for earlier in (yard.parent / "quotes").glob("*.pdf"):
        earlier.unlink()
    outcome = quote(yard)
    assert outcome.files
    kept = (*outcome.files, quotes_file(yard))
    assert [path.stat().st_mode & 0o077 for path in kept] == [0] * len(kept)


def test_same_book_same_quotes_and_more_takes_no_less(yard: Path, tmp_path: Path) -> None:
    folder = tmp_path / "yard"
    shutil.copytree(yard.parent, folder)
    path = folder / yard.name
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [{"Quote": "Q-9", "Item": "stand", "Quantity": "1; 2; 3; 5; 8", "Order it": "no"}])
    book.save(path)
    (first,) = [one for one in quote(path).quotes if one.line.name == "Q-9"]
    (second,) = [one for one in quote(path).quotes if one.line.name == "Q-9"]
    assert first.answers == second.answers
    for fewer, more in pairwise(first.answers):
        assert fewer.added.total <= more.added.total + 1e-9
        assert fewer.alone.total <= more.alone.total + 1e-9
    assert all(one.added.saved == 0.0 for one in first.answers), "the plan that stands is the base"


@pytest.mark.parametrize("killed_at", ["book", "pages", "quotes"])
def test_killed_between_book_and_file_loses_nothing(yard: Path, tmp_path: Path, killed_at: str) -> None:
    """Killed before the book is replaced, after the first of two customers' pages, or before the file of
    quotes is: a process that ends at once. The next run makes and tells the pages that are missing."""
    folder = tmp_path / "yard"
    shutil.copytree(yard.parent, folder)
    path = folder / yard.name
    quotes_file(path).unlink(missing_ok=True)
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [
        {"Quote": "Q-9", "Item": "stand", "Quantity": "1; 2", "Order it": "no"},
        {"Quote": "Q-8", "Item": "PLATE", "Quantity": "1", "Price by": None, "Order it": "no"},
    ])  # fmt: skip
    book.save(path)
    shutil.rmtree(folder / "quotes", ignore_errors=True)
    as_it_was = path.read_bytes()
    run = subprocess.run([sys.executable, "-c", KILLED, str(path), killed_at, DAY.isoformat()],
                         capture_output=True, text=True)  # fmt: skip
    assert run.returncode == KILLED_CODE, run.stderr
    pages = {f"Q-9 {DAY}.pdf", f"Q-8 {DAY}.pdf"}
    there = {page.name: page.read_bytes() for page in (folder / "quotes").glob("*")}
    assert len(there) == {"book": 0, "pages": 1, "quotes": 2}[killed_at]
    said = next_run_says(path)
    given = kept_quotes(path)
    after = {page.name: page.read_bytes() for page in (folder / "quotes").glob("*")}
    assert there.items() <= after.items(), "a page that a customer may have stays"
    if killed_at == "book":
        assert path.read_bytes() == as_it_was
        assert (given, after) == ((), {})
    else:
        assert path.read_bytes() != as_it_was
        assert ("Q-9", [1, 2]) in [(one.line.name, [a.quantity for a in one.answers]) for one in given]
        assert pages <= after.keys()
    missing = sorted(after.keys() - there.keys())
    assert [name for name in missing if name not in " ".join(said)] == []
    assert bool(said) == bool(missing)
    assert not list(folder.glob(".*.next"))


KILLED_CODE = 9
KILLED = """
import datetime, os, sys
from pathlib import Path
import sheetplan.app.quote as quote
from sheetplan.planning.progress import quiet
def end(*_): os._exit(9)
if sys.argv[2] == "book":
    quote._write = end
elif sys.argv[2] == "pages":
    from sheetplan.workbook.package import saving
    put, there = saving.put_file, []
    def one_page(path, data, **more):
        global there
        if path.suffix == ".pdf" and there:
            end()
        there += [path] if path.suffix == ".pdf" else []
        put(path, data, **more)
    saving.put_file = one_page
else:
    quote.keep_quotes = end
quote.quote_book(Path(sys.argv[1]), today=datetime.date.fromisoformat(sys.argv[3]), seconds=0.5, report=quiet)
"""


def next_run_says(path: Path) -> list[str]:
    """What the next run says of the one before, as soon as it has read the book."""
    host = ClosedBook(path)
    asked = _asked(host)
    assert isinstance(asked, _Asked)
    return list(_recovered(host, asked))


def recovered(path: Path) -> tuple[Quoted, ...]:
    """What is kept once the next run has put right what was interrupted."""
    recover_quotes(path, (), len)
    return kept_quotes(path)


def test_quotes_that_are_typed_while_a_run_works_are_noticed(yard: Path, tmp_path: Path) -> None:
    folder = tmp_path / "yard"
    shutil.copytree(yard.parent, folder)
    path = folder / yard.name
    before = kept_quotes(path)

    def typing(progress: Progress) -> None:
        if progress.sentence.startswith("Pricing"):
            book = openpyxl.load_workbook(path)
            book["Quotes"].cell(6, 3).value = 3
            book.save(path)

    with pytest.raises(BookChanged, match="nothing was written"):
        quote_book(path, today=DAY, seconds=0.5, report=typing)
    assert openpyxl.load_workbook(path)["Quotes"].cell(6, 3).value == 3, "what was typed stays"
    assert recovered(path) == before


def test_what_was_staged_counts_where_the_book_was_written_and_has_its_mark(tmp_path: Path) -> None:
    book = tmp_path / "a.xlsx"
    book.write_bytes(b"before")

    def given(name: str, ordered: str = "") -> Quoted:
        return Quoted(QuoteLine(name, "stand", (1,)), "2026-11-24", "USD", (Priced(1),), ordered=ordered)

    keep_quotes(book, [given("A")])
    stage_quotes(book, [given("A"), given("B")])
    assert [one.line.name for one in recovered(book)] == ["A"], "the book was never written"
    stage_quotes(book, [given("A"), given("B"), given("C", "2026-11-24"), given("D", "2026-11-24")])
    book.write_bytes(b"after")
    recover_quotes(book, ("C",), len)
    assert [one.line.name for one in kept_quotes(book)] == ["A", "B", "C"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.quotes.json", "a.xlsx"]


def test_a_quoted_drawing_that_was_ordered_is_one_part(yard: Path, tmp_path: Path) -> None:
    """Once its part stands in Parts, nothing says that it stands there twice."""
    folder = tmp_path / "yard"
    shutil.copytree(yard.parent, folder)
    path = folder / yard.name
    drawing = ezdxf.new(units=ezdxf.units.MM)
    drawing.modelspace().add_lwpolyline([(0, 0), (90, 0), (90, 60), (0, 60)], close=True)
    drawing.saveas(folder / "lug.dxf")
    asked = {
        "Quote": "Q-7", "Item": "", "Drawing": "lug.dxf", "Material": "mild steel", "Thickness": "10 ga",
        "Quantity": "2", "Order it": "2",
    }  # fmt: skip
    book = openpyxl.load_workbook(path)
    fill(book, "Quotes", [asked, LINES[1]])
    book.save(path)
    first = quote(path)
    said = " ".join(first.said)
    assert "Q-7 had no price for 2 before it was ordered" in said
    assert "Q-7 is a row of the page Orders now" in said
    assert not [one.what for one in quote(path).problems if "same as" in one.what]
    parts = [row[0].value for row in openpyxl.load_workbook(path)["Parts"].iter_rows()]
    assert parts.count("Q-7 drawing") == 1


@pytest.mark.parametrize(("page", "heading"), [("Orders", "Item"), ("Kits", "Part")])
def test_a_row_that_names_a_drawing_that_is_only_quoted_is_named_as_a_plan_names_it(
    yard: Path, tmp_path: Path, page: str, heading: str
) -> None:
    """The part stands nowhere yet."""
    asked: dict[str, object] = {
        "Quote": "Q-7", "Drawing": "lug.dxf", "Material": "mild steel", "Thickness": "10 ga", "Quantity": "2",
    }  # fmt: skip
    path = copied(yard, tmp_path, [asked])
    drawing = ezdxf.new(units=ezdxf.units.MM)
    drawing.modelspace().add_lwpolyline([(0, 0), (90, 0), (90, 60), (0, 60)], close=True)
    drawing.saveas(path.parent / "lug.dxf")
    book = openpyxl.load_workbook(path)
    heads = {cell.value: cell.column for cell in book[page][4]}
    last = max(cell.row for cell in book[page]["A"] if cell.value is not None)
    for cell in book[page][last]:
        book[page].cell(last + 1, cell.column).value = cell.value
    book[page].cell(last + 1, heads[heading]).value = "Q-7 drawing"
    book.save(path)
    outcome = quote(path)
    (named,) = [one for one in outcome.problems if one.what.startswith("Q-7 drawing is ")]
    assert (named.page, named.row) == (page, last + 1)
    by_plan = run(path).problems
    assert named in by_plan
    assert outcome.stops == any(one.weight is Weight.STOPS for one in by_plan)


def test_what_is_ordered_before_it_was_priced_is_priced_and_said(yard: Path, tmp_path: Path) -> None:
    path = copied(yard, tmp_path, [
        {"Quote": "Q-5", "Item": "stand", "Quantity": "3", "Order it": "yes"},
        {"Quote": "Q-6", "Item": "PLATE", "Quantity": "1; 2"},
    ])  # fmt: skip
    outcome = quote(path)
    one = next(one for one in kept_quotes(path) if one.line.name == "Q-5")
    answer = one.answer(3)
    assert answer is not None
    assert answer.price_each is not None
    assert (one.ordered, one.ordered_quantity) == (DAY.isoformat(), 3)
    each = f"{answer.price_each:,.2f} each"
    assert f"Q-5 had no price for 3 before it was ordered: it is priced now, at {each}." in outcome.said
    # A quantity that was added after the quote has no price yet either; what was told stays as it was told.
    told = next(one for one in kept_quotes(path) if one.line.name == "Q-6")
    book = openpyxl.load_workbook(path)
    heads = {cell.value: cell.column for cell in next(book["Quotes"].iter_rows(min_row=4, max_row=4))}
    book["Quotes"].cell(6, heads["Quantity"]).value = "1; 2; 5"
    book["Quotes"].cell(6, heads["Order it"]).value = "5"
    book.save(path)
    assert any(said.startswith("Q-6 had no price for 5") for said in quote(path).said)
    later = [one for one in kept_quotes(path) if one.line.name == "Q-6"]
    assert later[0] == told
    assert [one.quantity for one in later[-1].answers] == [1, 2, 5]


def test_what_was_priced_is_ordered_at_the_price_that_was_told(yard: Path, tmp_path: Path) -> None:
    path = copied(yard, tmp_path, [{"Quote": "Q-6", "Item": "PLATE", "Quantity": "1; 2"}])
    (told,) = quote(path).quotes
    book = openpyxl.load_workbook(path)
    heads = {cell.value: cell.column for cell in next(book["Quotes"].iter_rows(min_row=4, max_row=4))}
    book["Quotes"].cell(5, heads["Order it"]).value = "2"
    book.save(path)
    keep_quotes(path, [replace(told, holds_until="2026-11-23")])
    outcome = quote(path)
    assert not any("had no price" in said for said in outcome.said)
    assert any(said.endswith("which held until 2026-11-23.") for said in outcome.said)
    assert outcome.quotes[0].answers == told.answers


def test_wrong_rows_stand_on_the_page_quoted_with_their_cells(yard: Path, tmp_path: Path) -> None:
    metal = {"Material": "mild steel", "Thickness": "10 ga", "Quantity": "2"}
    path = copied(yard, tmp_path, [
        {"Quote": "Q-21", "Item": "stand", "Quantity": "2", "Order it": "9"},
        {"Quote": "Q-2", "Item": "stnad", "Quantity": "2"},
        {"Quote": "Q-3", "Drawing": "lugs/none.dxf", **metal},
        {"Quote": "Q-4", "Drawing": "lugs/none.dxf", **metal},
        {"Quote": "Q-5", "Item": "stand", "Quantity": "few"},
    ])  # fmt: skip
    outcome = quote(path)
    lines = quoted_lines(path)
    assert [one.line.name for one in outcome.quotes] == ["Q-21"]
    for start in (
        "Quotes!L5: `9` does not say which of the quantities of Q-21 is ordered: 2. Write that quantity",
        "Quotes!B6: stnad is neither on the page Kits nor on the page Parts",
        "Quotes!C7: There is no lugs/none.dxf in the workbook's folder. Correct the name",
        "Quotes!C8: lugs/none.dxf cannot be used; see row 7 of the page Quotes.",
        "Quotes!G9: Quantity `few` is not a number.",
    ):
        assert [line.startswith(start) for line in lines].count(True) == 1, start
    assert "To put right on the page Quotes, 5 places:" in lines
    assert "5 places of the page Quotes could not be used; Quoted says which." in outcome.said
