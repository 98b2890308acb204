"""Reading one drawing: from a file's bytes to parts and a report, and what was asked and found as JSON."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from enum import StrEnum
from typing import Any

from sheetplan.drawings.reading.choices import (
    NAMES,
    DoubtfulLines,
    LayerChoice,
    LetteringUse,
    OpenLines,
    Use,
    of_the_book,
    unit_questions,
    use_of,
)
from sheetplan.drawings.reading.findings import Allowance, Clock, Finding, Limits, Refused, Says
from sheetplan.drawings.reading.loops import Flaw, Remark, join_cut, join_marks
from sheetplan.drawings.reading.network import JOIN_MM
from sheetplan.drawings.reading.parts import Sorted, lettering, outline_layers, sort_loops, touched
from sheetplan.drawings.reading.report import (
    SAME_UNIT,
    DrawingReport,
    DrawnPart,
    LayerUse,
    drawn_units,
    verdict,
)
from sheetplan.drawings.reading.sheaf import Drawn, Sheaf
from sheetplan.model.outline import Loop, Outline, Stroke, Vertex
from sheetplan.shapes import area, box, cut_length, move, settle, size
from sheetplan.shapes.arcs import Piece
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import Units

# Reading one drawing: from a file's bytes to parts and a report.
#
# The walk: loose lines and arcs -> layers -> mm near the origin -> doubles out -> joined at their
# ends -> loops -> outlines with their holes and marks.

BROKE_DOWN = "its reader broke down over it, which is a fault of the reader"
"""Said of a drawing that shows a mistake of ours; the tests see to it that it is never said."""

CURVE_MM = 0.05
"""How far a spline or ellipse may stray from the arcs that replace it, by default."""


@dataclass(frozen=True, slots=True)
class ReadingChoices:
    """How a drawing is to be read.

    ``unit_mm`` is the unit that the planner states for this drawing, None to go by the file and,
    where it says nothing, by the book. ``curve`` and ``join`` are in mm (see `CURVE_MM`,
    `drawings.reading.network.JOIN_MM`). Places and lengths are told in ``told``, None to tell them as
    the drawing is drawn: in inches where that is in inches or feet, else in millimetres.
    """

    units: Units = Units.INCH
    unit_mm: float | None = None
    layers: LayerChoice = field(default_factory=LayerChoice)
    curve: float = CURVE_MM
    join: float = JOIN_MM
    limits: Limits = field(default_factory=Limits)
    doubtful: DoubtfulLines = field(default_factory=DoubtfulLines)
    told: Units | None = None


def read_bytes(name: str, data: bytes, choices: ReadingChoices, clock: Clock) -> DrawingReport:
    """Read a drawing; whatever is wrong with it is a finding of the report.

    Parameters
    ----------
    name : str
        What the planner calls the file.
    data : bytes
        What is in it.
    choices : ReadingChoices
        How to read it.
    clock : Clock
        Seconds, for the time limit.
    """
    try:
        return _read(name, data, choices, Allowance(choices.limits, clock))
    except Refused as reason:
        return refused(name, str(reason))
    except MemoryError:
        return refused(name, "it needs more memory than there is")
    except Exception as reason:  # one drawing must never bring a whole run down
        return refused(name, f"{BROKE_DOWN} ({type(reason).__name__}: {reason})")


def refused(name: str, reason: str, *, found: bool = True) -> DrawingReport:
    """The report of a drawing that is not read."""
    return DrawingReport(name, "", "", 1.0, (), (Finding(Says.WRONG, reason),), found=found)


def _read(name: str, data: bytes, choices: ReadingChoices, allowance: Allowance) -> DrawingReport:
    if len(data) > choices.limits.size:
        raise Refused(f"it has {len(data):,} bytes; the most that is read is {choices.limits.size:,}")
    sheaf = _sheaf(data, choices, allowance)
    unit_mm, unit = _unit(sheaf, choices)
    layers, by_use = _by_use(sheaf, choices.layers)
    origin = _origin(sheaf.pieces)
    _of_this_world(sheaf.pieces, unit_mm)
    cut_pieces = _in_mm(by_use[Use.CUT], unit_mm, origin)
    cut = join_cut(cut_pieces, choices.join, allowance)
    marks = join_marks(_in_mm(by_use[Use.MARK], unit_mm, origin), choices.join, allowance)
    frame = _Frame(unit_mm, origin, sheaf.y_down, choices.told or drawn_units(unit_mm))
    loops, lettered, about_letters = _lettering(cut.loops, choices.doubtful.lettering, frame)
    sorted_out = sort_loops(loops, (*marks, *lettered))
    judged = _judged(sorted_out.outlines, cut.flaws, choices.doubtful.open_lines, frame)
    drawn_on = outline_layers(
        judged.outlines, cut_pieces, [drawn.layer for drawn in by_use[Use.CUT]]
    )
    findings = (
        *sheaf.findings,
        *map(frame.finding, cut.remarks),
        *judged.findings,
        *about_letters,
        *_stray_marks(sorted_out, frame),
        *_nothing(sorted_out, sheaf, by_use),
        *unit_questions(sorted_out.outlines, unit_mm),
    )
    parts = tuple(
        DrawnPart(i, settle(outline), frame.seen(*box(outline)[:2]), wrong, layer)
        for i, (outline, wrong, layer) in enumerate(
            zip(judged.outlines, judged.wrong, drawn_on, strict=True), 1
        )
    )
    passed = tuple(sorted(sheaf.passed_over.items()))
    strays = tuple(move(stray, origin[0] * unit_mm, origin[1] * unit_mm) for stray in cut.strays)
    return DrawingReport(
        name, sheaf.form, unit, unit_mm, parts, findings, layers, passed, strays, sheaf.y_down
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Judged:
    """Outlines with what is wrong with each, and findings about the file."""

    outlines: tuple[Outline, ...]
    wrong: tuple[tuple[Finding, ...], ...]
    findings: tuple[Finding, ...]


def _judged(
    outlines: Sequence[Outline], flaws: Sequence[Flaw], open_lines: OpenLines, frame: _Frame
) -> _Judged:
    """Flaws at the outlines that they touch; those that touch none are questions, or all there is."""
    if not outlines:
        found = tuple(frame.finding(flaw.remark) for flaw in flaws)
        return _Judged((), (), _shortened(found))
    found_on = touched(outlines, flaws)
    settled = found_on.inside if open_lines is not OpenLines.REFUSE else {}
    own = [tuple(k for k in ks if k not in settled) for ks in found_on.own]
    wrong = tuple(
        _shortened(tuple(_at_part(frame, flaws[k], inside=k in found_on.inside) for k in ks)) for ks in own
    )
    marked = [replace(outline, marks=(*outline.marks, *(
        flaws[k].chain for k, at in settled.items() if at == i and open_lines is OpenLines.MARK
    ))) for i, outline in enumerate(outlines)]  # fmt: skip
    asked = (replace(frame.finding(flaws[k].remark), says=Says.ASKED) for k in found_on.stray)
    findings = list(_shortened(tuple(asked)))
    if settled:
        done = "marked" if open_lines is OpenLines.MARK else "left out"
        findings.append(Finding(Says.TOLD, f"{counted(len(settled), 'open line')} inside parts {done}"))
    return _Judged(tuple(marked), wrong, tuple(findings))


def _lettering(
    loops: Sequence[Loop], use: LetteringUse, frame: _Frame
) -> tuple[tuple[Loop, ...], tuple[Stroke, ...], tuple[Finding, ...]]:
    """The loops to cut, those of lettering that are marked, and what is said about it."""
    found = lettering(loops) if use is not LetteringUse.CUT else None
    if found is None or not found.loops:
        return tuple(loops), (), ()
    at = frame.seen(*loops[min(found.loops)].vertices[0][:2])
    what = f"{counted(found.letters, 'small outline')} in a row look like lettering"
    if use is LetteringUse.ASK:
        asked = f"{what}; write cut, mark or leave out lettering in Doubtful lines, until then they are cut"
        return tuple(loops), (), (frame.noticed(Says.ASKED, asked, at),)
    kept = tuple(loop for i, loop in enumerate(loops) if i not in found.loops)
    own = [loops[i] for i in sorted(found.loops)]
    marked = [Stroke((*loop.vertices, (*loop.vertices[0][:2], 0.0))) for loop in own]
    done = "are marked" if use is LetteringUse.MARK else "are left out"
    told = (frame.noticed(Says.TOLD, f"{what} and {done}", at),)
    return kept, tuple(marked) if use is LetteringUse.MARK else (), told


def _at_part(frame: _Frame, flaw: Flaw, *, inside: bool) -> Finding:
    finding = frame.finding(flaw.remark)
    return replace(finding, what=f"{finding.what}; {OFFER}") if inside else finding


OFFER = "write mark or leave out in Doubtful lines if it is not cut"
"""What can be done about an open line that lies inside a part."""


def _shortened(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """At most some of each kind; the rest counted."""
    kept: list[Finding] = []
    kinds = Counter(_kind(finding) for finding in findings)
    told: Counter[str] = Counter()
    for finding in findings:
        told[_kind(finding)] += 1
        if told[_kind(finding)] <= MOST_TOLD:
            kept.append(finding)
        elif told[_kind(finding)] == kinds[_kind(finding)]:
            more = kinds[_kind(finding)] - MOST_TOLD
            kept.append(Finding(finding.says, f"{_kind(finding)}: and in {more} more places"))
    return tuple(kept)


def _kind(finding: Finding) -> str:
    """A finding's words without its lengths."""
    what = finding.what.partition("; ")[0]
    return re.sub(r" by [-+.e0-9]+( mm| in)?$| [-+.e0-9]+( mm| in)? long", "", what)


def _sheaf(data: bytes, choices: ReadingChoices, allowance: Allowance) -> Sheaf:
    kind = kind_of(data)
    arguments = (data, choices.curve, choices.unit_mm, choices.units.length_mm, allowance)
    if kind is Kind.SVG:
        from sheetplan.drawings.reading.svg import read_svg

        return read_svg(*arguments)
    from sheetplan.drawings.reading.dxf import read_dxf

    return read_dxf(*arguments)


def _unit(sheaf: Sheaf, choices: ReadingChoices) -> tuple[float, str]:
    if choices.unit_mm:
        stated = f"{NAMES.get(choices.unit_mm, f'units of {choices.unit_mm:g} mm')}, as the book states"
        against = f" (the drawing says {sheaf.unit_said.split(',')[0]})" if sheaf.unit_mm else ""
        return choices.unit_mm, stated + (against if sheaf.unit_mm != choices.unit_mm else "")
    if sheaf.unit_mm:
        return sheaf.unit_mm, sheaf.unit_said
    return choices.units.length_mm, of_the_book(choices.units)


def _by_use(sheaf: Sheaf, choice: LayerChoice) -> tuple[tuple[LayerUse, ...], dict[Use, list[Drawn]]]:
    counts = Counter((drawn.layer, drawn.style) for drawn in sheaf.pieces)
    uses = {key: use_of(*key, choice) for key in counts}
    table = tuple(LayerUse(*key, *uses[key], counts[key]) for key in sorted(counts))
    by_use: dict[Use, list[Drawn]] = {use: [] for use in Use}
    for drawn in sheaf.pieces:
        by_use[uses[drawn.layer, drawn.style][0]].append(drawn)
    return table, by_use


def _origin(pieces: Sequence[Drawn]) -> tuple[float, float]:
    """A corner near everything: drawings made far from zero lose digits in sums."""
    if not pieces:
        return 0.0, 0.0
    x = min(min(d.piece.x0, d.piece.x1) for d in pieces)
    y = min(min(d.piece.y0, d.piece.y1) for d in pieces)
    near = max(abs(x), abs(y)) < NEAR_ZERO
    return (0.0, 0.0) if near else (float(math.floor(x)), float(math.floor(y)))


def _of_this_world(pieces: Sequence[Drawn], unit_mm: float) -> None:
    """Damage and wrong units make drawings as large as a country, in which nothing can be reckoned."""
    if not pieces:
        return
    xs = [x for d in pieces for x in (d.piece.x0, d.piece.x1)]
    ys = [y for d in pieces for y in (d.piece.y0, d.piece.y1)]
    widest = max(max(xs) - min(xs), max(ys) - min(ys))
    bulging = max(d.piece.chord * abs(d.piece.bulge) for d in pieces)
    if max(widest, bulging) * unit_mm > WIDEST_MM:
        raise Refused(f"it is {max(widest, bulging):.3g} units wide; no part is: see what lies far off in it")


WIDEST_MM = 1e6
"""A kilometre."""

NEAR_ZERO = 1e5
"""Drawing units from zero within which coordinates are taken as they are."""


def _in_mm(drawn: Sequence[Drawn], unit: float, origin: tuple[float, float]) -> list[Piece]:
    ox, oy = origin
    return [
        Piece((p.x0 - ox) * unit, (p.y0 - oy) * unit, (p.x1 - ox) * unit, (p.y1 - oy) * unit, p.bulge)
        for p in (one.piece for one in drawn)
    ]


@dataclass(frozen=True, slots=True)
class _Frame:
    """From mm back to the drawing's own coordinates, and to what is told of them."""

    unit_mm: float
    origin: tuple[float, float]
    y_down: bool
    told: Units

    def seen(self, x: float, y: float) -> tuple[float, float]:
        up = y / self.unit_mm + self.origin[1]
        return x / self.unit_mm + self.origin[0], 0.0 - up if self.y_down else up

    def finding(self, one: Remark) -> Finding:
        what = one.what.format(**{k: self.length(v) for k, v in one.lengths.items()})
        return self.noticed(one.says, what, self.seen(*one.at) if one.at else None)

    def noticed(self, says: Says, what: str, at: tuple[float, float] | None) -> Finding:
        if self.as_drawn or at is None:
            return Finding(says, what, at)
        return Finding(says, what, at, self.unit_mm / self.told.length_mm, self.told.value)

    def length(self, mm: float) -> str:
        if self.as_drawn:
            return f"{mm / self.unit_mm:.4g}"
        return f"{mm / self.told.length_mm:.4g} {self.told.value}"

    @property
    def as_drawn(self) -> bool:
        """Whether what is told is in the drawing's own unit, so that none need be named."""
        return abs(self.unit_mm / self.told.length_mm - 1.0) < SAME_UNIT


def _stray_marks(found: Sorted, frame: _Frame) -> list[Finding]:
    what = "a mark lies on no part and is left out"
    places = [frame.seen(*stroke.vertices[0][:2]) for stroke in found.stray_marks[:MOST_TOLD]]
    return [frame.noticed(Says.ASKED, what, at) for at in places]


READER_VERSION = 8
"""Raised whenever reading comes to other results, so that old entries are no longer found."""

MOST_TOLD = 12
"""Findings of one kind that are listed with their places; more are counted."""


def _nothing(found: Sorted, sheaf: Sheaf, by_use: dict[Use, list[Drawn]]) -> list[Finding]:
    if found.outlines:
        return []
    if not sheaf.pieces:
        return [Finding(Says.WRONG, "there are no lines or arcs in it")]
    if not by_use[Use.CUT]:
        return [Finding(Says.WRONG, "no layer of it is cut: choose the layers to cut")]
    return [Finding(Says.WRONG, "there is no closed outline in it")]


# Telling what kind of file something is by its first bytes, and saying no to the wrong ones kindly.

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


# Reports and choices as JSON, for the cache and for readers in other processes; exact to the last bit.

def report_to_json(report: DrawingReport) -> dict[str, Any]:
    """A report as what `json` takes."""
    data = asdict(report)
    for part, one in zip(data["parts"], report.parts, strict=True):
        part["wrong"] = _findings(one.wrong)
    return {**data, "findings": _findings(report.findings)}


def _findings(findings: Sequence[Finding]) -> list[list[Any]]:
    return [[one.says.value, one.what, one.at, one.scale, one.unit] for one in findings]


def _findings_again(data: list[list[Any]]) -> tuple[Finding, ...]:
    return tuple(
        Finding(Says(says), what, _pair(at) if at else None, float(scale), unit)
        for says, what, at, scale, unit in data
    )


def report_from_json(data: dict[str, Any], name: str) -> DrawingReport:
    """The report again, under the name that the file has now.

    Raises
    ------
    KeyError, TypeError, ValueError
        If this is no report.
    """
    parts = [
        DrawnPart(
            p["number"], outline_from_json(p["outline"]), _pair(p["corner"]), _findings_again(p["wrong"]),
            p["layer"],
        )
        for p in data["parts"]
    ]
    findings = _findings_again(data["findings"])
    layers = [LayerUse(**{**layer, "use": Use(layer["use"])}) for layer in data["layers"]]
    passed_over = [(str(what), int(count)) for what, count in data["passed_over"]]
    strays = tuple(Stroke(_vertices(stray)) for stray in data["strays"])
    return DrawingReport(
        name, data["form"], data["unit"], float(data["unit_mm"]),
        tuple(parts), findings, tuple(layers), tuple(passed_over), strays, bool(data["y_down"]),
    )  # fmt: skip


def choices_to_json(choices: ReadingChoices) -> dict[str, Any]:
    """Reading choices as what `json` takes."""
    return asdict(choices)


def choices_from_json(data: dict[str, Any]) -> ReadingChoices:
    """The choices again."""
    layers = LayerChoice(**{use: tuple(names) for use, names in data["layers"].items()})
    return ReadingChoices(
        Units(data["units"]), data["unit_mm"], layers, data["curve"], data["join"], Limits(**data["limits"]),
        DoubtfulLines(OpenLines(data["doubtful"]["open_lines"]), LetteringUse(data["doubtful"]["lettering"])),
        Units(data["told"]) if data["told"] else None,
    )


def outline_from_json(data: dict[str, Any]) -> Outline:
    """An outline again from what `dataclasses.asdict` made of it."""
    return Outline(
        Loop(_vertices(data["outer"])),
        tuple(Loop(_vertices(hole)) for hole in data["holes"]),
        tuple(Stroke(_vertices(mark)) for mark in data["marks"]),
    )


def _vertices(data: dict[str, Any]) -> tuple[Vertex, ...]:
    return tuple((float(x), float(y), float(bulge)) for x, y, bulge in data["vertices"])


def _pair(data: list[float]) -> tuple[float, float]:
    return float(data[0]), float(data[1])


def shown_json(report: DrawingReport, units: Units) -> dict[str, Any]:
    """A report as it is told to scripts, lengths in ``units``.

    ``drawing``, ``verdict``, ``unit``, ``units``, ``parts`` (each ``number``, ``layer``, ``at`` in the
    drawing's own units, ``length``, ``width``, ``holes``, ``marks``, ``area``, ``cut_length``, ``wrong``),
    ``layers`` and ``findings``.
    """
    unit = units.length_mm
    return {
        "drawing": report.name,
        "verdict": verdict(report),
        "unit": report.unit,
        "units": units.value,
        "parts": [
            {
                "number": part.number,
                "layer": part.layer,
                "at": list(part.corner),
                "length": round(size(part.outline)[0] / unit, 6),
                "width": round(size(part.outline)[1] / unit, 6),
                "holes": len(part.outline.holes),
                "marks": len(part.outline.marks),
                "area": round(area(part.outline) / unit**2, 6),
                "cut_length": round(cut_length(part.outline) / unit, 6),
                "wrong": [str(finding) for finding in part.wrong],
            }
            for part in report.parts
        ],
        "layers": [
            {
                "layer": one.name,
                "line_style": one.style,
                "use": one.use.value,
                "why": one.why,
                "pieces": one.count,
            }
            for one in report.layers
        ],
        "findings": [{"weight": one.says.value, "what": str(one)} for one in report.findings],
    }
