"""A few faults by default; 1,000 by ``python -m tests.hard.truthfulness``."""

from pathlib import Path

import pytest

from tests.hard.truthfulness import one, wrong


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
@pytest.mark.parametrize("case", range(4))
def test_what_is_said_of_a_fault_is_so(tmp_path: Path, case: int) -> None:
    assert one(2, case, tmp_path)["fault"] == ""


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
def test_a_false_sentence_is_noticed(tmp_path: Path) -> None:
    """The judge itself: a book that was changed, under words that say it was not."""
    from shutil import copytree

    from tests.hard.truthfulness import begun

    folder = copytree(begun("undo"), tmp_path / "shop")
    assert wrong("undo", folder, 3, "Nothing was changed.") == []
    (folder / "yard.xlsx").write_bytes(b"something else")
    assert len(wrong("undo", folder, 3, "Nothing was changed.")) >= 3
    assert wrong("undo", folder, 4, "") != []
