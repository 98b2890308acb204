"""The frame of a page for the browser, one file that asks nobody for anything, and the layouts in it as
pictures.
"""

from __future__ import annotations

import base64
import hashlib
import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from html import escape
from importlib.resources import files

import shapely

from sheetplan.drawings.layers import Role
from sheetplan.drawings.writing.scene import ON_SHEET, Curve, Label, LetterRooms, Scene, layout_scene
from sheetplan.drawings.writing.svg import CAPITAL
from sheetplan.model import Layout, Loop, Part, Placement, Remnant, Settings, Stroke
from sheetplan.pages.drawing.layout_drawing import Lie, lie_of
from sheetplan.pages.drawing.lettering import CAP_SHARE
from sheetplan.pages.drawing.marks import LOOSE, PartColours
from sheetplan.pages.drawing.numbering import LINE_SHARE, Spot, spot_for
from sheetplan.rack.squaring import SECOND_POINT_SHARE
from sheetplan.shapes import Box, as_circle, box, place, to_polygon
from sheetplan.shapes.arcs import Piece, at_most, pieces
from sheetplan.trade.sentences import number

# Layouts as pictures within a page: every different part once, then the places where it lies.
#
# Written to SVG 2 as HTML holds it. Lengths are mm to the hundredth, x along the sheet's length, y downwards
# from its upper edge.
#
# Terms
# shape
#     A part as it lies: at one turn, mirrored or not. It stands once in the page (``a7`` its metal, ``n7``
#     its name), and each piece refers to it.

RIM_SHARE = 0.03
"""Free room round a sheet over its longer side: the datum's angle stands in it."""

WIDE_SWEEP = 2.0 * math.pi / 3.0
"""Longer arcs are written in two, as their ends and radius alone do not say which is meant."""

STRAIGHT_MM = 0.005
"""An arc that rises less is written as a line: half of what a coordinate is written to."""

LETTER_SHARE = 1.5
"""Letters of room that a kit's letter and the gap behind it take beside a name."""


@dataclass(slots=True)
class Shapes:
    """The shapes of a plan so far, numbered as they come."""

    numbers: dict[Lie, int] = field(default_factory=dict)
    marks: list[str] = field(default_factory=list)
    """What stands once in the page."""
    facts: list[list[object]] = field(default_factory=list)
    """Of each shape its part, its box, and centre and diameter of its round holes."""


@dataclass(frozen=True, slots=True)
class SheetPicture:
    """A layout's picture without its frame."""

    view: tuple[float, float, float, float]
    inner: str
    corners: tuple[tuple[float, float], ...]
    """Of the sheet and its old cuts: what a measure may start from beside the parts."""


class SheetPictures:
    """Draws layouts one after another; parts that lie alike on several are drawn once.

    Parameters
    ----------
    parts : Mapping[str, Part]
        The parts of the job by name.
    settings : Settings
        Where sheets are measured from.
    colours : PartColours
        Letters of the parts' kits.
    fills : Mapping[str, int]
        Number of the fill of what a part is for.
    """

    def __init__(
        self, parts: Mapping[str, Part], settings: Settings, colours: PartColours, fills: Mapping[str, int]
    ) -> None:
        self._parts, self._settings, self._colours, self._fills = parts, settings, colours, fills
        self._rooms = LetterRooms()
        self.shapes = Shapes()

    def of(
        self, layout: Layout, crop: Sequence[Stroke], kept: Box | None = None, stays: str = ""
    ) -> SheetPicture:
        """The picture of a layout with the crop cuts and the rectangle that stays, and what is said of it."""
        scene = layout_scene(layout, self._parts, self._settings, crop, self._rooms)
        frame = _Frame(box(scene.sheet))
        metal = " ".join(frame.path(curve.chain) for curve in scene.curves if curve.role is Role.SHEET)
        old = [curve.chain for curve in scene.curves if curve.role is Role.OLD_CUT]
        marks = [f'<path class="metal" d="{metal}"/>']
        if old:
            marks.append(f'<path class="old" d="{" ".join(map(frame.path, old))}"/>')
        if kept is not None:
            marks.append(_kept(frame, kept, stays))
        marks.append('<g class="pieces">')
        marks.extend(self._pieces(scene, layout.placements, frame))
        marks.append("</g>")
        crops = [frame.path(curve.chain) for curve in scene.curves if curve.role is Role.CROP]
        if crops:
            marks.append(f'<path class="crop" d="{" ".join(crops)}"/>')
        marks.extend(_datum(scene, frame, is_remnant=isinstance(layout.sheet, Remnant)))
        chains = [scene.sheet, *old]
        corners = tuple(frame.at(x, y) for chain in chains for x, y, _ in chain.vertices)
        return SheetPicture(frame.view, "".join(marks), corners)

    def _pieces(self, scene: Scene, placements: Sequence[Placement], frame: _Frame) -> Iterator[str]:
        curves: dict[int, list[Curve]] = {}
        for curve in scene.curves:
            if curve.stand != ON_SHEET:
                curves.setdefault(curve.stand, []).append(curve)
        labels = {label.stand: label for label in scene.labels}
        for stand, placement in enumerate(placements):
            number = self.shapes.numbers.get(lie_of(placement))
            if number is None:
                number = self._drawn(placement, curves[stand], labels.get(stand))
            fill = self._fills[self._colours.of_part.get(placement.part, LOOSE)]
            x, y = frame.at(placement.x, placement.y)
            yield f'<use href="#a{number}" class="k{fill}" x="{_n(x)}" y="{_n(y)}"/>'

    def _drawn(self, placement: Placement, curves: Sequence[Curve], label: Label | None) -> int:
        """Number a shape and draw it round the origin of its placement."""
        number = self.shapes.numbers[lie_of(placement)] = len(self.shapes.numbers)
        own = _Frame(Box(placement.x, 0.0, 0.0, placement.y))
        cut = " ".join(own.path(c.chain) for c in curves if c.role in (Role.OUTLINE, Role.HOLE))
        scribed = " ".join(own.path(c.chain) for c in curves if c.role is Role.MARK)
        marks = f'<path d="{cut}" fill-rule="evenodd"/>'
        if scribed:
            marks += f'<path class="mark" d="{scribed}"/>'
        self.shapes.marks.append(f'<g id="a{number}">{marks}</g>')
        letter = self._colours.letter(placement.part)
        spot = self._spot(placement, letter)
        if spot is not None:
            self.shapes.marks.append(_spotted(number, spot))
        elif label is not None:
            self.shapes.marks.append(_name(number, label, letter, own))
        outer = next(c.chain for c in curves if c.role is Role.OUTLINE)
        assert isinstance(outer, Loop)
        around = box(outer)
        left, top = own.at(around.left, around.top)
        right, bottom = own.at(around.right, around.bottom)
        rounds = [c.chain for c in curves if c.role is Role.HOLE and isinstance(c.chain, Loop)]
        holes = [(*own.at(x, y), 2.0 * r) for x, y, r in filter(None, map(as_circle, rounds))]
        ends = [round(value, 2) for value in (left, top, right, bottom)]
        self.shapes.facts.append(
            [placement.part, *ends, [[round(one, 3) for one in hole] for hole in holes]]
        )
        return number

    def _spot(self, placement: Placement, letter: str) -> Spot | None:
        """The best place for a name that is to be read from a step away, as tickets have it."""
        lying = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
        metal = to_polygon(place(self._parts[placement.part].outline, lying), FLAT_MM)
        at_scale = shapely.transform(metal, lambda points: points * POINTS_PER_MM)
        return spot_for(plain(placement.part), at_scale, LARGEST, may_break=True, letter=letter)


POINTS_PER_MM = 0.4
"""The scale at which a place for a name is looked for: a sheet of 8 ft is then as wide as a large ticket."""

LARGEST = 20.0
"""Points at that scale: the largest type of a name."""

FLAT_MM = 1.0


class _Frame:
    """Turns points of a sheet into those of its picture, y downwards from the upper edge."""

    def __init__(self, sheet: Box) -> None:
        self.sheet = sheet
        rim = RIM_SHARE * max(sheet.length, sheet.width)
        self.rim = rim
        self.view = (-rim, -rim, sheet.length + 2 * rim, sheet.width + 2 * rim)

    def at(self, x: float, y: float) -> tuple[float, float]:
        return x - self.sheet.left, self.sheet.top - y

    def path(self, chain: Loop | Stroke) -> str:
        x, y, _ = chain.vertices[0]
        steps = [f"M{self._point(x, y)}"]
        for piece in pieces(chain):
            steps.extend(self._step(part) for part in at_most(piece, WIDE_SWEEP))
        return "".join(steps) + ("Z" if isinstance(chain, Loop) else "")

    def _step(self, piece: Piece) -> str:
        end = self._point(piece.x1, piece.y1)
        if abs(piece.bulge) * piece.chord / 2.0 < STRAIGHT_MM:
            return f"L{end}"
        radius = _n(piece.radius)
        return f"A{radius} {radius} 0 0 {0 if piece.bulge > 0.0 else 1} {end}"

    def _point(self, x: float, y: float) -> str:
        across, down = self.at(x, y)
        return f"{_n(across)} {_n(down)}"


def _kept(frame: _Frame, kept: Box, stays: str) -> str:
    """The rectangle that goes back to the rack, its words along its longer side."""
    (left, top), (right, bottom) = frame.at(kept.left, kept.top), frame.at(kept.right, kept.bottom)
    path = f'<path class="kept" d="M{_n(left)} {_n(top)}H{_n(right)}V{_n(bottom)}H{_n(left)}Z"/>'
    longer, shorter = max(kept.length, kept.width), min(kept.length, kept.width)
    size = min(shorter / 2.0, 1.3 * longer / max(1, len(stays)))
    x, y = _n((left + right) / 2.0), _n((top + bottom) / 2.0 + size / 3.0)
    middle = f"{x} {_n((top + bottom) / 2.0)}"
    turn = "" if kept.length >= kept.width else f' transform="rotate(-90 {middle})"'
    return f'{path}<text class="stays" x="{x}" y="{y}" font-size="{_n(size)}"{turn}>{escape(stays)}</text>'


def _spotted(number: int, spot: Spot) -> str:
    """A name in lines round its middle."""
    x, y, size = spot.x / POINTS_PER_MM, -spot.y / POINTS_PER_MM, spot.size / POINTS_PER_MM
    lines = []
    for place_of, line in enumerate(spot.lines):
        middle = y + (place_of - (len(spot.lines) - 1) / 2.0) * LINE_SHARE * size
        kit = spot.letter if place_of == 0 else ""
        letter = f'<tspan class="kit">{escape(kit)}</tspan> ' if kit else ""
        baseline = middle + CAP_SHARE * size / 2.0
        lines.append(f'<tspan x="{_n(x)}" y="{_n(baseline)}">{letter}{escape(line)}</tspan>')
    turn = f' transform="rotate(-90 {_n(x)} {_n(y)})"' if spot.upward else ""
    return f'<text id="n{number}" font-size="{_n(size)}"{turn}>{"".join(lines)}</text>'


def _name(number: int, label: Label, letter: str, frame: _Frame) -> str:
    """The name of a part on its metal, with its kit's letter, in type that the name alone would fill."""
    x, y = frame.at(label.x, label.y)
    letters = max(1, len(label.text))
    share = letters / (letters + len(letter) + LETTER_SHARE) if letter else 1.0
    size = label.height / CAPITAL * share
    turn = f' transform="rotate({-label.turn:g} {_n(x)} {_n(y)})"' if label.turn else ""
    said = (f'<tspan class="kit">{escape(letter)}</tspan> ' if letter else "") + escape(plain(label.text))
    drop = label.height * share / 2.0
    return f'<text id="n{number}" x="{_n(x)}" y="{_n(y + drop)}" font-size="{_n(size)}"{turn}>{said}</text>'


def _datum(scene: Scene, frame: _Frame, *, is_remnant: bool) -> Iterator[str]:
    """A heavy angle round the datum corner; on a remnant also where the second point is touched at least."""
    x, y = frame.at(*scene.origin)
    inward, down = (-1.0 if scene.datum.is_right else 1.0), (1.0 if scene.datum.is_upper else -1.0)
    leg, off = 2.5 * frame.rim, 0.35 * frame.rim
    corner_x, corner_y = x - inward * off, y - down * off
    legs = f"M{_n(corner_x + inward * leg)} {_n(corner_y)}H{_n(corner_x)}V{_n(corner_y + down * leg)}"
    yield f'<path class="datum" d="{legs}"/>'
    if is_remnant:
        far = x + inward * SECOND_POINT_SHARE * frame.sheet.length
        half = 0.3 * frame.rim
        tip = f"M{_n(far)} {_n(y)}L{_n(far - half)} {_n(y - down * 2 * half)}H{_n(far + half)}Z"
        yield f'<path class="second" d="{tip}"/>'


def plain(text: str) -> str:
    """A text without control characters and half pairs, which HTML cannot hold or nobody sees."""
    return "".join(c if c == "\n" or c.isprintable() or ord(c) in JOINERS else " " for c in text)


JOINERS = (0x200C, 0x200D, 0x200E, 0x200F)
"""Not seen themselves: they join letters and say which way a name runs."""


def _n(value: float) -> str:
    return number(value, 2)


# The frame of a page for the browser: one file that asks nobody for anything.
#
# Written to HTML as WHATWG keeps it and to Content Security Policy Level 3 (W3C). The policy allows the
# page's own style and script by their SHA-256 and nothing else: no request, no other script, whatever a name
# in the book holds.

def page_html(title: str, body: str, styles: Sequence[str], scripts: Sequence[str] = ()) -> str:
    """A whole page.

    Parameters
    ----------
    title : str
        Of the window; any text.
    body : str
        HTML in which every name is escaped already.
    styles, scripts : sequence of str
        Their text; each is put into one element with its digest in the policy.
    """
    style, script = "\n".join(styles), "\n".join(scripts)
    policy = "; ".join(
        (
            "default-src 'none'",
            f"style-src {_digest(style)}",
            f"script-src {_digest(script)}" if script else "script-src 'none'",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
    return "".join(
        (
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n',
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
            '<meta name="color-scheme" content="light dark">\n',
            '<meta name="referrer" content="no-referrer">\n',
            f"<title>{said(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n",
            body,
            f"<script>{script}</script>\n" if script else "",
            "</body>\n</html>\n",
        )
    )


@cache
def source(name: str) -> str:
    """The text of a style or script that lies beside this file."""
    text = (files("sheetplan.pages.floor") / name).read_text(encoding="utf-8")
    assert not re.search("</(?:style|script)", text, re.IGNORECASE), f"{name} would end its element"
    return text


@cache
def vendored(folder: str, named: str) -> str:
    """A library that lies in a folder beside this file, as a value of the page's script, with its licence."""
    licence = source(f"{folder}/LICENSE").strip()
    library = source(f"{folder}/index.js").strip()
    return f"/* {folder}\n{licence}\n*/\nconst {named} = ((exports) => {{{library}\nreturn exports;}})({{}});"


def said(text: str) -> str:
    """A text of the book as HTML, in an element or in an attribute."""
    return escape(plain(text), quote=True)


def name(text: str) -> str:
    """A name of the book, set apart so that one that runs from right to left leaves its line in order."""
    return f"<bdi>{said(text)}</bdi>"


def sentence(text: str) -> str:
    """A text as HTML for an element; a date or a name with a hyphen is not broken at the end of a line."""
    words = []
    for word in map(said, text.split(" ")):
        words.append(f'<span class="whole">{word}</span>' if "-" in word else word)
    return " ".join(words)


ESCAPED = "<>&\x7f\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""What in values stands as its number: signs of HTML, ends of lines, and what turns the way of a line."""


def data_element(identity: str, value: object) -> str:
    """Values for the page's script, in an element that a browser does not run."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in ESCAPED:
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    text = text.encode("utf-8", "backslashreplace").decode("utf-8")  # half pairs as JSON writes them
    return f'<script type="application/json" id="{identity}">{text}</script>\n'


def _digest(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
