"""Printed pages: paper sizes, type, drawings as vectors, and a document of sections that number their own
pages.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.rl_accel import fp_str
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.pdfdoc import PDFName, PDFStream, PDFZCompress
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    PageBreak,
    PageTemplate,
    Paragraph,
    Table,
    TableStyle,
)

from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.drawing.lettering import (
    CAP_SHARE,
    HAIR,
    NARROW,
    NO_BREAK,
    OFF,
    OFF_NUMBERS,
    Columns,
    Heads,
    Holds,
    columns_for,
    font_path,
    is_truetype,
    runs,
    shorten,
    text_width,
    together,
    wrapped,
)
from sheetplan.pages.drawing.marks import Area, Drawing, Hold, Line, Ring, Words
from sheetplan.trade.units import Units

# Drawings on a page of a PDF, as vectors, at any place.

PLAIN_FACE = "Sheet Plain"
BOLD_FACE = "Sheet Bold"
NARROW_FACE = "Sheet Narrow"
NARROW_BOLD_FACE = "Sheet Narrow Bold"
NARROW_FACES = (NARROW_FACE, NARROW_BOLD_FACE)
"""The same letters set narrower; only the canvas of `paper.build_pdf` knows how."""

EVEN_ODD = 0
"""reportlab's name for the even-odd rule (`reportlab.pdfgen.canvas.FILL_EVEN_ODD`)."""


def use_faces() -> None:
    """Make the typeface known to reportlab; doing so again is harmless."""
    known = pdfmetrics.getRegisteredFontNames()
    for face in (PLAIN_FACE, BOLD_FACE, *NARROW_FACES):
        bold = face in (BOLD_FACE, NARROW_BOLD_FACE)
        if face not in known:
            pdfmetrics.registerFont(_kind_of_font()(face, font_path(bold=bold), narrow=face in NARROW_FACES))


@cache
def _kind_of_font() -> Any:
    """A kind of font that takes letters which it lacks from others, and may be reckoned narrower."""
    class SheetFont(TTFont):  # type: ignore[misc]  # reportlab has no types
        def __init__(self, name: str, file: str, *, narrow: bool) -> None:
            super().__init__(name, file)
            self._share = NARROW if narrow else 1.0
            if narrow:  # under a name of its own in the file
                self.face.name += b"-Narrow"

        def stringWidth(self, text: Any, size: float, encoding: str = "utf8") -> Any:  # reportlab's name
            said = text.decode(encoding) if isinstance(text, bytes) else text
            width = super().stringWidth
            return self._share * sum(
                font.stringWidth(some, size) if font else width(some, size) for font, some in _by_font(said)
            )

        def splitString(self, text: Any, doc: Any, encoding: str = "utf-8") -> Any:  # reportlab's name
            said = text.decode(encoding) if isinstance(text, bytes) else text
            found: list[tuple[Any, Any]] = []
            for other, some in _by_font(said):
                if other is None:
                    found += super().splitString(some, doc)
                else:
                    found += [((other, subset), chunk) for subset, chunk in other.splitString(some, doc)]
            return found

        def getSubsetInternalName(self, subset: Any, doc: Any) -> Any:  # reportlab's name
            if isinstance(subset, tuple):
                other, own = subset
                return other.getSubsetInternalName(own, doc)
            return super().getSubsetInternalName(subset, doc)

    return SheetFont


def _by_font(said: str) -> Iterator[tuple[Any, str]]:
    """Runs of a text with the font that stands in for them; None for the typeface's own."""
    for path, run in runs(said):
        if not path:
            yield None, run
        elif is_truetype(path):
            yield _stand_in_font(path), run
        else:
            yield from ((_letter_font(path, letter), letter) for letter in run)


@cache
def _stand_in_font(path: str) -> Any:
    return TTFont(f"Sheet {Path(path).stem}", path)


ASTRAY = 0.001
"""Share of the type's size by which a curve of a letter may stray: some hundredths of a millimetre."""


@cache
def _letter_font(path: str, letter: str) -> Any:
    """A TrueType font of one letter of a face with other outlines, which reportlab cannot embed."""
    from fontTools.fontBuilder import FontBuilder
    from fontTools.pens.cu2quPen import Cu2QuPen
    from fontTools.pens.ttGlyphPen import TTGlyphPen
    from reportlab.pdfbase.ttfonts import TTFont

    face = _face_of(path)
    em, glyph = face["head"].unitsPerEm, face.getBestCmap()[ord(letter)]
    pen = TTGlyphPen(None)
    face.getGlyphSet()[glyph].draw(Cu2QuPen(pen, ASTRAY * em, reverse_direction=True))
    name = f"Sheet {Path(path).stem} {ord(letter):X}"
    built = FontBuilder(em, isTTF=True)
    built.font.recalcTimestamp = False  # the same document from the same plan
    built.setupGlyphOrder([".notdef", "letter"])
    built.setupCharacterMap({ord(letter): "letter"})
    built.setupGlyf({".notdef": TTGlyphPen(None).glyph(), "letter": pen.glyph()})
    built.setupHorizontalMetrics({".notdef": (em, 0), "letter": face["hmtx"][glyph]})
    built.setupHorizontalHeader(ascent=face["hhea"].ascent, descent=face["hhea"].descent)
    built.setupNameTable({"familyName": name, "styleName": "Regular", "psName": name.replace(" ", "-")})
    built.setupOS2()
    built.setupPost()
    held = io.BytesIO()
    built.save(held)
    held.seek(0)
    return TTFont(name, held)


@cache
def _face_of(path: str) -> Any:
    from fontTools.ttLib import TTFont

    return TTFont(path, fontNumber=0, lazy=True)


def paint(drawing: Drawing, canvas: Any, left: float, bottom: float) -> None:
    """Paint the drawing with its lower left corner at ``(left, bottom)`` points of the page."""
    canvas.saveState()
    canvas.translate(left, bottom)
    canvas.setLineJoin(0)
    for mark in drawing.marks:
        if isinstance(mark, Area):
            _area(mark, canvas)
        elif isinstance(mark, Line):
            _line(mark, canvas)
        else:
            words(mark, canvas)
    canvas.restoreState()


def words(mark: Words, canvas: Any) -> None:
    """One line of text."""
    canvas.saveState()
    canvas.translate(mark.x, mark.y)
    if mark.upward:
        canvas.rotate(90)
    canvas.setFillColor(_colour(mark.ink))
    canvas.setFont(BOLD_FACE if mark.bold else PLAIN_FACE, mark.size)
    back = {Hold.START: 0.0, Hold.MIDDLE: 0.5, Hold.END: 1.0}[mark.hold]
    canvas.drawString(
        -back * text_width(mark.text, mark.size, bold=mark.bold), -mark.size * CAP_SHARE / 2.0, mark.text
    )
    canvas.restoreState()


def _area(mark: Area, canvas: Any) -> None:
    path = canvas.beginPath()
    for ring in mark.rings:
        _trace(path, ring)
        path.close()
    _pen(canvas, mark.edge, mark.edge_width, mark.dashes)
    if mark.fill:
        canvas.setFillColor(_colour(mark.fill))
    canvas.drawPath(
        path, stroke=int(mark.edge is not None), fill=int(mark.fill is not None), fillMode=EVEN_ODD
    )


def _line(mark: Line, canvas: Any) -> None:
    path = canvas.beginPath()
    _trace(path, mark.points)
    _pen(canvas, mark.ink, mark.width)
    canvas.drawPath(path, stroke=1, fill=0)


def _trace(path: Any, points: Ring) -> None:
    path.moveTo(*points[0])
    # Curves are thousands of short lines: what reportlab asks of each number takes longer than all the rest.
    path._code += [f"{number_text(x)} {number_text(y)} l" for x, y in points[1:]]


def number_text(value: float) -> str:
    """A number as reportlab writes it (`reportlab.lib.rl_accel.fp_str`): seven digits at most, no idle zeros.

    >>> number_text(0.25), number_text(-12.5), number_text(612.0), number_text(1e-9)
    ('.25', '-12.5', '612', '0')
    """
    size = abs(value)
    if size <= NO_NUMBER:
        return "0"
    if size >= MOST_NUMBER:
        return str(fp_str(value))
    digits = "%.6f" if size < 10.0 else "%.5f" if size < 100.0 else "%.4f" if size < 1000.0 else "%.3f"
    said = (digits % value).rstrip("0").rstrip(".")
    return said[1:] if said[0] == "0" and len(said) > 1 else said


NO_NUMBER, MOST_NUMBER = 1e-7, 9999.0
"""Points below which reportlab writes 0, and beyond which its own function is asked; no page is as large."""


def _pen(canvas: Any, ink: str | None, width: float, dashes: tuple[float, ...] = ()) -> None:
    if ink is not None:
        canvas.setStrokeColor(_colour(ink))
        canvas.setLineWidth(width)
        canvas.setDash(list(dashes))


@cache
def _colour(hexadecimal: str) -> Any:
    """A colour made once: from text, reportlab would parse it anew for every mark."""
    return HexColor(hexadecimal)


# Printed pages: paper sizes, type, and a document of sections that number their own pages.
#
# Terms
# section
#     Pages that belong together and may be handed out alone, such as one ticket; each starts on a new
#     page, and its foot says its name and page ``1 of 2``.

@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, points."""

    name: str
    width: float
    height: float


# Sources: ANSI/ASME Y14.1, size A (8.5 x 11 in); ISO 216, size A4 (210 x 297 mm).
LETTER = Paper("Letter", 612.0, 792.0)
A4 = Paper("A4", 210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0)

MARGIN = 36.0
"""Half an inch: within what every office printer reaches."""

FOOT = 20.0
"""Points above the lower margin for the foot line."""

SMALL, BODY, LARGE, HUGE = 7.0, 8.5, 12.0, 26.0


TEXTS_KEPT = 4096
"""Paragraphs remembered as they were read: headings, units, and what a large run says on every ticket."""

TICK = "☐"
RULE = "#9AA5AB"
HEAD_FILL = "#E4E9EB"


def paper_for(units: Units) -> Paper:
    """The paper that goes with a book's units where none is asked for."""
    return LETTER if units is Units.INCH else A4


@cache
def style(
    size: float = BODY, *, bold: bool = False, right: bool = False, middle: bool = False,
    narrow: bool = False,
) -> Any:  # fmt: skip
    """Type for a paragraph; lines stand at 1.2 times the type's size."""
    faces = (NARROW_FACE, NARROW_BOLD_FACE) if narrow else (PLAIN_FACE, BOLD_FACE)
    return ParagraphStyle(
        f"{size}{bold}{right}{middle}{narrow}",
        fontName=faces[bold],
        fontSize=size,
        leading=1.2 * size,
        textColor=palette.INK,
        alignment=TA_RIGHT if right else TA_CENTER if middle else 0,
        splitLongWords=1,
        spaceShrinkage=0,
    )


def text(
    said: str, size: float = BODY, *, bold: bool = False, right: bool = False, middle: bool = False,
    narrow: bool = False,
) -> Any:  # fmt: skip
    """A paragraph of plain text; line ends are kept, nothing in it is markup, dates and sizes stay whole."""
    return copy(_read(said, style(size, bold=bold, right=right, middle=middle, narrow=narrow)))


@lru_cache(maxsize=TEXTS_KEPT)
def _read(said: str, type_of_it: Any) -> Any:
    """A paragraph that is never set itself: reading one takes longer than setting it, and most come again."""
    use_faces()
    lines = together(said).split("\n")
    shown = "<br/>".join(escape(line).replace("  ", NO_BREAK * 2) for line in lines)
    return _Words(shown, type_of_it)


class _Words(Paragraph):  # type: ignore[misc]  # reportlab has no types
    """A paragraph that breaks its lines once for a width; a table asks thrice."""

    _set_for: float | None = None

    def wrap(self, across: float, down: float) -> tuple[float, float]:
        """Its size when set between such margins."""
        # Looking for a place to part it may have dropped its lines; another width needs others.
        if self._set_for == across and hasattr(self, "blPara"):
            return self.width, self.height
        self._set_for = across
        width, height = super().wrap(across, down)
        return width, height


def list_table(
    heads: Heads, rows: Sequence[tuple[str, ...]], width: float, *, closing: bool = False,
    columns: Columns | None = None, band: tuple[Sequence[Any], Sequence[Any]] = ((), ()),
) -> Any:  # fmt: skip
    """A list whose head is repeated on every page.

    Parameters
    ----------
    heads : Heads
        Headings and what the columns hold.
    rows : sequence of tuple of str
        One text for each column.
    width : float
        Points.
    closing : bool
        Sets the last row bold, never alone.
    columns : Columns, optional
        How other lists like it are set; where not given, by what this one holds.
    band : tuple of two sequences, optional
        The cells of a row above the head, repeated with it, and what they add to the table's style.
    """
    columns = columns or columns_for(heads, rows, width, SMALL, closing=closing)
    over, looks = band
    rights = [holds is Holds.NUMBER for _, holds in heads]
    cells: list[Sequence[Any]] = [over] if over else []
    cells.append(_cells([head for head, _ in heads], columns.head_size, rights, columns, bold=True))
    for number, row in enumerate(rows, start=1):
        bold = closing and number == len(rows)
        cells.append(_cells(row, columns.size, rights, columns, bold=bold))
    head = len(cells) - len(rows) - 1
    table = Table(cells, columns.widths, repeatRows=head + 1)
    table.setStyle(TableStyle([
        ("VALIGN", (0, head), (-1, -1), "TOP"),
        ("BACKGROUND", (0, head), (-1, head), HEAD_FILL),
        ("LINEBELOW", (0, head), (-1, -1), 0.4, RULE),
        *([("NOSPLIT", (0, -2), (-1, -1))] if closing else []),
        *tight(OFF, 2),
        *(
            ("LEFTPADDING", (place, head), (place, -1), OFF_NUMBERS)
            for place, right in enumerate(rights) if place and rights[place - 1] and not right
        ),
        *looks,
    ]))  # fmt: skip
    return table


def heading(said: str, room: float, size: float) -> Any:
    """A bold line, narrow where it is too wide for the room, over lines where it is too wide even so."""
    def width(line: str) -> float:
        return text_width(line, size, bold=True, narrow=True)

    if text_width(said, size, bold=True) < room:
        return text(said, size, bold=True)
    return text("\n".join(wrapped(said, room - HAIR, width)), size, bold=True, narrow=True)


def _cells(
    said: Sequence[str], size: float, rights: Sequence[bool], columns: Columns, *, bold: bool
) -> list[Any]:
    """A row of a list, its lines broken for the columns."""
    def width(line: str) -> float:
        return text_width(line, size, bold=bold, narrow=True)

    return [
        text("\n".join(wrapped(one, room - HAIR / 2, width)), size, bold=bold, right=right, narrow=True)
        for one, right, room in zip(said, rights, columns.rooms, strict=True)
    ]


def tight(across: float, down: float) -> list[Any]:
    """Padding of all cells of a table."""
    every = ((0, 0), (-1, -1))
    return [
        ("LEFTPADDING", *every, across), ("RIGHTPADDING", *every, across),
        ("TOPPADDING", *every, down), ("BOTTOMPADDING", *every, down),
    ]  # fmt: skip


class DrawingBox(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A drawing that stands in the flow of a page, to the left or in the middle."""

    def __init__(self, drawing: Drawing, *, middle: bool = False) -> None:
        super().__init__()
        self.drawing = drawing
        self.width, self.height = drawing.width, drawing.height
        self.hAlign = "CENTER" if middle else "LEFT"

    def wrap(self, _across: float, _down: float) -> tuple[float, float]:
        """Its size, whatever room there is."""
        return self.width, self.height

    def draw(self) -> None:
        """Paint it where the flow has put it."""
        paint(self.drawing, self.canv, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Section:
    """Pages that belong together: their name for the foot, and what gives their content when it is set."""

    name: str
    content: Callable[[], list[Any]]


def _nobody(_number: int) -> None:
    """Hears that a section begins, and does nothing."""


def build_pdf(
    sections: Sequence[Section], paper: Paper, title: str, foot: str, begun: Callable[[int], None] = _nobody,
    *, said: Callable[[str], str] = str,
) -> bytes:  # fmt: skip
    """The sections as one PDF, each from a new page; the same content gives the same bytes.

    Parameters
    ----------
    sections : sequence of Section
        At least one.
    paper : Paper
        All pages are upright.
    title : str
        Title of the document, for the reader's window and for screen readers.
    foot : str
        Words in the middle of every foot.
    begun : callable, optional
        Hears the number of each section, from 0, when its first page is set.
    said : callable, optional
        Turns each text as it is printed; the result must be as wide. Lines are broken before.
    """
    use_faces()
    held = io.BytesIO()
    document = BaseDocTemplate(
        held, pagesize=(paper.width, paper.height), title=title, author="sheetplan", invariant=1, lang="en",
        leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN, bottomMargin=MARGIN,
    )  # fmt: skip
    at = _Place(begun)
    closed: list[tuple[int, int]] = []

    def close_page(_canvas: Any, _document: Any) -> None:
        at.page += 1
        closed.append((at.section, at.page))

    def draw_foot(canvas: Any, number: int) -> None:
        section, page = closed[number]
        of = max(other for its_section, other in closed if its_section == section)
        _foot(canvas, paper, sections[section].name, foot, f"page {page} of {of}")

    document.addPageTemplates(PageTemplate("page", [_frame_of(paper)], onPageEnd=close_page))
    story: list[Any] = []
    for number, section in enumerate(sections):
        if number:
            story.append(PageBreak())
        story.append(_Begin(at, number, section))
    document.build(story, canvasmaker=partial(_LateFeet, draw_foot, said))
    return held.getvalue()


def _frame_of(paper: Paper) -> Any:
    """What the margins and the foot leave of a page."""
    return Frame(
        MARGIN, MARGIN + FOOT, paper.width - 2 * MARGIN, paper.height - 2 * MARGIN - FOOT,
        leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
    )  # fmt: skip


class _LateFeet(Canvas):  # type: ignore[misc]  # reportlab has no types
    """Keeps the pages of a section open until all are set: how many it takes is known only then."""

    def __init__(
        self, draw_foot: Callable[[Any, int], None], said: Callable[[str], str], *given: Any, **named: Any
    ) -> None:
        super().__init__(*given, **named)
        self._draw_foot, self._said = draw_foot, said
        self._open: list[dict[str, Any]] = []

    def beginText(self, *given: Any, **named: Any) -> Any:  # reportlab's name
        """All text goes through here."""
        return _Said(self._said, self, *given, **named)

    def showPage(self) -> None:  # reportlab's name
        """Lay the page aside and begin the next."""
        self._open.append(dict(self.__dict__))
        self._startPage()

    def close_section(self) -> None:
        """Give the pages laid aside their feet and pack them: a large run's would fill the memory."""
        begun, pages = dict(self.__dict__), self._doc.Pages.pages
        for page in self._open:
            self.__dict__.update(page)
            self._draw_foot(self, len(pages))
            super().showPage()
            pages[-1].Contents, pages[-1].stream = _packed(pages[-1].stream), None
        self.__dict__.update(begun)
        self._open.clear()

    def save(self) -> None:
        """Close the last section and write all pages."""
        self.close_section()
        super().save()


def _packed(content: str) -> Any:
    """What a page shows, packed."""
    stream = PDFStream(content=PDFZCompress.encode(content))
    stream.dictionary["Filter"] = PDFName(PDFZCompress.pdfname)
    return stream


class _Said(PDFTextObject):  # type: ignore[misc]  # reportlab has no types
    """Text of a page, turned as it is written, and set narrow where its face asks for that."""

    def __init__(self, said: Callable[[str], str], *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._said = said

    def _formatText(self, text: Any) -> Any:  # reportlab's name
        said = self._said(text).replace(NO_BREAK, " ") if isinstance(text, str) else text
        shown = super()._formatText(said)
        # Source of the operator Tz: ISO 32000-1, 9.3.4, horizontal scaling, per cent.
        return f"{100 * NARROW:g} Tz {shown} 100 Tz" if self._fontname in NARROW_FACES else shown


class _Place:
    """Where the setting of a document has got to: a section, and how many of its pages are closed."""

    def __init__(self, begun: Callable[[int], None]) -> None:
        self.begun = begun
        self.section = 0
        self.page = 0


class _Begin(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Takes no room; closes the section before, tells that one starts here, and gives its content."""

    def __init__(self, at: _Place, number: int, section: Section) -> None:
        super().__init__()
        self.at, self.number, self.section = at, number, section
        self.width = self.height = 0.0

    def draw(self) -> None:
        """Start counting the section's pages."""
        self.canv.close_section()
        self.at.section, self.at.page = self.number, 0
        self.at.begun(self.number)
        self._doctemplateAttr("frame").add_generated_content(*self.section.content())


def _foot(canvas: Any, paper: Paper, left: str, middle: str, right: str) -> None:
    y = MARGIN
    third = (paper.width - 2 * MARGIN) / 3
    for said, x, hold in (
        (left, MARGIN, Hold.START),
        (middle, paper.width / 2, Hold.MIDDLE),
        (right, paper.width - MARGIN, Hold.END),
    ):
        words(Words(shorten(said, SMALL, third), x, y, SMALL, palette.QUIET_INK, hold), canvas)
