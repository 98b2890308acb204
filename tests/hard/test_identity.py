"""A few histories by default; 500 by ``python -m tests.hard.identity``."""

from pathlib import Path

import pytest

from tests.hard.identity import Ledger, one


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
@pytest.mark.parametrize("case", range(2))
def test_a_history_of_book_and_rack_has_no_silent_wrong(tmp_path: Path, case: int) -> None:
    assert one(1, case, tmp_path)["fault"] == ""


def test_the_ledger_knows_nothing_of_the_tool() -> None:
    """It starts from an empty rack, and from all sheets on hand."""
    assert (Ledger().made(), Ledger().tags(), Ledger(came=2).on_hand()) == ({}, set(), 11)
