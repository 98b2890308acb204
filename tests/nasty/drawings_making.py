"""Making drawings, good and nasty, as bytes."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import ezdxf
from ezdxf.document import Drawing

from sheetplan.drawings.reading.drawing import ReadingChoices
from sheetplan.trade.units import Units


@dataclass(frozen=True)
class Nasty:
    """A drawing named after its trouble, and what reading it must come to.

    ``holes`` counts the holes of each part in turn; ``area`` is the metal of all parts in mm2;
    ``says`` are snatches of findings that must be there.
    """

    name: str
    data: bytes
    good: bool
    holes: tuple[int, ...] = ()
    area: float | None = None
    says: tuple[str, ...] = ()
    choices: ReadingChoices = field(default_factory=lambda: ReadingChoices(units=Units.MM))
    close: float = 1e-9


def dxf(
    draw: Callable[[Drawing], None], version: str = "R2000", unit: int = 4, binary: bool = False
) -> bytes:
    document = Drawing.new(version)
    if version != "R12":
        document.header["$INSUNITS"] = unit
    draw(document)
    if binary:
        raw = io.BytesIO()
        document.write(raw, fmt="bin")
        return raw.getvalue()
    text = io.StringIO()
    document.write(text)
    return document.encode(text.getvalue())


def space(draw: Callable) -> Callable[[Drawing], None]:
    """For drawers that need the model space only."""
    return lambda document: draw(document.modelspace())


def bare_r12(*entities: str) -> bytes:
    """The least R12 file: entities and nothing else."""
    body = "".join(entities)
    return f"0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n".encode()


def bare(kind: str, **codes: object) -> str:
    """One entity as tags; a list gives its code several times."""
    tags = [f"0\n{kind}\n8\n0\n"]
    for code, value in codes.items():
        for one in value if isinstance(value, list) else [value]:
            tags.append(f"{code.strip('_').split('_')[0]}\n{one}\n")
    return "".join(tags)


def bare_line(x0: float, y0: float, x1: float, y1: float) -> str:
    return bare("LINE", _10=x0, _20=y0, _11=x1, _21=y1)


def box_lines(msp, x: float, y: float, length: float, width: float, **attributes) -> None:
    """A rectangle as four separate lines, in no order and not all the same way round."""
    a, b, c, d = (x, y), (x + length, y), (x + length, y + width), (x, y + width)
    for start, end in ((c, d), (a, b), (a, d), (c, b)):
        msp.add_line(start, end, dxfattribs=attributes)


def box_polyline(msp, x: float, y: float, length: float, width: float, **attributes) -> None:
    points = [(x, y), (x + length, y), (x + length, y + width), (x, y + width)]
    msp.add_lwpolyline(points, close=True, dxfattribs=attributes)


def svg(body: str, size: str = 'width="200mm" height="100mm" viewBox="0 0 200 100"') -> bytes:
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f'<svg {spaces} {size}><g fill="none" stroke="black">{body}</g></svg>'.encode()


DISC = math.pi * 100.0
"""Area of a disc of radius 10."""


def read_back(data: bytes) -> Drawing:
    return ezdxf.read(io.StringIO(data.decode("cp1252", errors="replace").replace("\r\n", "\n")))
