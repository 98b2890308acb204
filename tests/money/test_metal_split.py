import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.money.layout_figures import MetalSplit, total_split

WEIGHT = st.floats(0, 1e4)


@st.composite
def splits(draw: st.DrawFn) -> MetalSplit:
    """Parts of a whole, the skeleton drawn as well, so that every weight is possible."""
    parts, kerf, kept, skeleton = (draw(WEIGHT) for _ in range(4))
    return MetalSplit(parts + kerf + kept + skeleton, parts, kerf, kept)


def test_a_sheet_by_hand() -> None:
    split = MetalSplit(taken=100.0, parts=60.0, kerf=2.0, kept=20.0)
    assert split.used_up == 80.0
    assert split.skeleton == 18.0
    assert split.waste == 20.0
    assert split.yield_share == 0.75
    assert split.waste_share == 0.25
    bad = split.rejecting(6.0)
    assert bad.skeleton == split.skeleton
    assert bad.solid_scrap == split.skeleton + 6.0
    assert bad.waste == 26.0


def test_very_good_shops() -> None:
    # Common practice, no source: 7 per cent on the scrap scales is 8 or 9 with what is lost as kerf.
    split = MetalSplit(taken=1000.0, parts=915.0, kerf=15.0)
    assert split.solid_scrap / split.used_up == pytest.approx(0.07)
    assert split.waste_share == pytest.approx(0.085)


@given(st.lists(splits(), max_size=12), st.integers(1, 9))
def test_everything_adds_up(many: list[MetalSplit], repeats: int) -> None:
    whole = total_split(split.times(repeats) for split in many)
    assert whole.parts + whole.kerf + whole.kept + whole.skeleton + whole.bad == pytest.approx(
        whole.taken, rel=1e-9
    )
    assert whole.taken == pytest.approx(repeats * sum(split.taken for split in many), rel=1e-9)
    if whole.used_up > 1e-6 * whole.taken:
        assert whole.yield_share + whole.waste_share == pytest.approx(1.0, rel=1e-9)


def test_nothing_has_no_yield() -> None:
    assert MetalSplit().yield_share == 0.0
    assert total_split([]) == MetalSplit()
