"""A few faults by default; 1,000 by ``python -m tests.hard.truthfulness``."""

from pathlib import Path

import pytest

from tests.hard.truthfulness import KINDS, faulted, one, undisturbed, wrong


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
@pytest.mark.parametrize("case", range(4))
def test_what_is_said_of_a_fault_is_so(tmp_path: Path, case: int) -> None:
    assert one(2, case, tmp_path)["fault"] == ""


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
@pytest.mark.parametrize("name", ["add", "seen", "new"])
def test_what_is_said_of_a_fault_in_taking_in_counting_and_making_is_so(tmp_path: Path, name: str) -> None:
    """Some calls of each: before, at and after the moment at which it counts."""
    count = undisturbed(name)[0]
    for at in range(count - 2, 0, -count // 5):
        for kind in KINDS:
            assert faulted(name, kind, at, tmp_path / f"{kind} {at}") == ""


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
