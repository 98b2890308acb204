"""The processes, here or on other machines, that plan gauges side by side and then make the files."""

from __future__ import annotations

import atexit
import logging
import os
import shutil
import sys
import tempfile
import threading
import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future, wait
from contextlib import ExitStack, contextmanager, suppress
from importlib import import_module
from pathlib import Path
from typing import Any, Generic, TypeVar

from sheetplan.app.making.helpers import Helpers, settle
from sheetplan.packing.kernel_cache import PACKING, is_compiled
from sheetplan.planning.progress import Progress, Report
from sheetplan.planning.readying import ALWAYS, BOXES, Readying, make_set_ready, wanted_sets

# Gauges planned on other machines: an executor over a Dask scheduler, for those who outgrow one machine.
#
# Work that is lost with a worker process is done again by the scheduler on another one; what is handed
# out are pure functions and plain values, so the answer is the same. Where the cluster itself goes away,
# every waiting answer ends in `ClusterLost`, and the run is made here instead.
#
# Dask (``pip install sheetplan[dask]``) is imported only where a scheduler is named.

CONNECT_SECONDS = 10.0
"""How long a scheduler is waited for."""

PATIENCE_SECONDS = 60.0
"""How long a cluster may be without any worker before it counts as gone: a nanny starts one in seconds."""

BEAT_SECONDS = 1.0
"""How often the cluster is asked for its workers."""


class NoCluster(Exception):
    """The scheduler cannot be used; nothing was changed. ``what`` and ``remedy`` are sentences."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(f"{what} {remedy}")
        self.what, self.remedy = what, remedy


class ClusterLost(BrokenExecutor):
    """The cluster went away in the middle of the work."""


@contextmanager
def cluster(address: str) -> Iterator[Executor]:
    """An executor over the scheduler at an address such as ``tcp://10.0.0.5:8786``.

    Raises
    ------
    NoCluster
        Dask is not installed, nobody answers there, or its workers cannot plan.
    """
    try:
        from distributed import Client
    except ImportError as error:
        remedy = 'Install it: pip install "sheetplan[dask]".'
        raise NoCluster("A scheduler needs Dask, which is not installed.", remedy) from error
    log = logging.getLogger("distributed")
    level = log.level
    log.setLevel(logging.CRITICAL)  # what matters is said in our own words
    try:
        client = _connected(Client, address)
        executor = ClusterExecutor(client)
        try:
            yield executor
        finally:
            executor.shutdown()
            client.close(timeout=CONNECT_SECONDS)
    finally:
        log.setLevel(level)


def _connected(client_class: Callable[..., Any], address: str) -> Any:
    """A client of a scheduler whose workers have this version of the package."""
    from sheetplan import __version__

    try:
        client = client_class(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        remedy = "Start it with `dask scheduler`, and give the address that it prints."
        raise NoCluster(f"No Dask scheduler answers at {address}.", remedy) from error
    remedy = f"Start `dask worker {address}` where sheetplan {__version__} is installed."
    try:
        found = client.run(version_here)
    except Exception as error:
        client.close(timeout=CONNECT_SECONDS)
        raise NoCluster(f"The workers of {address} do not have sheetplan.", remedy) from error
    others = sorted(set(found.values()) - {__version__})
    if not found or others:
        client.close(timeout=CONNECT_SECONDS)
        what = f"have sheetplan {', '.join(others)}" if found else "are not there yet"
        raise NoCluster(f"The workers of {address} {what}.", remedy)
    return client


def version_here() -> str:
    """The version of the package in the process that runs this."""
    from sheetplan import __version__

    return __version__


class ClusterExecutor(Executor):
    """Hands calls to a Dask client and gives plain futures for them."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self._waiting: dict[Future[Any], Any] = {}
        self._lock = threading.Lock()
        self._over = threading.Event()
        threading.Thread(target=self._watch, name="cluster watch", daemon=True).start()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Have a call done somewhere in the cluster."""
        if self._over.is_set():
            raise ClusterLost("the cluster is gone")
        answer: Future[Any] = Future()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a gauge of megabytes is no mistake
            there = self._client.submit(fn, *args, pure=False, **kwargs)
        with self._lock:
            self._waiting[answer] = there
        answer.add_done_callback(self._forget)
        there.add_done_callback(lambda done: self._pass_on(done, answer))
        return answer

    def shutdown(self, *_: Any, **__: Any) -> None:
        """End the watch, however it is asked; answers still out are given up."""
        with self._lock:
            waiting = list(self._waiting)
        for answer in waiting:
            answer.cancel()
        self._over.set()

    def _forget(self, answer: Future[Any]) -> None:
        with self._lock:
            there = self._waiting.pop(answer, None)
        if there is not None and answer.cancelled():
            there.cancel()

    def _pass_on(self, there: Any, answer: Future[Any]) -> None:
        """Bring an answer home; one that is lost with a worker on the way is worked out anew there."""
        from distributed import KilledWorker

        if answer.done():
            return
        try:
            value = there.result()
        except (KilledWorker, CancelledError, OSError) as lost:
            settle(answer, error=ClusterLost(str(lost)))
        except Exception as fault:
            settle(answer, error=fault)
        else:
            settle(answer, value)

    def _watch(self) -> None:
        """Give up all that is waited for once the cluster has been without workers for too long."""
        seen = time.monotonic()
        while not self._over.wait(BEAT_SECONDS):
            if _workers(self._client):
                seen = time.monotonic()
            elif self._client.status == "closed" or time.monotonic() - seen > PATIENCE_SECONDS:
                self._over.set()
        with self._lock:
            waiting = list(self._waiting)
        for answer in waiting:
            settle(answer, error=ClusterLost("no worker of the cluster is left"))


def _workers(client: Any) -> int:
    try:
        return len(client.nthreads())
    except Exception:  # the scheduler is gone, or going
        return 0


# The processes that plan gauges side by side, and then make the files.
#
# Helpers that searched also make the files: they start while the book is read and stay until it is written
# (`Crew`).
#
# A stop leaves little to wait for. Helpers are ended in the midst of their work (`helpers.Helpers`). A gauge
# that was not begun gets a quick plan and the bound of its bare area (`gauge_work.begin_late`); the others
# keep their best. Plans that buy one size alone, and what fits, are not worked out then.
# `python -m tests.bench load` times it.

Given = TypeVar("Given")
Result = TypeVar("Result")

MOST_WORKERS = 8
"""More processes than this cost more memory than the gauges of one month can repay."""

LONG_SECONDS = 60.0
"""A run that may take longer asks one kernel for so much that it could not hear a stop within 3 seconds."""


def place_for_kernels(report: Report) -> None:
    """See that compiled kernels can be kept somewhere: without a place for them numba does not run.

    That is beside the modules, or else in the home folder. A program that is installed read-only, for
    somebody without a home, keeps them for the run, and says so.
    """
    at_home = any(map(_can_keep, _home_caches()))
    if not at_home:
        _place_for_typefaces()
    if os.environ.get("NUMBA_CACHE_DIR") or at_home or _can_keep(PACKING):
        return
    folder = tempfile.mkdtemp(prefix="sheetplan-kernels-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ["NUMBA_CACHE_DIR"] = folder
    if "numba" in sys.modules:
        sys.modules["numba"].config.CACHE_DIR = folder  # it was read when numba was fetched
    said = "The program cannot keep its machine code: it is compiled for this run alone."
    report(Progress("", 0.0, said))


def _place_for_typefaces() -> None:
    """A place for the lists of typefaces, for this run: each process would make its own, and tell of it."""
    folder = tempfile.mkdtemp(prefix="sheetplan-typefaces-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for name in ("MPLCONFIGDIR", "XDG_CACHE_HOME"):
        os.environ.setdefault(name, folder)


def _home_caches() -> Iterator[Path]:
    if os.environ.get("XDG_CACHE_HOME"):
        yield Path(os.environ["XDG_CACHE_HOME"])
    with suppress(RuntimeError):
        yield Path.home() / ".cache"
        yield Path.home()


def _can_keep(folder: Path) -> bool:
    return folder.is_dir() and os.access(folder, os.W_OK | os.X_OK)


class Crew:
    """Who works on a plan, from the search to its files: processes here, a cluster, or nobody else.

    Parameters
    ----------
    workers : int or None
        Processes; None means as many as the machine has.
    scheduler : str or None
        Address of a Dask scheduler that searches instead; files are always made on this machine.
    """

    def __init__(self, workers: int | None, scheduler: str | None = None) -> None:
        self._count = workers or min(os.cpu_count() or 1, MOST_WORKERS)
        self._scheduler = scheduler
        self._held = ExitStack()
        self._helpers: Helpers | None = None
        self._readying: Readying | None = None
        self._died = False

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, *_: object) -> None:
        self._held.close()

    def get_ready(self, report: Report) -> None:
        """Start the helpers while the book is read: on a fresh machine they compile, else load kernels."""
        place_for_kernels(report)
        if self._helpers is not None or self._scheduler is not None or self._count == 1:
            return
        self._begun().begin(ALWAYS)
        if all(is_compiled(name) for name in ALWAYS):
            for _ in range(self._count):
                self._started().submit(make_set_ready, BOXES)

    def searching(self, seconds: float, report: Report, *, shapes: bool) -> Executor | None:
        """Who searches for so many seconds; None where this process does it alone.

        Kernels are compiled when it returns, those of true shapes only where there are ``shapes``. A long
        search has a helper even where it is the only one, as a helper can be let go. Raises ``NoCluster``
        where the scheduler cannot be used.
        """
        # This process does little but wait meanwhile; the others have made first plans by then.
        threading.Thread(target=self._learn, name="learning", daemon=True).start()
        if self._scheduler is not None:
            return self._held.enter_context(cluster(self._scheduler))
        if self._count == 1 and seconds <= LONG_SECONDS:
            return None
        self._begun().await_all(wanted_sets(shapes=shapes), report)
        return self._started()

    def _learn(self) -> None:
        """Have what writes files at hand here and in the helpers before the search is over."""
        learn_to_write()
        if self._helpers is not None:
            self._helpers.tell_all(learn_to_write)

    def _started(self) -> Helpers:
        if self._helpers is None or self._helpers.gone:
            self._helpers = self._held.enter_context(Helpers(self._count))
        return self._helpers

    def _begun(self) -> Readying:
        if self._readying is None:
            self._readying = Readying(self._started())
        return self._readying

    def lost(self) -> str:
        """Do without helpers from now on, since some died; returns a sentence's beginning that says so."""
        self._died = self._scheduler is None
        return f"The cluster at {self._scheduler} is gone" if self._scheduler else "A helper process died"

    def writing(self, layouts: int) -> Executor | None:
        """Who makes the files of so many layouts: those who searched, or others where that is worth it."""
        if self._died or (self._count == 1 and self._helpers is None):
            return None
        if self._helpers is None or self._helpers.gone:
            return self._started() if layouts >= WORTH_STARTING else None
        return self._helpers


WORTH_STARTING = 24
"""Layouts, some three seconds of work, for which processes are started anew: that takes them a second."""


def learn_to_write() -> None:
    """Import what figures, drawings, pictures and printed pages are made with: most of a second."""
    for module in WRITERS:
        import_module(module)


WRITERS = (
    "sheetplan.drawings.writing.dxf", "sheetplan.drawings.writing.svg", "sheetplan.money.comparison",
    "sheetplan.pages.drawing.files", "sheetplan.pages.drawing.layout_drawing", "sheetplan.pages.floor",
    "sheetplan.pages.paper.tickets", "sheetplan.pages.paper.shop_files", "sheetplan.pages.book.results",
    "matplotlib.backends.backend_agg", "PIL.Image",
)  # fmt: skip
"""Modules that take their time to import and are asked for late, so that other commands start at once."""


ASIDE_SECONDS = 0.05
"""How often a process that waits for its own thread looks for something to report."""


class Aside(Generic[Result]):
    """Work of this process that goes on in a thread while the process waits for others.

    What it reports is passed on by whoever waits for its answer: a spreadsheet program does not take messages
    from elsewhere. Nobody who leaves the program waits for the thread.
    """

    def __init__(self, function: Callable[[Report], Result]) -> None:
        self._answer: Future[Result] = Future()
        self._said: Progress | None = None
        threading.Thread(target=self._work, args=(function,), name="aside", daemon=True).start()

    def _work(self, function: Callable[[Report], Result]) -> None:
        try:
            self._answer.set_result(function(self._hear))
        except BaseException as fault:
            self._answer.set_exception(fault)

    def _hear(self, said: Progress) -> None:
        self._said = said

    def result(self, report: Report) -> Result:
        """The answer; until it comes, ``report`` hears what was reported last."""
        told = None
        while not wait([self._answer], ASIDE_SECONDS).done:
            if self._said is not None and self._said is not told:
                told = self._said
                report(told)
        return self._answer.result()


class Handed(Generic[Given, Result]):
    """Calls handed to other processes, or left for later where there are none; the answers are the same.

    Parameters
    ----------
    executor : Executor or None
        Who does the work.
    function : callable
        What is asked of each; a function of a module, as it goes by name.
    given : sequence
        What it is asked for, one after another.
    """

    def __init__(
        self, executor: Executor | None, function: Callable[[Given], Result], given: Sequence[Given]
    ) -> None:
        self._function, self._given = function, given
        self._futures: list[Future[Result]] = []
        if executor is not None:
            with suppress(BrokenExecutor):
                self._futures = [executor.submit(function, one) for one in given]

    def results(self) -> Iterator[Result]:
        """The answers in order; what died with a helper is done here."""
        for number, one in enumerate(self._given):
            try:
                answer = self._futures[number].result() if self._futures else self._function(one)
            except BrokenExecutor:
                answer = self._function(one)
            yield answer
