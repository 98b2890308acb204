"""Kernels are compiled once, before pytest-xdist shares the tests out among processes.

``--audit`` has every workbook validated that a run in a test puts in its place (`workbook/test_valid_books`).
"""

import hashlib
import os
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from sheetplan.workbook.package import saving
from tests.ready import compile_kernels

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
def _written(request: pytest.FixtureRequest) -> Iterator[dict[str, bytes]]:
    """Workbooks as they took their place, each state of them once; none without ``--audit``."""
    written: dict[str, bytes] = {}
    if not request.config.getoption("--audit"):
        yield written
        return
    take_place = saving._take_place

    def noted(temporary: Path, path: Path, *others: Any, **more: Any) -> None:
        if path.suffix == ".xlsx":
            data = temporary.read_bytes()
            written[hashlib.sha256(data).hexdigest()] = data
        take_place(temporary, path, *others, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(saving, "_take_place", noted)
        yield written


@pytest.fixture(autouse=True)
def _audited(_written: dict[str, bytes], tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What was written for a test, and by it, is valid Open XML."""
    yield
    if not _written:
        return
    from tests.workbook.test_valid_books import errors

    aside = tmp_path_factory.mktemp("audited") / "book.xlsx"
    found = []
    while _written:
        aside.write_bytes(_written.popitem()[1])
        found += errors(aside)
    assert found == []
