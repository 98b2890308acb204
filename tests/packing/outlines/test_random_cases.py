"""Three hundred random sheets, each put before the independent check of true outlines."""

from hypothesis import HealthCheck, event, given, settings

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
    finding = check_layout(layout, group, {part.name: part for part in case.parts}, Units.MM)
    return [fault.what for fault in finding.faults]


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(cases())
def test_every_sheet_passes_the_independent_check(case: Case) -> None:
    placements = OutlinePacker(case.parts).fill(case.blank, case.items, seed=case.seed, effort=case.effort)
    event("empty" if not placements else "full" if len(placements) > 10 else "some")
    for item in case.items:
        assert sum(p.part == item.part.name for p in placements) <= item.available
    if placements:
        assert not found(case, placements)


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(cases())
def test_the_same_seed_gives_the_same_sheet(case: Case) -> None:
    packer = OutlinePacker(case.parts)
    first = packer.fill(case.blank, case.items, seed=case.seed, effort=case.effort)
    assert packer.fill(case.blank, case.items, seed=case.seed, effort=case.effort) == first
    assert OutlinePacker(case.parts).fill(case.blank, case.items, seed=case.seed, effort=case.effort) == first


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
