"""Two real drawings brought in, planned and read again; all by ``python -m tests.hard.real_drawings``."""

import shutil
from pathlib import Path

import pytest

from tests.hard.real_drawings import SHARED, each, planned

pytestmark = pytest.mark.skipif(
    not SHARED.is_dir(), reason="the shared drawings are not beside this repository"
)


def test_real_drawings_are_planned_and_each_goes_through_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "some").mkdir()
    names = ("r12_small_lines_only.dxf", "r12_mounts_mostly_lines.dxf")
    for name in names:
        shutil.copy(SHARED / name, tmp_path / "some" / name)
    (tmp_path / "book").mkdir()
    figures = planned(tmp_path / "book", tmp_path / "some", 0.5)
    # Counted by hand: one shape and its mirror image; two mounts, each twice.
    assert (figures["parts"], figures["drawn"], figures["refused"]) == (3, 6, 0)
    assert figures["pieces planned"] == 9
    (tmp_path / "one").mkdir()
    assert each(tmp_path / "one", SHARED / names[0]) == ("parts", [])
