"""Compile the kernels before tests need them, boxes and true shapes at once: ``python -m tests.ready``."""

import subprocess
import sys
from pathlib import Path

PROGRAMS = (
    "from tests.ready import make_ready; make_ready()",
    "from sheetplan.packing.ready import make_shapes_ready; make_shapes_ready()",
)
"""The two have no kernel in common but small ones, so each can be compiled in a process of its own."""


def make_ready() -> None:
    """Fetch the kernels of boxes and strips, so that no clock of a test runs while they are compiled."""
    from sheetplan.packing.ready import make_boxes_ready, make_strips_ready

    make_boxes_ready()
    make_strips_ready()


def compile_kernels() -> None:
    """Wait until all kernels lie compiled beside their modules; a moment where they do already."""
    root = Path(__file__).parents[1]
    compiling = [subprocess.Popen([sys.executable, "-c", program], cwd=root) for program in PROGRAMS]
    if any([program.wait() for program in compiling]):
        raise SystemExit("The kernels do not compile.")


if __name__ == "__main__":
    compile_kernels()
