"""Dual feasible functions: sizes made larger in a way that no set of pieces on one sheet notices.

A function f from 0..1 to 0..1 is dual feasible if whatever fits side by side still does so after
it: sum x <= 1 implies sum f(x) <= 1. With one function along each side, the areas of the changed
boxes on one sheet add up to at most 1 (Fekete and Schepers, "A general framework for bounds for
higher-dimensional orthogonal packing problems", Mathematical Methods of Operations Research 60,
2004). Each pair of functions so gives an inequality that every layout keeps.

All sizes are whole numbers and all comparisons exact; only the values are floats.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel import Ints

Floats = NDArray[np.float64]

NONE: Ints = np.empty(0, np.int64)

STEPS = (1, 2, 3, 4)
"""How finely `stepped` rounds: the number of equal steps up to the whole side."""

MOST_THRESHOLDS = 24
"""Thresholds tried per side and family, spread over the sizes that occur."""


def plain(sizes: Ints, whole: int) -> Floats:
    """The size itself as a share of the whole side."""
    return sizes / whole


def stepped(sizes: Ints, whole: int, steps: int) -> Floats:
    """Round to steps of the side: u^(k) of Fekete and Schepers (2004)."""
    grown = (steps + 1) * sizes
    exact = grown % whole == 0
    return np.where(exact, sizes / whole, (grown // whole) / steps)


def cut_off(sizes: Ints, whole: int, threshold: int) -> Floats:
    """Leave out what is below a threshold and count what leaves less than it as a whole: U^(eps)."""
    return np.where(sizes > whole - threshold, 1.0, np.where(sizes < threshold, 0.0, sizes / whole))


def rounded(sizes: Ints, whole: int, threshold: int) -> Floats:
    """Count thresholds: phi^(eps) of Fekete and Schepers, also in Carlier, Clautiaux and Moukrim (2007)."""
    most = whole // threshold
    large = 1.0 - ((whole - sizes) // threshold) / most
    small = (sizes // threshold) / most
    return np.where(2 * sizes > whole, large, np.where(2 * sizes == whole, 0.5, small))


def functions_of(sizes: Ints, whole: int, others: Ints = NONE) -> Floats:
    """Values of every function for one side of a sheet, shape (functions, len(sizes) + len(others)).

    The functions are chosen by the sizes alone and take the other sizes as well. Sizes beyond the
    side get the value 1: they lie on no such sheet, so any value would do.
    """
    inside = np.minimum(sizes, whole)
    both = np.minimum(np.concatenate((sizes, others)), whole)
    rows = [plain(both, whole)]
    rows += [stepped(both, whole, steps) for steps in STEPS]
    rows += _family(cut_off, both, whole, inside)
    rows += _family(rounded, both, whole, np.concatenate([inside // parts for parts in (1, 2, 3, 4)]))
    return np.unique(np.array(rows), axis=0)


def _family(
    function: Callable[[Ints, int, int], Floats], sizes: Ints, whole: int, marks: Iterable[int]
) -> list[Floats]:
    """One function at thresholds up to half the side, evenly picked where there are too many."""
    thresholds = sorted({int(mark) for mark in marks if mark > 0 and 2 * mark <= whole})
    if len(thresholds) > MOST_THRESHOLDS:
        picks = np.linspace(0, len(thresholds) - 1, MOST_THRESHOLDS).round().astype(int)
        thresholds = [thresholds[i] for i in picks]
    return [function(sizes, whole, threshold) for threshold in thresholds]
