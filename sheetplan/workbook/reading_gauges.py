"""What only shows when parts, sheets and rules of one gauge are seen together.

Terms
-----
gauge
    One metal in one thickness, however its rows write the thickness (see `trade.likeness`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations
from typing import TypeVar

from sheetplan.model.job import CuttingRule, Kit, Order, Part, Remnant, SheetSize
from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.likeness import confusing, families
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import CUTTING, STOCK
from sheetplan.workbook.reading_fit import may_hold, too_large
from sheetplan.workbook.rows.reader import FaultyRow, PageRead, Read

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
    names = [read.value.name for read in parts]
    if len(names) == 1:
        return f"{names[0]} needs"
    rest = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return f"{', '.join(names[:NAMED])}{rest} need"
