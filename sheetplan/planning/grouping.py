"""Orders become pieces, sorted into gauges: one group per material and thickness.

Terms
-----
need
    Pieces of one part that one order line asks for, kits exploded.
gauge, group
    One material in one thickness: its needs, sheets, remnants and cutting rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sheetplan.model.job import CuttingRule, Job, Order, Part, Remnant, SheetSize
from sheetplan.model.plan import Group, Need
from sheetplan.model.problem import Problem, Weight
from sheetplan.trade.sentences import counted
from sheetplan.trade.thickness import Thickness, families

Key = tuple[str, float, str]
"""Material name, then the thickness that stands for its family (mm and text)."""


@dataclass(frozen=True, slots=True)
class Gauges:
    """For each material and thickness as written, the thickness that the group shows."""

    shown: Mapping[tuple[str, Thickness], Thickness]

    def key(self, thing: CuttingRule | SheetSize | Remnant) -> Key:
        """The group that a rule, sheet or remnant belongs to."""
        return self.of(thing.material, thing.thickness)

    def of(self, material: str, thickness: Thickness) -> Key:
        """The group of a material and a thickness as written."""
        shown = self.shown[material, thickness]
        return material, shown.mm, shown.text


def make_groups(job: Job) -> tuple[tuple[Group, ...], tuple[Problem, ...]]:
    """The gauges that the orders need, by material and rising thickness, and what is wrong with them.

    A gauge without a cutting rule is left out with a problem that stops the plan: its gap and
    margin are nobody's to guess.
    """
    gauges = _gauges(job)
    needs = _needs(job, gauges)
    groups, problems = [], []
    for key in sorted(needs):
        group = _group(job, gauges, key, tuple(needs[key]))
        if isinstance(group, Problem):
            problems.append(group)
            continue
        if not group.stock and not group.remnants:
            problems.append(_no_stock(group))
        groups.append(group)
    return tuple(groups), tuple(problems)


def gauge_names(job: Job) -> dict[str, str]:
    """The label of each part's gauge, by the part's name."""
    gauges = _gauges(job)
    keys = {name: gauges.of(part.material, part.thickness) for name, part in job.parts.items()}
    return {name: f"{material} {text}" for name, (material, _, text) in keys.items()}


def gauge_metals(job: Job) -> dict[str, tuple[str, str]]:
    """Material and thickness of each gauge that a book knows, by the gauge's label."""
    return {
        f"{material} {shown.text}": (material, shown.text)
        for (material, _), shown in _gauges(job).shown.items()
    }


def _gauges(job: Job) -> Gauges:
    written: dict[str, list[Thickness]] = {}
    things: Iterable[CuttingRule | Part | SheetSize | Remnant] = (
        *job.rules, *job.parts.values(), *job.stock, *job.remnants,
    )  # fmt: skip
    for thing in things:
        written.setdefault(thing.material, []).append(thing.thickness)
    shown = {}
    for material, thicknesses in written.items():
        for family in families(thicknesses):
            shown.update({(material, thickness): family[0] for thickness in family})
    return Gauges(shown)


def _needs(job: Job, gauges: Gauges) -> dict[Key, list[Need]]:
    needs: dict[Key, list[Need]] = {}
    for index, order in enumerate(job.orders):
        for name, pieces in _exploded(job, order).items():
            part = job.parts[name]
            kit = order.item if order.item in job.kits else ""
            need = Need(index, name, kit, pieces * order.quantity, order.must)
            needs.setdefault(gauges.of(part.material, part.thickness), []).append(need)
    return needs


def _exploded(job: Job, order: Order) -> Mapping[str, int]:
    """Parts in one of what is ordered."""
    kit = job.kits.get(order.item)
    return kit.parts if kit else {order.item: 1}


def _group(job: Job, gauges: Gauges, key: Key, needs: tuple[Need, ...]) -> Group | Problem:
    material, mm, text = key
    label = f"{material} {text}"
    rule = next((rule for rule in job.rules if gauges.key(rule) == key), None)
    if rule is None:
        return Problem(
            page="Cutting", row=None, cell=None,
            what=f"There is no cutting rule for {label}, which the orders need.",
            remedy=f"Add a row for {label} with its kerf, gap and margin.",
        )  # fmt: skip
    if material not in job.materials:
        return Problem(
            page="Materials", row=None, cell=None,
            what=f"{material} is used but not on the Materials page.",
            remedy=f"Add a row for {material} with its density.",
        )  # fmt: skip
    stock = tuple(sheet for sheet in job.stock if gauges.key(sheet) == key)
    remnants = tuple(remnant for remnant in job.remnants if gauges.key(remnant) == key)
    return Group(label, job.materials[material], Thickness(mm, text), rule, needs, stock, remnants)


def _no_stock(group: Group) -> Problem:
    pieces = sum(need.pieces for need in group.needs)
    return Problem(
        page="Stock", row=None, cell=None,
        what=f"There is no sheet or remnant of {group.label}; {counted(pieces, 'piece')} cannot be made.",
        remedy=f"Add a sheet size of {group.label} to Stock.",
        weight=Weight.NOTE,
    )  # fmt: skip
