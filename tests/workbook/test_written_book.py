from pathlib import Path

import pytest

from sheetplan.trade.units import Units
from sheetplan.workbook.package.splice import splice_pages
from sheetplan.workbook.writing.closed import allowed_parts, changed_parts, judge_written
from sheetplan.workbook.writing.page_writer import draw_pages
from tests.nasty.worst_book import worst_book
from tests.workbook.books import book_of, changed, parts_of
from tests.workbook.sample_pages import all_pages

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
OLD = worst_book()
NEW = splice_pages(OLD, draw_pages(all_pages(), Units.INCH))


def judged(tmp_path: Path, data: bytes) -> str | None:
    (tmp_path / "new.xlsx").write_bytes(data)
    return judge_written(tmp_path / "new.xlsx", OLD, all_pages())


def test_a_true_splice_passes(tmp_path: Path) -> None:
    assert judged(tmp_path, NEW) is None


@pytest.mark.parametrize("part", sorted(set(parts_of(OLD)) & set(parts_of(NEW))))
def test_every_single_part_is_watched(tmp_path: Path, part: str) -> None:
    parts = parts_of(NEW)
    watched = part not in allowed_parts(OLD, [page.name for page in all_pages()])
    if watched:
        parts[part] += b" "
        assert part in str(judged(tmp_path, book_of(parts)))
    else:
        assert part in {
            "[Content_Types].xml",
            "xl/workbook.xml",
            "xl/_rels/workbook.xml.rels",
            "xl/styles.xml",
        }


def test_a_part_that_went_or_came_is_seen(tmp_path: Path) -> None:
    parts = parts_of(NEW)
    del parts["xl/unknown/left-over.dat"]
    assert "left-over.dat" in str(judged(tmp_path, book_of(parts)))
    assert "xl/odd.xml" in str(judged(tmp_path, book_of(parts_of(NEW) | {"xl/odd.xml": b"<x/>"})))
    assert changed_parts(OLD, OLD) == set()


def test_a_missing_title_is_seen(tmp_path: Path) -> None:
    wrong = changed(NEW, "xl/worksheets/sheetplan_sheet2.xml", b"<t>Layouts</t>", b"<t>Layout</t>")
    assert "Layouts does not show its title" in str(judged(tmp_path, wrong))
