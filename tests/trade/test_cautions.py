import pytest

from sheetplan.trade.starter import DEFERENCE, GENERAL, cautions_for, particular
from sheetplan.trade.thickness import ALUMINIUM, CARBON_STEEL, GALVANISED_STEEL, SERIES, STAINLESS_STEEL

DEFERS = ("local", "rules", "code", "manual", "law", "licensed", "data sheet")


@pytest.mark.parametrize(
    ("series", "words"),
    [
        (GALVANISED_STEEL, ("zinc", "fume")),
        (STAINLESS_STEEL, ("hexavalent chromium",)),
        (ALUMINIUM, ("water table", "hydrogen", "explode")),
    ],
)
def test_each_metal_has_its_own(series: str, words: tuple[str, ...]) -> None:
    text = " ".join(particular(series))
    assert all(word in text for word in words)


@pytest.mark.parametrize("series", [*SERIES, "", "copper"])
def test_general_cautions_stand_everywhere(series: str) -> None:
    found = cautions_for(series)
    assert set(GENERAL) < set(found)
    assert found[-1] == DEFERENCE
    for word in ("Heavy sheets", "Hot and sharp", "Arc light", "licensed"):
        assert any(word in caution for caution in found)


@pytest.mark.parametrize("caution", dict.fromkeys(c for series in SERIES for c in cautions_for(series)))
def test_every_caution_defers(caution: str) -> None:
    assert any(word in caution for word in DEFERS)


def test_carbon_steel_has_no_peculiar_ones() -> None:
    assert particular(CARBON_STEEL) == ()
