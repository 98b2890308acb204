"""Parts with outlines of their own against how their gauge is cut: holes, webs, slots."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from sheetplan.drawings.findings import Says, counted, named
from sheetplan.drawings.judging import cut_limits, judge, small_holes_marked
from sheetplan.model.job import Part
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.settings import Settings
from sheetplan.shapes import is_rectangle
from sheetplan.workbook.reading_gauges import Gauges
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.part_outlines import MOST_TOLD
from sheetplan.workbook.rows.parts import MOST_NOTED
from sheetplan.workbook.rows.reader import Read


def as_cut(part: Part, gauges: Gauges, settings: Settings) -> Part:
    """The part as it goes to the table: small holes turned into marks where the settings ask for it."""
    rule = gauges.rules.get(gauges.key(part))
    if rule is None or not settings.small_holes_marked or not part.outline.holes:
        return part
    return replace(part, outline=small_holes_marked(part.outline, cut_limits(rule)))


def shape_problems(gauges: Gauges, settings: Settings, ordered: Collection[str]) -> Iterator[Problem]:
    """What is doubtful or impossible to cut, on the rows of the parts; of many doubtful ones by kind.

    ``ordered`` names the parts, as compared, that are ordered: the others are told of only where they
    cannot be cut at all, unless there are no orders yet.
    """
    doubtful: list[_Doubtful] = []
    for reads in gauges.parts.values():
        for read in reads:
            wanted = not ordered or normal(read.value.name) in ordered or read.value.spare > 0
            wrong, doubts = _judged(read, gauges, settings)
            if wrong:
                weight = Weight.STOPS if wanted else Weight.NOTE
                yield read.place.problem("Part", f"{read.value.name}: {_some(wrong)}.", TOO_NARROW, weight)
            if wanted and doubts:
                doubtful.append((read, doubts))
    if len(doubtful) > MOST_NOTED:
        yield from _by_kind(doubtful)
        return
    for read, doubts in doubtful:
        marked = [doubt for doubt in doubts if TOO_SMALL in doubt]
        for some in (marked, [doubt for doubt in doubts if doubt not in marked]):
            if some:
                what = f"{read.value.name}: {_some(some)}."
                yield read.place.problem("Part", what, _remedy(some), Weight.NOTE)


_Doubtful = tuple[Read[Part], tuple[str, ...]]
"""A part and what is doubtful about it."""

TOO_SMALL = "too small to cut through"

KINDS = {
    "Mark small holes": (TOO_SMALL, "holes too small to cut through, which will be marked and not cut"),
    "Least hole": ("below the least", "holes below Least hole"),
    "Least web": ("web", "webs or necks narrower than Least web"),
    "Kerf": ("the kerf", "slots or corners that the kerf does not reach into"),
}
"""Kinds of doubts by what decides of them: words of a finding, and what they are called together."""


def _by_kind(doubtful: Sequence[_Doubtful]) -> Iterator[Problem]:
    """One note for each kind of doubt, with the parts and the first of the places."""
    for words, called in KINDS.values():
        found = [(read, doubt) for read, doubts in doubtful for doubt in doubts if words in doubt]
        names = list(dict.fromkeys(read.value.name for read, _ in found))
        if names:
            read, first = found[0]
            have = f"{names[0]} has" if len(names) == 1 else f"{len(names)} parts have"
            what = f"{have} {called}: {named(names, 3)}. The first: {first}."
            yield Problem(read.place.sheet, None, None, what, _remedy([first]), Weight.NOTE)


def _judged(
    read: Read[Part], gauges: Gauges, settings: Settings
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What makes a part impossible to cut, and what is doubtful about it."""
    part = as_cut(read.value, gauges, settings)
    rule = gauges.rules.get(gauges.key(part))
    if rule is None or (is_rectangle(read.value.outline) and not read.value.outline.holes):
        return (), ()
    marked = len(read.value.outline.holes) - len(part.outline.holes)
    doubts = [f"{counted(marked, 'hole')} {TOO_SMALL} will be marked and not cut"] if marked else []
    findings = judge(part.outline, cut_limits(rule), settings.units)
    wrong = tuple(str(finding) for finding in findings if finding.says is Says.WRONG)
    return wrong, (*doubts, *(str(finding) for finding in findings if finding.says is Says.ASKED))


def _some(found: Sequence[str]) -> str:
    more = f"; and {len(found) - MOST_TOLD} more" if len(found) > MOST_TOLD else ""
    return "; ".join(found[:MOST_TOLD]) + more


MARKED = "Nothing, if they are drilled; else Mark small holes in Settings at no, or Least hole on Cutting."

TOO_NARROW = (
    "Write yes in Mark small holes of the page Settings, so that it is marked for drilling; or change the "
    "part, or Kerf on the page Cutting."
)


def _remedy(found: Sequence[str]) -> str:
    """What can be done about doubtful places, by the columns that say what is doubtful."""
    columns = [column for column, (words, _) in KINDS.items() if any(words in one for one in found)]
    if "Mark small holes" in columns:
        return MARKED
    limits = " or ".join(columns) or "the limits"
    drill = "; Mark small holes in Settings marks such holes for drilling" if "Least hole" in columns else ""
    return f"Nothing, if that is meant; else change the part, or {limits} on the page Cutting{drill}."
