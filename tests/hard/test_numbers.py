"""A share of the typed numbers; `python -m tests.hard.numbers` types 20,000."""

import math

import pytest

from sheetplan.trade.units import Units
from tests.hard.numbers import amounts, counts, lengths, main


def test_no_typed_number_is_read_as_what_nobody_wrote() -> None:
    tally = main(4000, 22)
    assert tally.wrong == []
    assert tally.ends["date slip: named"] > 500
    assert sum(times for end, times in tally.ends.items() if end.endswith("read")) > 1500


@pytest.mark.parametrize(("readings", "wanted"), [
    (counts("1.000"), {1.0, 1000.0}), (amounts("1'250.50"), {1250.5}), (amounts("1.250"), {1.25, 1250.0}),
    (lengths("1'000", Units.MM), {304.8, 1000.0}), (lengths("12 1/2", Units.INCH), {317.5}),
    (lengths("1.250", Units.INCH), {31.75}), (lengths("5' 14", Units.INCH), set()),
])  # fmt: skip
def test_the_grammar_itself_by_hand(readings: set[float], wanted: set[float]) -> None:
    assert len(readings) == len(wanted)
    assert all(math.isclose(a, b) for a, b in zip(sorted(readings), sorted(wanted), strict=True))
