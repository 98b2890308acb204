import io
import zipfile

import pytest

from sheetplan.workbook.package.parts import Package
from tests.nasty.worst_book import worst_book

BOOK = worst_book()


def test_reading_and_writing_loses_nothing() -> None:
    package = Package.of_bytes(BOOK)
    written = package.to_bytes()
    with zipfile.ZipFile(io.BytesIO(BOOK)) as old, zipfile.ZipFile(io.BytesIO(written)) as new:
        assert old.namelist() == new.namelist()
        for before, after in zip(old.infolist(), new.infolist(), strict=True):
            assert old.read(before) == new.read(after)
            assert before.date_time == after.date_time
            assert before.compress_type == after.compress_type
    assert Package.of_bytes(written).to_bytes() == written


def test_names_are_found_however_they_are_spelled() -> None:
    package = Package.of_bytes(BOOK)
    assert package.find("XL/Workbook.XML") == "xl/workbook.xml"
    assert package.find("/xl/workbook.xml") == "xl/workbook.xml"
    assert package.find("xl/nothing.xml") is None
    assert "xl/STYLES.xml" in package
    with pytest.raises(KeyError):
        package.read("xl/nothing.xml")


def test_a_dropped_part_that_returns_takes_its_old_place() -> None:
    package = Package.of_bytes(BOOK)
    names = package.names
    package.drop("XL/STYLES.XML")
    assert package.names == tuple(n for n in names if n != "xl/styles.xml")
    package.put("xl/styles.xml", b"<x/>")
    assert package.names == names
    package.put("xl/new.xml", b"<x/>")
    assert package.names == (*names, "xl/new.xml")


def test_comments_and_stored_entries_are_kept() -> None:
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w") as file:
        file.comment = b"made in the harbour"
        info = zipfile.ZipInfo("a.xml", (2020, 2, 3, 4, 5, 6))
        info.external_attr = 0o600 << 16
        file.writestr(info, b"stored")
    written = zipfile.ZipFile(io.BytesIO(Package.of_bytes(memory.getvalue()).to_bytes()))
    assert written.comment == b"made in the harbour"
    assert written.infolist()[0].date_time == (2020, 2, 3, 4, 5, 6)
    assert written.infolist()[0].external_attr == 0o600 << 16
