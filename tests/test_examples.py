"""The examples in the text of every module are true."""

import doctest
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

WITH_EXAMPLES = sorted(
    path.relative_to(ROOT)
    for path in (ROOT / "sheetplan").rglob("*.py")
    if "\n    >>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("path", WITH_EXAMPLES, ids=str)
def test_examples_in_the_text_hold(path: Path) -> None:
    result = doctest.testmod(importlib.import_module(".".join(path.with_suffix("").parts)))
    assert result.attempted > 0
    assert result.failed == 0


def test_there_are_examples() -> None:
    assert len(WITH_EXAMPLES) > 30
