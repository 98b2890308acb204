"""Gauges planned on other machines: an executor over a Dask scheduler, for those who outgrow one machine.

Work that is lost with a worker process is done again by the scheduler on another one; what is handed
out are pure functions and plain values, so the answer is the same. Where the cluster itself goes away,
every waiting answer ends in `ClusterLost`, and the run is made here instead.

Dask (``pip install sheetplan[dask]``) is imported only where a scheduler is named.
"""

from __future__ import annotations

import logging
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future, InvalidStateError
from contextlib import contextmanager, suppress
from typing import Any

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
            executor.shutdown(wait=False, cancel_futures=True)
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

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the watch; answers still out are waited for, or given up."""
        with self._lock:
            waiting = list(self._waiting)
        for answer in waiting:
            if cancel_futures:
                answer.cancel()
            elif wait:
                answer.exception()
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
            _settle(answer, error=ClusterLost(str(lost)))
        except Exception as fault:
            _settle(answer, error=fault)
        else:
            _settle(answer, value)

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
            _settle(answer, error=ClusterLost("no worker of the cluster is left"))


def _workers(client: Any) -> int:
    try:
        return len(client.nthreads())
    except Exception:  # the scheduler is gone, or going
        return 0


def _settle(answer: Future[Any], value: Any = None, error: BaseException | None = None) -> None:
    """Give a future its end, unless the watch or the caller gave it one meanwhile."""
    with suppress(InvalidStateError):
        if error is not None:
            answer.set_exception(error)
        else:
            answer.set_result(value)
