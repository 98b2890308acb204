import os
import time
from collections import Counter
from dataclasses import replace

import pytest

from sheetplan.checking import Fault, check_layout, check_plan, plans
from sheetplan.model import CuttingRule, Group, Layout, Material, Outline, Part, Placement, SheetSize
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import SAME_LENGTH_MM, Units
from tests.checking.clearances import least_gap, least_margin
from tests.checking.good_plans import good_plan
from tests.checking.planting import PLANTERS, plant
from tests.drawings.samples import circle, rounded
from tests.money.bookmaking import PARTS, SHEET, plan_of


def test_no_fault_is_raised_on_good_plans() -> None:
    for seed in range(100):
        assert check_plan(good_plan(seed)) == (), f"seed {seed}"


def test_good_plans_are_tight_and_measured() -> None:
    for seed in range(20):
        plan = good_plan(seed)
        gaps = []
        for group in plan.groups:
            rule = group.group.rule
            for layout in group.layouts:
                assert least_margin(layout, plan.job.parts) == pytest.approx(rule.margin, abs=SAME_LENGTH_MM)
                gap = least_gap(layout, plan.job.parts, rule.gap * 1.3)
                assert gap is None or gap >= rule.gap - SAME_LENGTH_MM
                gaps.append(gap)
        assert any(gap is not None for gap in gaps)


FAULTS = int(os.environ.get("SHEETPLAN_FAULTS", "500"))
"""``SHEETPLAN_FAULTS=1000`` plants so many."""


@pytest.mark.slow
def test_planted_faults_are_all_caught() -> None:
    planted: Counter[str] = Counter()
    good = {seed: good_plan(seed) for seed in range(50)}
    for seed in range(FAULTS):
        name, spoilt, kinds = plant(seed, good[seed % 50])
        planted[name] += 1
        found = {fault.kind for fault in check_plan(spoilt)}
        assert found & kinds, f"seed {seed}: {name} should give one of {kinds}, gave {found}"
    assert set(planted) == {planter.__name__ for planter in PLANTERS}
    assert min(planted.values()) >= FAULTS / 250, planted


def test_what_was_found_good_before_is_not_measured_again_and_hides_no_fault() -> None:
    """Beside the plan that it was made from, a plan with a planted fault has the same faults."""
    for seed in range(60):
        good = good_plan(seed % 3)
        _, spoilt, _ = plant(seed, good)
        assert check_plan(spoilt, good) == check_plan(spoilt)
    assert check_plan(good, good) == ()


def test_no_layout_is_measured_twice_unless_a_part_is_another_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also not one that holds every part of the job."""
    measured: list[str] = []

    def check(layout: Layout, *more: object) -> tuple[Fault, ...]:
        measured.append(layout.tag)
        return check_layout(layout, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(plans, "check_layout", check)
    plate = {"plate": PARTS["plate"]}
    plan = plan_of([Layout("L1", SHEET, (Placement("plate", 10.0, 10.0),))], book=plate)
    other = replace(plan, job=replace(plan.job, parts={"plate": replace(plate["plate"], spare=1)}))
    good = good_plan(0)
    cases = ((plan, None, ["L1"]), (plan, plan, []), (plan, other, ["L1"]), (good, good, []))
    for whole, known, want in cases:
        measured.clear()
        check_plan(whole, known)
        assert measured == want


def test_each_fault_reads_as_a_sentence() -> None:
    for seed in range(60):
        _, spoilt, _ = plant(seed, good_plan(seed % 5))
        for fault in check_plan(spoilt):
            assert fault.place
            assert "{" not in str(fault)


def test_six_thousand_pieces_in_seconds() -> None:
    outline = Outline(rounded(60.0, 40.0, 8.0), (circle(30.0, 20.0, 6.0),))
    steel, thick = Material("mild steel", "carbon steel", 7850.0), Thickness(6.0, "6 mm")
    rule = CuttingRule("mild steel", thick, 1.5, 6.0, 10.0)
    sheet = SheetSize("hall", "mild steel", thick, 6000.0, 6000.0)
    group = Group("mild steel 6 mm", steel, thick, rule, (), (sheet,), ())
    placed = tuple(Placement("P", 10.0 + 66.0 * (i % 80), 10.0 + 46.0 * (i // 80)) for i in range(6000))
    begun = time.process_time()
    part = Part("P", "mild steel", thick, outline)
    layout = Layout("L1", sheet, placed)
    assert check_layout(layout, group, {"P": part}, Units.MM) == ()
    # About 0.3 s on one core of a shared machine; a check that grows with the square takes minutes.
    assert time.process_time() - begun < 10.0
    assert least_gap(layout, {"P": part}, 7.0) == pytest.approx(6.0)
