"""A few random tickings by default; 200 by ``python -m tests.hard.hand_back --count 200 --seed 1``."""

from pathlib import Path

import pytest

from tests.app.cut_book import copied, planned_book
from tests.hard.hand_back import ON_HAND, Page, one


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"), plates=75, on_hand=ON_HAND)


@pytest.mark.slow
@pytest.mark.parametrize("case", range(2))
def test_what_is_handed_back_is_what_was_ticked(made: Path, tmp_path: Path, case: int) -> None:
    page = Page()
    try:
        assert one(copied(made, tmp_path / "shop"), 2, case, page) >= 1
    finally:
        page.close()
