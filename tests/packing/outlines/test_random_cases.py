"""Three hundred random sheets, each put before the independent check of true outlines."""

from concurrent.futures import ProcessPoolExecutor
from functools import cache
from multiprocessing import get_context

from hypothesis import HealthCheck, Phase, given, settings

from sheetplan.checking import check_layout
from sheetplan.model import CuttingRule, Group, Layout, Material, Placement, Remnant
from sheetplan.packing.outlines import OutlinePacker
from sheetplan.trade.units import Units
from tests.packing.outlines.cases import Case, cases
from tests.packing.outlines.shop import PLATE

METAL = Material("mild steel", "", 7850.0)


def found(case: Case, placements: tuple[Placement, ...]) -> list[str]:
    """What the check says, on the sheet as a remnant with the old cuts that it has."""
    blank = case.blank
    remnant = Remnant("R-001", METAL.name, PLATE, blank.edge, blank.cuts, blank.datum)
    rule = CuttingRule(METAL.name, PLATE, 0.0, blank.gap, blank.margin)
    group = Group("mild steel 3 mm", METAL, PLATE, rule, (), (), (remnant,))
    layout = Layout("L1", remnant, placements)
    faults = check_layout(layout, group, {part.name: part for part in case.parts}, Units.MM)
    return [fault.what for fault in faults]


def packed(case: Case) -> tuple[Placement, ...]:
    return OutlinePacker(case.parts).fill(case.blank, case.items, seed=case.seed, effort=case.effort)


@cache
def three_hundred() -> tuple[tuple[Case, tuple[Placement, ...]], ...]:
    """The cases and what was packed; the same ones every time."""
    found: list[tuple[Case, tuple[Placement, ...]]] = []

    @settings(
        max_examples=300, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True,
        database=None, phases=[Phase.generate],
    )  # fmt: skip
    @given(cases())
    def collect(case: Case) -> None:
        found.append((case, packed(case)))

    collect()
    return tuple(found)


def test_every_sheet_passes_the_independent_check() -> None:
    filled = 0
    assert len(three_hundred()) == 300
    for case, placements in three_hundred():
        for item in case.items:
            assert sum(p.part == item.part.name for p in placements) <= item.available
        filled += bool(placements)
        assert not placements or not found(case, placements), case
    assert filled > 250


def test_two_other_processes_give_the_same_sheets() -> None:
    """The same seed a second time, in processes that share nothing with this one."""
    alone = [placements for _, placements in three_hundred()]
    with ProcessPoolExecutor(2, get_context("spawn")) as executor:
        assert list(executor.map(packed, [case for case, _ in three_hundred()], chunksize=25)) == alone


def test_a_packer_that_has_worked_gives_the_same_sheet() -> None:
    for case, placements in three_hundred()[::20]:
        packer = OutlinePacker(case.parts)
        for _ in range(2):
            assert packer.fill(case.blank, case.items, seed=case.seed, effort=case.effort) == placements


def test_the_check_sees_a_planted_fault() -> None:
    """A part moved by a tenth of a millimetre towards its neighbour does not pass."""
    from tests.packing.outlines.test_packer import blank, items, kit_parts

    parts = kit_parts()
    case = Case(blank(), tuple(items(parts)), 1, 1)
    placed = OutlinePacker(parts).fill(case.blank, case.items, seed=1)
    assert not found(case, placed)
    moved = [Placement(p.part, p.x - 0.1, p.y, p.turn, p.mirrored) for p in placed]
    planted = [found(case, (*placed[:k], moved[k], *placed[k + 1 :])) for k in range(len(placed))]
    assert any(planted)
