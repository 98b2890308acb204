"""What was read, drawn over its pictures, and a contact sheet of it to hold beside the sheet of metal."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import numpy as np
from PIL import Image

from sheetplan.model.outline import Loop
from sheetplan.pages.drawing.lettering import text_width
from sheetplan.pages.paper.paper import MARGIN, paper_for
from sheetplan.pictures.marks import Array, opencv, reach_of
from sheetplan.pictures.outline import Picture, even
from sheetplan.pictures.reading import Reading
from sheetplan.shapes import box, flatten
from sheetplan.trade.units import Units

SEEN, SURE, PAGE = (255, 60, 60), (90, 200, 255), (255, 210, 60)
"""Over a picture: the edge as seen, the certain metal, pages of marks; apart for the colour-blind too."""

ACROSS_PX = 2000
"""Pictures are kept this wide: enough to see a line beside an edge."""

DRAWN_MM = 1.5
"""Points of a line over a picture: near enough that a small round end is seen round."""


def over_picture(reading: Reading, number: int) -> Picture:
    """One picture with the reading over it: the edge as seen and the metal that is certain."""
    cv2 = opencv()
    picture = reading.pictures[number]
    share = min(1.0, ACROSS_PX / picture.shape[1])
    shown = cv2.resize(picture, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    edge, cuts = reading.sure
    for loops, colour in (((edge, *cuts), SURE), ((reading.edge, *reading.cuts), SEEN)):
        for loop in loops:
            _draw(shown, _in_picture(reading, number, loop) * share, colour)
    for page in reading.bundle.pages:
        corners = reading.bundle.to_picture(number, reading.bundle.paper(page, reach_of(page)))
        _draw(shown, corners * share, PAGE)
    return np.asarray(shown)


def _in_picture(reading: Reading, number: int, loop: Loop) -> Array:
    points = even(flatten(loop, 0.1), DRAWN_MM)
    corners = np.array([vertex[:2] for vertex in loop.vertices])
    nearest = np.hypot(*(points[:, None] - corners[None]).transpose(2, 0, 1)).argmin(axis=0)
    points[nearest] = corners
    return reading.bundle.to_picture(number, reading.frame.back(points))


def _draw(shown: Any, points: Array, colour: tuple[int, int, int]) -> None:
    """Dark under light, to be seen on any ground; what the picture does not reach is left out."""
    cv2 = opencv()
    size = np.array((shown.shape[1], shown.shape[0]))
    near = np.asarray(~np.isnan(points).any(axis=1) & (np.abs(points - size / 2.0) < 2.0 * size).all(axis=1))
    fixed = np.round(np.nan_to_num(points) * 16.0).astype(np.int32)
    for wide, ink in ((4, (0, 0, 0)), (2, colour)):
        for i in range(len(points)):
            if near[i - 1] and near[i]:
                start, end = (tuple(map(int, fixed[j])) for j in (i - 1, i))
                cv2.line(shown, start, end, ink, wide, cv2.LINE_AA, 4)


def png(picture: Picture) -> bytes:
    """A picture as PNG."""
    written = io.BytesIO()
    Image.fromarray(picture).save(written, "PNG")
    return written.getvalue()


def reading_words(reading: Reading, units: Units) -> list[str]:
    """What was read, in words: size, openings from the datum corner, the error claimed, the print."""
    long, wide = (box(reading.edge).length, box(reading.edge).width)
    said = [
        f"Outline as seen {_text(wide, units)} x {_text(long, units)} {units.value}, "
        f"{len(reading.cuts)} {'opening' if len(reading.cuts) == 1 else 'openings'}.",
        f"It can be wrong by {_text(reading.claimed, units)} {units.value}: so much is taken off its edge "
        "and out of the metal round each opening.",
    ]
    if abs(reading.print_share - 1.0) > 0.002:
        said.append(
            f"By the size by tape the marks were printed at {100.0 * reading.print_share:.1f} per cent."
        )
    said += [f"Opening {_placed(cut, reading, units)}" for cut in reading.cuts]
    if reading.hidden:
        places = "place" if len(reading.hidden) == 1 else "places"
        said.append(
            "Taken out, as glare, rust or a soft edge leaves open where metal ends, round some openings too: "
            f"{len(reading.hidden)} {places}. Largest:"
        )
    largest = sorted(reading.hidden, key=lambda one: -box(one).length * box(one).width)[:MOST_HIDDEN]
    return said + [f"Hidden {_placed(one, reading, units)}" for one in largest]


MOST_HIDDEN = 12
"""Places that are listed: there may be a hundred spots of rust, and the contact sheet shows all."""


def _placed(loop: Loop, reading: Reading, units: Units) -> str:
    """How large a loop is and where."""
    whole, around = box(reading.edge), box(loop)
    left = whole.length - around.right if reading.datum.is_right else around.left
    low = whole.width - around.top if reading.datum.is_upper else around.bottom
    return (
        f"{_text(around.width, units)} x {_text(around.length, units)} {units.value}, from the "
        f"datum corner {_text(left, units)} along and {_text(low, units)} across."
    )


def _text(mm: float, units: Units) -> str:
    return f"{mm / units.length_mm:.{1 if units is Units.MM else 2}f}"


def contact_sheet(
    title: str, reading: Reading, overlays: Sequence[Picture], notes: Sequence[str], units: Units
) -> bytes:
    """A PDF with every picture, the reading over it, and its figures."""
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen.canvas import Canvas

    from sheetplan.pages.paper.paper import BOLD_FACE, PLAIN_FACE, use_faces

    use_faces()
    paper = paper_for(units)
    written = io.BytesIO()
    canvas = Canvas(written, pagesize=(paper.width, paper.height), invariant=1)
    canvas.setCreator("sheetplan reading")
    canvas.setTitle(title)
    room = paper.width - 2.0 * MARGIN
    down = paper.height - MARGIN - 14.0
    canvas.setFont(BOLD_FACE, 14.0)
    canvas.drawString(MARGIN, down, title)
    canvas.setFont(PLAIN_FACE, 9.0)
    for said in (*notes, *reading_words(reading, units)):
        for line in _lines(said, room):
            down -= 12.0
            if down < MARGIN + 12.0:
                down = _next_page(canvas, paper.height, PLAIN_FACE)
            canvas.drawString(MARGIN, down, line)
    for picture in overlays:
        high = min(room * picture.shape[0] / picture.shape[1], paper.height - 2.0 * MARGIN - 20.0)
        if down - high - 10.0 < MARGIN:
            down = _next_page(canvas, paper.height, PLAIN_FACE)
        down -= high + 10.0
        kept = io.BytesIO()
        Image.fromarray(picture).save(kept, "JPEG", quality=88)
        wide = high * picture.shape[1] / picture.shape[0]
        canvas.drawImage(ImageReader(kept), MARGIN, down, wide, high)
    canvas.showPage()
    canvas.save()
    return written.getvalue()


def _next_page(canvas: Any, height: float, face: str) -> float:
    canvas.showPage()
    canvas.setFont(face, 9.0)
    return height - MARGIN


def _lines(said: str, room: float) -> list[str]:
    lines = [""]
    for word in said.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if text_width(longer, 9.0) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
