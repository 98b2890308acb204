"""Runs started from within a spreadsheet program: whatever happens is said as a sentence in the book."""

from __future__ import annotations

import datetime
import traceback
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from sheetplan.app.check import check_tables, with_folder
from sheetplan.app.plan import CheckFailed, plan_on
from sheetplan.model import Weight
from sheetplan.planning.progress import Progress, Stop
from sheetplan.trade.units import Units
from sheetplan.workbook.errors import BookError
from sheetplan.workbook.port import Host

Run = Callable[[Host, Stop], bool]
"""A run on a host; returns whether it did what it was asked for."""


def run_live(host: Host, run: str, stop: Stop) -> bool:
    """Do one of `RUNS` and say every failure as a sentence; True where it did what was asked.

    A fault of our own is written to a log file beside the book, and the sentence names the file.
    """
    try:
        if run not in RUNS:
            host.tell(f"There is no run called {run}. There are: {', '.join(RUNS)}.")
            return False
        return RUNS[run](host, _either(stop, stop_file(host.path)))
    except BookError as error:
        host.tell(f"{error.problem.what} {error.problem.remedy}")
    except OSError as error:
        host.tell(f"{error.filename or 'A file'}: {error.strerror or error}. The workbook was not changed.")
    except CheckFailed:
        log = _log(host.path)
        host.tell(
            "The plan did not pass the independent check, so nothing was written. This is a fault in "
            f"sheetplan. Details stand in {log}."
        )
    except Exception:
        log = _log(host.path)
        host.tell(f"Something went wrong in sheetplan; the workbook was not changed. Details stand in {log}.")
    return False


def stop_file(book: Path) -> Path:
    """Path of the file that ends a search when somebody makes it: the book's name with ``.stop``."""
    return book.with_suffix(".stop")


def _plan(host: Host, stop: Stop) -> bool:
    outcome = plan_on(host, today=datetime.date.today(), seconds=None, seed=None, stop=stop)
    if outcome.plan is None:
        stops = [p for p in outcome.problems if p.weight is Weight.STOPS]
        host.tell(f"No plan was made: {len(stops)} problems stop it. They stand on the page Problems.")
        return False
    return True


def _check(host: Host, stop: Stop) -> bool:
    from sheetplan.pages.problems_page import problems_page

    host.progress(Progress("", 0.0, f"Reading {host.path.name}"))
    outcome = with_folder(check_tables(host.read(), host.path), host.path)
    units = outcome.job.settings.units if outcome.job else Units.INCH
    page = problems_page(outcome.problems)
    line = "Checked only: the other result pages still show the last plan, if there was one."
    host.write((replace(page, lines=(*page.lines, line)),), units)
    return not outcome.stops


def _month(host: Host, stop: Stop) -> bool:
    """Balance the month that today lies in."""
    from sheetplan.app.month import month_on

    outcome = month_on(host, datetime.date.today().strftime("%Y-%m"))
    if outcome.metals is None:
        host.tell("The month was not balanced. What stands in the way stands on the page Problems.")
    return outcome.metals is not None


RUNS: Mapping[str, Run] = {"plan": _plan, "check": _check, "month": _month}
"""What can be asked for from within a book."""


def _either(stop: Stop, file: Path) -> Stop:
    """Stop when asked in either way; the file is used up by that."""

    def asked() -> bool:
        if stop():
            return True
        if file.exists():
            file.unlink(missing_ok=True)
            return True
        return False

    latched = False

    def once_is_enough() -> bool:
        nonlocal latched
        latched = latched or asked()
        return latched

    return once_is_enough


def _log(book: Path) -> Path:
    """Write the current exception to a log beside the book, or to the home folder where that fails."""
    text = f"{datetime.datetime.now().isoformat(timespec='seconds')}\n{traceback.format_exc()}\n"
    for folder in (book.parent, Path.home()):
        log = folder / f"{book.stem}.sheetplan.log"
        try:
            with log.open("a", encoding="utf-8") as file:
                file.write(text)
        except OSError:
            continue
        return log
    return book.with_name("no log could be written")
