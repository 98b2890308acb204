"""Damaged books give problems or one plain error, never a traceback."""

from __future__ import annotations

import io
import random
import re
import zipfile
from pathlib import Path

import pytest

from sheetplan.app.new import template_path
from sheetplan.trade.units import Units
from sheetplan.workbook.outcomes import BookUnreadable
from sheetplan.workbook.reading.book import read_tables
from sheetplan.workbook.reading.job import read_job
from tests.demo import demo_drawings

READ_PARTS = ("xl/worksheets/sheet", "xl/tables", "xl/shared", "xl/workbook", "xl/styles", "xl/_rels")
"""Parts that reading looks at."""

ODD = (b"", b"<v>1E400</v>", b"<v>-1</v>", b"<v>99999999</v>", b'r="XFD1048576"', b'r="A0"', b'ref="A1"',
       b'ref="A1:XFD1048576"', b't="e"', b't="b"', b't="d"', b't="s"', b's="9999"')  # fmt: skip
"""Bits of a sheet that replace others of the kind."""

BITS = re.compile(rb'<v>[^<]*</v>|r="[A-Z]+\d+"|ref="[^"]*"|t="\w+"|s="\d+"')


def parts_of_demo() -> dict[str, bytes]:
    with zipfile.ZipFile(template_path(demo=True, units=Units.INCH)) as package:
        return {name: package.read(name) for name in package.namelist()}


def spoilt(parts: dict[str, bytes], chance: random.Random) -> bytes:
    """The demo with one part spoilt in one way."""
    parts = dict(parts)
    names = [name for name in parts if name.startswith(READ_PARTS)]
    name = chance.choice(names)
    data = parts[name]
    way = chance.choice(("bytes", "bits", "cut", "swap", "drop"))
    if way == "bytes":
        damaged = bytearray(data)
        for _ in range(chance.randint(1, 8)):
            damaged[chance.randrange(len(damaged))] = chance.randrange(256)
        parts[name] = bytes(damaged)
    elif way == "bits":
        for _ in range(chance.randint(1, 10)):
            found = list(BITS.finditer(parts[name]))
            if found:
                bit = chance.choice(found)
                parts[name] = parts[name][: bit.start()] + chance.choice(ODD) + parts[name][bit.end() :]
    elif way == "cut":
        parts[name] = data[: chance.randrange(len(data))]
    elif way == "swap":
        other = chance.choice(names)
        parts[name], parts[other] = parts[other], parts[name]
    else:
        del parts[name]
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w") as package:
        for part, content in parts.items():
            package.writestr(part, content)
    return memory.getvalue()


BOOKS = 30
"""Spoilt books of a kind; `python -m tests.hard.book_fuzz` makes any number of many kinds."""


@pytest.mark.filterwarnings("ignore")
def test_spoilt_books(tmp_path: Path) -> None:
    parts, chance = parts_of_demo(), random.Random(20261125)
    outcomes = {"job": 0, "problems": 0, "unreadable": 0}
    for number in range(BOOKS):
        book = tmp_path / f"{number}.xlsx"
        book.write_bytes(spoilt(parts, chance))
        try:
            job, problems = read_job(read_tables(book), demo_drawings())
        except BookUnreadable:
            outcomes["unreadable"] += 1
            continue
        assert job is not None or problems
        outcomes["problems" if problems else "job"] += 1
    assert min(outcomes.values()) > 0, "the damage is of every degree"
