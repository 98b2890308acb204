"""The first plan on a fresh machine beside the second: the package copied to a place without compiled code.

Python's own compiled modules are missing there as well, as after an installation from source.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.bench.load import watched
from tests.bench.options import Options
from tests.hard.command import ROOT

SECONDS = 5.0
MOST_LONGER = 25.0
"""Seconds that the first plan may take beyond the second, on two cores that do nothing else."""


def instances(options: Options) -> Sequence[str]:
    return ("demo",)


def solve(instance: str, options: Options) -> dict[str, object]:
    seconds = options.seconds or SECONDS
    workers = str(options.workers if options.workers > 1 else 2)
    row: dict[str, object] = {"instance": instance, "asked s": seconds}
    with tempfile.TemporaryDirectory(prefix="cold-") as name:
        folder = Path(name)
        shutil.copytree(
            ROOT / "sheetplan", folder / "root" / "sheetplan", ignore=shutil.ignore_patterns("__pycache__")
        )
        shutil.copytree(ROOT / "workbook_template", folder / "root" / "workbook_template")
        root = folder / "root"
        watched(["new", "b.xlsx", "--demo"], folder, root=root)
        for which in ("first", "second"):
            told = ["plan", "b.xlsx", "--seconds", f"{seconds:g}", "--workers", workers]
            seen = watched(told, folder, root=root)
            if seen.code != 0:
                raise SystemExit(f"ended with {seen.code}: {[line.text for line in seen.lines[-5:]]}")
            row[f"{which} s"] = seen.seconds
            row[f"{which} processor s"] = seen.worked
            row[f"{which} silence s"] = seen.silence
    return row


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    (row,) = rows
    longer = float(str(row["first s"])) - float(str(row["second s"]))
    worked = float(str(row["first processor s"])) - float(str(row["second processor s"]))
    return [
        f"the first plan took {longer:.1f} s longer than the second (bar {MOST_LONGER:g}); "
        f"{worked:.1f} s more of the processor, {worked / 2:.1f} s on each of two cores"
    ]
