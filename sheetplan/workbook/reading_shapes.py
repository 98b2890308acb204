"""Parts with outlines of their own against how their gauge is cut: holes, webs, slots."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sheetplan.drawings.findings import Says
from sheetplan.drawings.judging import cut_limits, judge, small_holes_marked
from sheetplan.model.job import Part
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.settings import Settings
from sheetplan.shapes import is_rectangle
from sheetplan.workbook.reading_gauges import Gauges
from sheetplan.workbook.rows.part_outlines import MOST_TOLD
from sheetplan.workbook.rows.reader import Read


def as_cut(part: Part, gauges: Gauges, settings: Settings) -> Part:
    """The part as it goes to the table: small holes turned into marks where the settings ask for it."""
    rule = gauges.rules.get(gauges.key(part))
    if rule is None or not settings.small_holes_marked or not part.outline.holes:
        return part
    return replace(part, outline=small_holes_marked(part.outline, cut_limits(rule).least_hole))


def shape_problems(gauges: Gauges, settings: Settings) -> Iterator[Problem]:
    """What is doubtful or impossible to cut, on the rows of the parts."""
    for reads in gauges.parts.values():
        for read in reads:
            yield from _judged(read, gauges, settings)


def _judged(read: Read[Part], gauges: Gauges, settings: Settings) -> Iterator[Problem]:
    part = as_cut(read.value, gauges, settings)
    rule = gauges.rules.get(gauges.key(part))
    if rule is None or (is_rectangle(part.outline) and not part.outline.holes):
        return
    findings = judge(part.outline, cut_limits(rule), settings.units)
    for says, weight in ((Says.WRONG, Weight.STOPS), (Says.ASKED, Weight.NOTE)):
        found = [str(finding) for finding in findings if finding.says is says]
        if found:
            more = f"; and {len(found) - MOST_TOLD} more" if len(found) > MOST_TOLD else ""
            what = f"{part.name}: {'; '.join(found[:MOST_TOLD])}{more}."
            remedy = (
                "Change the part, or the limits on the page Cutting."
                if weight is Weight.STOPS
                else ("Nothing, if that is meant; else change the part or the limits on the page Cutting.")
            )
            yield read.place.problem("Part", what, remedy, weight)
