"""Old skeletons: what hangs on webs that are too narrow is left out, the rest stays."""

from __future__ import annotations

import math

import pytest
import shapely

from sheetplan.model import Loop, Remnant
from sheetplan.model.outline import rectangle
from sheetplan.rack.record import from_row, sheet_json, sheet_of
from sheetplan.rack.usable import hanging, with_hanging
from sheetplan.shapes import area, circle_loop, move, to_polygon
from sheetplan.trade.thickness import Thickness
from tests.workbook.test_reading import job_of, plain_rows


def hole(x: float, y: float, length: float, width: float) -> Loop:
    return move(rectangle(length, width).outer, x, y)


def skeleton(*cuts: Loop, length: float = 1000.0, width: float = 500.0) -> Remnant:
    return Remnant("R-1", "mild steel", Thickness(3.4, "10 ga"), rectangle(length, width).outer, cuts)


def island(web: float) -> Remnant:
    """An island of 200 x 200 at (400, 150) within a frame of old cuts, hanging by two webs of this width."""
    return skeleton(
        hole(360, 110, 40, 280), hole(600, 110, 40, 280),
        hole(400, 110, 200 - web, 40), hole(400 + web, 350, 200 - web, 40),
    )  # fmt: skip


def lost(remnant: Remnant, web: float, gap: float = 5.0) -> list[float]:
    return sorted(round(area(loop)) for loop in hanging(remnant, web, gap))


def test_an_island_on_narrow_webs_is_left_out_and_on_wide_ones_not() -> None:
    narrow = island(2.0)
    [loop] = hanging(narrow, 4.0, 5.0)
    covered = to_polygon(loop, 0.01)
    assert covered.contains(shapely.box(401, 151, 599, 349))
    assert not covered.intersects(shapely.box(0, 0, 359, 500))
    assert lost(narrow, 1.5) == []
    assert lost(island(6.0), 4.0) == []


def test_a_web_as_wide_as_the_least_holds() -> None:
    assert lost(island(4.0), 4.0) == []
    assert len(lost(island(3.9), 4.0)) == 1


def test_strips_between_rows_of_old_cuts_stay() -> None:
    """Ten discs in a row with 6 mm between them: the strips above and below hang on the sheet's ends."""
    discs = [circle_loop(60.0 + 86.0 * i, 250.0, 40.0) for i in range(10)]
    assert lost(skeleton(*discs), 3.4) == []


def test_a_strip_that_is_cut_off_all_along_hangs() -> None:
    """Old cuts from end to end, 1 mm from both: the smaller half hangs."""
    [loop] = hanging(skeleton(hole(1.0, 350.0, 998.0, 20.0)), 3.0, 5.0)
    # The strip above: 1000 x 130.
    assert area(loop) == pytest.approx(130_000, rel=0.02)


def test_what_could_hold_no_part_is_not_told() -> None:
    """Between three discs that nearly touch a piece stays that is too small for a part with its gaps."""
    r, high = 100.0, 100.0 * math.sqrt(3.0)
    discs = [circle_loop(300.0, 150.0, r - 0.5), circle_loop(500.0, 150.0, r - 0.5),
             circle_loop(400.0, 150.0 + high, r - 0.5)]  # fmt: skip
    # Inscribed circle between three touching discs: r (2 / sqrt(3) - 1) = 15.5 mm; school geometry.
    assert lost(skeleton(*discs), 3.0, gap=16.5) == []
    assert len(lost(skeleton(*discs), 3.0, gap=10.0)) == 1


def test_no_limit_and_no_cuts_lose_nothing() -> None:
    assert lost(island(0.5), 0.0) == []
    assert lost(skeleton(), 4.0) == []


def test_a_plan_is_told_and_the_record_is_not_touched() -> None:
    rows = plain_rows()
    rows["Cutting"][0]["Least web"] = 0.16
    rows["Remnants"][0] |= {"Width": 20, "Length": 40}
    thin = {"Tag": "R-1", "What": "rectangle", "Along length": 0.04, "Along width": 14, "Width": 1}
    rows["Remnant shapes"] = [{**thin, "Length": 39.92}]
    job = job_of(rows)
    after, [note] = with_hanging(job, {"R-1": 5})
    [remnant] = after.remnants
    assert remnant.hanging == 1
    assert remnant.old_cuts == job.remnants[0].cuts
    assert "a piece of its metal hangs on webs narrower than Least web" in note.what
    assert note.cell == "A5"
    assert [cut.loop for cut in from_row(remnant).cuts] == list(remnant.old_cuts)
    kept = sheet_of(sheet_json(remnant))
    assert isinstance(kept, Remnant)
    assert (kept.cuts, kept.hanging) == (remnant.cuts, 1)
