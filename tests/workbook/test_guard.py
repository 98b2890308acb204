import io
import os
import zipfile
from pathlib import Path

import pytest

from sheetplan.workbook.outcomes import BookUnreadable
from sheetplan.workbook.package import guard
from sheetplan.workbook.package.guard import fingerprint, fingerprint_of, judge
from tests.nasty.worst_book import worst_book

BOOK = worst_book()


def put(folder: Path, name: str, data: bytes) -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def rezipped(data: bytes, **changes: bytes | None) -> bytes:
    """The book with parts replaced, added or (None) taken out; keywords with `__` for `/`."""
    wanted = {name.replace("__", "/"): content for name, content in changes.items()}
    memory = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(memory, "w") as new:
        for name in old.namelist():
            content = wanted.pop(name, old.read(name)) if name in wanted else old.read(name)
            if content is not None:
                new.writestr(name, content)
        for name, content in wanted.items():
            assert content is not None
            new.writestr(name, content)
    return memory.getvalue()


def part(name: str) -> bytes:
    return zipfile.ZipFile(io.BytesIO(BOOK)).read(name)


def zip_of(**parts: bytes) -> bytes:
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w") as file:
        for name, content in parts.items():
            file.writestr(name.replace("__", "/"), content)
    return memory.getvalue()


@pytest.mark.parametrize("name", ["book.xlsx", "BOOK.XLSX", "book.xlsm", "büro mit leer.xlsx"])
def test_a_sound_book_passes(tmp_path: Path, name: str) -> None:
    assert judge(put(tmp_path, name, worst_book(macros=name.endswith("m")))) is None


COMPOUND = bytes.fromhex("D0CF11E0A1B11AE1") + bytes(504)

TROUBLE = {
    "empty": ("book.xlsx", b"", "empty"),
    "old form": ("book.xls", COMPOUND + "Workbook".encode("utf-16-le"), "old .xls form"),
    "old form under a new name": ("book.xlsx", COMPOUND, "old .xls form"),
    "password": ("book.xlsx", COMPOUND + "EncryptedPackage".encode("utf-16-le"), "password"),
    "csv": ("book.csv", b"Part,Quantity\r\nCB-100,3\r\n", "text file"),
    "csv under the name of a book": ("book.xlsx", "Teil;Stück\nCB-100;3\n".encode(), "text file"),
    "csv in another coding": ("book.xlsx", "Teil;Stück\n".encode("utf-16"), "text file"),
    "web page": ("book.xls", b"<html><table><tr><td>1</td></tr></table></html>", "web page"),
    "bare XML": ("book.xml", b"<?xml version='1.0'?><Workbook/>", "XML"),
    "picture": ("book.xlsx", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "does not start like one"),
    "half a book": ("book.xlsx", BOOK[: len(BOOK) // 2], "damaged"),
    "all but the end": ("book.xlsx", BOOK[:-30], "damaged"),
    "only the start": ("book.xlsx", BOOK[:40], "damaged"),
    "empty zip": ("book.xlsx", zip_of(), "nothing in it"),
    "some zip": ("book.xlsx", zip_of(readme__txt=b"hello"), "no workbook"),
    "text document": (
        "book.xlsx",
        rezipped(
            BOOK,
            **{
                "[Content_Types].xml": part("[Content_Types].xml").replace(
                    b"spreadsheetml.sheet.main", b"wordprocessingml.document.main"
                )
            },
        ),
        "no workbook",
    ),
    "binary workbook": (
        "book.xlsb",
        rezipped(
            BOOK,
            **{
                "[Content_Types].xml": part("[Content_Types].xml").replace(
                    b"spreadsheetml.sheet.main+xml", b"sheet.binary.macroEnabled.main"
                )
            },
        ),
        "binary",
    ),
    "template": (
        "book.xltx",
        rezipped(
            BOOK,
            **{
                "[Content_Types].xml": part("[Content_Types].xml").replace(
                    b"spreadsheetml.sheet.main", b"spreadsheetml.template.main"
                )
            },
        ),
        "template",
    ),
    "strict": (
        "book.xlsx",
        rezipped(
            BOOK,
            **{
                "_rels/.rels": part("_rels/.rels").replace(
                    b"http://schemas.openxmlformats.org/officeDocument/2006/relationships",
                    b"http://purl.oclc.org/ooxml/officeDocument/relationships",
                )
            },
        ),
        "Strict",
    ),
    "OpenDocument": ("book.xlsx", zip_of(mimetype=b"application/vnd.oasis.opendocument.spreadsheet"), ".ods"),
    "odd ending": ("book.zip", BOOK, ".zip"),
    "no ending": ("book", BOOK, "ends in nothing"),
}


@pytest.mark.parametrize("trouble", TROUBLE)
def test_other_files_are_named_for_what_they_are(tmp_path: Path, trouble: str) -> None:
    name, data, words = TROUBLE[trouble]
    problem = judge(put(tmp_path, name, data))
    assert problem is not None
    assert words in problem.what
    assert problem.page == name
    assert len(problem.remedy) > 15


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    missing = judge(tmp_path / "none.xlsx")
    folder = judge(tmp_path)
    beneath_a_file = judge(put(tmp_path, "file.xlsx", b"x") / "book.xlsx")
    assert missing is not None
    assert "no file" in missing.what
    assert folder is not None
    assert "folder" in folder.what
    assert beneath_a_file is not None
    assert "no file" in beneath_a_file.what


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    os.mkfifo(tmp_path / "book.xlsx")
    problem = judge(tmp_path / "book.xlsx")
    assert problem is not None
    assert "not a file" in problem.what


def test_one_wrong_byte_in_a_part_is_seen(tmp_path: Path) -> None:
    plain = rezipped(BOOK)
    place = plain.index(b"CB-100")
    problem = judge(put(tmp_path, "book.xlsx", plain[:place] + b"X" + plain[place + 1 :]))
    assert problem is not None
    assert "checksum" in problem.what
    assert "sharedStrings" in problem.what


def test_a_part_given_twice_is_refused(tmp_path: Path) -> None:
    memory = io.BytesIO(BOOK)
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(memory, "a") as file:
        file.writestr("xl/workbook.xml", b"<other/>")
    problem = judge(put(tmp_path, "book.xlsx", memory.getvalue()))
    assert problem is not None
    assert "twice" in problem.what


def test_a_book_that_unpacks_to_too_much_is_refused_quickly(tmp_path: Path) -> None:
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as file:
        block = bytes(128 * 1024**2)
        for number in range(9):
            file.writestr(f"xl/part{number}.xml", block)
    problem = judge(put(tmp_path, "book.xlsx", memory.getvalue()))
    assert problem is not None
    assert "unpacks to 1,152 MB" in problem.what


def test_too_many_parts_and_too_large_files_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = put(tmp_path, "book.xlsx", BOOK)
    monkeypatch.setattr(guard, "MAX_PARTS", 20)
    problem = judge(path)
    assert problem is not None
    assert "parts" in problem.what
    monkeypatch.setattr(guard, "MAX_FILE_BYTES", 1000)
    problem = judge(path)
    assert problem is not None
    assert "most taken" in problem.what


def test_a_fingerprint_is_of_the_bytes_alone(tmp_path: Path) -> None:
    path = put(tmp_path, "book.xlsx", BOOK)
    seen = fingerprint(path)
    os.utime(path, (0, 0))
    assert fingerprint(path) == seen == fingerprint_of(BOOK)
    put(tmp_path, "book.xlsx", BOOK[:-1] + b"\1")
    assert fingerprint(path) != seen


def test_a_fingerprint_of_nothing_is_an_error_in_words(tmp_path: Path) -> None:
    with pytest.raises(BookUnreadable, match="no file"):
        fingerprint(tmp_path / "none.xlsx")
