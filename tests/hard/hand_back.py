"""Random tickings of a plan's page, handed back by file: the book agrees with the ledger of the test.

Each case begins from one planned book. The page's own script (`pages/floor/ledger.js`) writes the files, run
by Node where that is there, else a twin of it here. Between good files come such as are handed back twice,
cut short, changed by a letter, or of another plan: each is refused in a sentence, and nothing has changed.

Asked at the end: sheets, good and bad pieces, names, heat numbers, days and notes in the Cut log, what is
left on hand, and what is cut of each layout, are those of the ledger.
"""

from __future__ import annotations

import datetime
import json
import random
import re
import shutil
import subprocess
import sys
import tempfile
import zlib
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

from sheetplan.app.rack.cut import record_handed_back
from sheetplan.app.rack.folder import rack_of, read_steps
from sheetplan.app.rack.handed_back import handed_back_of
from sheetplan.app.rack.opened import Refused
from sheetplan.pages.floor.shell import source
from sheetplan.workbook.closed_reading import read_tables
from tests.app.cut_book import cell, copied, planned_book, state
from tests.hard.options import told

NODE = shutil.which("node")
ON_HAND = 12
TODAY = datetime.date(2026, 11, 27)
TEXTS = ("", "Ann", "7741-B", "=1+1", "Zoë & <b>", "שלום", "a, b; c", '"quoted"', "x" * 80)

Tick = dict[str, Any]


def values_of(book: Path) -> dict[str, Any]:
    """What the page of the book's plan knows."""
    [page] = book.parent.glob("layouts/plan-*/plan.html")
    found = re.search(r'<script type="application/json" id="values">(.*?)</script>', page.read_text("utf-8"))
    assert found is not None, "the page holds its values"
    values: dict[str, Any] = json.loads(found[1])
    return values


def file_text(values: Mapping[str, Any], ticks: Sequence[Tick]) -> bytes:
    """The file that the page's script writes of some ticks."""
    if NODE is None:
        return twin(values, ticks)
    script = source("ledger.js") + (
        "\nconst {values, ticks} = JSON.parse(require('fs').readFileSync(0, 'utf8'));"
        "const ledger = new Ledger(values, null); ledger.state.ticks = ticks;"
        "process.stdout.write(ledger.fileText(ticks[0].file));"
    )
    given = json.dumps({"values": values, "ticks": ticks})
    command = [NODE, "-e", script]
    return subprocess.run(command, input=given.encode(), capture_output=True, check=True, timeout=60).stdout


def twin(values: Mapping[str, Any], ticks: Sequence[Tick]) -> bytes:
    """The same by Python's own JSON and zlib."""
    tickets = {sheet["tag"]: sheet["ticket"] for sheet in values["sheets"]}
    lines = [
        {
            "id": tick["id"], "ticket": tickets[tick["sheet"]], "times": tick["times"],
            "bad": [[values["parts"][part]["name"], count] for part, count in tick["bad"]],
            **{key: tick[key] for key in ("heat", "by", "day", "note")},
        }
        for tick in ticks
    ]  # fmt: skip
    body = {
        "sheetplan": "hand back", "format": 1, "plan": values["plan"], "book": values["book"],
        "told": ticks[0]["told"], "lines": lines,
    }  # fmt: skip
    return sealed(body)


def sealed(body: Mapping[str, Any]) -> bytes:
    """A file's values with their check."""
    text = json.dumps(body, ensure_ascii=False, separators=(",", ":")).encode()
    whole = {**body, "check": f"{zlib.crc32(text):08x}"}
    return (json.dumps(whole, ensure_ascii=False, indent=1) + "\n").encode()


def random_tick(values: Mapping[str, Any], left: Counter[str], rng: random.Random, number: int) -> Tick:
    """A tick of a layout of which sheets are left to cut."""
    sheet = rng.choice([one for one in values["sheets"] if left[one["tag"]]])
    times = rng.randint(1, left[sheet["tag"]])
    left[sheet["tag"]] -= times
    bad = [
        [part, rng.randint(1, on_sheet * times)]
        for part, on_sheet, _, _ in sheet["parts"] if rng.random() < 0.3
    ]  # fmt: skip
    day = TODAY - datetime.timedelta(days=rng.randint(0, 2))
    return {
        "id": f"{number:016x}", "sheet": sheet["tag"], "times": times, "bad": bad,
        "heat": rng.choice(TEXTS), "by": rng.choice(TEXTS), "day": day.isoformat(), "note": rng.choice(TEXTS),
        "file": "cut.json", "told": "2026-11-27T10:12:05",
    }  # fmt: skip


def spoilt(data: bytes, rng: random.Random) -> bytes:
    """The file cut short, with a letter changed, or of another plan with its check put right."""
    kind = rng.randrange(3)
    if kind == 0:
        return data[: rng.randrange(len(data) - 2)]
    if kind == 1:
        # A digit changed stays JSON of the same form; so the check has to tell.
        places = [m.start() for m in re.finditer(rb"\d", data)]
        place = rng.choice(places)
        return data[:place] + (b"7" if data[place : place + 1] != b"7" else b"3") + data[place + 1 :]
    body = {key: value for key, value in json.loads(data).items() if key != "check"}
    return sealed({**body, "plan": "ABCD" if body["plan"] != "ABCD" else "EFGH"})


def refused(book: Path, data: bytes) -> str:
    """The sentence with which a file is refused; nothing has changed by then."""
    before = state(book.parent)
    with pytest.raises(Refused) as caught:
        record_handed_back(book, handed_back_of(data, "cut.json"), today=TODAY)
    assert state(book.parent) == before, "what is refused leaves all as it was"
    assert caught.value.what.endswith(".")
    assert caught.value.remedy.endswith(".")
    return caught.value.what


def one(book: Path, seed: int, case: int) -> int:
    """One case on a book of its own; gives how many files were recorded."""
    rng = random.Random(f"{seed} {case}")
    values = values_of(book)
    left = Counter({sheet["tag"]: sheet["times"] for sheet in values["sheets"]})
    ledger: list[Tick] = []
    files = 0
    for number in range(rng.randint(1, 3)):
        ticks: list[Tick] = []
        while sum(left.values()) and len(ticks) < rng.randint(1, 3):
            ticks.append(random_tick(values, left, rng, len(ledger) + len(ticks) + 100 * case))
        if not ticks:
            break
        data = file_text(values, ticks)
        assert data == twin(values, ticks), "both write the same"
        refused(book, spoilt(data, rng))
        record_handed_back(book, handed_back_of(data, f"cut{number}.json"), today=TODAY)
        ledger += ticks
        files += 1
        assert "cannot be recorded" in refused(book, data)
    compare(book, values, ledger)
    return files


def compare(book: Path, values: Mapping[str, Any], ledger: Sequence[Tick]) -> None:
    """The book, its rack and the ledger say the same."""
    steps = [step for _, step in sorted(read_steps(rack_of(book)).items())]
    assert len(steps) == len(ledger)
    sheets = {sheet["tag"]: sheet for sheet in values["sheets"]}
    log = read_tables(book).tables["Cut log"].rows
    for tick, step, row in zip(ledger, steps, log, strict=True):
        bad = {values["parts"][part]["name"]: count for part, count in tick["bad"]}
        on_it = sheets[tick["sheet"]]["parts"]
        cut = {values["parts"][part]["name"]: each * tick["times"] for part, each, _, _ in on_it}
        good = {part: count - bad.get(part, 0) for part, count in cut.items() if count > bad.get(part, 0)}
        assert (step.layout, step.times, step.date) == (tick["sheet"], tick["times"], tick["day"])
        assert (step.by, step.heat, step.handed) == (tick["by"], tick["heat"], tick["id"])
        assert dict(step.pieces) == good
        assert dict(step.bad) == bad
        assert step.note.startswith(tick["note"])
        seen = {heading: cell.value for heading, cell in row.cells.items()}
        assert (seen["Layout"], seen["Times cut"]) == (tick["sheet"], tick["times"])
        assert (seen["By"] or "", str(seen["Heat"] or "")) == (tick["by"], tick["heat"])
    times = Counter[str]()
    for tick in ledger:
        times[tick["sheet"]] += tick["times"]
    for tag in sheets:
        assert cell(book, "Layouts", tag, "Cut so far") == times[tag]
    assert cell(book, "Stock", "MS10", "On hand") == ON_HAND - sum(times.values())


def main() -> int:
    options = told(__doc__, count=200)
    cases = range(options.count) if options.only is None else (options.only,)
    with tempfile.TemporaryDirectory() as folder:
        made = planned_book(Path(folder), plates=75, on_hand=ON_HAND)
        files = 0
        for case in cases:
            with tempfile.TemporaryDirectory() as own:
                files += one(copied(made, Path(own)), options.seed, case)
            if case % 20 == 19:
                print(f"{case + 1} tickings, {files} files recorded", flush=True)
    print(f"{len(cases)} tickings agree, {files} files recorded; written by {'Node' if NODE else 'the twin'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
