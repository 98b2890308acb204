"""Books that the tool writes are valid Open XML by a validator that knows nothing of it (openxml-audit).

It carries the schemas and rules of ECMA-376 and of Microsoft's Open XML SDK. Tried: it does not see a format
beyond the style sheet's, two tables of one number, or a part that ends too early; other tests hold those.

A planner's book may come with faults of the program that saved it, and keeps them, since no part of it is
touched: openpyxl puts all strings into cells, of which the validator foretells that Excel will move them, and
writes the properties of a font in an order of its own. So what a run may not do is add one (`added_errors`).
"""

from __future__ import annotations

import io
import re
import tempfile
from collections import Counter
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import openpyxl
import pytest
from openxml_audit import FileFormat, OpenXmlValidator

from sheetplan.app.new import new_book
from sheetplan.trade.units import Units
from sheetplan.workbook.package.splice import splice_pages
from sheetplan.workbook.writing.grid import NAMED_COLUMNS
from sheetplan.workbook.writing.page_writer import draw_pages
from tests.workbook.books import book_of, parts_of, plain_book, sheet_part
from tests.workbook.sample_pages import all_pages

EXAMPLE = Path(__file__).parents[2] / "examples" / "harbour_workshop.xlsx"
MOST = 2000
"""Errors that are asked for: more than the validator ever found, as they are counted."""

IN_CELLS = "inline-string cell"
"""Of the error on a page whose strings stand in its cells, as all of ours do, in a book without a list of
strings. Each is a valid cell all the same (ECMA-376 part 1, 18.18.11)."""


def errors(path: Path) -> list[str]:
    """What the validator has against a book."""
    validator = OpenXmlValidator(file_format=FileFormat.OFFICE_2019, max_errors=MOST)
    return [str(error) for error in validator.validate(str(path)).errors]


@lru_cache(maxsize=16)
def _kinds(data: bytes) -> Counter[str]:
    """How many errors of each kind a book has; numbers, of places and counts, make no kind."""
    if not data:
        return Counter()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "book.xlsx")
        path.write_bytes(data)
        return Counter(re.sub(r"[0-9]+", "0", error) for error in errors(path))


def added_errors(before: bytes, after: bytes) -> list[str]:
    """Kinds of errors of which a book has more than the one before it; that one may be none at all."""
    had = _kinds(before)
    more = _kinds(after) - had
    in_cells = any(IN_CELLS in kind for kind in had)  # of whatever page: a run may add one
    return [f"{times} times: {kind}" for kind, times in more.items() if not (IN_CELLS in kind and in_cells)]


@pytest.fixture(scope="module")
def spliced() -> bytes:
    """A planner's plain book with every page of results put into it, and once more over them."""
    drawn = draw_pages(all_pages(), Units.INCH, names=NAMED_COLUMNS)
    return splice_pages(splice_pages(plain_book("Mine"), drawn), drawn)


@pytest.mark.parametrize("units", list(Units))
def test_a_new_book_is_valid(tmp_path: Path, units: Units) -> None:
    assert errors(new_book(tmp_path / "yard.xlsx", demo=True, units=units)) == []


@pytest.mark.slow
def test_the_book_of_the_examples_is_valid() -> None:
    assert errors(EXAMPLE) == []


def test_a_book_with_results_is_valid(tmp_path: Path, spliced: bytes) -> None:
    path = tmp_path / "results.xlsx"
    path.write_bytes(spliced)
    assert errors(path) == []


def _out_of_order(data: bytes) -> bytes:
    margins = b'<pageMargins left="1" right="1" top="1" bottom="1" header="0" footer="0"/>'
    return data.replace(b"<sheetData", margins + b"<sheetData", 1)


def _no_number(data: bytes) -> bytes:
    return re.sub(rb'<row r="[0-9]+"', b'<row r="x"', data, count=1)


def _string_beyond(data: bytes) -> bytes:
    return data.replace(b"<v>0</v>", b"<v>77</v>", 1)


@pytest.mark.parametrize(("page", "damage"), [
    ("Plan", _out_of_order), ("Plan", _no_number), ("Mine", _string_beyond),
])  # fmt: skip
def test_the_validator_notices_a_damage(
    tmp_path: Path, spliced: bytes, page: str, damage: Callable[[bytes], bytes]
) -> None:
    parts, part = parts_of(spliced), sheet_part(spliced, page)
    harmed = damage(parts[part])
    assert harmed != parts[part]
    path = tmp_path / "harmed.xlsx"
    path.write_bytes(book_of({**parts, part: harmed}))
    assert errors(path)
    assert added_errors(spliced, path.read_bytes()), "one more than a book had is noticed as well"
    assert added_errors(b"", path.read_bytes())


def test_what_a_planners_book_came_with_is_not_added(tmp_path: Path, spliced: bytes) -> None:
    """A book of openpyxl: strings in cells, fonts in an order of its own. A damage to it is noticed too."""
    path = tmp_path / "theirs.xlsx"
    openpyxl.load_workbook(io.BytesIO(spliced)).save(path)
    theirs = path.read_bytes()
    assert errors(path)
    assert added_errors(theirs, theirs) == []
    assert added_errors(b"", theirs)
    drawn = draw_pages(all_pages(), Units.INCH, names=NAMED_COLUMNS)
    ours = splice_pages(theirs, drawn)
    assert added_errors(theirs, ours) == []
    parts, part = parts_of(ours), sheet_part(ours, "Plan")
    assert added_errors(theirs, book_of({**parts, part: _out_of_order(parts[part])}))
