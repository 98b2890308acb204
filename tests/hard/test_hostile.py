"""The quick hostile books by the real command; the long ones are for ``python -m tests.hard.hostile_run``."""

import pytest

from tests.hard.hostile_run import QUICK, Case, faults_of

BY_DEFAULT = (
    "a part that hides 600 MB", "entities in a cell", "a file of the machine", "a page of the network",
    "relations up and out", "a table of all rows", "texts of 33 MB",
)  # fmt: skip
CASES = [case for case in QUICK if case.name in BY_DEFAULT]


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_hostile_book(case: Case) -> None:
    assert faults_of(case)[0] == []
