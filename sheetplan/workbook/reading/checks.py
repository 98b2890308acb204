"""What only shows when parts, sheets and rules of one gauge are seen together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import TypeVar

from sheetplan.drawings.judging import cut_limits, judge, small_holes_marked
from sheetplan.drawings.reading.findings import Says
from sheetplan.model.job import CuttingRule, Kit, Order, Part, Remnant, SheetSize
from sheetplan.model.outline import Loop
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.settings import Settings
from sheetplan.model.turns import allowed_turns, same_turn
from sheetplan.shapes import is_rectangle
from sheetplan.trade.sentences import counted, named, number
from sheetplan.trade.thickness import Thickness, confusing, families
from sheetplan.trade.units import SAME_LENGTH_MM, Units
from sheetplan.workbook.columns import CUTTING, STOCK
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import MOST_NOTED, MOST_TOLD, FaultyRow, PageRead, Read

# Parts that no sheet of their gauge can hold.

Size = tuple[float, float]
"""Width and length in mm."""


def too_large(
    read: Read[Part],
    sheets: Iterable[SheetSize | Remnant | FaultyRow],
    rule_margin: float | None,
    gauge: str,
    weight: Weight,
    units: Units,
) -> Problem | None:
    """A finding where the part, turned as it may be, fits within no sheet's margin.

    ``rule_margin`` is None while the gauge has no rule that can be used: then whole sheets are compared.
    """
    part = read.value
    margin = rule_margin or 0.0
    rooms = [_room(sheet, margin) for sheet in sheets]
    size = _box(part.outline.outer)
    if any(_fits(turned, room) for turned in _turned(size, part) for room in rooms):
        return None
    largest = max(rooms, key=lambda room: (room[0] * room[1], room))
    remedy = "Correct the size, or add a larger sheet to the page Stock."
    if any(_fits(size[::-1], room) for room in rooms):
        remedy = "It would fit turned by a quarter: allow that in the columns Turns and Grain."
    elif any(_fits(turned, _grown(room, margin)) for turned in _turned(size, part) for room in rooms):
        remedy = "It would fit without the margin: see the page Cutting, or add a larger sheet."
    room = _size_said(largest, units)
    said = f"is {room}" if rule_margin is None else f"leaves {room} within its margin"
    return read.place.problem(
        "Length",
        f"{part.name}, {_size_said(size, units)}, fits on no sheet of {gauge}; "
        f"the largest {said}.",
        remedy,
        weight,
    )


def may_hold(room: Size | None, part: Part, rule_margin: float | None) -> bool:
    """Whether a sheet of this width and length could hold the part; an unknown size could."""
    if room is None:
        return True
    within = _grown(room, -(rule_margin or 0.0))
    return any(_fits(turned, within) for turned in _turned(_box(part.outline.outer), part))


def _turned(size: Size, part: Part) -> Sequence[Size]:
    quarter = [not same_turn(turn, 0.0, 180.0) for turn in allowed_turns(part)]
    return [size[::-1] if turned else size for turned in sorted(set(quarter))]


def _fits(size: Size, room: Size) -> bool:
    return all(needed <= there + SAME_LENGTH_MM for needed, there in zip(size, room, strict=True))


def _room(sheet: SheetSize | Remnant | FaultyRow, margin: float) -> Size:
    if isinstance(sheet, FaultyRow):
        size = sheet.room or (0.0, 0.0)
    else:
        size = (sheet.width, sheet.length) if isinstance(sheet, SheetSize) else _box(sheet.edge)
    return _grown(size, -margin)


def _grown(room: Size, margin: float) -> Size:
    return room[0] + 2 * margin, room[1] + 2 * margin


def _box(loop: Loop) -> Size:
    """Width and length of a rectangle's loop."""
    xs = [x for x, _, _ in loop.vertices]
    ys = [y for _, y, _ in loop.vertices]
    return max(ys) - min(ys), max(xs) - min(xs)


def _size_said(size: Size, units: Units) -> str:
    width, length = (number(max(mm, 0.0) / units.length_mm, 3) for mm in size)
    return f"{width} x {length} {units.value}"


# What only shows when parts, sheets and rules of one gauge are seen together.
#
# Terms
# gauge
#     One metal in one thickness, however its rows write the thickness (see `trade.thickness`).

Key = tuple[str, Thickness]
"""A gauge: the material's name and the thickness that stands for all ways of writing it."""

Thing = Part | SheetSize | CuttingRule | Remnant

ThingT = TypeVar("ThingT", Part, SheetSize, CuttingRule, Remnant, FaultyRow)

NAMED = 4
"""Parts named in a message about a gauge; the rest are counted."""


class Gauges:
    """All rows of the book sorted by gauge, and which parts are ordered."""

    def __init__(
        self,
        rules: PageRead[CuttingRule],
        stock: PageRead[SheetSize],
        remnants: PageRead[Remnant],
        parts: PageRead[Part],
        kits: PageRead[Kit],
        orders: PageRead[Order],
    ) -> None:
        self.whole_rules, self.whole_stock = rules.whole, stock.whole and remnants.whole
        things: list[Read[Thing]] = [*parts.rows, *stock.rows, *rules.rows, *remnants.rows]
        faulty_sheets = (*stock.faulty, *remnants.faulty)
        faulty = (read.value for read in (*rules.faulty, *faulty_sheets))
        self._shown = _shown([*(read.value for read in things), *faulty])
        self.faulty_rules = self._sorted(rules.faulty)
        self.faulty_sheets = self._sorted(faulty_sheets)
        self.rules = {self.key(read.value): read.value for read in rules.rows}
        self.stock = self._sorted(stock.rows)
        self.remnants = self._sorted(remnants.rows)
        self.parts = self._sorted(parts.rows)
        self.things = things
        self.ordered = _ordered(kits, orders)

    def key(self, thing: Thing | FaultyRow) -> Key:
        """The gauge of a part, sheet, rule or remnant."""
        return thing.material, self._shown[thing.material, thing.thickness]

    def needed(self) -> Iterator[tuple[Key, Sequence[Read[Part]]]]:
        """Gauges with ordered parts, and these parts."""
        for key, reads in self.parts.items():
            ordered = [read for read in reads if read.value.name in self.ordered]
            if ordered:
                yield key, ordered

    def weight(self, parts: Iterable[Read[Part]]) -> Weight:
        """A fault of parts stops the plan where one of them has to be made."""
        must = any(self.ordered.get(read.value.name, False) for read in parts)
        return Weight.STOPS if must else Weight.NOTE

    def _sorted(self, reads: Iterable[Read[ThingT]]) -> Mapping[Key, list[Read[ThingT]]]:
        found: dict[Key, list[Read[ThingT]]] = defaultdict(list)
        for read in reads:
            found[self.key(read.value)].append(read)
        return dict(found)


def gauge_problems(gauges: Gauges, units: Units) -> list[Problem]:
    """Gauges without rule or sheet, parts that no sheet can hold, thicknesses that are easily confused."""
    problems = []
    for key, parts in gauges.needed():
        if key not in gauges.rules and key not in gauges.faulty_rules and gauges.whole_rules:
            problems.append(_no_rule(gauges, key, parts))
        if key not in gauges.stock and key not in gauges.remnants and gauges.whole_stock:
            problems.append(_no_stock(gauges, key, parts))
    for key, reads in gauges.parts.items():
        if gauges.whole_stock:
            problems += _too_large(gauges, key, reads, units)
    return problems + _close(gauges)


def _too_large(gauges: Gauges, key: Key, parts: Sequence[Read[Part]], units: Units) -> list[Problem]:
    """Parts of a gauge that fit on no sheet; a sheet whose row has a mistake may be the one for them."""
    sheets = [read.value for read in (*gauges.stock.get(key, ()), *gauges.remnants.get(key, ()))]
    margin = gauges.rules[key].margin if key in gauges.rules else None
    faulty = gauges.faulty_sheets.get(key, [])
    everything = [*sheets, *(row.value for row in faulty)]
    told: list[Problem] = []
    waiting: dict[int, list[Read[Part]]] = defaultdict(list)
    for read in parts if sheets else ():
        if too_large(read, sheets, margin, _said(key), gauges.weight([read]), units) is None:
            continue
        rows = (n for n, row in enumerate(faulty) if may_hold(row.value.room, read.value, margin))
        row = next(rows, None)
        if row is not None:
            waiting[row].append(read)
            continue
        problem = too_large(read, everything, margin, _said(key), gauges.weight([read]), units)
        told += [problem] if problem else []
    return told + [_waits(faulty[row], key, reads, gauges.weight(reads)) for row, reads in waiting.items()]


def _waits(row: Read[FaultyRow], key: Key, parts: Sequence[Read[Part]], weight: Weight) -> Problem:
    return row.place.problem(
        None, f"This row is left out for its mistake; {_named(parts)} a larger sheet of {_said(key)} than "
        "the others are.", "Put this row right first, then check again.", weight,
    )  # fmt: skip


def unpriced(gauges: Gauges) -> tuple[frozenset[str], list[Problem]]:
    """Names of sheets without a price among others that have one, and the problems.

    Such a sheet would seem to be free and be chosen for it.
    """
    names: set[str] = set()
    problems = []
    for key, reads in gauges.stock.items():
        free = [read for read in reads if read.value.price <= 0]
        if len(free) == len(reads):
            problems.append(free[0].place.problem(
                "Price", f"No sheet of {_said(key)} has a price, so its sizes cannot be compared by cost.",
                "Write what a sheet costs.", Weight.NOTE,
            ))  # fmt: skip
            continue
        names.update(read.value.name for read in free)
        problems += [read.place.problem(
            "Price", f"{read.value.name} has no price while other sheets of {_said(key)} have one; "
            "it would seem to be free.", "Write what a sheet costs.", Weight.LEFT_OUT,
        ) for read in free]  # fmt: skip
    return frozenset(names), problems


def _no_rule(gauges: Gauges, key: Key, parts: Sequence[Read[Part]]) -> Problem:
    return Problem(
        CUTTING.name, None, None, f"There is no row for {_said(key)}, which {_named(parts)}.",
        "Add a row with its kerf, gap and margin from your cut chart.", gauges.weight(parts),
    )  # fmt: skip


def _no_stock(gauges: Gauges, key: Key, parts: Sequence[Read[Part]]) -> Problem:
    others = sorted({thickness.text for material, thickness in gauges.stock if material == key[0]})
    if key in gauges.faulty_sheets:
        place = gauges.faulty_sheets[key][0].place
        return place.problem(
            None, f"This row is left out for its mistake, and no other has a sheet of {_said(key)}, which "
            f"{_named(parts)}.", "Put this row right first.", gauges.weight(parts),
        )  # fmt: skip
    there = f"It has {key[0]} in {', '.join(others)}. " if others else ""
    return parts[0].place.problem(
        "Thickness", f"The page {STOCK.name} has no usable sheet of {_said(key)}, which {_named(parts)}.",
        f"{there}Add a sheet size there, or correct the thickness.", gauges.weight(parts),
    )  # fmt: skip


def _close(gauges: Gauges) -> list[Problem]:
    """Notes on gauges of one metal that are easily taken for one another."""
    first: dict[Key, Read[Thing]] = {}
    for read in gauges.things:
        first.setdefault(gauges.key(read.value), read)
    notes = []
    for (key, read), (later_key, later) in combinations(first.items(), 2):
        if key[0] == later_key[0] and confusing(key[1], later_key[1]):
            notes.append(later.place.problem(
                "Thickness",
                f"{_said(later_key)} is close to {key[1].text} ({read.place.said}), but not the same.",
                "If both mean one sheet, write them alike on every page; if not, nothing is wrong.",
                Weight.NOTE,
            ))  # fmt: skip
    return notes


def _shown(things: Iterable[Thing | FaultyRow]) -> dict[Key, Thickness]:
    written: dict[str, list[Thickness]] = defaultdict(list)
    for thing in things:
        written[thing.material].append(thing.thickness)
    return {
        (material, thickness): family[0]
        for material, thicknesses in written.items()
        for family in families(thicknesses)
        for thickness in family
    }


def _ordered(kits: PageRead[Kit], orders: PageRead[Order]) -> dict[str, bool]:
    """Parts that orders ask for, with whether one of these orders has to be made."""
    inside = {read.value.name: tuple(read.value.parts) for read in kits.rows}
    found: dict[str, bool] = {}
    for read in orders.rows:
        for part in inside.get(read.value.item, (read.value.item,)):
            found[part] = found.get(part, False) or read.value.must
    return found


def _said(key: Key) -> str:
    return f"{key[0]} {key[1].text}"


def _named(parts: Sequence[Read[Part]]) -> str:
    said = named((read.value.name for read in parts), NAMED)
    return f"{said} needs" if len(parts) == 1 else f"{said} need"


# Parts with outlines of their own against how their gauge is cut: holes, webs, slots.

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
                what = f"{read.value.name}: {named(wrong, MOST_TOLD, '; ')}."
                yield read.place.problem("Part", what, TOO_NARROW, weight)
            if wanted and doubts:
                doubtful.append((read, doubts))
    if len(doubtful) > MOST_NOTED:
        yield from _by_kind(doubtful)
        return
    for read, doubts in doubtful:
        marked = [doubt for doubt in doubts if TOO_SMALL in doubt]
        for some in (marked, [doubt for doubt in doubts if doubt not in marked]):
            if some:
                what = f"{read.value.name}: {named(some, MOST_TOLD, '; ')}."
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
