"""Telling what kind of file something is by its first bytes, and saying no to the wrong ones kindly."""

from __future__ import annotations

from enum import StrEnum

from sheetplan.drawings.limits import Refused


class Kind(StrEnum):
    """A kind of drawing that is read."""

    DXF = "DXF"
    SVG = "SVG"


SENTINEL = b"AutoCAD Binary DXF"

FOREIGN = (
    (b"AC10", "a DWG file"),
    (b"AC1.", "a DWG file"),
    (b"%PDF", "a PDF"),
    (b"%!PS", "a PostScript file"),
    (b"ISO-10303-21", "a STEP file"),
    (b"PK\x03\x04", "a zip archive or office document"),
    (b"\xd0\xcf\x11\xe0", "an old office document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"BM", "a picture"),
    (b"\x1f\x8b", "a compressed file"),
)
"""First bytes of files that are given in place of a drawing."""

HEAD = 4096


def kind_of(data: bytes) -> Kind:
    """The kind of a drawing.

    Raises
    ------
    Refused
        If it is no drawing that can be read; the reason says what it seems to be.
    """
    if not data.strip(b"\x00 \t\r\n"):
        raise Refused("the file is empty")
    if data.startswith(SENTINEL):
        return Kind.DXF
    head = data[:HEAD].removeprefix(b"\xef\xbb\xbf").lstrip()
    for start, what in FOREIGN:
        if head.startswith(start):
            raise Refused(f"it is {what}; save the part as DXF (R12 to R2018) or SVG")
    if head.startswith(b"<"):
        if b"<svg" in data[: 16 * HEAD] or b":svg" in data[: 16 * HEAD]:
            return Kind.SVG
        raise Refused("it is an XML or web file without a drawing; save the part as DXF or SVG")
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Refused("it is written in UTF-16; save it as a plain DXF or SVG")
    if b"SECTION" not in data:
        raise Refused("it is not a DXF or SVG drawing")
    return Kind.DXF
