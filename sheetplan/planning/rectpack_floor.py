"""rectpack's plans: the plain path, and the floor under our own search.

rectpack loses boxes to float rounding, drops oversize ones silently, and opens the first sheet
size that fits; so it gets whole nanometres, its boxes are counted, and several orders of the
sheet sizes are tried.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import rectpack

from sheetplan.packing.kernel import Ints
from sheetplan.planning.box_problem import BoxProblem, Cut

METHODS = (
    rectpack.MaxRectsBssf, rectpack.MaxRectsBaf, rectpack.MaxRectsBl, rectpack.MaxRectsBlsf,
    rectpack.SkylineBlWm, rectpack.SkylineMwfWm, rectpack.SkylineMwflWm,
    rectpack.GuillotineBssfSas, rectpack.GuillotineBafSas, rectpack.GuillotineBafMinas,
)  # fmt: skip
ORDERS = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_PERI)


@dataclass(frozen=True, slots=True)
class Variant:
    """One way to run rectpack: method, order of boxes, sheet sizes in turn, and how it picks a sheet."""

    method: type
    order: object
    sizes: tuple[int, ...]
    choice: object = rectpack.PackingBin.BFF


def variants(problem: BoxProblem) -> Iterator[Variant]:
    """Every method with every order of boxes and of sheet sizes, the most promising first."""
    for sizes in size_orders(problem):
        for order, method in product(ORDERS, METHODS):
            yield Variant(method, order, sizes)


def size_orders(problem: BoxProblem) -> tuple[tuple[int, ...], ...]:
    """Orders of the whole sheets: cheapest per area, cheapest, largest, and each alone in front."""
    supplies = problem.supplies
    whole = [s for s in range(len(problem.choices)) if len(problem.choices[s].free) == 1]
    by_rate = sorted(whole, key=lambda s: supplies.costs[s] / supplies.areas[s])
    orders = [
        by_rate,
        sorted(whole, key=lambda s: supplies.costs[s]),
        sorted(whole, key=lambda s: -supplies.areas[s]),
        *(
            [*alike, *(other for other in by_rate if other not in alike)]
            for alike in _sizes(problem, by_rate)
        ),
    ]
    return tuple(dict.fromkeys(tuple(order) for order in orders if order))


def _sizes(problem: BoxProblem, supplies: Sequence[int]) -> list[list[int]]:
    """Supplies of the same sheet together: those on hand, then those to be bought."""
    sizes: dict[int, list[int]] = {}
    for s in supplies:
        sizes.setdefault(id(problem.choices[s].sheet), []).append(s)
    return list(sizes.values())


def rectpack_cuts(problem: BoxProblem, variant: Variant) -> tuple[Cut, ...] | None:
    """What one variant makes of the must pieces; None where it leaves out a single one.

    A gauge with types of both kinds, turnable and not, is run without turns.
    """
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        bin_algo=variant.choice,
        pack_algo=variant.method,
        sort_algo=variant.order,
        rotation=bool(problem.types.turnable.all()),
    )
    pieces = _add_all(packer, problem, variant.sizes)
    packer.pack()
    placed = packer.rect_list()
    if len(placed) != pieces:
        return None
    by_bin: dict[int, list[tuple[int, int, int, int]]] = {}
    for number, x, y, length, width, t in placed:
        turned = (length, width) != (problem.types.lengths[t], problem.types.widths[t])
        by_bin.setdefault(number, []).append((t, x, y, int(turned)))
    supplies = {number: int(packer[number].bid) for number in by_bin}
    return merged(Cut(supplies[n], _shifted(rows, problem, supplies[n])) for n, rows in by_bin.items())


def _add_all(packer: rectpack.packer.PackerOnline, problem: BoxProblem, sizes: Sequence[int]) -> int:
    pieces = int(problem.wanted.sum())
    for s in sizes:
        _, _, length, width = (int(v) for v in problem.choices[s].free[0])
        packer.add_bin(length, width, count=min(pieces, problem.choices[s].limit), bid=s)
    for t, count in enumerate(problem.wanted):
        for _ in range(count):
            packer.add_rect(int(problem.types.lengths[t]), int(problem.types.widths[t]), t)
    return pieces


def _shifted(rows: list[tuple[int, int, int, int]], problem: BoxProblem, s: int) -> Ints:
    """Boxes moved from the free rectangle's corner, where rectpack starts, into the datum frame."""
    boxes = np.array(sorted(rows), np.int64)
    boxes[:, 1:3] += problem.choices[s].free[0, :2]
    return boxes


def merged(cuts: Iterable[Cut]) -> tuple[Cut, ...]:
    """Equal sheets counted once."""
    repeats: dict[tuple[object, ...], int] = {}
    kept: dict[tuple[object, ...], Cut] = {}
    for cut in cuts:
        key = cut.supply, cut.boxes.tobytes(), cut.placements
        repeats[key] = repeats.get(key, 0) + cut.repeats
        kept.setdefault(key, cut)
    return tuple(replace(cut, repeats=repeats[key]) for key, cut in kept.items())
