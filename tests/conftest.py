"""Kernels are compiled once, before pytest-xdist shares the tests out among processes.

``--audit`` has every workbook validated that a run in a test puts in its place (`workbook/test_valid_books`).
"""

import hashlib
import os
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from sheetplan.workbook.package import saving
from tests.ready import compile_kernels

Replaced = tuple[bytes, bytes]
"""A workbook that stood in a place, nothing where none did, and the one that took the place."""

settings.register_profile("any machine", deadline=None)  # a busy machine is slow for no fault of ours
settings.load_profile("any machine")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_setupnodes() -> None:
    """Processes that compile the same kernels would each do all of the work and be held up by it."""
    compile_kernels()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """What libraries log of damaged drawings is not always Unicode, which pytest-xdist cannot send."""
    report = yield
    report.sections = [
        (name, said.encode(errors="backslashreplace").decode()) for name, said in report.sections
    ]
    return report


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--audit", action="store_true", help="validate every workbook that a test writes")


@pytest.fixture(scope="session", autouse=True)
def _no_power_cuts() -> Iterator[None]:
    """Nobody waits until the disk has what is written: a test's files need not outlast the machine."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", os.fstat)  # which asks, too, whether the handle is one
        yield


@pytest.fixture(scope="session", autouse=True)
def _written(request: pytest.FixtureRequest) -> Iterator[dict[str, Replaced]]:
    """Workbooks as they took their place, each state of them once; none without ``--audit``."""
    written: dict[str, Replaced] = {}
    if not request.config.getoption("--audit"):
        yield written
        return
    take_place = saving._take_place

    def noted(temporary: Path, path: Path, ledger: list[Path], like: Path | None = None) -> None:
        data = temporary.read_bytes() if path.suffix == ".xlsx" else b""
        if not data.startswith(b"PK"):  # tests of replacing alone write a word
            data = b""
        copied = like is not None and like.is_file() and like.read_bytes() == data
        if data and not copied:  # a backup is the planner's book as it is
            before = path.read_bytes() if path.is_file() else b""
            written[hashlib.sha256(data).hexdigest()] = (before, data)
        take_place(temporary, path, ledger, like)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(saving, "_take_place", noted)
        yield written


@pytest.fixture(autouse=True)
def _audited(_written: dict[str, Replaced]) -> Iterator[None]:
    """What was written for a test, and by it, has no fault that the book in its place did not have."""
    yield
    if not _written:
        return
    from tests.workbook.test_valid_books import added_errors

    found = []
    while _written:
        found += added_errors(*_written.popitem()[1])
    assert found == []
