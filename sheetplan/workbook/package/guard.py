"""Judge a file before anything trusts it, remember what it was, and see whether somebody else has it."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import stat
import sys
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sheetplan.model.problem import Problem
from sheetplan.workbook.outcomes import BookInUse, BookUnreadable, book_problem

# See whether somebody else has the book, and keep two runs from writing it at once.
#
# The marks that programs leave beside an open book are honoured. Drives that know no locks are covered by
# comparing the book with what was read (`Fingerprint`).

_TRIES = 20

_NO_LOCKS = (errno.ENOLCK, errno.ENOTSUP, errno.ENOSYS, errno.EINVAL)
"""What drives say that know no locks; the comparison with the book as read then has to do."""


def open_elsewhere(path: str | os.PathLike[str]) -> Problem | None:
    """Say which program has the book open, or None where nobody seems to.

    Spreadsheet programs leave a small file beside an open book: LibreOffice ``.~lock.NAME#``,
    Excel ``~$NAME``. On Windows an open book also refuses to be opened for writing.
    """
    path = Path(os.path.realpath(path))
    for mark, program, reader in (
        (path.with_name(f".~lock.{path.name}#"), "LibreOffice", _libreoffice_person),
        (path.with_name(f"~${path.name}"), "Excel", _excel_person),
    ):
        if mark.exists():
            person = reader(mark)
            who = f" ({person})" if person else ""
            return book_problem(
                path,
                f"The workbook is open in {program}{who}; nothing was written.",
                f"Close it there and try again. If nobody has it open, delete {mark.name} beside it.",
            )
    return _refuses_writing(path)


def _refuses_writing(path: Path) -> Problem | None:
    """Say why the file itself would not take writing; a missing file is no matter here."""
    try:
        writable = path.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
        if not writable:
            return book_problem(
                path,
                "The workbook is marked as read-only; nothing was written.",
                "Take the mark off in the file's properties, or plan a copy.",
            )
        with path.open("r+b"):
            return None
    except FileNotFoundError:
        return None
    except OSError as error:
        return book_problem(
            path,
            f"The workbook may not be written ({error.strerror or error}).",
            "Close it where it is open, or copy it to a folder where you may write.",
        )


def _libreoffice_person(mark: Path) -> str:
    """Read who and since when from the lock file: fields between commas, the first two often empty."""
    try:
        fields = mark.read_text(encoding="utf-8", errors="replace").split(",")
    except OSError:
        return ""
    said = [field.strip() for field in fields[:2] if field.strip()]
    since = fields[3].strip() if len(fields) > 3 else ""
    return ", ".join([*said[:1], *([f"since {since}"] if since else [])])


def _excel_person(mark: Path) -> str:
    """Read who from the owner file: a length byte, then the name."""
    try:
        data = mark.read_bytes()
    except OSError:
        return ""
    name = data[1 : 1 + data[0]] if data else b""
    return "".join(c for c in name.decode("cp1252", errors="ignore") if c.isprintable()).strip()


@contextmanager
def only_writer(path: Path) -> Iterator[None]:
    """Hold the right to write the book; another run that tries meanwhile gets BookInUse.

    The right is a lock of the operating system on a small hidden file beside the book: it ends
    with the process, however that ends, and the file is removed after use.
    """
    mark = path.with_name(f".{path.name}.sheetplan-writing")
    handle = _locked(mark, path)
    try:
        yield
    finally:
        if sys.platform == "win32":
            os.close(handle)
            _remove(mark)
        else:
            try:
                _remove(mark)
            finally:  # Ctrl-C may come just here
                os.close(handle)


def _locked(mark: Path, path: Path) -> int:
    """Open and lock the file, making sure that it is still the one beside the book."""
    for _ in range(_TRIES):
        handle = os.open(mark, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _take_lock(handle)
            if os.path.samestat(os.fstat(handle), os.stat(mark)):
                return handle
        except FileNotFoundError:
            pass
        except OSError as error:
            if error.errno in _NO_LOCKS:
                return handle
            os.close(handle)
            raise BookInUse(
                book_problem(
                    path,
                    "Another run is writing this workbook; nothing was written.",
                    "Wait until it has ended, then try again.",
                )
            ) from error
        os.close(handle)
    raise BookInUse(
        book_problem(
            path,
            "Other runs keep writing this workbook; nothing was written.",
            "Wait until they have ended, then try again.",
        )
    )


def _take_lock(handle: int) -> None:
    """Lock the open file for this process alone, or raise OSError at once."""
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _remove(mark: Path) -> None:
    try:
        mark.unlink()
    except OSError:
        return


# Judge a file before anything trusts it, and remember what it was.
#
# Words used here:
#
# package
#     The zip file of parts that an ``.xlsx`` or ``.xlsm`` workbook is (ECMA-376, part 2).
# compound file
#     The older container of ``.xls`` books, also used around workbooks locked with a password.
# fingerprint
#     A digest of the file's bytes: equal fingerprints mean that nobody has saved it since.
#
# Declared sizes are never trusted: a part that unpacks to more than it says is damage. All limits of the
# tool stand together at the head of ``tests/hard/hostile_run.py``, which measures them.

MAX_FILE_BYTES = 150 * 1024**2
"""Largest workbook taken. A book of 5,000 rows with pictures is a few megabytes."""

MAX_UNPACKED_BYTES = 256 * 1024**2
"""Most that the parts may unpack to, together: a small zip can be made to fill any memory, and the
worst page of this size takes two minutes to read. Ten pages of 5,000 rows unpack to some 30 MB."""

MAX_WHOLE_BYTES = 32 * 1024**2
"""Most that the parts may unpack to that are read whole, before any page: texts, formats, lists of
parts. A made list of short texts costs a second for each megabyte and thirty times its memory."""

MAX_ROW_BYTES = 16 * 1024**2
"""Most that one row of a page may take: it is held whole. A full row of 16,384 numbers takes 1 MB."""

MAX_PARTS = 20_000
"""Most parts in the package; a book of ten pages with a hundred pictures has some 200."""

READABLE = (".xlsx", ".xlsm")

_COMPOUND = bytes.fromhex("D0CF11E0A1B11AE1")
_ZIP = b"PK\x03\x04"
_EMPTY_ZIP = b"PK\x05\x06"
_SAVE_AS = "Open it in your spreadsheet program and save it as an Excel workbook (.xlsx)."
_RESTORE = "Copy it again from where it came, or take the backup beside it."
_OVERRIDE = re.compile(rb"<(?:\w+:)?Override\b[^>]*>")
_PART_NAME = re.compile(rb"""PartName\s*=\s*["']([^"']*)["']""")
_MAY_BE_LARGE = re.compile(rb"""\.(?:worksheet|pivotCacheRecords)\+xml["']""")
_PAGE = re.compile(rb"""\.worksheet\+xml["']""")
_ROW = re.compile(rb"<(?:\w+:)?row\b")
_BLOCK = 1024**2
_XML_NAMES = (".xml", ".rels", ".vml")
_STRICT = b"http://purl.oclc.org/ooxml/"


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """What a file was when it was read: its length in bytes and the SHA-256 digest of its bytes."""

    length: int
    digest: str


def fingerprint_of(data: bytes) -> Fingerprint:
    """Fingerprint of bytes already in hand."""
    return Fingerprint(len(data), hashlib.sha256(data).hexdigest())


def fingerprint(path: str | os.PathLike[str]) -> Fingerprint:
    """Fingerprint of a file as it stands now.

    Raises
    ------
    BookUnreadable
        The file is not there or may not be read.
    """
    path = Path(path)
    try:
        return fingerprint_of(path.read_bytes())
    except OSError as error:
        raise BookUnreadable(_unopened(path, error)) from error


def judge(path: str | os.PathLike[str]) -> Problem | None:
    """Say what is wrong with a file given as a workbook, or None where it can be read.

    The file is only read. Pages and cells are not looked at: a file that passes is a sound
    package that holds a workbook within the limits above.
    """
    path = Path(path)
    try:
        str(path.resolve()).encode("utf-8")
    except UnicodeEncodeError:
        shown = str(path).encode("utf-8", "replace").decode()
        return book_problem(
            Path(shown), f"The name {shown} holds bytes that stand for no letter, so nothing can bear it.",
            "Give the workbook, or the folder that it lies in, another name.",
        )  # fmt: skip
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            return book_problem(path, "This is a folder, not a workbook.", "Give the workbook inside it.")
        if not stat.S_ISREG(mode):
            return book_problem(path, "This is not a file.", "Give the path of a workbook.")
        length = path.stat().st_size
        if length > MAX_FILE_BYTES:
            return book_problem(
                path,
                f"The file is {length / 1024**2:,.0f} MB; the most taken is {MAX_FILE_BYTES // 1024**2} MB.",
                "Remove large pictures or pages that have no part in the planning.",
            )
        with path.open("rb") as file:
            head = file.read(4096)
    except OSError as error:
        return _unopened(path, error)
    if not head.startswith(_ZIP):
        return _not_a_package(path, head)
    try:
        return _judge_package(path, length)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError):
        return book_problem(
            path,
            "The file is damaged or only half there: it starts like a workbook, "
            "but its contents cannot be unpacked.",
            _RESTORE,
        )
    except OSError as error:
        return _unopened(path, error)


def _unopened(path: Path, error: OSError) -> Problem:
    """Put the system's reason for not opening a file into plain words."""
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return book_problem(
            path,
            f"There is no file at {path}.",
            "Check the name and the folder; `sheetplan new NAME.xlsx` makes a new book.",
        )
    if isinstance(error, PermissionError):
        return book_problem(
            path, "The file may not be read.", "Close it where it is open, or ask for the right to read it."
        )
    return book_problem(
        path,
        f"The file could not be read ({error.strerror or error}).",
        "Check that the drive is connected, then try again.",
    )


def _not_a_package(path: Path, head: bytes) -> Problem:
    """Name what the planner most likely gave instead of a workbook."""
    kind = path.suffix.lower()
    if not head:
        return book_problem(path, "The file is empty (0 bytes).", _RESTORE)
    if head.startswith(_COMPOUND):
        if "EncryptedPackage".encode("utf-16-le") in path.read_bytes():
            return book_problem(
                path,
                "The workbook is locked with a password.",
                "Open it, take the password off (File, Info, Protect) and save it.",
            )
        return book_problem(path, "This is a workbook in the old .xls form.", _SAVE_AS)
    if head.startswith(_EMPTY_ZIP):
        return book_problem(path, "This is a zip file with nothing in it, not a workbook.", _RESTORE)
    text = head.lstrip(b"\xef\xbb\xbf \r\n\t").lower()
    if text.startswith((b"<html", b"<!doctype html", b"<table")):
        return book_problem(path, "This is a web page with the name of a workbook.", _SAVE_AS)
    if text.startswith(b"<?xml"):
        return book_problem(path, "This is a bare XML file, not a workbook.", _SAVE_AS)
    if kind in (".csv", ".txt", ".tsv") or _is_text(head):
        return book_problem(
            path,
            "This is a text file (such as .csv), not a workbook.",
            "Copy its rows into the pages of a book made by `sheetplan new NAME.xlsx`.",
        )
    return book_problem(
        path,
        "This is not a workbook: it does not start like one.",
        "Give a workbook saved as .xlsx; if this was one, take the backup beside it.",
    )


def _is_text(head: bytes) -> bool:
    """Tell text from binary data: decodable, and no control characters but line ends and tabs."""
    for coding in ("utf-8", "utf-16"):
        try:
            text = head[:4094].decode(coding, errors="ignore" if coding == "utf-8" else "strict")
        except UnicodeDecodeError:
            continue
        if text and all(c.isprintable() or c in "\r\n\t\ufeff" for c in text):
            return True
    return False


def _judge_package(path: Path, length: int) -> Problem | None:
    """Judge a file that starts as a zip; damage shows as an exception."""
    with zipfile.ZipFile(path) as package:
        infos = package.infolist()
        names = [i.filename for i in infos]
        too_big = _beyond_limits(path, infos, length)
        if too_big:
            return too_big
        if any(i.flag_bits & 0x1 for i in infos):
            return book_problem(
                path, "The file is locked with a zip password.", "Give the workbook without the password."
            )
        if len({n.lower() for n in names}) < len(names):
            return book_problem(
                path,
                "The file holds the same part twice; it is unclear which one counts.",
                "Open it in your spreadsheet program and save it again.",
            )
        broken = package.testzip()
        if broken:
            return book_problem(
                path, f"The file is damaged: its part {broken} does not match its checksum.", _RESTORE
            )
        found = _judge_contents(path, package, names) or _too_much_read_whole(path, package)
        return found or _endless_row(path, package)


def _beyond_limits(path: Path, infos: list[zipfile.ZipInfo], length: int) -> Problem | None:
    """Refuse a package that would fill the memory. Sizes are those declared; reading stops there."""
    unpacked = sum(i.file_size for i in infos)
    if unpacked > MAX_UNPACKED_BYTES or len(infos) > MAX_PARTS:
        most = f"{MAX_UNPACKED_BYTES // 1024**2:,} MB in {MAX_PARTS:,}"
        return book_problem(
            path,
            f"The file unpacks to {unpacked / 1024**2:,.0f} MB in {len(infos):,} "
            f"parts; the most taken is {most}.",
            "Delete large pages, and empty rows that are formatted far below the last one; or check where "
            "the file came from.",
        )
    if sum(i.compress_size for i in infos) > length:
        return book_problem(path, "The file is not a sound zip: its parts lie over one another.", _RESTORE)
    return None


def _too_much_read_whole(path: Path, package: zipfile.ZipFile) -> Problem | None:
    """Refuse parts that would keep the readers busy for minutes before the first page.

    Pages and the records of pivot tables may be large: the ones are streamed, the others not read.
    Pictures have no entry of their own in the list of content types.
    """
    listed: set[str] = set()
    large: set[str] = set()
    for entry in _OVERRIDE.findall(package.read("[Content_Types].xml")):
        told = _PART_NAME.search(entry)
        if told is not None:
            kind = large if _MAY_BE_LARGE.search(entry) else listed
            kind.add(told.group(1).decode("utf-8", "replace").lstrip("/").lower())
    sizes = {info.filename.lower(): info.file_size for info in package.infolist()}
    whole = sum(
        size
        for name, size in sizes.items()
        if name in listed or (name.endswith(_XML_NAMES) and name not in large)
    )
    if whole <= MAX_WHOLE_BYTES:
        return None
    return book_problem(
        path,
        f"The lists of texts, formats and parts unpack to {whole / 1024**2:,.0f} MB; the most taken is "
        f"{MAX_WHOLE_BYTES // 1024**2} MB.",
        "Copy the pages for planning into a book made by `sheetplan new NAME.xlsx`.",
    )


def _endless_row(path: Path, package: zipfile.ZipFile) -> Problem | None:
    """Refuse a page with a row of millions of cells or letters, before a reader gathers it in memory."""
    pages = {
        told.group(1).decode("utf-8", "replace").lstrip("/").lower()
        for entry in _OVERRIDE.findall(package.read("[Content_Types].xml"))
        if _PAGE.search(entry) and (told := _PART_NAME.search(entry))
    }
    for info in package.infolist():
        if info.file_size > MAX_ROW_BYTES and info.filename.lower() in pages:
            with package.open(info) as part:
                since = 0
                while block := part.read(_BLOCK):
                    rows = list(_ROW.finditer(block))
                    since = len(block) - rows[-1].start() if rows else since + len(block)
                    if since > MAX_ROW_BYTES:
                        return book_problem(
                            path,
                            f"A row of a page takes more than {MAX_ROW_BYTES // 1024**2} MB.",
                            "Copy the pages for planning into a book made by `sheetplan new NAME.xlsx`.",
                        )
    return None


def _judge_contents(path: Path, package: zipfile.ZipFile, names: list[str]) -> Problem | None:
    """Judge what the sound zip holds."""
    if "mimetype" in names and b"opendocument" in package.read("mimetype"):
        return book_problem(
            path,
            "This is an OpenDocument file (.ods).",
            "Open it in LibreOffice and save it as Excel 2007-365 (.xlsx).",
        )
    if "_rels/.rels" not in names or "[Content_Types].xml" not in names:
        return book_problem(path, "This is a zip file, but no workbook.", "Give a workbook saved as .xlsx.")
    types = package.read("[Content_Types].xml")
    relations = package.read("_rels/.rels")
    if b"sheet.binary.macroEnabled.main" in types:
        return book_problem(path, "This is a binary workbook (.xlsb).", _SAVE_AS)
    if _STRICT in relations:
        return book_problem(
            path,
            "The workbook is saved as Strict Open XML.",
            "Save it again as plain Excel Workbook (.xlsx), not Strict.",
        )
    if b"template.main+xml" in types or b"template.macroEnabled.main+xml" in types:
        return book_problem(path, "This is a workbook template (.xltx), not a workbook.", _SAVE_AS)
    if b"spreadsheetml.sheet.main+xml" not in types and b"sheet.macroEnabled.main+xml" not in types:
        return book_problem(
            path, "This is an office file, but no workbook.", "Give a workbook saved as .xlsx."
        )
    if path.suffix.lower() not in READABLE:
        return book_problem(
            path,
            f"The file is a workbook, but its name ends in {path.suffix or 'nothing'}.",
            "Rename it so that it ends in .xlsx.",
        )
    return None
