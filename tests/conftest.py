"""Kernels are compiled once, before pytest-xdist shares the tests out among processes."""

from collections.abc import Generator

import pytest
from hypothesis import settings

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
