import pytest

from sheetplan.trade.said_in_names import agreed, metal_in, said_in
from sheetplan.trade.units import Units


# Names as a public open-hardware kit writes them; the others are common practice, no source.
@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("3_millimeter", ("3 mm",)),
        ("1p5mm", ("1.5 mm",)),
        ("6MM_ENDCAPS", ("6 mm",)),
        ("10ga", ("10 ga",)),
        ("GA16 covers", ("16 ga",)),
        (".1345", ("0.1345 in",)),
        ("t=6", ("6 mm",)),
        ("t=.25 in", ("0.25 in",)),
        ("1,5 mm", ("1.5 mm",)),
        ("3/16in", ("3/16 in",)),
        ("wheel-12", ()),
        ("bracket_100mm_wide", ()),
        ("plate_200x100x6mm", ()),
        ("M8 x 20mm", ()),
        ("3mm or 6mm", ("3 mm", "6 mm")),
    ],
)
def test_thickness(name: str, says: tuple[str, ...]) -> None:
    assert said_in(name, Units.MM).thicknesses == says


def test_counts() -> None:
    assert said_in("arm qty 4", Units.MM).counts == (4,)
    assert said_in("arm_6off", Units.MM).counts == (6,)
    assert said_in("arm 12", Units.MM).counts == ()


def test_the_nearest_name_wins_and_a_contradiction_is_known() -> None:
    assert agreed([(), ("3 mm",), ("3 mm",)]) == ("3 mm", True)
    assert agreed([("3 mm",), ("6 mm",)]) == ("3 mm", False)
    assert agreed([("3 mm", "6 mm"), ("3 mm",)]) == ("", False)
    assert agreed([(), ()]) == ("", True)


def test_metals() -> None:
    metals = {"mild steel": "carbon steel", "galvanised steel": "galvanised steel"}
    metals |= {"stainless 304": "stainless steel", "stainless 316": "stainless steel"}
    assert metal_in("mild_steel/3mm", metals) == ("mild steel",)
    assert metal_in("3mm galv covers", metals) == ("galvanised steel",)
    assert metal_in("stainless_304", metals) == ("stainless 304",)
    assert metal_in("stainless", metals) == ()
