"""Rounds of counted work: more seconds only add rounds at the end."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sheetplan.planning.gauge_work import FULL_ENOUGH, looks_for, rounds_for, shares


@given(st.floats(0.1, 90.0), st.floats(0.1, 90.0))
def test_a_longer_run_begins_as_a_shorter_one(one: float, other: float) -> None:
    short, long = (list(rounds_for(seconds)) for seconds in sorted((one, other)))
    assert long[: len(short)] == short


@given(st.floats(1.0, 200.0))
def test_the_rounds_come_to_the_seconds(seconds: float) -> None:
    rounds = list(rounds_for(seconds))
    spent = sum(one.looks for one in rounds)
    assert spent <= looks_for(seconds) * FULL_ENOUGH
    assert spent + rounds[-1].looks * 4 >= looks_for(seconds) * 0.999, "no more than the next round is left"


@given(st.lists(st.floats(0.0, 1e6), min_size=1, max_size=12), st.integers(1, 4))
def test_shares_of_a_round(gains: list[float], cores: int) -> None:
    found = shares(gains, 1.0 / cores)
    assert all(0.0 <= share <= 1.0 / cores for share in found)
    assert sum(found) <= 1.0 + 1e-9
    assert all(share > 0.0 for share, gain in zip(found, gains, strict=True) if gain > 1e-9)
    assert not any(share for share, gain in zip(found, gains, strict=True) if gain == 0.0)
