"""What is said of true shapes: no more than their search has shown."""

from __future__ import annotations

import pytest

from sheetplan.planning.group_plan import ROUND_SECONDS, ShapeOutcome, round_seconds, shape_note

NO_CHEAPER = "Packing by outline was tried; it is no cheaper"


@pytest.mark.parametrize(("outcome", "said"), [
    (ShapeOutcome(at_rest=True), "Packing by outline was tried; it is no cheaper than by box here."),
    (
        ShapeOutcome(at_rest=False, seconds=81.0),
        "Packing by outline is no cheaper than by box so far, but time ran out before it was tried to "
        "the end: that takes about 90 seconds or more.",
    ),
    (
        ShapeOutcome(at_rest=False),
        "Packing by outline is no cheaper than by box so far, but time ran out before it was tried to "
        "the end: give more seconds.",
    ),
    (
        ShapeOutcome(tried=False, seconds=1201.0),
        "Packing by outline may pay here, but time ran out before it was tried: that takes about "
        "1,800 seconds or more.",
    ),
    (
        ShapeOutcome(makes_more=True),
        "Packing by outline makes pieces for which packing by box finds no metal.",
    ),
    (ShapeOutcome(100.0, 1), "Packing by outline instead of by box saved 1 sheet, 100.00."),
    (
        ShapeOutcome(1234.5, 0),
        "Packing by outline instead of by box saved 1,234.50: as many sheets, but cheaper ones.",
    ),
    (
        ShapeOutcome(5.0, -1),
        "Packing by outline instead of by box saved 5.00: 1 sheet more, but cheaper ones.",
    ),
    (
        ShapeOutcome(90.0, 0, remnants=3),
        "Packing by outline instead of by box saved 3 remnants, 90.00.",
    ),
    (
        ShapeOutcome(90.0, 2, remnants=1),
        "Packing by outline instead of by box saved 2 sheets and 1 remnant, 90.00.",
    ),
    (
        ShapeOutcome(90.0, 1, remnants=-2),
        "Packing by outline instead of by box saved 1 sheet, 90.00, with 2 remnants more.",
    ),
    (
        ShapeOutcome(0.081, 2, has_prices=False),
        "Packing by outline instead of by box saved 2 sheets, 8.1% of the metal.",
    ),
    (
        ShapeOutcome(0.081, 0, has_prices=False),
        "Packing by outline instead of by box saved 8.1% of the metal: as many sheets, but smaller ones.",
    ),
])  # fmt: skip
def test_each_outcome_has_its_sentence(outcome: ShapeOutcome, said: str) -> None:
    assert shape_note(outcome) == said


@pytest.mark.parametrize("saved", [-10.0, 0.0, 10.0])
@pytest.mark.parametrize("tried", [False, True])
@pytest.mark.parametrize("makes_more", [False, True])
@pytest.mark.parametrize("seconds", [None, 40.0])
def test_that_they_are_no_cheaper_is_said_only_at_rest(
    saved: float, tried: bool, makes_more: bool, seconds: float | None
) -> None:
    note = shape_note(ShapeOutcome(saved, 0, False, seconds, tried, True, makes_more))
    assert not note.startswith(NO_CHEAPER)
    assert ("saved" in note) is (saved > 0.0 and tried and not makes_more)


@pytest.mark.parametrize(("seconds", "said"), [
    (0.3, 10), (10.0, 10), (10.1, 20), (61.0, 90), (3600.0, 3600), (3601.0, 7200), (20_000.0, 21_600),
])  # fmt: skip
def test_an_estimate_is_rounded_up_to_a_round_number(seconds: float, said: int) -> None:
    assert round_seconds(seconds) == said
    assert list(ROUND_SECONDS) == sorted(ROUND_SECONDS)
