"""Pictures that cannot be used, by the real command; larger ones: ``python -m tests.hard.bad_pictures``."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("cv2", reason="OpenCV is not installed: pip install 'sheetplan[picture]'")

from tests.hard.bad_pictures import CASES, Case, good_picture, handed_over


@pytest.fixture(scope="module")
def good() -> bytes:
    return good_picture(2.0)


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_it_is_told_in_time_and_nothing_is_recorded(case: Case, good: bytes, tmp_path: Path) -> None:
    _, fault = handed_over(case, good, tmp_path / "work")
    assert fault == ""
