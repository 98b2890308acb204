"""Ways to spoil a workbook: its cells, its tables, its XML parts, its zip."""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Callable
from xml.sax.saxutils import escape

Parts = dict[str, bytes]

TEXTS = (
    "", " ", "\u00a0", "\u200b", "-", "?", "N/A", "none", "TRUE", "0", "-1", "-0", "1e309", "1e-320",
    "nan", "inf", "١٢", "１２", "½", "1/0", "0/0", "3/8", '3/8"', "12 1/2", "12' 6\"", "1,200", "1.200,5",
    "1'000", "12..5", "9" * 400, "1" + "/1" * 500, "x" * 40_000, "=1+1", "=cmd|' /C calc'!A0", "+1",
    "@SUM(A1)", "-2+3", "\t=1", "../../etc/passwd", "..\\..\\x", "C:\\temp\\a.dxf",
    "\\\\server\\share\\a.dxf", "/etc/passwd", "CON", "NUL.dxf", "a\r\nb", "a_x000D_b", "_x0000_",
    "\U0001f6a2" * 60, "e\u0301" * 80, "\u202eabc", "ﬁ", "İ", "ß", "{0}", "%s", "%(x)s", "<b>&amp;</b>",
    "'; DROP TABLE", "#REF!", "[Book1]Sheet1!A1", "mild steel", "10 ga", "999 ga", "0 ga", "0.135",
    "in", "mm", "INCHES", "yes", "must", "if it fits", "any", "along length", "round 12", "circle 5",
    "CB-100", "cb-100", "CB\u2011100", "2026-11-30", "30.11.2026", "tomorrow", "1899-12-30", "layouts",
    ".", "..",
)  # fmt: skip
"""Texts that meet some rule of reading at its edge."""

NUMBERS = (
    "0", "-0", "1", "-1", "0.5", "1e-300", "1e300", "1E400", "-1e300", "1e9", "2147483648", "1e18",
    "46357", "0.1", "12.5", "1e-9", "999999", "1000000", "1000001", "nan", "", "0x10", "1,5", "60",
    "2958466",
)  # fmt: skip
"""Contents of a cell's value element, sound and unsound."""

BITS = (
    b"", b'r="XFD1048576"', b'r="A0"', b'r="ZZZZ9"', b'r="A1"', b'ref="A1"', b'ref="A1:XFD1048576"',
    b'ref="B9:A1"', b'ref=""', b'ref="A:A"', b't="e"', b't="b"', b't="d"', b't="s"', b't="n"',
    b't="str"', b't="inlineStr"', b's="9999"', b's="-1"', b's="x"', b'id="0"', b'id="-5"',
    b'id="999999999999"', b'name=""', b'displayName=""', b'Target="../../../../etc/passwd"',
    b'Target="file:///etc/passwd"', b'Target="/xl/workbook.xml"', b'Target=""',
    b'Target="\\\\server\\share\\x"', b'sheetId="0"', b'sheetId="x"', b'sheetId="4294967296"',
    b'r:id="rId999"', b'count="-1"', b'headerRowCount="0"', b'totalsRowCount="1"', b'hidden="1"',
    b'state="veryHidden"', b'TargetMode="External"', b'numFmtId="99999"', b'fontId="-1"', b'xfId="77"',
    b"<v>NaN</v>", b"<v/>", b"<v>99999999</v>",
)  # fmt: skip
"""Bits of parts that take the place of others."""

_BIT = re.compile(rb'<v>[^<]{0,200}</v>|(?<=\s)[A-Za-z:]+="[^"]{0,400}"')
_CELL = re.compile(rb'<c r="([A-Z]+\d+)"[^>]*?(?:/>|>.*?</c>)', re.DOTALL)


def parts_of(data: bytes) -> Parts:
    """The parts of a sound book."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {name: package.read(name) for name in package.namelist()}


def book_of(parts: Parts) -> bytes:
    """A book of parts."""
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
        for name, data in parts.items():
            package.writestr(name, data)
    return memory.getvalue()


def of_kind(parts: Parts, dice: random.Random, *starts: str) -> str:
    """A part whose name starts so, if there is one left; else any."""
    named = [name for name in parts if name.startswith(starts) and not name.endswith("/")]
    return dice.choice(named or list(parts))


def cells(parts: Parts, dice: random.Random) -> None:
    """Up to eight cells of one sheet hold something else."""
    sheet = of_kind(parts, dice, "xl/worksheets/sheet")
    for _ in range(dice.randint(1, 8)):
        found = list(_CELL.finditer(parts[sheet]))
        if found:
            cell = dice.choice(found)
            new = odd_cell(cell.group(1), dice)
            parts[sheet] = parts[sheet][: cell.start()] + new + parts[sheet][cell.end() :]


def odd_cell(place: bytes, dice: random.Random) -> bytes:
    """A cell of any type with odd contents."""
    text = escape(dice.choice(TEXTS)).encode("utf-8", "replace")
    number = dice.choice(NUMBERS).encode()
    kind = dice.randrange(8)
    if kind <= 2:
        return b'<c r="%s" t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>' % (place, text)
    if kind == 3:
        return b'<c r="%s" t="str"><f>A1</f><v>%s</v></c>' % (place, text)
    if kind == 4:
        return b'<c r="%s"><f>SUM(A1:A9)</f></c>' % place
    if kind == 5:
        return b'<c r="%s" t="%s"><v>%s</v></c>' % (
            place,
            dice.choice((b"b", b"e", b"d", b"s", b"n", b"x")),
            number,
        )
    return b'<c r="%s"><v>%s</v></c>' % (place, number)


def rows(parts: Parts, dice: random.Random) -> None:
    """Rows of a sheet dropped, doubled or out of order."""
    sheet = of_kind(parts, dice, "xl/worksheets/sheet")
    found = re.findall(rb"<row .*?</row>", parts[sheet], re.DOTALL)
    if found:
        one, other = dice.choice(found), dice.choice(found)
        new = dice.choice((b"", one + one, other, one.replace(b'r="', b'r="9'), b"<row/>"))
        parts[sheet] = parts[sheet].replace(one, new, 1)


def tables(parts: Parts, dice: random.Random) -> None:
    """A table's block, headings, name or relation is something else."""
    part = of_kind(parts, dice, "xl/tables/")
    way = dice.randrange(6)
    if way == 0:
        left, top = dice.randint(1, 9), dice.randint(1, 12)
        block = f"{chr(64 + left)}{top}:{chr(64 + left + dice.randint(0, 16))}{top + dice.randint(0, 3000)}"
        parts[part] = re.sub(rb'ref="[^"]*"', f'ref="{block}"'.encode(), parts[part])
    elif way == 1:
        names = re.findall(rb'name="([^"]*)"', parts[part])
        if names:
            odd = escape(dice.choice(TEXTS), {'"': "&quot;"}).encode("utf-8", "replace")
            parts[part] = parts[part].replace(b'name="%s"' % dice.choice(names), b'name="%s"' % odd)
    elif way == 2:
        other = of_kind(parts, dice, "xl/tables/")
        parts[part], parts[other] = parts[other], parts[part]
    elif way == 3:
        parts[part] = re.sub(rb"<tableColumn [^>]*/>", b"", parts[part], count=dice.randint(1, 4))
    elif way == 4:
        del parts[part]
    else:
        relations = of_kind(parts, dice, "xl/worksheets/_rels/")
        parts[relations] = re.sub(rb"<Relationship [^>]*/>", b"", parts[relations], count=1)


def bits(parts: Parts, dice: random.Random) -> None:
    """Attributes and values of a part take others' places."""
    part = of_kind(parts, dice, "xl/", "_rels", "[Content")
    for _ in range(dice.randint(1, 6)):
        found = list(_BIT.finditer(parts[part]))
        if found:
            bit = dice.choice(found)
            new = dice.choice(BITS) if dice.random() < 0.7 else dice.choice(found).group()
            parts[part] = parts[part][: bit.start()] + new + parts[part][bit.end() :]


def xml(parts: Parts, dice: random.Random) -> None:
    """A part is cut, flipped, swapped, dropped, wrapped, buried deep, or written in another coding."""
    part = of_kind(parts, dice, "xl/", "_rels", "[Content", "docProps")
    data = parts[part]
    body = data.split(b"?>", 1)[-1]
    way = dice.randrange(11)
    if way == 0:
        parts[part] = data[: dice.randrange(len(data) + 1)]
    elif way == 1:
        flipped = bytearray(data)
        for _ in range(min(len(data), dice.randint(1, 9))):
            flipped[dice.randrange(len(flipped))] = dice.randrange(256)
        parts[part] = bytes(flipped)
    elif way == 2:
        other = of_kind(parts, dice, "xl/", "_rels")
        parts[part], parts[other] = parts[other], parts[part]
    elif way == 3:
        del parts[part]
    elif way == 4:
        parts[part] = dice.choice(
            (b"", b"<a/>", b"\0" * 50, b"<?xml version='1.0'?>", b"not XML", b"\xff\xfe<\0a\0")
        )
    elif way == 5:
        parts[part] = b"<!DOCTYPE x [<!ENTITY e 'ee'><!ENTITY f '&e;&e;&e;'>]>" + body.replace(
            b"</t>", b"&f;</t>", 3
        )
    elif way == 6:
        text = body.decode("utf-8", "replace")
        parts[part] = b"\xff\xfe" + f"<?xml version='1.0' encoding='UTF-16'?>{text}".encode("utf-16-le")
    elif way == 7:
        parts[part] = b"\xef\xbb\xbf" + data
    elif way == 8:
        depth = dice.choice((300, 5000))
        parts[part] = b"<a>" * depth + body + b"</a>" * depth
    elif way == 9:
        found = re.findall(rb"<[a-zA-Z]+[^<>]*/>", data)
        if found:
            one = dice.choice(found)
            parts[part] = data.replace(one, one * dice.choice((2, 400)), 1)
    else:
        parts[part] = re.sub(rb'xmlns="[^"]*"', dice.choice((b"", b'xmlns="urn:x"')), data, count=1)


def zip_bytes(data: bytes, dice: random.Random) -> bytes:
    """The file itself is cut, flipped, lengthened, or its records lie."""
    spoilt = bytearray(data)
    way = dice.randrange(7)
    if way == 0:
        return data[: dice.randrange(len(data))]
    if way == 1:
        for _ in range(dice.randint(1, 30)):
            spoilt[dice.randrange(len(spoilt))] = dice.randrange(256)
        return bytes(spoilt)
    if way == 2:
        return dice.choice((b"MZ", b"\r\n", b"<html>")) + data
    if way == 3:
        return data + dice.randbytes(dice.choice((1, 22, 70_000)))
    if way == 4:
        at = dice.randrange(len(data))
        return data[:at] + data[at + dice.randint(1, 3000) :]
    # Records of the central list: flags, method, sizes, lengths, places.
    found = [
        m.start() for m in re.finditer(b"PK\x01\x02" if way == 5 else b"PK[\x01\x03\x05][\x02\x04\x06]", data)
    ]
    if found:
        at = dice.choice(found) + dice.randint(4, 45)
        spoilt[at : at + 2] = dice.choice((b"\xff\xff", b"\0\0", b"\x01\0", b"\x0c\0", dice.randbytes(2)))
    return bytes(spoilt[: len(data)])


def entries(data: bytes, dice: random.Random) -> bytes:
    """Entries with odd names are added, or one is given twice."""
    names = (
        "../../evil.xml", "/etc/evil", "C:\\evil.xml", "xl\\workbook.xml", "XL/WORKBOOK.XML", "xl/",
        "a" * 300, "xl/worksheets/../../x.xml", "\u202e.xml", "xl/media/" + "n" * 200,
)  # fmt: skip
    memory = io.BytesIO(data)
    with zipfile.ZipFile(memory, "a") as package:
        for _ in range(dice.choice((1, 3, 200))):
            name = dice.choice(names) if dice.random() < 0.8 else dice.choice(package.namelist())
            package.writestr(name, dice.choice((b"", b"<x/>", bytes(1000))))
    return memory.getvalue()


PART_WAYS: tuple[Callable[[Parts, random.Random], None], ...] = (
    cells,
    cells,
    cells,
    rows,
    tables,
    tables,
    bits,
    xml,
    xml,
)
ZIP_WAYS: tuple[Callable[[bytes, random.Random], bytes], ...] = (zip_bytes, entries)


def spoilt(data: bytes, dice: random.Random) -> tuple[str, bytes]:
    """The book spoilt in one to three ways, and what they are called."""
    done = []
    parts = parts_of(data)
    for _ in range(dice.choice((1, 1, 2, 3))):
        way = dice.choice(PART_WAYS)
        way(parts, dice)
        done.append(way.__name__)
    data = book_of(parts)
    if dice.random() < 0.2:
        zip_way = dice.choice(ZIP_WAYS)
        data = zip_way(data, dice)
        done.append(zip_way.__name__)
    return " ".join(done), data
