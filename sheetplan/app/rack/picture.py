"""Take a remnant in from photographs of it: read, shown, and kept as a record once it is confirmed.

Choices
-------
Two calls: the first reads, draws what it read over the pictures, and says a code; the second, given the code,
reads the same pictures again and takes the sheet in. A code stands for one reading of these pictures and no
other, so that what was looked at is what is taken in, and nothing has to be kept between the two.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.app.rack import Refused
from sheetplan.app.rack.add import Drawn, free_row, refuse_unsound, said_of, write_record
from sheetplan.app.rack.opened import OpenRack, open_rack
from sheetplan.model import Loop, Remnant
from sheetplan.rack.record import PastCut, from_row
from sheetplan.rack.record_dxf import settled
from sheetplan.shapes import box, move, size
from sheetplan.trade.units import Units

if TYPE_CHECKING:
    from sheetplan.pictures import Reading

MOST_PICTURES = 12
MOST_BYTES = 64 * 1024**2
"""A picture's file is no larger than this."""


@dataclass(frozen=True, slots=True)
class PictureAsked:
    """What is told beside the pictures, in the book's lengths; ``confirm`` is the code of a reading."""

    pictures: tuple[Path, ...]
    bar: float | None = None
    degrees: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    confirm: str = ""


@dataclass(frozen=True, slots=True)
class Pictured:
    """The code of the reading, what to say, the files written, and whether it was taken in."""

    code: str
    sentences: tuple[str, ...]
    written: tuple[Path, ...] = ()
    taken: bool = False


def add_pictures(book: Path, tag: str, asked: PictureAsked) -> Pictured:
    """Read a remnant from pictures; with the code of that reading, make its record.

    Raises
    ------
    Refused
        The pictures, the row or the rack do not allow it; nothing is recorded.
    """
    files = [(path.name, _content(path)) for path in asked.pictures[: MOST_PICTURES + 1]]
    if len(files) > MOST_PICTURES:
        raise Refused(
            f"At most {MOST_PICTURES} pictures are read together.", "Leave out those that show no more."
        )
    with open_rack(book) as rack:
        row = free_row(rack, tag)
        reading = _read(files, row, rack.job.settings.units, asked)
        drawn = _certain(reading)
        refuse_unsound(drawn, row, rack.job.settings.units)
        code = _code(files, drawn)
        if asked.confirm:
            return _confirmed(rack, row, drawn, code, asked)
        return _shown(rack, row, reading, code)


def _content(path: Path) -> bytes:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise Refused(f"{path.name} is larger than {MOST_BYTES // 1024**2} MB.", "Save it as a JPEG.")
        return path.read_bytes()
    except OSError as error:
        raise Refused(f"{path} cannot be read ({error.strerror}).", "Check the name.") from error


def _read(files: Sequence[tuple[str, bytes]], row: Remnant, units: Units, asked: PictureAsked) -> Reading:
    from sheetplan.pictures import Asked, NotSeen, read_pictures
    from sheetplan.pictures.marks import BAR_MM

    mm = units.length_mm
    bar = BAR_MM if asked.bar is None else asked.bar * mm
    points = tuple((x * mm, y * mm) for x, y in asked.points)
    told = Asked(size(row.edge), row.thickness.mm, row.datum, bar, asked.degrees, points, units)
    try:
        reading = read_pictures(files, told)
        _ = reading.sure  # refused here, where it is told, if nothing certain is left
    except NotSeen as missing:
        raise Refused(missing.what, missing.remedy) from missing
    return reading


def _certain(reading: Reading) -> Drawn:
    """What is metal for certain, its box's lower left corner at zero."""
    edge, cuts = reading.sure
    around = box(edge)

    def laid(loop: Loop) -> Loop:
        return move(loop, -around.left, -around.bottom)

    return Drawn(laid(edge), tuple(laid(cut) for cut in cuts))


def _code(files: Sequence[tuple[str, bytes]], drawn: Drawn) -> str:
    """Of the pictures and of what was read, to a hundredth of a millimetre."""
    whole = hashlib.sha256()
    for _, data in files:
        whole.update(hashlib.sha256(data).digest())
    for loop in (drawn.edge, *drawn.cuts):
        whole.update(
            repr([tuple(round(one, 2) + 0.0 for one in vertex) for vertex in loop.vertices]).encode()
        )
    return whole.hexdigest()[:6].upper()


def _confirmed(rack: OpenRack, row: Remnant, drawn: Drawn, code: str, asked: PictureAsked) -> Pictured:
    if asked.confirm.strip().upper() != code:
        raise Refused(
            f"{asked.confirm} is not the code of this reading: pictures, options or the row are others.",
            "Run it once without --confirm, look at what it writes, and confirm that.",
        )
    names = ", ".join(path.name for path in asked.pictures)
    made = replace(
        from_row(row), edge=drawn.edge, cuts=tuple(PastCut(cut) for cut in drawn.cuts),
        origin=f"from pictures: {names}",
    )  # fmt: skip
    record = settled(made, rack.job.settings.units)
    write_record(rack, row, record)
    sentences = (*said_of(rack, record, 0.0), "Its edges are by pictures: run its first cut dry, torch off.")
    return Pictured(code, sentences, taken=True)


def _shown(rack: OpenRack, row: Remnant, reading: Reading, code: str) -> Pictured:
    """Write the reading over each picture, and a contact sheet."""
    from sheetplan.pictures.showing import contact_sheet, over_picture, png, reading_words
    from sheetplan.workbook.package.saving import is_our_pdf, is_our_png, put_output, signed_png

    units, book = rack.job.settings.units, rack.book
    overlays = [over_picture(reading, number) for number in range(len(reading.pictures))]
    written = []
    for number, overlay in enumerate(overlays, 1):
        path = book.with_name(f"{book.stem} {row.tag} reading {number}.png")
        put_output(path, signed_png(png(overlay)), is_our_png)
        written.append(path)
    path = book.with_name(f"{book.stem} {row.tag} reading.pdf")
    title = f"{row.tag}, as read from pictures: not taken in yet"
    put_output(path, contact_sheet(title, reading, overlays, list(_how_drawn(code)), units), is_our_pdf)
    written.append(path)
    said = [
        *reading_words(reading, units), *(f"Wrote {one}" for one in written),
        "Hold it beside the sheet: every edge, every opening, nothing more. Nothing is recorded yet.",
        f"If it is right, the same command again with --confirm {code}",
    ]  # fmt: skip
    return Pictured(code, tuple(said), tuple(written))


def _how_drawn(code: str) -> Iterator[str]:
    yield f"Code of this reading: {code}. Red: the edge as seen. Blue: what is planned on."
    yield "The blue point at the datum corner is where it is measured from. Run a first cut dry, torch off."
