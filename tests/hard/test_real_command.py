"""A spoilt book and a spoilt drawing by the real command; more: ``python -m tests.hard.real_command``."""

from pathlib import Path

import pytest

from tests.hard.real_command import one


@pytest.mark.slow
@pytest.mark.parametrize("case", range(2))
def test_a_spoilt_file(tmp_path: Path, case: int) -> None:
    assert one(3, case, tmp_path)["fault"] == ""
