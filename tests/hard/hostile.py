"""Books made to do harm, each named after what it tries; built from a sound small book."""

from __future__ import annotations

import functools
import io
import re
import struct
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from tests.hard.spoiling import Parts, book_of, parts_of
from tests.nasty.books.plain import Rows, plain_rows, write_book

SHEET = "xl/worksheets/sheet4.xml"
"""The part of the page Parts in the small book."""


@functools.cache
def sound() -> bytes:
    """The small book that the hostile ones are made from."""
    return book_with(plain_rows())


def book_with(rows: Rows) -> bytes:
    """A book with these rows."""
    with tempfile.TemporaryDirectory() as folder:
        return write_book(Path(folder) / "b.xlsx", rows).read_bytes()


def parts() -> Parts:
    return parts_of(sound())


def with_part(name: str, change: Callable[[bytes], bytes]) -> bytes:
    """The sound book with one part changed."""
    all_parts = parts()
    all_parts[name] = change(all_parts.get(name, b""))
    return book_of(all_parts)


def repeated(block: bytes, megabytes: int) -> bytes:
    return block * (megabytes * 1024**2 // len(block))


def bomb_declared() -> bytes:
    """Nine parts of 128 MB each, as their sizes say."""
    memory = io.BytesIO(sound())
    with zipfile.ZipFile(memory, "a", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
        for number in range(9):
            package.writestr(f"xl/media/image{number}.png", bytes(128 * 1024**2))
    return memory.getvalue()


def bomb_forged(size: int = 4000) -> bytes:
    """A sheet that unpacks to 600 MB and says that it is small."""
    rows = repeated(b'<row r="9"><c r="A9"><v>1</v></c></row>', 600)
    true = len(parts()[SHEET]) + len(rows)
    data = bytearray(with_part(SHEET, lambda sheet: sheet.replace(b"</sheetData>", rows + b"</sheetData>")))
    place = -1
    while (place := data.find(struct.pack("<I", true), place + 1)) >= 0:
        data[place : place + 4] = struct.pack("<I", size)
    return bytes(data)


def bomb_overlapping() -> bytes:
    """A hundred entries of the central list that all lie on the same packed bytes."""
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as package:
        for name, data in parts().items():
            package.writestr(name, data)
        package.writestr("xl/media/kernel.bin", bytes(1024**2))
        kernel = package.getinfo("xl/media/kernel.bin")
        for number in range(100):
            copy = zipfile.ZipInfo(f"xl/media/copy{number}.bin")
            for field in ("compress_type", "CRC", "compress_size", "file_size", "header_offset", "flag_bits"):
                setattr(copy, field, getattr(kernel, field))
            package.filelist.append(copy)
    return memory.getvalue()


def strings(megabytes: int) -> bytes:
    """A list of shared strings: short ones, so that each costs far more memory than bytes."""
    many = repeated(b"<si><t>a</t></si>", megabytes)
    return with_part("xl/sharedStrings.xml", lambda data: data.replace(b"</sst>", many + b"</sst>"))


def one_text(megabytes: int) -> bytes:
    """One endless shared string."""
    long = b"<si><t>" + repeated(b"x", megabytes) + b"</t></si>"
    return with_part("xl/sharedStrings.xml", lambda data: data.replace(b"</sst>", long + b"</sst>"))


def formats(megabytes: int) -> bytes:
    """An endless style sheet."""
    many = repeated(b'<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>', megabytes)
    return with_part("xl/styles.xml", lambda data: data.replace(b"</cellXfs>", many + b"</cellXfs>"))


def names(megabytes: int) -> bytes:
    """A workbook part with names without end."""
    many = repeated(b'<definedName name="n">Parts!$A$1</definedName>', megabytes)
    return with_part(
        "xl/workbook.xml",
        lambda data: data.replace(b"</sheets>", b"</sheets><definedNames>" + many + b"</definedNames>"),
    )


def same_row(megabytes: int) -> bytes:
    """A page whose rows never rise, so that no reader comes to the end of the table."""
    return in_sheet(repeated(b'<row r="5"/>', megabytes))


def one_row(megabytes: int) -> bytes:
    """A page with one row of millions of cells."""
    return in_sheet(b'<row r="6">' + repeated(b'<c r="A9"><v>1</v></c>', megabytes) + b"</row>")


def one_cell(megabytes: int) -> bytes:
    """A page with one cell of millions of letters."""
    return in_sheet(
        b'<row r="9"><c r="A9" t="inlineStr"><is><t>' + repeated(b"x", megabytes) + b"</t></is></c></row>"
    )


def in_sheet(rows: bytes) -> bytes:
    """The sound book with more rows on the page Parts."""
    return with_part(SHEET, lambda data: data.replace(b"</sheetData>", rows + b"</sheetData>"))


def wide_table() -> bytes:
    """A table of 16,384 columns."""
    return with_part("xl/tables/table4.xml", lambda data: _ref(data, b"A4:XFD9"))


def million_rows(filled: bool) -> bytes:
    """The table of Parts stretched over all 1,048,576 rows; ``filled`` writes a cell in each."""
    rows = b"".join(
        b'<row r="%d"><c r="A%d"><v>1</v></c></row>' % (row, row)
        for row in range(8, 1_048_577 if filled else 8)
    )
    all_parts = parts()
    all_parts[SHEET] = all_parts[SHEET].replace(b"</sheetData>", rows + b"</sheetData>")
    all_parts["xl/tables/table4.xml"] = _ref(all_parts["xl/tables/table4.xml"], b"A4:L1048576")
    return book_of(all_parts)


def other_sheet_full() -> bytes:
    """A page of the planner's own with 1,048,576 rows beside the tables."""
    all_parts = parts()
    all_parts["xl/worksheets/sheet99.xml"] = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        + b"".join(b'<row r="%d"><c r="A%d"><v>%d</v></c></row>' % (n, n, n) for n in range(1, 1_048_577))
        + b"</sheetData></worksheet>"
    )
    all_parts["xl/workbook.xml"] = all_parts["xl/workbook.xml"].replace(
        b"</sheets>", b'<sheet name="Own" sheetId="99" r:id="rId99"/></sheets>'
    )
    all_parts["xl/_rels/workbook.xml.rels"] = all_parts["xl/_rels/workbook.xml.rels"].replace(
        b"</Relationships>",
        b'<Relationship Id="rId99" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet"'
        b' Target="worksheets/sheet99.xml"/></Relationships>',
    )
    all_parts["[Content_Types].xml"] = all_parts["[Content_Types].xml"].replace(
        b"</Types>",
        b'<Override PartName="/xl/worksheets/sheet99.xml" ContentType="application/'
        b'vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>',
    )
    return book_of(all_parts)


def dimension_lies() -> bytes:
    """A sheet that says it has all cells there are, and one cell in the last corner."""
    corner = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    return with_part(
        SHEET,
        lambda data: re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1:XFD1048576"', data).replace(
            b"</sheetData>", corner + b"</sheetData>"
        ),
    )


def laughs(part: str, close: bytes, entity: bytes) -> bytes:
    """Entities that expand a thousand millionfold, in one part."""
    levels = b"".join(b'<!ENTITY l%d "%s">' % (n, b"&l%d;" % (n - 1) * 10) for n in range(1, 10))
    head = b'<!DOCTYPE x [<!ENTITY l0 "ha">' + levels + b"]>"
    return with_part(
        part, lambda data: data.replace(b"?>", b"?>" + head, 1).replace(close, entity + close, 1)
    )


def entity_from_a_file(part: str, close: bytes, entity: bytes, target: str) -> bytes:
    """An entity that stands for a file of the machine or of the network."""
    head = f'<!DOCTYPE x [<!ENTITY l9 SYSTEM "{target}"><!ENTITY % p SYSTEM "{target}">%p;]>'.encode()
    return with_part(
        part, lambda data: data.replace(b"?>", b"?>" + head, 1).replace(close, entity + close, 1)
    )


def relations_outside(target: str, mode: str = "") -> bytes:
    """Relations of the page Parts that lead out of the package: a table, a picture, a drawing, a link."""
    kinds = ("table", "image", "drawing", "hyperlink", "externalLink", "oleObject", "printerSettings")
    start = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    many = "".join(
        f'<Relationship Id="h{n}" Type="{start}/{kind}" Target="{target}"{mode}/>'
        for n, kind in enumerate(kinds)
    )
    return with_part(
        "xl/worksheets/_rels/sheet4.xml.rels",
        lambda data: data.replace(b"</Relationships>", many.encode() + b"</Relationships>"),
    )


def pulls_from_elsewhere() -> bytes:
    """Links to other books, a web query, a DDE link and a picture from the network."""
    all_parts = parts()
    space = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    all_parts["xl/externalLinks/externalLink1.xml"] = (
        f'<externalLink {space}><ddeLink ddeService="cmd" ddeTopic="/C calc"><ddeItems>'
        '<ddeItem name="x"/></ddeItems></ddeLink></externalLink>'
    ).encode()
    all_parts["xl/connections.xml"] = (
        f'<connections {space}><connection id="1" name="c" type="4" refreshOnLoad="1">'
        '<webPr url="http://192.0.2.1/x"/></connection></connections>'
    ).encode()
    all_parts["xl/worksheets/_rels/sheet4.xml.rels"] = all_parts[
        "xl/worksheets/_rels/sheet4.xml.rels"
    ].replace(
        b"</Relationships>",
        b'<Relationship Id="p1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/image"'
        b' Target="http://192.0.2.1/p.png" TargetMode="External"/></Relationships>',
    )
    return book_of(all_parts)


def _ref(data: bytes, block: bytes) -> bytes:
    return re.sub(rb'ref="[A-Z]+\d+:[A-Z]+\d+"', b'ref="' + block + b'"', data)
