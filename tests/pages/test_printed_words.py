"""Every PDF of the demo month, word by word: no date, size or file name is broken, no word cut or covered."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import pytest

from sheetplan.model import Kit, Plan
from sheetplan.money.buy_list import buy_list
from sheetplan.pages.contents import parts_on
from sheetplan.pages.paper.lists import pick_orders
from sheetplan.pages.paper.paper import MARGIN, paper_for
from sheetplan.pages.wording import bare_size
from sheetplan.planning import RunOptions, plan_job
from sheetplan.shapes import size
from sheetplan.trade.units import Units
from tests.demo import demo_job
from tests.pages.drawn import printed_files
from tests.pages.pdf_reading import Said, pages_of, touching, words

TODAY = datetime.date(2026, 11, 30)
PART_LETTERS, ORDER_LETTERS, SHEET_LETTERS = 40, 30, 24
CASES = [(units, long) for units in Units for long in (False, True)]


@cache
def month(units: Units) -> Plan:
    return plan_job(demo_job(units), RunOptions(0.5, clock=lambda: 0.0))


def lengthened(name: str, letters: int) -> str:
    """A name with more words behind it, as a shop that keeps its names in another program writes them."""
    return f"{name}-HARBOUR-NORTH-QUAY-SERIES-2026-REVISION-B"[:letters]


def long_named(plan: Plan) -> Plan:
    """The plan with long names of parts, orders and sheets."""
    job = plan.job
    parts = {name: lengthened(name, PART_LETTERS) for name in job.parts}
    sheets = {
        id(sheet): replace(sheet, name=lengthened(sheet.name, SHEET_LETTERS)) for sheet in job.stock
    }
    by_name = {sheet.name: sheets[id(sheet)] for sheet in job.stock}
    kits = {
        name: Kit(name, {parts[part]: count for part, count in kit.parts.items()})
        for name, kit in job.kits.items()
    }
    orders = tuple(
        replace(order, name=lengthened(order.name, ORDER_LETTERS), item=parts.get(order.item, order.item))
        for order in job.orders
    )
    job = replace(
        job, kits=kits, orders=orders, progress=(), stock=tuple(by_name.values()),
        parts={parts[name]: replace(part, name=parts[name]) for name, part in job.parts.items()},
    )  # fmt: skip
    groups = tuple(
        replace(
            gp, choices=(), sheets=tuple(replace(one, sheet=by_name[one.sheet.name]) for one in gp.sheets),
            group=replace(
                gp.group, needs=tuple(replace(need, part=parts[need.part]) for need in gp.group.needs),
                stock=tuple(by_name[sheet.name] for sheet in gp.group.stock),
            ),
            layouts=tuple(
                replace(
                    layout, sheet=by_name.get(getattr(layout.sheet, "name", ""), layout.sheet),
                    placements=tuple(replace(one, part=parts[one.part]) for one in layout.placements),
                )
                for layout in gp.layouts
            ),
        )
        for gp in plan.groups
    )  # fmt: skip
    return replace(plan, job=job, groups=groups)


def names(plan: Plan) -> dict[str, str]:
    """The drawings' files by layout."""
    return {
        layout.tag: f"{layout.tag}_KRTM_{re.sub(r'[^a-z0-9]+', '-', gp.group.label)}.dxf"
        for gp in plan.groups
        for layout in gp.layouts
    }


@cache
def printed(units: Units, long: bool) -> tuple[Plan, dict[str, list[list[Said]]]]:
    """The plan, and the words of all its PDFs by file and page."""
    plan = long_named(month(units)) if long else month(units)
    files = printed_files(plan, TODAY, names(plan))
    pdfs = {name: data for name, data in files.items() if name.endswith(".pdf")}
    assert set(pdfs) == {"tickets.pdf", "picking-list.pdf", "labels.pdf", "to-order.pdf"}
    return plan, {name: [words(page) for page in pages_of(data)] for name, data in pdfs.items()}


def lines(units: Units, long: bool, *files: str) -> Iterator[tuple[str, str]]:
    for name, pages in printed(units, long)[1].items():
        for page in pages:
            yield from ((name, said.text) for said in page if not files or name in files)


BROKEN = (
    r"(?<![\w-])\d{4}-(\d\d?-?)?$",
    r"^-?\d\d-\d\d$|(?<!\d)\d{1,3}-\d\d-\d\d",
    r"\d x$",
    r"^x \d",
    r"[_-][a-z-]*\.(dx?|d?)$",
    r"^(d?xf|[a-z-]*\.dxf)$",
)
"""What is left of a date, a size or a file name where a line ends within it."""


@pytest.mark.parametrize(("units", "long"), CASES)
def test_no_line_ends_within_a_date_a_size_or_a_file_name(units: Units, long: bool) -> None:
    found = 0
    for name, line in lines(units, long):
        found += bool(re.search(r"\d{4}-\d\d-\d\d|\d x \d|\.dxf", line))
        assert not any(re.search(broken, line) for broken in BROKEN), (name, line)
    assert found > 200


@pytest.mark.parametrize("line", [
    "due 2026-12-", "12-04", "026-12-04", "due 2026-1", "48 x", "x 96", "L1_KRTM_mild-steel.d", "xf",
    "ga.dxf",
])  # fmt: skip
def test_what_is_broken_would_be_found(line: str) -> None:
    assert any(re.search(broken, line) for broken in BROKEN)


@pytest.mark.parametrize(("units", "long"), CASES)
def test_each_is_found_whole_as_often_as_it_has_to_be_there(units: Units, long: bool) -> None:
    plan, pages = printed(units, long)
    of_tickets = [[said.text for said in page] for page in pages["tickets.pdf"]]
    for tag, drawing in names(plan).items():
        assert sum(f"Drawing {drawing}" in page for page in of_tickets) == 1, tag
    for layout in (layout for gp in plan.groups for layout in gp.layouts):
        # A long list runs over: all pages of the ticket together.
        (*own,) = (page for page in of_tickets if f"KRTM-{layout.tag}" in page)
        there = [said for page in own for said in page]
        for part in parts_on(layout):
            assert bare_size(*size(plan.job.parts[part].outline), units) in there, (layout.tag, part)
    ordered = [said.text for page in pages["to-order.pdf"] for said in page]
    for line in buy_list(plan):
        for said in (line.sheet, bare_size(line.length, line.width, units), line.needed_by):
            assert said in ordered, said
    picked = [said.text for page in pages["picking-list.pdf"] for said in page]
    for order in pick_orders(plan):
        assert f"due {order.due}" in picked if order.due else "no date" in picked
        assert all(pick.size in picked for pick in order.picks)


HEADINGS = (
    "Got", "Part", "Description", "Gauge", "From", "Layout", "Metal", "Sheets", "Pieces", "Key", "For",
)  # fmt: skip


@pytest.mark.parametrize(("units", "long"), CASES)
def test_headings_are_whole_and_say_the_units(units: Units, long: bool) -> None:
    _, pages = printed(units, long)
    said = {one.text for some in pages.values() for page in some for one in page}
    assert said >= set(HEADINGS)
    together = " ".join(one.text for some in pages.values() for page in some for one in page)
    for heading in (f"Size {units.value}", f"Weight {units.weight}", f"Each {units.weight}", "Taken off"):
        assert heading in together, heading


@pytest.mark.parametrize("units", Units)
def test_long_names_are_printed_to_their_last_letter(units: Units) -> None:
    plan, pages = printed(units, True)
    run = {
        name: ["".join(said.text.split()) for page in some for said in page] for name, some in pages.items()
    }
    for name in ("tickets.pdf", "picking-list.pdf", "labels.pdf"):
        whole = "".join(run[name])  # a name may be broken after its signs, or stand in two lines
        parts = {one.part for gp in plan.groups for la in gp.layouts for one in la.placements}
        assert {part for part in parts if part not in whole} == set()
    for order in pick_orders(plan):
        assert order.order in "".join(run["picking-list.pdf"])
        assert any(order.order in line for line in run["labels.pdf"]) or not any(
            pick.pieces for pick in order.picks
        )


@pytest.mark.parametrize(("units", "long"), CASES)
def test_nothing_overlaps_is_cut_off_or_leaves_the_paper(units: Units, long: bool) -> None:
    _, pages = printed(units, long)
    paper = paper_for(units)
    for name, some in pages.items():
        for page in some:
            assert page
            assert touching(page) == [], name
            for said in page:
                left, bottom, right, top = said.box
                edge = 0.0 if name == "labels.pdf" else MARGIN - 1.0
                assert edge <= left < right <= paper.width - edge, said
                assert edge - 5.0 <= bottom < top <= paper.height - edge + 5.0, said
                if not long:
                    assert "…" not in said.text, said
