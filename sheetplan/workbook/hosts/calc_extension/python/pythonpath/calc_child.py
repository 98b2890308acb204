"""The process that works for a run: one line of JSON a message, both ways."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import signal
import subprocess
import threading
from collections.abc import Callable
from typing import Any

_NO_WINDOW = 0x08000000
"""Keeps Windows from opening a black window for the run."""

_FOREIGN = ("PYTHONPATH", "PYTHONHOME", "LD_LIBRARY_PATH", "URE_BOOTSTRAP", "UNO_PATH")
"""What LibreOffice sets for its own Python and another Python must not see."""

_LEAVING_SECONDS = 2.5
"""How long the process may take to put its things away; it knows, and takes less."""


class Child:
    """A process with a group of its own, so that its helpers go with it.

    ``heard`` is called from another thread whenever there is something to `take`.
    """

    def __init__(self, command: list[str], heard: Callable[[], None]) -> None:
        self._lines: queue.Queue[str | None] = queue.Queue()
        self._heard = heard
        self._process: subprocess.Popen[str] = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            env={k: v for k, v in os.environ.items() if k not in _FOREIGN},
            creationflags=_NO_WINDOW if os.name == "nt" else 0,
            start_new_session=True,
        )
        threading.Thread(target=self._collect, daemon=True).start()

    def take(self) -> Any:
        """The next message; None where there is none yet, ``{"gone": True}`` once the process has gone."""
        try:
            line = self._lines.get_nowait()
        except queue.Empty:
            return None
        return {"gone": True} if line is None else json.loads(line)

    def send(self, message: dict[str, Any]) -> None:
        """Send a message; a process that has gone hears nothing, which `take` says."""
        with contextlib.suppress(OSError, ValueError):
            self._process.stdin.write(json.dumps(message) + "\n")  # type: ignore[union-attr]
            self._process.stdin.flush()  # type: ignore[union-attr]

    def let_go(self) -> None:
        """Hang up: the process ends by itself, or is ended with its helpers. Nobody waits here."""
        with contextlib.suppress(OSError, ValueError):
            self._process.stdin.close()  # type: ignore[union-attr]
        threading.Thread(target=self._see_off).start()

    def _collect(self) -> None:
        for line in self._process.stdout or ():
            self._lines.put(line)
            self._heard()
        self._lines.put(None)
        self._heard()

    def _see_off(self) -> None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(_LEAVING_SECONDS)
        if os.name == "nt":
            end = ["taskkill", "/F", "/T", "/PID", str(self._process.pid)]
            subprocess.run(end, capture_output=True, check=False, creationflags=_NO_WINDOW)
        else:
            with contextlib.suppress(OSError):  # helpers may have outlived it
                os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()
