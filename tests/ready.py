"""Compile the kernels before tests need them, boxes and true shapes at once: ``python -m tests.ready``."""

import subprocess
import sys
from pathlib import Path

PROGRAMS = (
    "from sheetplan.packing.kernel_ready import make_ready; make_ready()",
    "from sheetplan.packing.outlines.ready import make_ready; make_ready(lambda *_: None)",
)
"""The two have no kernel in common, so each can be compiled in a process of its own."""


def compile_kernels() -> None:
    """Wait until all kernels lie compiled beside their modules; a moment where they do already."""
    root = Path(__file__).parents[1]
    compiling = [subprocess.Popen([sys.executable, "-c", program], cwd=root) for program in PROGRAMS]
    if any([program.wait() for program in compiling]):
        raise SystemExit("The kernels do not compile.")


if __name__ == "__main__":
    compile_kernels()
