"""A share of the open book's moments; `python -m tests.hard.open_book` has them all."""

import pytest

from tests.hard.open_book import main
from tests.workbook.hosts.real_calc import python_with_uno


@pytest.mark.slow
@pytest.mark.skipif(python_with_uno() is None, reason="needs LibreOffice with python3-uno installed")
def test_an_open_book_stands_a_random_moment() -> None:
    tally = main(1, 3, ("fr-FR",), undo=False)
    assert sum(tally.moments.values()) == 1
    assert tally.faults == []
