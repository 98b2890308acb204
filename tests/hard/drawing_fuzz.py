"""Spoilt drawings through the reader: a report with a verdict, never a traceback, never a hang.

Asked of every case: reading ends within the time that one drawing is allowed, a drawing that is
called good has outlines of sound numbers whose holes lie in them, and the same bytes give the
same report.
"""

from __future__ import annotations

import functools
import math
import random
import re
import sys
import time
import traceback
from pathlib import Path

from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.drawings.reading.findings import Limits
from sheetplan.drawings.reading.report import DrawingReport, report_text
from sheetplan.shapes import area, box
from sheetplan.trade.units import Units
from tests.hard.options import told
from tests.hard.watching import Outcome, outcomes, peak_megabytes, tell

ALLOWED = 10.0
"""Seconds that a drawing is allowed here; a busy good one takes less than one."""

SECONDS = 2.0 * ALLOWED + 15.0
"""Longest that a spoilt drawing may take twice, limit and library's own loading together."""

CODES = (
    b"10",
    b"20",
    b"11",
    b"21",
    b"40",
    b"42",
    b"50",
    b"51",
    b"70",
    b"90",
    b"8",
    b"0",
    b"2",
    b"210",
    b"230",
    b"-1",
    b"x",
)
GEOMETRY = (b"10", b"20", b"11", b"21", b"40", b"41", b"42", b"50", b"51", b"12", b"22", b"13", b"23")
"""Codes of coordinates, radii, bulges, angles and knots. Source: Autodesk DXF reference, ENTITIES section."""

VALUES = (
    b"0", b"-0.0", b"1e308", b"-1e308", b"1e400", b"nan", b"inf", b"-1", b"1e-300", b"", b"x", b"999999999",
    b"LINE", b"ARC", b"SPLINE", b"INSERT", b"EOF", b"ENDSEC", b"SECTION", b"ENDBLK", b"POLYLINE", b"ELLIPSE",
    b"*Model_Space", b"%%c", b"\\U+0041", b"12,5", b"1.0.0", b"360", b"-360", b"0.0000001", b"1" * 400,
)  # fmt: skip
"""What a line of a DXF may be replaced by."""

SVG_BITS = (
    b"", b"0", b"-1", b"1e400", b"nan", b"100%", b"1in", b"1furlong", b"M0 0", b"M0 0 L", b"A1 1 0 2 3 4 5",
    b"A0 0 0 0 0 1 1", b"z z z", b"matrix(0 0 0 0 0 0)", b"rotate(1e9)", b"scale(0)", b"skewX(90)", 
    b"#self", b"file:///etc/passwd", b"http://192.0.2.1/x.svg", b"data:image/svg+xml;base64,AAAA",
    b"M1e9 1e9h1v1", b"M" + b"1 2 " * 3000,
)  # fmt: skip
"""What an attribute of an SVG may be replaced by."""


@functools.cache
def drawings() -> tuple[tuple[str, bytes], ...]:
    """Good and nasty drawings to spoil, the large ones left out."""
    from tests.nasty.drawings_dxf import DXF_DRAWINGS
    from tests.nasty.drawings_svg import SVG_DRAWINGS

    every = (*DXF_DRAWINGS, *SVG_DRAWINGS)
    return tuple((one.name, one.data) for one in every if 0 < len(one.data) < 400_000)


def spoilt(data: bytes, dice: random.Random) -> tuple[str, bytes]:
    """The drawing spoilt in one to four ways."""
    done = []
    for _ in range(dice.choice((1, 1, 2, 4))):
        svg = b"<svg" in data[:2000]
        way = dice.choice(
            (attributes, attributes, elements, raw)
            if svg
            else (numbers, numbers, values, lines, entities, raw)
        )
        head, middle, tail = (b"", data, b"") if svg or dice.random() < 0.15 else drawn_section(data)
        if middle:
            data = head + way(middle, dice) + tail or b"\n"
        done.append(way.__name__)
    return " ".join(done), data


def drawn_section(data: bytes) -> tuple[bytes, bytes, bytes]:
    """A DXF before, in and after its blocks and entities: damage there is met after the file was accepted."""
    starts = [at for name in (b"\nBLOCKS", b"\nENTITIES") if (at := data.find(name)) >= 0]
    start = data.find(b"\n", min(starts) + 1) + 1 if starts else 0
    end = data.find(b"OBJECTS", start)
    end = data.rfind(b"EOF") if end < 0 else end
    return data[:start], data[start:end], data[end:]


def values(data: bytes, dice: random.Random) -> bytes:
    """Values of a DXF take others' places; its codes stay."""
    found = data.split(b"\n")
    for _ in range(dice.randint(1, 6)):
        at = dice.randrange(len(found)) | 1
        if at < len(found):
            found[at] = dice.choice(VALUES) if dice.random() < 0.7 else found[dice.randrange(len(found)) - 1]
    return b"\n".join(found)


def numbers(data: bytes, dice: random.Random) -> bytes:
    """Numbers of a DXF become other numbers, so that the file stays sound and the outline does not."""
    found = data.split(b"\n")
    places = [at for at in range(1, len(found), 2) if found[at - 1].strip() in GEOMETRY and found[at].strip()]
    for _ in range(dice.randint(1, 6) if places else 0):
        at = dice.choice(places)
        try:
            number = float(found[at])
        except ValueError:
            continue
        new = dice.choice((
            0.0, -number, number + 0.01, number + 1e-7, number * 1e6, number * 1e-9, 1e9, -1e12, 90.0, 1e300,
            float(dice.randint(-300, 300)),
        ))  # fmt: skip
        found[at] = found[dice.choice(places)] if dice.random() < 0.3 else repr(new).encode()
    return b"\n".join(found)


def lines(data: bytes, dice: random.Random) -> bytes:
    """Codes or values of a DXF take others' places, are dropped or doubled."""
    found = data.split(b"\n")
    for _ in range(dice.randint(1, 10)):
        at = dice.randrange(len(found))
        way = dice.randrange(6)
        if way <= 2:
            found[at] = dice.choice(VALUES)
        elif way == 3:
            found[at] = dice.choice(CODES)
        elif way == 4:
            del found[at]
            found = found or [b""]
        else:
            found.insert(at, dice.choice(found))
    return b"\n".join(found)


def entities(data: bytes, dice: random.Random) -> bytes:
    """Whole entities dropped, doubled, put elsewhere or multiplied."""
    found = re.split(rb"(?m)(?=^\s*0\r?\n[A-Z])", data)
    for _ in range(dice.randint(1, 6)):
        at = dice.randrange(len(found))
        way = dice.randrange(4)
        if way == 0 and len(found) > 1:
            del found[at]
        elif way == 1:
            found.insert(dice.randrange(len(found)), found[at])
        elif way == 2:
            found.insert(at, found[at] * dice.choice((2, max(2, 200_000 // (1 + len(found[at]))))))
        else:
            dice.shuffle(found)
    return b"".join(found)


def attributes(data: bytes, dice: random.Random) -> bytes:
    """Values of an SVG's attributes take others' places."""
    for _ in range(dice.randint(1, 6)):
        found = list(re.finditer(rb'="([^"]*)"', data))
        if found:
            one = dice.choice(found)
            new = dice.choice(SVG_BITS) if dice.random() < 0.7 else dice.choice(found).group(1)
            data = data[: one.start(1)] + new + data[one.end(1) :]
    return data


def elements(data: bytes, dice: random.Random) -> bytes:
    """Elements of an SVG dropped, doubled, deepened, or of another kind."""
    found = list(re.finditer(rb"<[a-zA-Z][^<>]*>", data))
    if not found:
        return data
    one = dice.choice(found)
    new = dice.choice((
        b"", one.group() * 2, b"<g>" * 2000, b"<use href='#x' id='x'/>", b"<!ENTITY a 'b'>",
        b"<image href='file:///etc/passwd'/>", b"<path d='M0 0h1v1z'/>" * 50, dice.choice(found).group(),
        b"<style>*{stroke:none}</style>", b"<svg x='1' viewBox='0 0 0 0'>",
    ))  # fmt: skip
    return data[: one.start()] + new + data[one.end() :]


def raw(data: bytes, dice: random.Random) -> bytes:
    """Bytes cut off, flipped, or doubled."""
    way = dice.randrange(4)
    if way == 0:
        return data[: dice.randrange(len(data))]
    if way == 1:
        at = dice.randrange(len(data))
        return data[:at] + data[at : at + dice.randint(1, 5000)] + data[at:]
    spoilt = bytearray(data)
    for _ in range(dice.randint(1, 40)):
        spoilt[dice.randrange(len(spoilt))] = dice.randrange(256)
    return bytes(spoilt)


def one(seed: int, case: int, folder: Path) -> Outcome:
    """Spoil a drawing, read it twice, and judge the reports."""
    dice = random.Random(f"{seed} {case}")
    name, data = dice.choice(drawings())
    way, data = spoilt(data, dice)
    (folder / "spoilt").write_bytes(data)
    choices = ReadingChoices(units=dice.choice(list(Units)), limits=Limits(seconds=ALLOWED))
    try:
        first = read_bytes("spoilt.dxf", data, choices, time.monotonic)
        again = read_bytes("spoilt.dxf", data, choices, time.monotonic)
    except Exception:
        fault = f"{name}: {traceback.format_exc()[-1800:]}"
        return {"kind": "traceback", "what": way, "fault": fault, "megabytes": peak_megabytes()}
    faults = report_faults(first)
    if first != again and "allowed for a drawing" not in str((first, again)):
        faults.append("the same bytes gave two reports")
    kind = "good" if first.good else "bad" if first.parts else "nothing"
    return {"kind": kind, "what": f"{name}: {way}", "fault": "\n".join(faults), "megabytes": peak_megabytes()}


def report_faults(report: DrawingReport) -> list[str]:
    """What must not be in a report."""
    faults = []
    text = report_text(report, Units.MM)
    if "Traceback" in text or "object at 0x" in text or "\x1b" in text:
        faults.append(f"not a sentence: {text[:300]}")
    for part in report.parts:
        around = box(part.outline)
        numbers = [
            value for loop in (part.outline.outer, *part.outline.holes) for v in loop.vertices for value in v
        ]
        if not all(map(math.isfinite, numbers)):
            faults.append("an outline has numbers that are none")
        elif report.good:
            if not area(part.outline) > 0.0:
                faults.append(f"a good outline has the area {area(part.outline)}")
            if (
                abs(around.left) > 1e-6 * max(1.0, around.length)
                or around.length <= 0.0
                or around.width <= 0.0
            ):
                faults.append(f"a good outline stands at {around}")
    return faults


def main() -> int:
    options = told(__doc__, count=2000)
    if options.only is not None:
        print(one(options.seed, options.only, Path("/tmp")))
        return 0
    return len(tell(outcomes("tests.hard.drawing_fuzz", 0, options.count, options.seed, SECONDS))) > 0


if __name__ == "__main__":
    sys.exit(main())
