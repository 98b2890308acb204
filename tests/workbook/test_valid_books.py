"""Books that the tool writes are valid Open XML by a validator that knows nothing of it (openxml-audit).

It carries the schemas and rules of ECMA-376 and of Microsoft's Open XML SDK. Tried: it does not see a format
beyond the style sheet's, two tables of one number, or a part that ends too early; other tests hold those.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

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
MOST = 50


def errors(path: Path) -> list[str]:
    """What the validator has against a book."""
    validator = OpenXmlValidator(file_format=FileFormat.OFFICE_2019, max_errors=MOST)
    return [str(error) for error in validator.validate(str(path)).errors]


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
