"""An SVG file as a sheaf of loose lines and arcs, in its own user units, y turned upwards."""

from __future__ import annotations

import io
import itertools
import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree

import numpy as np
import svgelements as svg

from sheetplan.drawings.reading.findings import Allowance, Finding, Refused, Says
from sheetplan.drawings.reading.sheaf import Array, Curve, Drawn, Point, Sheaf, fit_arcs, sound
from sheetplan.shapes.arcs import Piece
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import MM_PER_INCH

PIXELS_PER_INCH = 96.0
"""CSS pixels to the inch. Source: CSS Values and Units Level 3 (W3C), absolute lengths."""

PHYSICAL = re.compile(r"\s*([0-9.eE+-]+)\s*(mm|cm|in|pt|pc|q)\s*", re.IGNORECASE)
"""A width that is a real length."""

MM = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH, "pt": MM_PER_INCH / 72, "pc": MM_PER_INCH / 6, "q": 0.25}
"""Source: as above. Our own, because the library's millimetre is rounded to 0.0393701 in."""

HIDDEN = "thing that is hidden"

LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
"""Attribute that drawing programs write a layer's name into."""


def read_svg(
    data: bytes, curve_mm: float, stated_mm: float | None, fallback_mm: float, allowance: Allowance
) -> Sheaf:
    """Everything to cut or mark in an SVG file; parameters as in `read_dxf`.

    The unit is what one user unit of the outermost view box measures.
    """
    structure = clean(data, allowance)
    allowance.check_time()
    root = _parsed(structure.data)
    per_unit = _pixels_per_unit(root)
    real_mm = _real_unit(root)
    unit_mm = real_mm or MM_PER_INCH / PIXELS_PER_INCH * per_unit
    tolerance = curve_mm / (stated_mm or unit_mm)
    reader = _Reader(per_unit, tolerance, allowance)
    reader.walk(root, "", 0)
    findings = [Finding(Says.WRONG, f"{what} ({counted(n, 'time')})") for what, n in reader.odd.items()]
    if structure.missing:
        what = f"{counted(structure.missing, 'use')} of something that is not in the file"
        findings.append(Finding(Says.WRONG, what))
    findings += structure.findings()
    if not real_mm:
        findings.append(Finding(Says.ASKED, "its size is given in pixels only; 96 to the inch are assumed"))
    source = "by its width and height" if real_mm else "at 96 pixels to the inch"
    said = f"units of {unit_mm:.6g} mm, {source}"
    passed_over = reader.passed_over + Counter({HIDDEN: structure.hidden})
    return Sheaf("SVG", tuple(reader.pieces), unit_mm, said, passed_over, tuple(findings), y_down=True)


def _parsed(data: bytes) -> Any:
    try:
        root = svg.SVG.parse(io.BytesIO(data), reify=False, ppi=PIXELS_PER_INCH)
    except Exception as reason:  # the library raises anything at all on damaged files
        raise Refused(f"it cannot be read as an SVG ({type(reason).__name__}: {reason})") from None
    if not isinstance(root, svg.SVG):
        raise Refused("there is nothing drawn in it")
    return root


def _pixels_per_unit(root: Any) -> float:
    """Pixels to one user unit of the outermost view box."""
    try:
        matrix = svg.Matrix(root.viewbox_transform)
        scale = math.sqrt(abs(matrix.a * matrix.d - matrix.b * matrix.c))
    except (ValueError, TypeError, ZeroDivisionError):
        scale = 0.0
    if not (math.isfinite(scale) and scale > 0.0):
        raise Refused("its width, height or view box makes no sense")
    return scale


def _real_unit(root: Any) -> float | None:
    """Millimetres in a user unit where the file gives its real size, None where it does not."""
    if root.viewbox is None:
        return None
    scales = []
    for name, extent in (("width", root.viewbox.width), ("height", root.viewbox.height)):
        length = PHYSICAL.fullmatch(str(root.values.get(name, "")))
        if length and extent and extent > 0.0:
            scales.append(_number(length[1]) * MM[length[2].lower()] / extent)
    # The whole view box is shown, so the tighter of both sides rules.
    return min(scales) if scales and min(scales) > 0.0 else None


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise Refused("its width, height or view box makes no sense") from None


class _Reader:
    """Walks through the drawing and gathers pieces, counts and findings."""

    def __init__(self, per_unit: float, tolerance: float, allowance: Allowance) -> None:
        self.per_unit, self.tolerance, self.allowance = per_unit, tolerance, allowance
        self.pieces: list[Drawn] = []
        self.passed_over: Counter[str] = Counter()
        self.odd: Counter[str] = Counter()

    def walk(self, elements: Iterable[Any], layer: str, depth: int) -> None:
        for element in elements:
            self.allowance.check_pieces(len(self.pieces))
            if isinstance(element, svg.Group | svg.Use):
                self.walk(element, _name(element) or layer, depth + 1)
            elif isinstance(element, svg.Text):
                self.passed_over["text"] += 1
            elif isinstance(element, svg.Image):
                self.passed_over["picture"] += 1
            elif isinstance(element, svg.Shape):
                self.take(element, layer)

    def take(self, shape: Any, layer: str) -> None:
        if _invisible(shape):
            self.passed_over[HIDDEN] += 1
            return
        try:
            path = svg.Path(shape)
            path.reify()
            found = [self.scaled(piece) for piece in self.outline(path)]
        except (ValueError, TypeError, ArithmeticError, AttributeError, IndexError) as reason:
            self.odd[f"a {type(shape).__name__.lower()} cannot be used: {reason}"] += 1
            return
        if not all(map(sound, found)):
            self.odd[f"a {type(shape).__name__.lower()} has coordinates that are no numbers"] += 1
            return
        drawn_as = layer or _colour(shape)
        self.pieces.extend(Drawn(piece, drawn_as, _style(shape)) for piece in found)

    def outline(self, path: Any) -> Iterator[Piece]:
        for count, piece in enumerate(path_pieces(path, self.tolerance * self.per_unit)):
            if count % 256 == 0:
                self.allowance.check_pieces(len(self.pieces) + count)
            yield piece

    def scaled(self, piece: Piece) -> Piece:
        """From pixels, y down, to user units, y up; so arcs turn the other way."""
        s = self.per_unit
        return Piece(piece.x0 / s, -piece.y0 / s, piece.x1 / s, -piece.y1 / s, 0.0 - piece.bulge)


def _name(group: Any) -> str:
    """A group's name: its label where a drawing program gave one, else its id."""
    own = group.values.get("attributes", {})
    return str(own.get(LABEL) or own.get("id") or "")


def _colour(shape: Any) -> str:
    """Shapes in no group are told apart by their colour."""
    for paint in (shape.stroke, shape.fill):
        if paint is not None and paint.value is not None:
            return str(paint.hexrgb)
    return ""


def _style(shape: Any) -> str:
    dashes = str(shape.values.get("stroke-dasharray", "none")).strip().lower()
    return "" if dashes in ("none", "", "0", "null") else "DASHED"


def _invisible(shape: Any) -> bool:
    values = shape.values
    if str(values.get("visibility", "")).lower() in ("hidden", "collapse"):
        return True
    painted = [paint is not None and paint.value is not None for paint in (shape.fill, shape.stroke)]
    return not any(painted)


# Segments of paths as lines and arcs.

ROUND_SHARE = 1e-7
"""Axes of an arc that differ by less than this share, as decimals in text do, are a circle's."""


CLOSING_SHARE = 1e-6
"""Lines shorter than this share of the tolerance are the rounding of sums."""

FLAT_REACH = 1e-7
"""Half the chord over the radius below which an arc is the short way round, whatever the angles say."""


def path_pieces(path: Iterable[Any], tolerance: float) -> Iterator[Piece]:
    """The pieces of a path's segments; moves give nothing. ``tolerance`` in the path's units.

    Bezier segments in a row are fitted as one curve.
    """
    row: list[list[Point]] = []
    for segment in path:
        controls = _controls(segment)
        if row and (controls is None or controls[0] != row[-1][-1] or len(row) >= MOST_IN_A_ROW):
            yield from fit_arcs(_beziers(row), range(len(row) + 1), tolerance)
            row = []
        if controls is None:
            yield from _plain(segment, tolerance)
        else:
            row.append(controls)
    if row:
        yield from fit_arcs(_beziers(row), range(len(row) + 1), tolerance)


MOST_IN_A_ROW = 2000
"""Bezier segments that are fitted together: a longer row is fitted in several, to bound the memory."""


def _controls(segment: Any) -> list[Point] | None:
    """The four control points of a Bezier segment, None for any other; one of three is raised to four."""
    if segment.start is None or segment.end is None:
        return None
    start, end = (segment.start.x, segment.start.y), (segment.end.x, segment.end.y)
    if isinstance(segment, svg.CubicBezier):
        return [start, *((p.x, p.y) for p in (segment.control1, segment.control2)), end]
    if isinstance(segment, svg.QuadraticBezier):
        cx, cy = segment.control.x, segment.control.y
        inner = [(x + 2.0 / 3.0 * (cx - x), y + 2.0 / 3.0 * (cy - y)) for x, y in (start, end)]
        return [start, *inner, end]
    return None


def _plain(segment: Any, tolerance: float) -> Iterator[Piece]:
    """The pieces of a line or an arc."""
    if isinstance(segment, svg.Move) or segment.start is None or segment.end is None:
        return
    start, end = (segment.start.x, segment.start.y), (segment.end.x, segment.end.y)
    if isinstance(segment, svg.Arc):
        yield from _arc(segment, start, end, tolerance)
    elif math.dist(start, end) > tolerance * CLOSING_SHARE:
        # A path that is closed where it is closed already ends in a line without length.
        yield Piece(*start, *end, 0.0)


def _arc(segment: Any, start: Point, end: Point, tolerance: float) -> Iterator[Piece]:
    cx, cy = segment.center.x, segment.center.y
    ax, ay = segment.prx.x - cx, segment.prx.y - cy
    bx, by = segment.pry.x - cx, segment.pry.y - cy
    first, second = math.hypot(ax, ay), math.hypot(bx, by)
    sweep = float(segment.sweep)
    if first == 0.0 or second == 0.0 or sweep == 0.0:
        if start != end:
            yield Piece(*start, *end, 0.0)
        return
    t0 = _parameter(start, (cx, cy), (ax, ay), (bx, by))
    count = max(1, math.ceil(abs(sweep) / (math.pi / 2.0) - 1e-9))
    stops = [t0 + sweep * i / count for i in range(count + 1)]

    middle, ahead, aside = np.array((cx, cy)), np.array((ax, ay)), np.array((bx, by))

    def curve(t: Array) -> tuple[Array, Array]:
        cos, sin = np.cos(t)[:, None], np.sin(t)[:, None]
        return middle + cos * ahead + sin * aside, cos * aside - sin * ahead

    if abs(first - second) <= ROUND_SHARE * first and abs(ax * bx + ay * by) <= ROUND_SHARE * first * second:
        def between(count: int) -> list[Point]:
            inner, _ = curve(np.array([t0 + sweep * i / count for i in range(1, count)]))
            return [(x, y) for x, y in inner.tolist()]

        yield from _round(segment, start, end, math.copysign(1.0, ax * by - ay * bx), first, between)
        return
    rising = stops if sweep > 0.0 else [-t for t in stops]
    yield from fit_arcs(curve if sweep > 0.0 else _backwards(curve), rising, tolerance)


def _round(
    segment: Any, start: Point, end: Point, turning: float, radius: float,
    between: Callable[[int], list[Point]],
) -> Iterator[Piece]:  # fmt: skip
    """An arc of a circle, half a turn at most to the piece.

    ``between`` gives the points that part it into so many pieces.
    """
    sweep, reach = float(segment.sweep), math.dist(start, end) / (2.0 * radius)
    if reach > 0.0 and (reach < FLAT_REACH or abs(sweep) <= math.pi / 2.0):
        # From the chord, the radius and the centre's side: the library's angles of flat arcs have
        # few digits or none.
        cx, cy = segment.center.x - start[0], segment.center.y - start[1]
        left = (end[0] - start[0]) * cy - (end[1] - start[1]) * cx
        bulge = reach / (1.0 + math.sqrt(1.0 - reach * reach))
        yield Piece(*start, *end, math.copysign(bulge, left))
    else:
        count = max(1, math.ceil(abs(sweep) / math.pi - 1e-9))
        ends = [start, *between(count), end]
        for p, q in itertools.pairwise(ends):
            if p != q:
                yield Piece(*p, *q, turning * math.tan(sweep / count / 4.0))


def _parameter(point: Point, centre: Point, a: Point, b: Point) -> float:
    """The parameter t of ``centre + cos t a + sin t b`` at a point on it."""
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    turn = a[0] * b[1] - a[1] * b[0]
    return math.atan2((a[0] * dy - a[1] * dx) / turn, (dx * b[1] - dy * b[0]) / turn)


def _backwards(curve: Curve) -> Curve:
    def reverse(t: Array) -> tuple[Array, Array]:
        points, tangents = curve(-t)
        return points, -tangents

    return reverse


def _beziers(row: Sequence[Sequence[Point]]) -> Curve:
    """Cubic Bezier segments one after another, each one parameter long."""
    controls = np.asarray(row, np.float64)
    hodographs = 3.0 * np.diff(controls, axis=1)

    def curve(t: Array) -> tuple[Array, Array]:
        which = np.clip(np.floor(t).astype(np.int64), 0, len(controls) - 1)
        share = (t - which)[:, None]
        back = 1.0 - share
        p, d = controls[which], hodographs[which]
        first, last = back * p[:, 0] + share * p[:, 1], back * p[:, 2] + share * p[:, 3]
        inner = 2.0 * back * share * (back * p[:, 1] + share * p[:, 2])
        slopes = back**2 * d[:, 0] + 2.0 * back * share * d[:, 1] + share**2 * d[:, 2]
        return back**2 * first + inner + share**2 * last, slopes

    return curve


# A file made safe to hand to the library: no bombs, nothing that is not drawn. A use is a reference that
# draws another element once more; uses of uses multiply.

NAMESPACE = "{http://www.w3.org/2000/svg}"
HREFS = ("href", "{http://www.w3.org/1999/xlink}href")

NOT_DRAWN = frozenset({
    "marker", "mask", "metadata", "foreignObject", "script", "font", "font-face", "glyph", "filter",
    "linearGradient", "radialGradient", "cursor", "view", "animate", "animateTransform", "set",
    "animateMotion", "pattern",
})  # fmt: skip
"""Elements that draw nothing by themselves, and whose children must not be drawn either."""

GROUPS = frozenset({"a", "switch"})
"""Elements that are groups for our purpose."""

DEPTH_FACTOR = 8
"""Groups lie deeper than blocks do in sound files: so many times the limit on blocks is allowed."""


@dataclass(frozen=True, slots=True)
class Structure:
    """The file cleaned, as bytes, with counts of what was left out and of links that lead nowhere.

    ``hidden`` counts what a style hides, ``clipped`` what is shown in part only; ``unclear`` are selectors of
    its style sheet that hide something and are not understood here.
    """

    data: bytes
    left_out: Counter[str]
    missing: int
    hidden: int
    clipped: int
    unclear: tuple[str, ...]

    def findings(self) -> Iterator[Finding]:
        """What is to be said about shapes that are not shown as they are drawn."""
        if self.clipped:
            what = f"{counted(self.clipped, 'thing')} shown only in part, behind a clip path or a mask"
            yield Finding(Says.ASKED, f"{what}; they are read whole: is that the part?")
        for selector in self.unclear:
            what = f"its style sheet hides what it calls `{selector}`, which is not understood here"
            yield Finding(Says.WRONG, f"{what}; delete what is hidden and save it as plain SVG")


def clean(data: bytes, allowance: Allowance) -> Structure:
    """Check an SVG's structure and take out what is not drawn.

    Raises
    ------
    Refused
        If it is no XML, declares entities, goes too deep, or multiplies beyond the limits.
    """
    if b"<!ENTITY" in data:
        raise Refused("it declares entities of its own, which drawings have no need of; save it as plain SVG")
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError) as reason:
        raise Refused(f"it is not sound XML ({reason}); save it again from its program") from None
    if local(root) != "svg":
        raise Refused(f"its first element is {local(root)}, not svg")
    deepest = allowance.limits.depth * DEPTH_FACTOR
    left_out: Counter[str] = Counter()
    sheet, unclear = _style_sheet(root)
    clipped = sum(_styled(element, sheet, CLIPS) not in ("", "none") for element in root.iter())
    hidden = _take_out_hidden(root, sheet)
    _prune(root, deepest, left_out)
    missing = _check_uses(root, allowance, deepest)
    return Structure(ElementTree.tostring(root), left_out, missing, hidden, clipped, unclear)


CLIPS = ("clip-path", "mask")
SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "use"})
COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
RULE = re.compile(r"([^{}]+)\{([^{}]*)\}")
SELECTOR = re.compile(r"(\*|[A-Za-z][\w-]*)?((?:[.#][\w-]+)*)")
"""A kind of element, and names of its class or its own: what is understood of style sheets here."""

Sheet = list[tuple[str, frozenset[str], dict[str, str]]]
"""Kind, names with their sign, and declarations of each rule. Source: CSS 2.1 (W3C), selectors."""


def _style_sheet(root: ElementTree.Element) -> tuple[Sheet, tuple[str, ...]]:
    """Rules of all style elements, and selectors that hide or clip something and are not understood."""
    sheet: Sheet = []
    unclear: dict[str, None] = {}
    for style in root.iter():
        text = COMMENT.sub(" ", "".join(style.itertext())) if local(style) == "style" else ""
        for selectors, body in RULE.findall(text):
            said = _declared(body)
            hides = {"none", "hidden"} & {said.get("display"), said.get("visibility")}
            if not hides and not {*CLIPS} & {*said}:
                continue
            for selector in (one.strip() for one in selectors.split(",")):
                simple = SELECTOR.fullmatch(selector)
                if selector and simple and "@media" not in text:
                    names = frozenset(re.findall(r"[.#][\w-]+", simple[2]))
                    sheet.append(((simple[1] or "*").lower(), names, said))
                else:
                    unclear[" ".join(selector.split())] = None
    return sheet, tuple(unclear)


def _declared(body: str) -> dict[str, str]:
    pairs = (line.partition(":") for line in body.split(";"))
    return {name.strip().lower(): value.split("!")[0].strip().lower() for name, _, value in pairs if value}


def _styled(element: ElementTree.Element, sheet: Sheet, properties: Sequence[str]) -> str:
    """What an element's style, its sheet or its own attributes give for the first of some properties."""
    names = {f".{name}" for name in element.get("class", "").split()} | {f"#{element.get('id', '')}"}
    kind = local(element).lower()
    matching = [said for of, wanted, said in sheet if of in ("*", kind) and wanted <= names]
    for said in (_declared(element.get("style", "")), *reversed(matching), dict(element.items())):
        for one in properties:
            if one in said:
                return said[one].strip().lower()
    return ""


def _take_out_hidden(root: ElementTree.Element, sheet: Sheet) -> int:
    """Take out what is not displayed, with all that is in it; how many shapes that were."""
    count, stack = 0, [root]
    while stack:
        element = stack.pop()
        for child in list(element):
            if local(child) not in NOT_DRAWN and _styled(child, sheet, ("display",)) == "none":
                count += sum(local(inner) in SHAPES for inner in child.iter())
                element.remove(child)
            else:
                seen = _styled(child, sheet, ("visibility",))
                if seen:  # the library does not understand every rule
                    child.set("visibility", seen)
                stack.append(child)
    return count


def local(element: ElementTree.Element) -> str:
    """An element's name without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _prune(root: ElementTree.Element, deepest: int, left_out: Counter[str]) -> None:
    stack = [(root, 0)]
    while stack:
        element, depth = stack.pop()
        if depth > deepest:
            raise Refused(f"its groups lie more than {deepest} deep in one another")
        for index, child in reversed(list(enumerate(element))):
            name = local(child)
            if name in NOT_DRAWN or not name:
                element.remove(child)
                left_out[name] += bool(name)
                continue
            if name == "symbol":
                child.tag = f"{NAMESPACE}g"
                element[index] = _set_aside(child)
            elif name in GROUPS:
                child.tag = f"{NAMESPACE}g"
            stack.append((child, depth + 1))


def _set_aside(symbol: ElementTree.Element) -> ElementTree.Element:
    """A symbol is drawn only where it is used."""
    aside = ElementTree.Element(f"{NAMESPACE}defs")
    aside.append(symbol)
    return aside


def _check_uses(root: ElementTree.Element, allowance: Allowance, deepest: int) -> int:
    """Count what all uses come to without drawing them; returns how many lead nowhere."""
    by_id = {element.get("id"): element for element in root.iter() if element.get("id")}
    known: dict[int, int] = {}
    missing = sum(_target(element, by_id) is None for element in root.iter() if local(element) == "use")

    def size(element: ElementTree.Element, above: frozenset[int], depth: int) -> int:
        if id(element) in known:
            return known[id(element)]
        if id(element) in above:
            raise Refused("an element in it uses itself")
        if depth > 2 * deepest:
            raise Refused(f"its uses lie more than {deepest} deep in one another")
        inside = above | {id(element)}
        total = 1 + sum(size(child, inside, depth + 1) for child in _inner(element, by_id))
        allowance.check_pieces(total)
        known[id(element)] = total
        return total

    size(root, frozenset(), 0)
    return missing


def _inner(
    element: ElementTree.Element, by_id: dict[str | None, ElementTree.Element]
) -> Iterator[ElementTree.Element]:
    yield from element
    if local(element) == "use":
        target = _target(element, by_id)
        if target is not None:
            yield target


def _target(
    use: ElementTree.Element, by_id: dict[str | None, ElementTree.Element]
) -> ElementTree.Element | None:
    link = next((use.get(name) for name in HREFS if use.get(name)), None) or ""
    return by_id.get(link[1:]) if link.startswith("#") else None
