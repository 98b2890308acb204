"""Reports and choices as JSON, for the cache and for readers in other processes; exact to the last bit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from sheetplan.drawings.findings import Finding, Says
from sheetplan.drawings.layer_choice import LayerChoice, Use
from sheetplan.drawings.limits import Limits
from sheetplan.drawings.reading import ReadingChoices
from sheetplan.drawings.reading_words import DoubtfulLines, LetteringUse, OpenLines
from sheetplan.drawings.report import DrawingReport, DrawnPart, LayerUse, verdict
from sheetplan.model.outline import Loop, Outline, Stroke, Vertex
from sheetplan.shapes import area, cut_length, size
from sheetplan.trade.units import Units


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
