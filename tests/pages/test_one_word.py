"""One word for one thing: what planners read on a page or in a file is called the same everywhere.

The list stands here alone. Common practice, no source: the words are this project's own choice among those
of the trade.
"""

from __future__ import annotations

import ast
import datetime
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import sheetplan
from sheetplan.model import Plan
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.results import result_pages
from sheetplan.workbook.columns import ALL_PAGES

INSTEAD = {
    "Money now": "To pay", "Total cost": "To pay", "From rack": "On hand", "In the rack": "Remnants",
    "Of plan": "Plan", "Plan mark": "Plan", "Hours": "Cutting time", "Qty": "Quantity", "Offcut": "Remnant",
    "Offcuts": "Remnants", "Leftover": "Remnant", "Utilisation": "Yield", "Efficiency": "Yield",
    "Vendor": "Supplier", "Lead time": "Lead days", "Used": "Sheets", "Count": "Sheets", "Client": "Order",
}  # fmt: skip
"""Headings that would be a second word for a thing, and the word for it."""

SPACED_SHARE = re.compile(r"[0-9}] %(?![\w(])")
"""A share with a space before its sign, as in 79.3 %."""


def headings(plan: Plan) -> Iterator[tuple[str, str]]:
    pages = result_pages(plan, plan_figures(plan), today=datetime.date(2026, 11, 3), mark="KRTM")
    for page in pages:
        for table in page.tables:
            yield from ((page.name, column.heading) for column in table.columns)
        yield from ((page.name, one.label) for one in page.headlines)
    for given in ALL_PAGES:
        yield from ((given.name, heading) for heading in given.headings)


def test_no_heading_is_a_second_word_for_a_thing(inch_plan: Plan) -> None:
    found = list(headings(inch_plan))
    assert len(found) > 150
    assert [(page, heading) for page, heading in found if heading in INSTEAD] == []


def test_the_words_that_stand_for_things_are_used(inch_plan: Plan) -> None:
    used = {heading.partition(",")[0].rstrip("s") for _, heading in headings(inch_plan)}
    assert {word.rstrip("s") for word in INSTEAD.values()} - {"Remnant"} <= used | {"Quantity"}


PAGES = sorted((Path(sheetplan.__file__).parent).rglob("*.py"))


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.stem)
def test_a_share_stands_close_to_its_sign(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    said = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    texts = [
        node.value for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said
    ]  # fmt: skip
    assert [text for text in texts if SPACED_SHARE.search(text) or text.startswith(" %")] == []
