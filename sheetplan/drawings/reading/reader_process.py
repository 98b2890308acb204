"""A reader in a process of its own, which can be stopped whatever it is doing.

Run as ``python -m sheetplan.drawings.reading.reader_process``: one JSON request to the line comes in
(``name``, ``data`` in base 64, ``choices``), one JSON report to the line goes out. It opens no files.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import sheetplan
from sheetplan.drawings.reading.drawing import (
    ReadingChoices,
    choices_from_json,
    choices_to_json,
    read_bytes,
    refused,
    report_from_json,
    report_to_json,
)
from sheetplan.drawings.reading.report import DrawingReport

HOME = Path(sheetplan.__file__).parent.parent
"""Where this very package is found, installed or not."""

GRACE = 5.0
"""Seconds of processor time beyond a drawing's own limit after which its reader is stopped from outside."""

BUSY = 8.0
"""A reader may take so many times its limit by the clock on the wall: other programs want the machine too."""


ENDING_SECONDS = 1.0
"""How long an ending process may take to be gone."""


class NotRead(Exception):
    """A drawing whose reader was stopped or broke down; that may come out otherwise another time."""


class Reader:
    """One reader process, started when first needed and again after it had to be stopped."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[str] | None = None

    def read(self, name: str, data: bytes, choices: ReadingChoices) -> DrawingReport:
        """Read a drawing; raises ``NotRead`` where the process has to be stopped, or breaks down over it."""
        process = self._started()
        text = base64.b64encode(data).decode("ascii")
        request = json.dumps({"name": name, "data": text, "choices": choices_to_json(choices)})
        longest = choices.limits.seconds * BUSY + GRACE
        timer = threading.Timer(longest, process.kill)
        begun = time.monotonic()
        timer.start()
        try:
            answer = _asked(process, request)
            return report_from_json(json.loads(answer), name)
        except (OSError, ValueError):
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(ENDING_SECONDS)
            self.close()
            if _ran_out_of_time(process.returncode):
                return refused(name, f"reading took longer than {choices.limits.seconds:g} s and was stopped")
            if time.monotonic() - begun >= longest:
                raise NotRead(f"its reader did not answer within {longest:g} s and was stopped") from None
            raise NotRead("its reader broke down over it") from None
        finally:
            timer.cancel()

    def _started(self) -> subprocess.Popen[str]:
        if self._process is None or self._process.poll() is not None:
            self._process = subprocess.Popen(
                # -P: nothing that lies in the planner's folder is taken for a module.
                [sys.executable, "-P", "-m", "sheetplan.drawings.reading.reader_process"],
                env={**os.environ, "PYTHONPATH": str(HOME)},
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                text=True, encoding="utf-8",
            )  # fmt: skip
        return self._process

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()
            self._process.communicate()
            self._process = None


def _asked(process: subprocess.Popen[str], request: str) -> str:
    """The one line that answers a request; nothing if the process has ended."""
    if process.stdin is None or process.stdout is None:
        return ""
    process.stdin.write(request + "\n")
    process.stdin.flush()
    return process.stdout.readline()


def stop_after(seconds: float) -> None:
    """Have the system end this process after so much processor time, whatever it is doing then.

    Windows has no such clock; there only the one on the wall ends a reader.
    """
    if sys.platform != "win32":
        signal.setitimer(signal.ITIMER_PROF, seconds)


def _ran_out_of_time(code: int | None) -> bool:
    return sys.platform != "win32" and code == -signal.SIGPROF


def serve() -> None:
    """Answer requests until the input ends."""
    for line in sys.stdin:
        request = json.loads(line)
        choices = choices_from_json(request["choices"])
        stop_after(choices.limits.seconds + GRACE)
        report = read_bytes(request["name"], base64.b64decode(request["data"]), choices, time.process_time)
        sys.stdout.write(json.dumps(report_to_json(report)) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    serve()
