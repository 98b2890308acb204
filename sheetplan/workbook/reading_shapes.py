"""Parts with outlines of their own against how their gauge is cut: holes, webs, slots."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sheetplan.drawings.findings import Says, counted
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
    return replace(part, outline=small_holes_marked(part.outline, cut_limits(rule)))


def shape_problems(gauges: Gauges, settings: Settings) -> Iterator[Problem]:
    """What is doubtful or impossible to cut, on the rows of the parts."""
    for reads in gauges.parts.values():
        for read in reads:
            yield from _judged(read, gauges, settings)


def _judged(read: Read[Part], gauges: Gauges, settings: Settings) -> Iterator[Problem]:
    part = as_cut(read.value, gauges, settings)
    rule = gauges.rules.get(gauges.key(part))
    if rule is None or (is_rectangle(read.value.outline) and not read.value.outline.holes):
        return
    marked = len(read.value.outline.holes) - len(part.outline.holes)
    if marked:
        what = f"{part.name}: {counted(marked, 'hole')} too small to cut through will be marked and not cut."
        yield read.place.problem("Part", what, MARKED, Weight.NOTE)
    findings = judge(part.outline, cut_limits(rule), settings.units)
    for says, weight in ((Says.WRONG, Weight.STOPS), (Says.ASKED, Weight.NOTE)):
        found = [str(finding) for finding in findings if finding.says is says]
        if found:
            more = f"; and {len(found) - MOST_TOLD} more" if len(found) > MOST_TOLD else ""
            what = f"{part.name}: {'; '.join(found[:MOST_TOLD])}{more}."
            remedy = TOO_NARROW if weight is Weight.STOPS else _remedy(found)
            yield read.place.problem("Part", what, remedy, weight)


MARKED = "Nothing, if they are drilled; else Mark small holes in Settings at no, or Least hole on Cutting."

TOO_NARROW = (
    "Write yes in Mark small holes of the page Settings, so that it is marked for drilling; or change the "
    "part, or Kerf on the page Cutting."
)


def _remedy(found: list[str]) -> str:
    """What can be done about doubtful places, by the columns that say what is doubtful."""
    columns = [
        column for column, words in (("Least hole", "below the least"), ("Least web", "least web"),
                                     ("Least web", "a web"), ("Kerf", "the kerf"))
        if any(words in one for one in found)
    ]  # fmt: skip
    named = " or ".join(dict.fromkeys(columns)) or "the limits"
    drill = "; Mark small holes in Settings marks such holes for drilling" if "Least hole" in columns else ""
    return f"Nothing, if that is meant; else change the part, or {named} on the page Cutting{drill}."
