"""The ugliest book goes through the command line three times and loses nothing."""

from pathlib import Path

import openpyxl
import pytest

from sheetplan.pages.values import RESULT_PAGES
from tests.cli.running import run
from tests.nasty.worst_book import OWN_PAGES, worst_book
from tests.workbook.books import parts_of

MAY_CHANGE = {
    "xl/workbook.xml",
    "xl/_rels/workbook.xml.rels",
    "[Content_Types].xml",
    "xl/styles.xml",
    "xl/calcChain.xml",
}


def planned(book: Path, seed: int) -> str:
    asked = ("--seconds", "0.3", "--workers", "1", "--seed", str(seed))
    ran = run("plan", book.name, *asked, folder=book.parent)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
def test_three_plans_change_only_what_is_ours(tmp_path: Path) -> None:
    book = tmp_path / "jobs.xlsx"
    before = worst_book()
    book.write_bytes(before)
    sizes = []
    for seed in (1, 2, 3):
        assert "jobs" in planned(book, seed)
        after = parts_of(book.read_bytes())
        assert {name for name, data in parts_of(before).items() if after.get(name) != data} == MAY_CHANGE
        assert all("sheetplan_" in name for name in after.keys() - parts_of(before).keys())
        sizes.append(len(after["xl/styles.xml"]))
    assert sizes[1] == sizes[2]
    assert openpyxl.load_workbook(book).sheetnames[-len(RESULT_PAGES) :] == list(RESULT_PAGES)
    assert set(OWN_PAGES) < set(openpyxl.load_workbook(book).sheetnames)
    assert book.stat().st_size < 2 * len(before)
