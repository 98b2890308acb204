"""What reading a drawing gives: parts, and everything that there is to say about the file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sheetplan.drawings.findings import Finding, Says, counted, plain
from sheetplan.drawings.layer_choice import Use
from sheetplan.model.outline import Outline, Stroke
from sheetplan.shapes import area, cut_length, pierces, size
from sheetplan.trade.units import Units


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
    drawing, in its units.
    """

    number: int
    outline: Outline
    corner: tuple[float, float]


@dataclass(frozen=True, slots=True)
class DrawingReport:
    """One drawing, read.

    ``form`` is the kind of file; ``unit`` says in words what unit the drawing is in and who says
    so. ``strays`` are open runs of lines in mm, y upwards, where they stand. With ``y_down``, places
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
    def good(self) -> bool:
        """Whether its parts can be cut."""
        return bool(self.parts) and not any(finding.says is Says.WRONG for finding in self.findings)

    def of_weight(self, says: Says) -> tuple[Finding, ...]:
        """The findings of one weight."""
        return tuple(finding for finding in self.findings if finding.says is says)


def report_text(report: DrawingReport, units: Units) -> str:
    """The report as lines of text, lengths in the book's units."""
    return "\n".join(_lines(report, units))


def _lines(report: DrawingReport, units: Units) -> Iterator[str]:
    verdict = "good to cut" if report.good else "cannot be cut"
    if report.good and report.of_weight(Says.ASKED):
        verdict = "good to cut, with questions"
    yield f"{report.name}: {verdict}"
    if report.form:
        yield f"  {report.form}; drawn in {report.unit}"
    for part in report.parts:
        yield "  " + part_line(part, report.name, len(report.parts), units)
    for layer in report.layers:
        style = f" ({layer.style})" if layer.style else ""
        why = f", {layer.why}" if layer.why else ""
        name = layer.name or "without a name"
        yield f"  layer {name}{style}: {counted(layer.count, 'piece')}, {layer.use.value}{why}"
    if report.passed_over:
        what = ", ".join(counted(count, name) for name, count in report.passed_over)
        yield f"  never cut: {what}"
    for says in (Says.WRONG, Says.ASKED, Says.REPAIRED, Says.TOLD):
        for finding in report.of_weight(says):
            yield f"  {says.value}: {finding}"


def part_line(part: DrawnPart, name: str, parts: int, units: Units) -> str:
    """One part in a line: size, holes, area, cut length, pierces."""
    length, width = size(part.outline)
    unit, mark = units.length_mm, units.value
    which = f"{name}#{part.number}: " if parts > 1 else ""
    sizes = f"{plain(length / unit)} x {plain(width / unit)} {mark}"
    square = f"{area(part.outline) / unit**2:.3f} {mark}2"
    cut = f"{cut_length(part.outline) / unit:.2f} {mark}"
    holes = counted(len(part.outline.holes), "hole")
    marks = f", {counted(len(part.outline.marks), 'mark')}" if part.outline.marks else ""
    starts = counted(pierces(part.outline), "pierce")
    return f"{which}{sizes}, {holes}{marks}, area {square}, cut {cut} with {starts}"
