"""What a PNG says about its own size."""

from __future__ import annotations

import struct
from dataclasses import dataclass

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_USUAL_DPI = 96.0
_METRES_PER_INCH = 0.0254


@dataclass(frozen=True, slots=True)
class PngFacts:
    """Pixels and dots per inch of a picture."""

    width: int
    height: int
    dpi_x: float
    dpi_y: float


def png_facts(data: bytes) -> PngFacts:
    """Read width, height and resolution (source: W3C, PNG specification, chunks IHDR and pHYs).

    Raises
    ------
    ValueError
        The bytes are no PNG, or one without any pixels.
    """
    if not data.startswith(_SIGNATURE) or data[12:16] != b"IHDR" or len(data) < 33:
        raise ValueError("the picture is not a PNG")
    width, height = struct.unpack(">II", data[16:24])
    if not width or not height:
        raise ValueError("the picture has no pixels")
    dpi_x = dpi_y = _USUAL_DPI
    place = 8
    while place + 12 <= len(data):
        length, kind = struct.unpack(">I4s", data[place : place + 8])
        if kind == b"IDAT":
            break
        if kind == b"pHYs" and place + 17 <= len(data):
            per_metre_x, per_metre_y, unit = struct.unpack(">IIB", data[place + 8 : place + 17])
            if unit == 1 and per_metre_x and per_metre_y:
                dpi_x, dpi_y = per_metre_x * _METRES_PER_INCH, per_metre_y * _METRES_PER_INCH
        place += length + 12
    return PngFacts(width, height, dpi_x, dpi_y)
