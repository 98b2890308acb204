"""The demo month planned again: with nothing changed, and with one more order in one gauge.

Nothing changed has to give the same mark and the same files within 3 s of processor time; an order more
leaves layouts, numbers and drawings of the other gauges byte for byte.
"""

from __future__ import annotations

import datetime
import json
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import openpyxl

from sheetplan.app.new import new_book
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.planning.progress import quiet
from sheetplan.trade.units import Units
from tests.bench.options import Options

DAY = datetime.date(2026, 11, 2)
MOST_SECONDS, TIMES = 3.0, 3
"""The least of a few times counts: other work on the machine makes any of them longer."""


def instances(options: Options) -> Sequence[str]:
    return [units.value for units in Units]


def solve(instance: str, options: Options) -> dict[str, object]:
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "harbour.xlsx"
        new_book(book, demo=True, units=Units(instance))
        seconds = options.seconds or 5.0
        _plan(book, seconds, options.seed)
        first = _files(book)
        taken = []
        for _ in range(TIMES):
            taken.append(_plan(book, seconds, options.seed))
            assert _files(book) == first, "nothing was changed, and files differ"
        gauge, part = _part_of_one_gauge(book)
        _order(book, part)
        _plan(book, seconds, options.seed)
        before, after = _gauges(first), _gauges(_files(book))
        unlike = {name for name in before if before[name] != after.get(name)}
        assert unlike <= {gauge}, f"only {gauge} was asked for more, and {unlike} changed"
        return {"instance": instance, "gauges": len(before), "files": len(first),
                "planned again in": min(taken), "an order more of": part}  # fmt: skip


def _plan(book: Path, seconds: float, seed: int) -> float:
    """Plan; gives the processor time that it took."""
    start = time.process_time()
    outcome = plan_book(
        book, PlanAsked(DAY, seconds=seconds, seed=seed), stop=lambda: False, report=quiet, workers=1
    )
    assert outcome.plan is not None, outcome.problems
    return time.process_time() - start


def _files(book: Path) -> dict[str, bytes]:
    """The plan's files by their names, in which its mark stands."""
    [folder] = (book.parent / "layouts").glob("plan-*")
    return {f"{folder.name}/{path.name}": path.read_bytes() for path in folder.iterdir()}


def _gauges(files: dict[str, bytes]) -> dict[str, object]:
    """Layouts and drawings by gauge; a layout that is kept names the plan that it is of."""
    [record] = [json.loads(data) for name, data in files.items() if name.endswith("/plan.json")]
    mark = next(iter(files)).split("/")[0].removeprefix("plan-")
    found: dict[str, object] = {}
    for group in record["groups"]:
        layouts = [{**one, "of_plan": one.get("of_plan") or mark} for one in group["layouts"]]
        drawn = {
            name.split("/")[1]: data for name, data in files.items() if name.endswith(".dxf")
            and name.split("/")[1].split("_")[0].rpartition("-")[2] in {one["tag"] for one in layouts}
        }  # fmt: skip
        found[group["gauge"]] = (layouts, drawn)
    return found


def _part_of_one_gauge(book: Path) -> tuple[str, str]:
    """A gauge, and the first part that a layout of it makes."""
    [folder] = (book.parent / "layouts").glob("plan-*")
    group = json.loads((folder / "plan.json").read_text())["groups"][0]
    return group["gauge"], next(iter(group["layouts"][0]["parts"]))


def _order(book: Path, part: str) -> None:
    """Type one more order into the first blank row of Orders."""
    opened = openpyxl.load_workbook(book)
    sheet = opened["Orders"]
    head = next(row[0].row for row in sheet.iter_rows() if row[0].value == "Order")
    row = next(r for r in range(head + 1, head + 400) if sheet.cell(r, 1).value is None)
    for at, value in enumerate(("H-9001", part, 1), 1):
        sheet.cell(row, at, value)
    opened.save(book)


def summary(rows: Sequence[dict[str, object]], options: Options) -> list[str]:
    slow = [row["instance"] for row in rows if float(str(row["planned again in"])) >= MOST_SECONDS]
    if slow:
        return [f"Planned again in more than {MOST_SECONDS} s of processor time: {slow}."]
    return ["Nothing changed: same mark, same files. An order more: the other gauges are as they were."]
