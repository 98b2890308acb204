"""What comes before and after the search of a month of drawn parts, by stage, through the real command.

The seconds asked are for the search, what fits included; reading and writing come on top. Books are
those of `writing_book`; one run before each reads the drawings, which are remembered, and loads the kernels.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.bench.load import Line, Watched, watched
from tests.bench.options import Options
from tests.bench.writing_book import drawn_book

BOOKS = {"100": 40, "900": 150, "6,000": 150}
"""Types of parts by pieces."""

SECONDS = 20.0
MOST_OVER = 4.0
"""Seconds that a run of 900 pieces may take beyond those asked, on two cores that do nothing else."""

STAGES = {
    "read": "Reading", "search": "Making|Searching|sheets in", "check": "Checking every layout",
    "fits": "Working out what fits", "figures": "Adding up weights", "files": "Making up tickets",
    "book": "Writing b.xlsx",
}  # fmt: skip
"""Words of the first line of each stage."""


def instances(options: Options) -> Sequence[str]:
    return tuple(BOOKS)


def solve(instance: str, options: Options) -> dict[str, object]:
    pieces, seconds = int(instance.replace(",", "")), options.seconds or SECONDS
    workers = str(options.workers if options.workers > 1 else 2)
    with tempfile.TemporaryDirectory(prefix="writing-") as folder:
        book = drawn_book(Path(folder), pieces, BOOKS[instance], options.seed)
        _run(["plan", book.name, "--seconds", "1", "--workers", workers], Path(folder))
        told = ["plan", book.name, "--seconds", f"{seconds:g}", "--workers", workers, "--json", "plan.json"]
        seen = _run(told, Path(folder))
        record = json.loads((Path(folder) / "plan.json").read_text(encoding="utf-8"))
    row: dict[str, object] = {
        "instance": instance,
        "pieces": record["totals"]["pieces"],
        "layouts": sum(len(group["layouts"]) for group in record["groups"]),
        "asked s": seconds,
        "seconds": seen.seconds,
        "over s": seen.seconds - seconds,
        "processor s": seen.worked,
    }
    begun = [(name, line) for name, words in STAGES.items() if (line := _first(seen, words)) is not None]
    ends = [*(line for _, line in begun[1:]), Line(seen.seconds, 0.0, "", seen.worked)]
    for (name, line), end in zip(begun, ends, strict=True):
        row[f"{name} s"] = end.at - line.at
        row[f"{name} processor s"] = end.together - line.together
    return row


def _run(arguments: Sequence[str], folder: Path) -> Watched:
    seen = watched(arguments, folder)
    if seen.code != 0:
        raise SystemExit(f"ended with {seen.code}: {[line.text for line in seen.lines[-5:]]}")
    return seen


def _first(seen: Watched, words: str) -> Line | None:
    """The first line with one of the words, which stand between bars."""
    return next((line for line in seen.lines if any(word in line.text for word in words.split("|"))), None)


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    return [
        f"{row['instance']} pieces: {row['over s']:.1f} s beyond the {row['asked s']:g} asked"
        + (f" (bar {MOST_OVER:g})" if row["instance"] == "900" else "")
        for row in rows
    ]
