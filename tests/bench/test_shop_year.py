"""A short piece of the shop's year, so that its ledger is asked at every change; the year is a benchmark."""

from pathlib import Path

from tests.bench.shop_year import run


def test_two_weeks_of_the_shop_agree_with_a_ledger_kept_by_hand(tmp_path: Path) -> None:
    figures = run(tmp_path, seed=1, months=1, weeks=2)
    assert int(str(figures["checks"])) > 6
