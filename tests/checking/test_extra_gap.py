"""The independent check: a remnant's extra gap holds for old cuts alone."""

from dataclasses import replace

import pytest

from sheetplan.checking import FaultKind
from sheetplan.model import Placement, Remnant, rectangle
from tests.checking.planting import HAIR_MM
from tests.checking.test_layouts import GAP, SIX, STEEL, kinds, part
from tests.drawings.samples import circle

EXTRA = 8.0
BAR = part("bar", rectangle(100.0, 40.0))
REMNANT = Remnant(
    "R-1", STEEL.name, SIX, rectangle(1000.0, 600.0).outer, (circle(500.0, 300.0, 100.0),), extra_gap=EXTRA
)


@pytest.mark.parametrize(("short_by", "faulty"), [(0.0, False), (HAIR_MM, True), (EXTRA - 0.1, True)])
def test_an_old_cut_is_kept_off_by_gap_and_extra_gap(short_by: float, faulty: bool) -> None:
    # The bar's right end faces the leftmost point of the disc, which is at x = 400.
    at = Placement("bar", 400.0 - 100.0 - GAP - EXTRA + short_by, 280.0)
    assert kinds([BAR], [at], REMNANT) == ([FaultKind.OLD_CUT] if faulty else [])
    # Without the extra gap all three are good.
    assert kinds([BAR], [at], replace(REMNANT, extra_gap=0.0)) == []


def test_parts_keep_the_plain_gap_to_each_other() -> None:
    two = [Placement("bar", 20.0, 20.0), Placement("bar", 20.0, 20.0 + 40.0 + GAP)]
    assert kinds([BAR], two, REMNANT) == []
    two = [Placement("bar", 20.0, 20.0), Placement("bar", 20.0, 20.0 + 40.0 + GAP - HAIR_MM)]
    assert kinds([BAR], two, REMNANT) == [FaultKind.GAP]
