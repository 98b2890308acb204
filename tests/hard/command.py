"""The real command, measured: what it says, how it ends, how long it takes, how much memory it held."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

COMMAND = (sys.executable, "-m", "sheetplan")
ROOT = Path(__file__).parents[2]

FINE = (0, 1, 3)
"""Exit codes of a run that ended as it should: done, problems in the book, file refused."""


@dataclass(frozen=True)
class Ran:
    """How a command ended."""

    code: int
    said: str
    seconds: float
    megabytes: float
    worked: float
    """Processor time in seconds: what other work on the machine does not change."""

    @property
    def ugly(self) -> str:
        """What must never be shown, if it was."""
        if self.code not in FINE or "Traceback" in self.said or "fault in sheetplan" in self.said:
            return f"ended with {self.code} after {self.seconds:.0f} s: {self.said[-1500:]}"
        return ""


def environment(**more: str) -> dict[str, str]:
    """The environment of a child that finds this source tree whatever folder it works in."""
    return {**os.environ, "PYTHONPATH": str(ROOT), **more}


def run(
    *arguments: str | Path,
    folder: Path,
    limit: float = 300.0,
    memory: int | None = None,
    more: Mapping[str, str] | None = None,
    start: Sequence[str] = COMMAND,
) -> Ran:
    """Run ``sheetplan ARGUMENTS`` in a folder; ``memory`` bounds its address space in bytes."""

    def bound() -> None:
        if memory is not None:
            import resource

            resource.setrlimit(resource.RLIMIT_AS, (memory, memory))

    begun = time.monotonic()
    with (folder.parent / f"{folder.name}.said").open("w+", encoding="utf-8", errors="replace") as said:
        child = subprocess.Popen(
            [*start, *map(str, arguments)], cwd=folder, stdout=said, stderr=subprocess.STDOUT,
            stdin=subprocess.DEVNULL, env=environment(**(more or {})),
            preexec_fn=bound if memory is not None and os.name == "posix" else None,
        )  # fmt: skip
        peak, worked = _wait(child, begun + limit)
        said.seek(0)
        text = said.read()
    return Ran(child.returncode, text, time.monotonic() - begun, peak, worked)


def _wait(child: subprocess.Popen[bytes], deadline: float) -> tuple[float, float]:
    """Wait for the child, or kill it at the deadline; return its most memory in MB and its processor time."""
    if os.name != "posix":
        child.wait(deadline - time.monotonic())
        return 0.0, 0.0
    most = 0.0
    while True:
        most = max(most, _most_held(child.pid))
        done, status, usage = os.wait4(child.pid, os.WNOHANG)
        if done:
            child.returncode = os.waitstatus_to_exitcode(status)
            return most or usage.ru_maxrss / 1024, usage.ru_utime + usage.ru_stime
        if time.monotonic() > deadline:
            child.kill()
        time.sleep(0.02)


def _most_held(pid: int) -> float:
    """The most memory (MB) that a process held so far, 0 where the system does not tell.

    What it used as a whole (``ru_maxrss``) counts what we hold ourselves at the moment at which it begins.
    """
    try:
        status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    except (OSError, UnicodeDecodeError):
        return 0.0
    told = next((line for line in status.splitlines() if line.startswith("VmHWM:")), "")
    return int(told.split()[1]) / 1024 if told else 0.0
