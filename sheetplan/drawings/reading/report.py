"""What reading a drawing gives: parts, and everything that there is to say about the file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sheetplan.drawings.reading.choices import Use
from sheetplan.drawings.reading.findings import Finding, Says, plain
from sheetplan.model.outline import Outline, Stroke
from sheetplan.shapes import area, cut_length, pierces, size
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import MM_PER_INCH, Units


@dataclass(frozen=True, slots=True)
class LayerUse:
    """What was done with one layer (in one line style), and why; ``count`` lines and arcs."""

    name: str
    style: str
    use: Use
    why: str
    count: int


@dataclass(frozen=True, slots=True)
class DrawnPart:
    """One outline of the file: ``number`` from 1, as in ``drawing.dxf#2``.

    ``outline`` is in mm with its box starting at (0, 0); ``corner`` is where that lies in the
    drawing, in its units. ``wrong`` is what keeps this one from being cut, ``layer`` the layer on which
    most of its outer line is drawn.
    """

    number: int
    outline: Outline
    corner: tuple[float, float]
    wrong: tuple[Finding, ...] = ()
    layer: str = ""


@dataclass(frozen=True, slots=True)
class DrawingReport:
    """One drawing, read.

    ``form`` is the kind of file; ``unit`` says in words what unit the drawing is in and who says
    so. ``findings`` are those about the file: what is wrong among them stops every part of it, what is
    wrong with one part stands with the part. ``strays`` are open runs of lines in mm, y upwards, where
    they stand. With ``y_down``, places
    are told with y counted downwards, as the file does. ``found`` is False where there is no file to read.
    """

    name: str
    form: str
    unit: str
    unit_mm: float
    parts: tuple[DrawnPart, ...]
    findings: tuple[Finding, ...]
    layers: tuple[LayerUse, ...] = ()
    passed_over: tuple[tuple[str, int], ...] = ()
    strays: tuple[Stroke, ...] = ()
    y_down: bool = False
    found: bool = True

    @property
    def readable(self) -> bool:
        """Whether parts of it can be cut, as far as the file as a whole goes."""
        return bool(self.parts) and not any(finding.says is Says.WRONG for finding in self.findings)

    @property
    def good(self) -> bool:
        """Whether all its parts can be cut."""
        return self.readable and not any(part.wrong for part in self.parts)

    def of_weight(self, says: Says) -> tuple[Finding, ...]:
        """The findings of one weight, about the file and about its parts, each once."""
        about_parts = (finding for part in self.parts for finding in part.wrong)
        return tuple(dict.fromkeys(f for f in (*self.findings, *about_parts) if f.says is says))


MOST_TOLD = 3
"""Findings that are told at each part; the list below the parts has them all."""

MOST_SHOWN = 36
"""Findings of one weight that are listed; more are counted."""


def verdict(report: DrawingReport) -> str:
    """Whether the drawing can be cut, in words."""
    if not report.readable or all(part.wrong for part in report.parts):
        return "cannot be cut"
    asked = ", with questions" if report.of_weight(Says.ASKED) else ""
    bad = sum(bool(part.wrong) for part in report.parts)
    if bad:
        return f"{len(report.parts) - bad} of {counted(len(report.parts), 'outline')} good to cut{asked}"
    return f"good to cut{asked}"


def report_text(report: DrawingReport, units: Units) -> str:
    """The report as lines of text, lengths in the book's units."""
    return "\n".join(_lines(report, units))


def _lines(report: DrawingReport, units: Units) -> Iterator[str]:
    yield f"{report.name}: {verdict(report)}"
    if report.form:
        yield f"  {report.form}; drawn in {report.unit}"
    for part in report.parts:
        yield "  " + part_line(part, report, units)
        for finding in part.wrong[:MOST_TOLD] if len(report.parts) > 1 else ():
            yield f"    cannot be cut: {finding}"
    for layer in report.layers:
        style = f" ({layer.style})" if layer.style else ""
        why = f", {layer.why}" if layer.why else ""
        name = layer.name or "without a name"
        yield f"  layer {name}{style}: {counted(layer.count, 'piece')}, {layer.use.value}{why}"
    if report.passed_over:
        what = ", ".join(counted(count, name) for name, count in report.passed_over)
        yield f"  never cut: {what}"
    for says in (Says.WRONG, Says.ASKED, Says.REPAIRED, Says.TOLD):
        found = report.of_weight(says)
        for finding in found[:MOST_SHOWN]:
            yield f"  {says.value}: {finding}"
        if len(found) > MOST_SHOWN:
            yield f"  {says.value}: and {len(found) - MOST_SHOWN} more"


def shown_units(report: DrawingReport) -> Units:
    """The unit in which lengths of a drawing are told: inches for one in inches or feet, else millimetres."""
    return drawn_units(report.unit_mm)


SAME_UNIT = 1e-9
"""Units that differ by a smaller share are one."""


def drawn_units(unit_mm: float) -> Units:
    """The same for a drawing's unit."""
    in_inches = any(abs(unit_mm / (MM_PER_INCH * n) - 1.0) < SAME_UNIT for n in (1, 12))
    return Units.INCH if in_inches else Units.MM


def part_line(part: DrawnPart, report: DrawingReport, units: Units) -> str:
    """One part in a line: size, place, holes, area, cut length, pierces; all in ``units``."""
    parts, drawn = len(report.parts), report.unit_mm / units.length_mm
    length, width = size(part.outline)
    unit, mark = units.length_mm, units.value
    which = f"{report.name}#{part.number}: " if parts > 1 else ""
    sizes = f"{plain(length / unit)} x {plain(width / unit)} {mark}"
    square = f"{area(part.outline) / units.area_mm2:.4f} {units.area}"
    cut = f"{cut_length(part.outline) / unit:.2f} {mark}"
    holes = counted(len(part.outline.holes), "hole")
    marks = f", {counted(len(part.outline.marks), 'mark')}" if part.outline.marks else ""
    starts = counted(pierces(part.outline), "pierce")
    x, y = (plain(value * drawn) for value in part.corner)
    where = f" at ({x}, {y})" if parts > 1 else ""
    layer = f", layer {part.layer}" if part.layer and parts > 1 else ""
    return f"{which}{sizes}{where}{layer}, {holes}{marks}, area {square}, cut {cut} with {starts}"
