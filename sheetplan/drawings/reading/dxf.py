"""A DXF file as a sheaf of loose lines and arcs: read strictly where that works, else with repairs that
are told.
"""

from __future__ import annotations

import io
import itertools
import logging
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import ezdxf
import numpy as np
from ezdxf import recover
from ezdxf.audit import AuditError
from ezdxf.document import Drawing
from ezdxf.lldxf import const
from ezdxf.lldxf.encoding import decode_dxf_unicode
from ezdxf.lldxf.tagger import binary_tags_loader
from ezdxf.math import OCS, Vec3

from sheetplan.drawings.reading.choices import unit_of_dxf
from sheetplan.drawings.reading.findings import Allowance, Finding, Refused, Says
from sheetplan.drawings.reading.sheaf import Array, Curve, Drawn, Sheaf, fit_arcs, sound
from sheetplan.shapes.arcs import Piece
from sheetplan.shapes.loops import cos_sin
from sheetplan.trade.sentences import counted

if TYPE_CHECKING:
    from ezdxf.audit import Auditor


# A DXF file as a document: strictly where that works, else with repairs that are told.
#
# Terms
# strict reading
#     Takes a file only if its structure is as the format says.
# recovering
#     Rebuilds what it can of a damaged file and keeps a list of what it changed.

BINARY_HEAD = b"AutoCAD Binary DXF\r\n\x1a\x00"
"""First bytes of a binary DXF. Source: Autodesk DXF reference, Binary DXF files."""

BOOKKEEPING = frozenset({
    *range(1, 11), 14, 15, 17, 18, 100, 101, 102, *range(105, 115), *range(116, 120), *range(201, 208),
})  # fmt: skip
"""The library's codes (`ezdxf.audit.AuditError`) for repairs that change nothing that is drawn."""

LOST = frozenset(
    {AuditError.UNDEFINED_BLOCK, AuditError.UNDEFINED_BLOCK_NAME, AuditError.INVALID_BLOCK_REFERENCE_CYCLE}
)
"""Codes for what is missing in the file and was drawn in it once."""

DRAWN = re.compile(r"\b(LINE|ARC|CIRCLE|ELLIPSE|SPLINE|LWPOLYLINE|POLYLINE|INSERT)\(#")
"""What draws something, as the library's messages name it."""

KIND = re.compile(r"\b([A-Z_]+)\(#")

ERROR_NAME = re.compile(r"\b\w+Error: ?")
"""What the library writes before some of its reasons."""

TAIL = 100
"""Bytes at the end of a file in which its last word stands."""

TOLD_REPAIRS = 5
"""Different repairs that are named one by one; the rest are counted."""

NEVER_CUT = {
    "TEXT": "text", "MTEXT": "text", "ATTRIB": "text", "ATTDEF": "text", "ARCALIGNEDTEXT": "text",
    "DIMENSION": "dimension", "ARC_DIMENSION": "dimension", "LARGE_RADIAL_DIMENSION": "dimension",
    "LEADER": "leader", "MULTILEADER": "leader", "MLEADER": "leader", "TOLERANCE": "tolerance frame",
    "POINT": "point", "HATCH": "hatch", "MPOLYGON": "hatch", "SOLID": "fill", "TRACE": "fill",
    "IMAGE": "picture", "OLE2FRAME": "picture", "WIPEOUT": "cover", "VIEWPORT": "viewport",
    "RAY": "endless line", "XLINE": "endless line", "TABLE": "table", "ACAD_TABLE": "table",
}  # fmt: skip
"""Entities that draw nothing to cut, and what they are called in the report."""

# What the library logs is told in the report instead; without this it would print to the console.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())


def load_dxf(data: bytes) -> tuple[Drawing, list[Finding]]:
    """The document in a DXF file and what had to be repaired.

    Raises
    ------
    Refused
        If nothing can be made of it.
    """
    try:
        document = _strict(data)
        _part_handles(document)
        return document, _audited(document.audit(), recovered=False)
    except Exception as strict_reason:  # the library raises anything at all on damaged files
        if data.startswith(BINARY_HEAD):
            raise Refused(f"this binary DXF is damaged ({_short(strict_reason)}); save it again") from None
        return _recovered(data)


def release(document: Drawing) -> str:
    """The DXF version in words."""
    version = document.loaded_dxfversion or document.dxfversion
    return f"DXF {const.acad_release.get(version, version)}"


def _strict(data: bytes) -> Drawing:
    if data.startswith(BINARY_HEAD):
        return Drawing.load(binary_tags_loader(data, errors="surrogateescape"))
    head = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8", errors="ignore")
    encoding = ezdxf.filemanagement.dxf_stream_info(head).encoding
    return ezdxf.read(io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="surrogateescape"))


def _part_handles(document: Drawing) -> None:
    """Give each entity a handle that no other has: the audit takes those out that share one, drawn or not."""
    known = document.entitydb
    for block in document.blocks:  # the spaces that are drawn in are blocks too
        for entity in block:
            if known.get(entity.dxf.handle) is not entity:
                entity.update_handle(known.next_handle())
                known.add(entity)


def _recovered(data: bytes) -> tuple[Drawing, list[Finding]]:
    if data[-TAIL:].split()[-1:] != [b"EOF"]:
        # What is missing may be a hole, and nobody would see it.
        raise Refused("the file ends too early; save or copy it again")
    try:
        document, auditor = recover.read(io.BytesIO(data))
    except Exception as reason:
        what = f"it cannot be read as a DXF ({_short(reason)}); save it again from its program"
        raise Refused(what) from None
    damaged = Finding(Says.REPAIRED, "the file is damaged and was read as far as it could be recovered")
    return document, [damaged, *_audited(auditor, recovered=True)]


def _audited(auditor: Auditor, *, recovered: bool) -> list[Finding]:
    """Repairs by message, the most frequent first; what could not be repaired counts as damage."""
    findings = []
    fixes = [fix for fix in auditor.fixes if recovered or fix.code not in BOOKKEEPING]
    for says, entries in (
        (Says.WRONG, [*filter(_may_be_cut, auditor.errors), *filter(_lost, fixes)]),
        (Says.REPAIRED, [fix for fix in fixes if not _lost(fix)]),
    ):
        messages = Counter(_short(entry.message) for entry in entries)
        for message, times in messages.most_common(TOLD_REPAIRS):
            findings.append(Finding(says, f"{message} ({counted(times, 'time')})" if times > 1 else message))
        if len(messages) > TOLD_REPAIRS:
            findings.append(Finding(says, f"and {len(messages) - TOLD_REPAIRS} more of this kind"))
    return findings


def _may_be_cut(entry: Any) -> bool:
    """Whether an error is about something that matters to the outline."""
    kind = KIND.search(entry.message)
    named = entry.entity.dxftype() if entry.entity is not None else kind[1] if kind else ""
    return named not in NEVER_CUT


def _lost(fix: Any) -> bool:
    """Whether a repair is about something that was drawn once and is not there any more."""
    taken_out = fix.code == AuditError.REMOVED_INVALID_DXF_OBJECT and DRAWN.search(fix.message)
    return _may_be_cut(fix) and (fix.code in LOST or bool(taken_out))


def _short(reason: object) -> str:
    text = " ".join(ERROR_NAME.sub("", str(reason)).split()) or "nothing more is known"
    return text if len(text) <= 120 else text[:117] + "..."


# A DXF file as a sheaf of loose lines and arcs.

def read_dxf(
    data: bytes, curve_mm: float, stated_mm: float | None, fallback_mm: float, allowance: Allowance
) -> Sheaf:
    """Everything to cut or mark in a DXF file.

    Parameters
    ----------
    data : bytes
        The file.
    curve_mm : float
        How far splines and ellipses may stray from the arcs that replace them, mm.
    stated_mm : float, optional
        The unit in mm where the planner states it, whatever the file says.
    fallback_mm : float
        The unit in mm for a file that states none.
    allowance : Allowance
        Time and size left.
    """
    document, findings = load_dxf(data)
    allowance.check_time()
    # The library fills in a unit where the file has none, so only what the file holds is asked for.
    insunits, measurement = (
        document.header.get(name) if name.encode() in data else None for name in ("$INSUNITS", "$MEASUREMENT")
    )
    unit_mm, said = unit_of_dxf(insunits, measurement)
    in_use = stated_mm or unit_mm or fallback_mm
    pieces, passed_over, odd = dxf_pieces(document, curve_mm / in_use, allowance)
    odd += zero_scaled(data)
    return Sheaf(release(document), tuple(pieces), unit_mm, said, passed_over, (*findings, *odd))


SCALES = (b"41", b"42")
"""Scale of a block along x and y. Source: DXF reference, INSERT, group codes 41 and 42."""

NOTHING = re.compile(rb"[-+]?0*\.?0*(?:[eE][-+]?[0-9]+)?")


def zero_scaled(data: bytes) -> list[Finding]:
    """A finding on blocks set at a scale of 0, which the library reads as 1; only text files say so."""
    if b"INSERT" not in data or data.startswith(BINARY_HEAD):
        return []
    lines = data.split(b"\n")
    inserts, within = [False], False
    for code, value in zip(map(bytes.strip, lines[::2]), map(bytes.strip, lines[1::2]), strict=False):
        if code == b"0":
            within = value == b"INSERT"
            inserts.append(False)
        elif within and code in SCALES and value and NOTHING.fullmatch(value):
            inserts[-1] = True
    count = sum(inserts)
    what = f"a block is set at a scale of 0 ({counted(count, 'time')}); set it at its true scale or delete it"
    return [Finding(Says.WRONG, what)] if count else []


# Ellipses and splines of a DXF as arcs and lines within the tolerance.

ROUND_SHARE = 1e-9
"""An ellipse whose axes differ by less than this share is a circle."""

MOST_KNOTS = 5000
"""Different knots of one spline; more belong to a damaged file or a scan."""


def ellipse_pieces(entity: Any, tolerance: float) -> Iterator[Piece]:
    """The arcs of an ELLIPSE; one that is round is kept exactly."""
    shape = entity.construction_tool()
    centre, major, minor = shape.center, shape.major_axis, shape.minor_axis
    if max(abs(major.z), abs(minor.z)) > 1e-6 * major.magnitude:
        raise ValueError("it does not lie flat")
    start = shape.start_param
    sweep = (shape.end_param - start) % (2.0 * math.pi) or 2.0 * math.pi
    count = max(2, math.ceil(sweep / (math.pi / 2.0) - 1e-9))
    stops = [start + sweep * i / count for i in range(count + 1)]

    middle, ahead, aside = (np.array((v.x, v.y)) for v in (centre, major, minor))

    def curve(t: Array) -> tuple[Array, Array]:
        cos, sin = np.cos(t)[:, None], np.sin(t)[:, None]
        return middle + cos * ahead + sin * aside, cos * aside - sin * ahead

    if abs(shape.ratio - 1.0) <= ROUND_SHARE:
        turning = math.copysign(1.0, major.x * minor.y - major.y * minor.x)
        bulge = turning * math.tan(sweep / count / 4.0)
        ends = [(float(x), float(y)) for x, y in curve(np.array(stops))[0]]
        if sweep == 2.0 * math.pi:
            ends[-1] = ends[0]
        yield from (Piece(*p, *q, bulge) for p, q in itertools.pairwise(ends))
        return
    yield from _closed_up(fit_arcs(curve, stops, tolerance), closed=sweep == 2.0 * math.pi)


def spline_pieces(entity: Any, tolerance: float) -> Iterator[Piece]:
    """The arcs of a SPLINE, by control points or by fit points."""
    spline = entity.construction_tool()
    knots = [float(knot) for knot in spline.knots()]
    low, high = knots[spline.degree], knots[-spline.degree - 1]
    stops = [low, *(k for k in sorted({round(k, 12) for k in knots}) if low + 1e-9 < k < high - 1e-9), high]
    if len(stops) > MOST_KNOTS:
        raise ValueError(f"it has more than {MOST_KNOTS} knots")
    if not high > low:
        raise ValueError("its knots do not rise")
    controls = [(point.x, point.y) for point in spline.control_points]
    curve = bspline_curve(controls, knots, spline.degree, list(spline.weights()))
    yield from _closed_up(fit_arcs(curve, stops, tolerance), closed=bool(entity.closed))


def _closed_up(pieces: list[Piece], *, closed: bool) -> list[Piece]:
    """A closed curve's last piece ends exactly where the first begins, if it nearly does."""
    if not closed or not pieces:
        return pieces
    first, last = pieces[0], pieces[-1]
    if math.hypot(last.x1 - first.x0, last.y1 - first.y0) > 1e-6 * (1.0 + abs(first.x0) + abs(first.y0)):
        return pieces
    return [*pieces[:-1], Piece(last.x0, last.y0, first.x0, first.y0, last.bulge)]


# B-splines at many parameters at once, by de Boor's recurrence (C. de Boor, On calculating with
# B-splines, Journal of Approximation Theory 6, 1972), with weights in homogeneous coordinates.

def bspline_curve(
    controls: Sequence[tuple[float, float]], knots: Sequence[float], degree: int, weights: Sequence[float]
) -> Curve:
    """A plane B-spline as a curve with tangents; ``weights`` empty where all are one."""
    weight = np.asarray(weights, np.float64) if len(weights) else np.ones(len(controls))
    points = np.column_stack([np.asarray(controls, np.float64) * weight[:, None], weight])
    steps = np.asarray(knots, np.float64)
    spread = steps[degree + 1 : degree + len(points)] - steps[1 : len(points)]
    slopes = np.divide(
        degree * np.diff(points, axis=0), spread[:, None], out=np.zeros((len(points) - 1, 3)),
        where=spread[:, None] > 0.0,
    )  # fmt: skip

    def curve(t: Array) -> tuple[Array, Array]:
        at = np.clip(t, steps[degree], steps[len(points)])
        place = de_boor(points, steps, degree, at)
        slope = de_boor(slopes, steps[1:-1], degree - 1, at)
        where = place[:, :2] / place[:, 2:]
        return where, (slope[:, :2] - where * slope[:, 2:]) / place[:, 2:]

    return curve


def de_boor(points: Array, knots: Array, degree: int, at: Array) -> Array:
    """The spline at parameters: ``points`` (n, d), ``knots`` (n + degree + 1,), ``at`` (m,) gives (m, d)."""
    last = len(points) - 1
    span = np.clip(np.searchsorted(knots, at, side="right") - 1, degree, last)
    rows = [points[span - degree + j] for j in range(degree + 1)]
    for r in range(1, degree + 1):
        for j in range(degree, r - 1, -1):
            low, high = knots[span - degree + j], knots[span + 1 + j - r]
            width = high - low
            share = np.divide(at - low, width, out=np.zeros_like(at), where=width > 0.0)[:, None]
            rows[j] = rows[j - 1] + share * (rows[j] - rows[j - 1])
    found: Array = rows[degree]
    return found


# The lines and arcs of a DXF document, blocks unpacked, in the drawing's own units.

FLAT = 1e-6
"""How far from level (over one unit) an entity's plane may lean before it counts as drawn in space."""

LONGEST_SWEEP = 270.0
"""Arcs longer than this are halved, so that both halves have a bulge of an ordinary size."""


class _Reader:
    """Walks through entities and gathers pieces, counts and findings."""

    def __init__(self, document: Drawing, tolerance: float, allowance: Allowance) -> None:
        self.document, self.tolerance, self.allowance = document, tolerance, allowance
        self.pieces: list[Drawn] = []
        self.passed_over: Counter[str] = Counter()
        self.odd: Counter[str] = Counter()
        self.seen = 0

    def walk(self, entities: Iterable[Any], layer_above: str, style_above: str, depth: int) -> None:
        for entity in entities:
            self.seen += 1
            self.allowance.check_pieces(max(self.seen // 2, len(self.pieces)))
            layer = _attribute(entity, "layer", "0")
            layer = layer_above if layer == "0" and layer_above else layer
            style = self.style(entity, layer, style_above)
            if self.hidden(entity, layer):
                self.passed_over["thing that is hidden or on a layer switched off"] += 1
            elif entity.dxftype() == "INSERT":
                self.unpack(entity, layer, style, depth)
            else:
                self.take(entity, decode_dxf_unicode(layer), style)

    def style(self, entity: Any, layer: str, above: str) -> str:
        """The line style in upper case; empty for an unbroken line."""
        name = str(_attribute(entity, "linetype", "BYLAYER")).upper()
        if name == "BYBLOCK":
            return above
        if name == "BYLAYER":
            layers = self.document.layers
            name = str(layers.get(layer).dxf.get("linetype", "")).upper() if layers.has_entry(layer) else ""
        return "" if name in ("CONTINUOUS", "BYLAYER", "BYBLOCK") else name

    def hidden(self, entity: Any, layer: str) -> bool:
        layers = self.document.layers
        off = layers.has_entry(layer) and (layers.get(layer).is_off() or layers.get(layer).is_frozen())
        return bool(off or _attribute(entity, "invisible", 0))

    def unpack(self, insert: Any, layer: str, style: str, depth: int) -> None:
        if depth >= self.allowance.limits.depth:
            raise Refused(f"blocks lie more than {self.allowance.limits.depth} deep in one another")
        block, name = insert.block(), insert.dxf.get("name", "")
        if block is None:
            self.odd[f"the block {name} is missing"] += 1
            return
        if block.block is not None and (block.block.is_xref or block.block.is_xref_overlay):
            where = block.block.dxf.get("xref_path", "") or "another drawing"
            self.odd[f"the block {name} stands in {where} and not in this file; bind it and save again"] += 1
            return
        self.allowance.check_pieces(len(self.pieces) + int(insert.mcount))
        for single in insert.multi_insert() if insert.mcount > 1 else (insert,):
            self.walk(single.virtual_entities(), layer, style, depth + 1)

    def take(self, entity: Any, layer: str, style: str) -> None:
        kind = entity.dxftype()
        if kind in NEVER_CUT:
            self.passed_over[NEVER_CUT[kind]] += 1
            return
        convert = CONVERTERS.get(kind)
        if convert is None:
            self.odd[f"a {kind} cannot be read; explode it into lines and arcs"] += 1
            return
        try:
            found = list(convert(entity, self.tolerance))
        except (ValueError, TypeError, ArithmeticError, AttributeError, IndexError) as reason:
            self.odd[f"a {kind} cannot be used: {reason}"] += 1
            return
        if not all(map(sound, found)):
            self.odd[f"a {kind} has coordinates that are no numbers"] += 1
            return
        self.pieces.extend(Drawn(piece, layer, style) for piece in found)


def dxf_pieces(
    document: Drawing, tolerance: float, allowance: Allowance
) -> tuple[list[Drawn], Counter[str], list[Finding]]:
    """Lines and arcs of the model space, counts of what is never cut, and what is odd.

    ``tolerance`` (drawing units) is how far splines and ellipses may stray from their arcs.
    """
    reader = _Reader(document, tolerance, allowance)
    reader.walk(document.modelspace(), "", "", 0)
    findings = [
        Finding(Says.WRONG, f"{what} ({counted(times, 'time')})" if times > 1 else what)
        for what, times in reader.odd.items()
    ]
    return reader.pieces, reader.passed_over, findings


def _attribute(entity: Any, name: str, usual: Any) -> Any:
    """An attribute, or what stands for it; damaged entities may not even know its name."""
    return entity.dxf.get(name, usual) if entity.dxf.is_supported(name) else usual


def _level(entity: Any) -> OCS:
    """The entity's own frame; it must lie level, right side up or upside down."""
    ocs = OCS(entity.dxf.get("extrusion", Vec3(0, 0, 1)))
    if math.hypot(ocs.uz.x, ocs.uz.y) > FLAT:
        raise ValueError("it does not lie flat")
    return ocs


def _seen(ocs: OCS, x: float, y: float, bulge: float) -> tuple[float, float, float]:
    """A vertex in plan view; upside down, arcs turn the other way."""
    point = ocs.to_wcs(Vec3(x, y, 0.0))
    return point.x, point.y, float(bulge) if ocs.uz.z > 0.0 else 0.0 - float(bulge)


def _line(entity: Any, tolerance: float) -> Iterator[Piece]:
    start, end = entity.dxf.start, entity.dxf.end
    yield Piece(start.x, start.y, end.x, end.y, 0.0)


def _arc(entity: Any, tolerance: float) -> Iterator[Piece]:
    start, sweep = entity.dxf.start_angle, (entity.dxf.end_angle - entity.dxf.start_angle) % 360.0
    if sweep == 0.0:
        yield from _circle(entity, tolerance)
        return
    stops = (0.0, 1.0) if sweep <= LONGEST_SWEEP else (0.0, 0.5, 1.0)
    yield from _arcs(entity, [start + share * sweep for share in stops])


def _circle(entity: Any, tolerance: float) -> Iterator[Piece]:
    yield from _arcs(entity, [180.0, 360.0, 540.0])


def _arcs(entity: Any, angles: list[float]) -> Iterator[Piece]:
    ocs, centre, radius = _level(entity), entity.dxf.center, entity.dxf.radius
    if not radius > 0.0:
        raise ValueError(f"its radius is {radius:g}")
    for first, last in itertools.pairwise(angles):
        ends = []
        for degrees in (first, last):
            cos, sin = cos_sin(degrees)
            ends.append((centre.x + radius * cos, centre.y + radius * sin))
        bulge = 1.0 if last - first == 180.0 else math.tan(math.radians(last - first) / 4.0)
        x0, y0, turned = _seen(ocs, *ends[0], bulge)
        x1, y1, _ = _seen(ocs, *ends[1], bulge)
        yield Piece(x0, y0, x1, y1, turned)


def _lwpolyline(entity: Any, tolerance: float) -> Iterator[Piece]:
    ocs = _level(entity)
    yield from _chain([_seen(ocs, *point) for point in entity.get_points("xyb")], closed=entity.closed)


SPLINE_FRAME = 16
"""Flag of a polyline vertex that steers a fitted curve and is not on it. Source: DXF reference, VERTEX."""


def _polyline(entity: Any, tolerance: float) -> Iterator[Piece]:
    if entity.is_3d_polyline:
        points = [(v.dxf.location.x, v.dxf.location.y, 0.0) for v in entity.vertices]
    elif entity.is_2d_polyline:
        ocs = _level(entity)
        on_curve = (v for v in entity.vertices if not v.dxf.get("flags", 0) & SPLINE_FRAME)
        points = [_seen(ocs, v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in on_curve]
    else:
        raise ValueError("it is a mesh")
    yield from _chain(points, closed=entity.is_closed)


def _chain(points: list[tuple[float, float, float]], *, closed: bool) -> Iterator[Piece]:
    ends = points[1:] + points[:1] if closed else points[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(points, ends, strict=False):
        if (x0, y0) != (x1, y1):
            yield Piece(x0, y0, x1, y1, bulge)


CONVERTERS = {
    "LINE": _line, "ARC": _arc, "CIRCLE": _circle, "LWPOLYLINE": _lwpolyline, "POLYLINE": _polyline,
    "ELLIPSE": ellipse_pieces, "SPLINE": spline_pieces, "HELIX": spline_pieces,
}  # fmt: skip
