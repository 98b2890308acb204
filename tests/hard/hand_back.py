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

import openpyxl
import pytest

from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut import record_handed_back
from sheetplan.app.rack.cut_asked import handed_back_of
from sheetplan.app.rack.folder import rack_of, read_steps
from sheetplan.pages.floor.pictures import source
from tests.app.cut_book import copied, planned_book, state
from tests.hard.options import told

NODE = shutil.which("node")
ON_HAND = 12
TODAY = datetime.date(2026, 11, 27)
TEXTS = ("", "Ann", "7741-B", "=1+1", "Zoë & <b>", "שלום", "a, b; c", '"quoted"', "x" * 80)

ANSWERING = """
require("readline").createInterface({ input: process.stdin }).on("line", (line) => {
  const { values, ticks } = JSON.parse(line);
  const ledger = new Ledger(values, null);
  ledger.state.ticks = ticks;
  const name = ticks[0].file;
  process.stdout.write(JSON.stringify([ledger.fileText(name), ledger.codeText(name)]) + "\\n");
});
"""
"""What Node does with the script: for each line of values and ticks a line with the file and its code."""

SLIPS = 40
"""Letters changed, one at a time, in each file and each code: what costs little is tried often."""

Tick = dict[str, Any]


def values_of(book: Path) -> dict[str, Any]:
    """What the page of the book's plan knows."""
    [page] = book.parent.glob("layouts/plan-*/plan.html")
    found = re.search(r'<script type="application/json" id="values">(.*?)</script>', page.read_text("utf-8"))
    assert found is not None, "the page holds its values"
    values: dict[str, Any] = json.loads(found[1])
    return values


class Page:
    """The page's own script in one Node for all files that it writes; its twin where there is no Node."""

    def __init__(self) -> None:
        self.node: subprocess.Popen[bytes] | None = None
        if NODE is not None:
            command = [NODE, "-e", source("ledger.js") + ANSWERING]
            self.node = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    def written(self, values: Mapping[str, Any], ticks: Sequence[Tick]) -> tuple[bytes, bytes]:
        """The file of some ticks, and the text of its code."""
        if self.node is None:
            data = twin(values, ticks)
            return data, json.dumps(json.loads(data), separators=(",", ":")).encode()
        assert self.node.stdin is not None
        assert self.node.stdout is not None
        self.node.stdin.write(json.dumps({"values": values, "ticks": ticks}).encode() + b"\n")
        self.node.stdin.flush()
        file, code = json.loads(self.node.stdout.readline())
        return file.encode(), code.encode()

    def close(self) -> None:
        if self.node is not None:
            self.node.kill()
            self.node.communicate()


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
        return cut_short(data, rng)
    if kind == 1:
        return slipped(data, rng)
    body = {key: value for key, value in json.loads(data).items() if key != "check"}
    return sealed({**body, "plan": "ABCD" if body["plan"] != "ABCD" else "EFGH"})


def cut_short(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data.rstrip()))]


def slipped(data: bytes, rng: random.Random) -> bytes:
    """One letter or digit another; blanks are left, as JSON means the same with more of them or fewer."""
    place = rng.choice([at for at, sign in enumerate(data) if chr(sign).isalnum() and sign < 128])
    other = rng.choice([sign for sign in b"0123456789abcdefghXYZ" if sign != data[place]])
    return data[:place] + bytes([other]) + data[place + 1 :]


def same_said(data: bytes, code: bytes, rng: random.Random) -> None:
    """File and code say the same, and neither is taken with a slip in it."""
    assert code.isascii()
    assert b"\n" not in code
    file_says, code_says = handed_back_of(data, "cut.json"), handed_back_of(code, "cut.json")
    assert file_says == code_says
    for text in (data, code):
        for number in range(SLIPS):
            wrong = (cut_short if number % 4 == 0 else slipped)(text, rng)
            try:
                read = handed_back_of(wrong, "cut.json")
            except Refused:
                continue
            # An escape of the code may be written with a large letter: the same sign, so the same file.
            assert read == file_says, wrong


def refused(book: Path, data: bytes) -> str:
    """The sentence with which a file is refused; nothing has changed by then."""
    before = state(book.parent)
    with pytest.raises(Refused) as caught:
        record_handed_back(book, handed_back_of(data, "cut.json"), today=TODAY)
    assert state(book.parent) == before, "what is refused leaves all as it was"
    assert caught.value.what.endswith(".")
    assert caught.value.remedy.endswith(".")
    return caught.value.what


def one(book: Path, seed: int, case: int, page: Page) -> int:
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
        data, code = page.written(values, ticks)
        assert data == twin(values, ticks), "both write the same"
        same_said(data, code, rng)
        refused(book, spoilt(data, rng))
        record_handed_back(book, handed_back_of(rng.choice((data, code)), f"cut{number}.json"), today=TODAY)
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
    seen_in = Pages(book)
    log = seen_in.rows("Cut log", "Step")
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
        assert (row["Layout"], row["Times cut"]) == (tick["sheet"], tick["times"])
        assert (row["By"] or "", str(row["Heat"] or "")) == (tick["by"], tick["heat"])
        assert str(row["Note"] or "").startswith(tick["note"])
    times = Counter[str]()
    for tick in ledger:
        times[tick["sheet"]] += tick["times"]
    so_far = {row["Layout"]: row["Cut so far"] for row in seen_in.rows("Layouts", "Layout")}
    assert {tag: so_far[tag] for tag in sheets} == {tag: times[tag] for tag in sheets}
    [stock] = seen_in.rows("Stock", "Sheet")
    assert stock["On hand"] == ON_HAND - sum(times.values())


class Pages:
    """Tables of a book as a general-purpose library reads them; only the pages that are asked for."""

    def __init__(self, book: Path) -> None:
        self.book = openpyxl.load_workbook(book, read_only=True)

    def rows(self, page: str, first: str) -> list[dict[str, Any]]:
        """The rows below the line that has a heading, each by its headings."""
        lines = iter(self.book[page].iter_rows(values_only=True))
        heads = next(line for line in lines if first in line)
        found = [dict(zip(heads, line, strict=False)) for line in lines]
        return [row for row in found if row[first] is not None]


def main() -> int:
    options = told(__doc__, count=200)
    cases = range(options.count) if options.only is None else (options.only,)
    page = Page()
    with tempfile.TemporaryDirectory() as folder:
        made = planned_book(Path(folder), plates=75, on_hand=ON_HAND)
        files = 0
        for case in cases:
            with tempfile.TemporaryDirectory() as own:
                files += one(copied(made, Path(own)), options.seed, case, page)
            if case % 20 == 19:
                print(f"{case + 1} tickings, {files} files recorded", flush=True)
    page.close()
    print(f"{len(cases)} tickings agree, {files} files recorded; written by {'Node' if NODE else 'the twin'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
