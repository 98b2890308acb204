import pytest

from sheetplan.trade.starter import DEFERENCE, GENERAL, particular
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


def test_general_cautions_name_what_holds_for_all_metals() -> None:
    for word in ("Heavy sheets", "Hot and sharp", "Arc light", "licensed"):
        assert any(word in caution for caution in (*GENERAL, DEFERENCE))


@pytest.mark.parametrize("series", ["", "copper"])
def test_of_a_metal_that_is_not_known_nothing_peculiar_is_said(series: str) -> None:
    assert particular(series) == ()


@pytest.mark.parametrize("caution", [*GENERAL, DEFERENCE, *(c for one in SERIES for c in particular(one))])
def test_every_caution_defers(caution: str) -> None:
    assert any(word in caution for word in DEFERS)


def test_carbon_steel_has_no_peculiar_ones() -> None:
    assert particular(CARBON_STEEL) == ()
