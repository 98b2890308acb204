"""The page Remnants: a rectangle missing at a corner, extra gaps, and what lies above."""

import pytest

from sheetplan.model import Corner
from sheetplan.shapes import area, is_rectangle, size
from sheetplan.shapes.loops import without_corner
from tests.workbook.test_reading import job_of, plain_rows, read

INCH = 25.4


def one(**cells: object) -> dict[str, list[dict[str, object]]]:
    rows = plain_rows()
    rows["Remnants"][0].update(cells)
    return rows


def test_a_sheet_with_a_rectangle_missing() -> None:
    rows = one(Width=48, Length=96, **{"Missing width": 20, "Missing length": "30 1/2",
                                       "Missing corner": "upper right"})  # fmt: skip
    [remnant] = job_of(rows).remnants
    assert size(remnant.edge) == pytest.approx((96 * INCH, 48 * INCH))
    assert area(remnant.edge) == pytest.approx((96 * 48 - 20 * 30.5) * INCH**2)
    assert not is_rectangle(remnant.edge)


@pytest.mark.parametrize("corner", Corner)
def test_the_corner_that_is_said_is_missing_and_the_others_are_there(corner: Corner) -> None:
    points = {vertex[:2] for vertex in without_corner(10.0, 6.0, 4.0, 2.0, corner).vertices}
    x, y = (10.0 if corner.is_right else 0.0), (6.0 if corner.is_upper else 0.0)
    assert {(0.0, 0.0), (10.0, 0.0), (10.0, 6.0), (0.0, 6.0)} - points == {(x, y)}
    assert (abs(x - 4.0), abs(y - 2.0)) in points


@pytest.mark.parametrize(("cells", "says"), [
    ({"Missing width": 5}, "in part only"),
    ({"Missing width": 5, "Missing length": 5}, "in part only"),
    ({"Missing width": 5, "Missing length": 400, "Missing corner": "upper right"}, "as large as the sheet"),
    ({"Missing width": 5, "Missing length": 5, "Missing corner": "lower left"}, "the datum corner"),
    ({"Missing width": 5, "Missing length": 5, "Missing corner": "middle"}, "middle"),
    ({"Missing width": 0, "Missing length": 5, "Missing corner": "upper left"}, "is 0"),
])  # fmt: skip
def test_what_cannot_be_missing_is_told(cells: dict[str, object], says: str) -> None:
    job, problems = read(one(**cells))
    assert [problem.page for problem in problems] == ["Remnants"]
    assert says in problems[0].what
    assert job is not None
    assert job.remnants == ()


def test_extra_gap_is_the_books_or_the_remnants_own() -> None:
    rows = one()
    rows["Settings"].append({"Setting": "Extra gap to old cuts", "Value": "1/4"})
    assert job_of(rows).remnants[0].extra_gap == pytest.approx(0.25 * INCH)
    rows["Remnants"][0]["Extra gap"] = 0
    assert job_of(rows).remnants[0].extra_gap == 0.0


def test_sheets_above_are_counted_or_not_said() -> None:
    assert job_of(one()).remnants[0].above is None
    assert job_of(one(**{"Sheets above": 14})).remnants[0].above == 14
    assert read(one(**{"Sheets above": "many"}))[1][0].page == "Remnants"


def test_what_is_left_and_moving_are_settings() -> None:
    rows = plain_rows()
    assert job_of(rows).settings.crop_remnants
    rows["Settings"] += [
        {"Setting": "What is left", "Value": "keep as it is"},
        {"Setting": "Cost of moving", "Value": "2.50"},
    ]
    settings = job_of(rows).settings
    assert not settings.crop_remnants
    # 2.50 for 100 lb, and a pound is 0.45359237 kg exactly (NIST SP 811, appendix B).
    assert settings.moving_cost == pytest.approx(2.5 / 45.359237)


def test_a_remnant_whose_value_is_not_written_counts_at_a_share_of_its_largest_rectangle() -> None:
    rows = one(Width=24, Length=48, Value=None)
    job = job_of(rows)
    [remnant] = job.remnants
    gauge = remnant.material, remnant.thickness.mm
    rates = [s.price / (s.length * s.width) for s in job.stock if (s.material, s.thickness.mm) == gauge]
    whole = min(rates) * 24 * 48 * INCH**2
    assert whole > 0.0
    assert remnant.value == pytest.approx(0.6 * whole, abs=0.005)
    rows["Settings"].append({"Setting": "Remnants count at", "Value": "45 %"})
    assert job_of(rows).remnants[0].value == pytest.approx(0.45 * whole, abs=0.006)
    # Of 24 x 48 in without 12 x 24 in, 12 x 48 in or 24 x 24 in can be used at once: half of it.
    rows["Remnants"][0] |= {"Missing width": 12, "Missing length": 24, "Missing corner": "upper right"}
    assert job_of(rows).remnants[0].value == pytest.approx(0.45 * whole / 2, abs=0.01)


def test_a_value_that_is_written_stands_and_0_is_one() -> None:
    """The share of Settings is not applied to it."""
    assert job_of(one(Value=0)).remnants[0].value == 0.0
    assert job_of(one(Value=12.5)).remnants[0].value == 12.5
