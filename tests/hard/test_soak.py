"""A few of the random books by default; 300 by ``python -m tests.hard.soak``."""

from pathlib import Path

import pytest

from tests.hard.soak import one


@pytest.mark.slow
@pytest.mark.parametrize("case", range(1))
def test_a_random_book_is_planned_again_and_again(tmp_path: Path, case: int) -> None:
    assert one(1, case, tmp_path)["fault"] == ""
