"""The book open in LibreOffice Calc, seen from the run, and the extension that is brought into
LibreOffice.
"""

from __future__ import annotations

import base64
import datetime
import json
import os
import queue
import shutil
import subprocess
import sys
import threading
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import asdict, dataclass, replace
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TextIO

from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.values import ChartKind, ResultPage
from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.outcomes import BookChanged, NotSaved, NotWritten, book_problem
from sheetplan.workbook.package.splice import OWN_PAGE, neighbours
from sheetplan.workbook.port import BookState, Edits, LiveEdit, Put
from sheetplan.workbook.reading.book import read_view
from sheetplan.workbook.reading.grid import Box, GridRow, SheetMarks, SheetPlace, TablePlace
from sheetplan.workbook.tables import BookTables, CellValue, ErrorValue, NotComputed
from sheetplan.workbook.writing.charts import axis_format, axis_title
from sheetplan.workbook.writing.grid import GridChart, Look, PageGrid, grid_of, looks_of, named_places

# Make the Calc extension and bring it into LibreOffice.

IDENTIFIER = "sheetplan.calc"

_PARTS = (
    "META-INF/manifest.xml",
    "description.xml",
    "Addons.xcu",
    "python/run_from_calc.py",
    "python/pythonpath/calc_run.py",
    "python/pythonpath/calc_child.py",
    "python/pythonpath/calc_window.py",
    "python/pythonpath/calc_document.py",
    "python/pythonpath/calc_reading.py",
    "python/pythonpath/calc_charts.py",
)
_FIXED_DATE = (1980, 1, 1, 0, 0, 0)


def extension() -> bytes:
    """Return the extension (``.oxt``) as bytes; it starts this Python, which has sheetplan."""
    root = files("sheetplan.workbook.hosts") / "calc_extension"
    memory = BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as file:
        for name in _PARTS:
            file.writestr(zipfile.ZipInfo(name, _FIXED_DATE), root.joinpath(name).read_bytes())
        content = json.dumps([sys.executable, "-m", "sheetplan.cli.live"])
        file.writestr(zipfile.ZipInfo("python/command.json", _FIXED_DATE), content)
    return memory.getvalue()


NOT_FOUND = 3
"""The code where LibreOffice's tool is not there, as for any file that cannot be read."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What to say, and the code to end with: 0, or LibreOffice's own where it refused."""

    sentence: str
    code: int = 0


def install(*more: str) -> Answer:
    """Install the extension with LibreOffice's own tool; ``more`` are further words for it.

    LibreOffice takes it from an administrator only for everybody on the machine.
    """
    everybody = is_administrator()
    with TemporaryDirectory(prefix="sheetplan-") as folder:
        file = Path(folder) / "sheetplan.oxt"
        file.write_bytes(extension())
        whose = _whose(everybody=everybody)
        fault = _unopkg("add", "--force", "--suppress-license", *whose, *more, str(file))
    whom = " for everybody on this machine" if everybody else ""
    return fault or Answer(f"Installed{whom}. Start LibreOffice again; its Calc then has a menu Sheetplan.")


def remove(*more: str) -> Answer:
    """Remove the extension."""
    return _unopkg("remove", *_whose(everybody=is_administrator()), *more, IDENTIFIER) or Answer("Removed.")


def is_administrator() -> bool:
    """Whether this process belongs to the administrator of a system that has one person for that."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def _whose(*, everybody: bool) -> tuple[str, ...]:
    return ("--shared",) if everybody else ()


def _unopkg(*arguments: str) -> Answer | None:
    """Run LibreOffice's tool for extensions; what went wrong, or None."""
    tool = shutil.which("unopkg")
    if tool is None:
        return Answer(
            "LibreOffice's tool unopkg was not found. Add the folder `program` of LibreOffice to the PATH, "
            "or install the extension by hand in Calc: Tools, Extensions.", NOT_FOUND,
        )  # fmt: skip
    done = subprocess.run([tool, *arguments], capture_output=True, text=True, check=False)
    said = (done.stderr or done.stdout).strip()
    # Some versions say what went wrong and end with 0 all the same.
    refused = done.returncode or ("ERROR:" in done.stderr.upper() and 1)
    return Answer(f"LibreOffice refused: {said}", int(refused)) if refused else None


# The book open in LibreOffice Calc, seen from the run: the extension at the other end reads and draws.

ANSWER_SECONDS = 300.0
"""How long drawing may take at the other end: minutes on a slow machine, never for ever."""


class CalcBook:
    """A host that speaks with the extension over two streams; read the request first with `start`.

    ``hung_up`` is called, from another thread, when the document has gone before the run's end.
    """

    def __init__(
        self, request: Mapping[str, Any], incoming: Iterable[str], outgoing: TextIO,
        hung_up: Callable[[], None] = lambda: None,
    ) -> None:  # fmt: skip
        self._request = request
        self._outgoing = outgoing
        self._answers: queue.Queue[Mapping[str, Any]] = queue.Queue()
        self._stopped = threading.Event()
        self._sheets: Sequence[Mapping[str, Any]] | None = request["sheets"]
        """The book as last sent; None once it was written, or found to have changed, since."""
        self._path = Path(request["path"])
        self._edited = threading.Event()
        self._hung_up = hung_up
        self._ended = False
        threading.Thread(target=self._listen, args=(incoming,), daemon=True).start()

    @classmethod
    def start(cls, incoming: TextIO, outgoing: TextIO, hung_up: Callable[[], None]) -> CalcBook:
        """Take the request from the first line."""
        return cls(json.loads(incoming.readline()), incoming, outgoing, hung_up)

    @property
    def run(self) -> str:
        """What the person asked for."""
        return str(self._request["run"])

    @property
    def path(self) -> Path:
        """Where the document's file lies; it may be saved under another name while the run goes on."""
        return self._path

    def stop(self) -> bool:
        """Whether the person asked to end the search, or the program at the other end has gone."""
        return self._stopped.is_set()

    def read(self) -> BookTables:
        """Read the tables from the cells that were sent, which are asked for anew after a change."""
        if self._edited.is_set():
            self._sheets = None
        return replace(read_view(self._view()), comma=self._request.get("facts", {}).get("comma"))

    def asked(self, name: str) -> str:
        """Text of a named cell as it was when the run began."""
        return str(self._request.get("named", {}).get(name, "")).strip()

    def state(self) -> BookState:
        """How the document was open when the run began."""
        facts = self._request.get("facts", {})
        return BookState(
            bool(facts.get("read only")), bool(facts.get("structure protected")),
            frozenset(sheet["name"] for sheet in self._request["sheets"]),
            frozenset(facts.get("protected", ())), frozenset(facts.get("planners", ())),
        )  # fmt: skip

    def note(self, sentence: str) -> None:
        """Show the sentence on the page Start."""
        self._say({"note": sentence})

    def edit(self) -> LiveEdit:
        """Begin changes to cells."""
        return LiveEdit(self._view())

    def _view(self) -> SentView:
        if self._sheets is None:
            self._edited.clear()
            self._say({"read": True})
            sheets = self._answer().get("sheets")
            if sheets is None:
                raise NotWritten(book_problem(
                    self.path, "The spreadsheet program does not answer.", "Run it again.",
                ))  # fmt: skip
            self._sheets = sheets
        return SentView(self._sheets)

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        """Have the pages drawn, and wait until they are."""
        self.change(Edits(), pages, units, save=False)
        return self.path

    def change(self, edits: Edits, pages: Sequence[ResultPage], units: Units, *, save: bool) -> None:
        """Have cells written and pages drawn, and the document saved if asked to; wait until it is."""
        message = write_message([grid_of(page, units) for page in pages], units)
        message["write"] |= {**edits_message(edits), "save": save}
        self._say(message)
        answer = self._answer()
        if answer.get("changed"):
            self._sheets = None
            raise BookChanged(
                book_problem(
                    self.path,
                    "The input pages were changed while the run was under way; nothing was written.",
                    "Run it again so that the results fit what the workbook says now.",
                )
            )
        if not answer.get("written"):
            reason = str(answer.get("refused", "The spreadsheet program refused."))
            raise NotWritten(book_problem(self.path, reason, "Put that right, then run it again."))
        self._sheets = None
        self._edited.clear()
        if "unsaved" in answer:
            raise NotSaved(
                book_problem(
                    self.path,
                    f"The spreadsheet program could not save the workbook ({answer['unsaved']}).",
                    "Check that its drive is connected, has room and may be written, then run it again.",
                )
            )

    def _answer(self) -> Mapping[str, Any]:
        try:
            return self._answers.get(timeout=ANSWER_SECONDS)
        except queue.Empty:
            return {"refused": "The spreadsheet program does not answer."}

    def touched(self) -> bool | None:
        """Whether the document was edited since it was last read."""
        return self._edited.is_set()

    def progress(self, progress: Progress) -> None:
        """Show the progress in the program's status bar."""
        self._say({"progress": [progress.done, progress.sentence]})

    def tell(self, sentence: str) -> None:
        """Show the sentence in a box."""
        self._say({"tell": sentence})

    def end(self) -> None:
        """Say that nothing more will come."""
        self._ended = True
        self._say({"end": True})

    def _say(self, message: Mapping[str, Any]) -> None:
        self._outgoing.write(json.dumps(message, ensure_ascii=True) + "\n")
        self._outgoing.flush()

    def _listen(self, incoming: Iterable[str]) -> None:
        for line in incoming:
            message = json.loads(line)
            if message.get("stop"):
                self._stopped.set()
            elif "touched" in message:
                self._edited.set()
            elif "moved" in message:
                self._path = Path(message["moved"])
            else:
                self._answers.put(message)
        self._stopped.set()
        self._answers.put({"refused": "The spreadsheet program has gone."})
        if not self._ended:
            self._hung_up()


class SentView:
    """The book as the extension sent it; a `reading.book.BookView`."""

    def __init__(self, sheets: Sequence[Mapping[str, Any]]) -> None:
        self._sheets = {sheet["name"]: sheet for sheet in sheets}
        self.places = tuple(
            SheetPlace(sheet["name"], "", tuple(_table(table) for table in sheet["tables"]))
            for sheet in sheets
        )

    def rows(self, sheet: str, box: Box) -> Iterator[GridRow]:
        """Rows of a block, as far as the sheet is filled; rows come from its first row and column."""
        lines = self._sheets[sheet]["rows"]
        for number in range(box.top, min(box.bottom, len(lines)) + 1):
            cells = lines[number - 1][box.left - 1 : box.right]
            yield number, [value_of(cell) for cell in cells]

    def marks(self, sheet: SheetPlace, block: Box) -> SheetMarks:
        """Merged blocks and hidden rows."""
        sent = self._sheets[sheet.name]
        merged = tuple(Box(*block) for block in sent.get("merged", ()))
        return SheetMarks(merged, frozenset(sent.get("hidden", ())))

    def formulas(self, sheet: str, box: Box) -> Set[tuple[int, int]]:
        """Places of formulas in a block."""
        return {
            (row, column)
            for left, top, right, bottom in self._sheets[sheet].get("formulas", ())
            for row in range(max(top, box.top), min(bottom, box.bottom) + 1)
            for column in range(max(left, box.left), min(right, box.right) + 1)
        }


def _table(sent: Mapping[str, Any]) -> TablePlace:
    return TablePlace(
        sent["name"], Box(*sent["box"]), sent["heading_row"], sent["total_row"], tuple(sent["names"])
    )


def value_of(sent: Any) -> CellValue:
    """One cell as it was sent: plain, or an object that says what kind of value it is."""
    if not isinstance(sent, dict):
        if isinstance(sent, float) and sent.is_integer():
            return int(sent)
        return sent if sent != "" else None
    if "error" in sent:
        return ErrorValue(str(sent["error"]))
    if "date" in sent:
        return datetime.datetime.fromisoformat(sent["date"])
    if "time" in sent:
        return datetime.time.fromisoformat(sent["time"])
    return NotComputed()


def write_message(grids: Sequence[PageGrid], units: Units) -> dict[str, Any]:
    """All that the extension needs to draw the pages, without a rule of its own."""
    names = {name: list(place) for name, place in named_places(grids).items()}
    return {"write": {"pages": [_page(grid, units) for grid in grids], "names": names, "mark": OWN_PAGE}}


def edits_message(edits: Edits) -> dict[str, Any]:
    """Cells to write and tables to stretch, rows and columns from 0; a day as ``{"day": "2026-12-04"}``."""
    return {
        "cells": [[one.sheet, one.row - 1, one.column - 1, _sent(one.value)] for one in edits.cells],
        "growths": [
            [one.sheet, one.table, one.box.left - 1, one.box.top - 1, one.box.right - 1, one.box.bottom - 1]
            for one in edits.growths
        ],
    }


def _sent(value: Put) -> str | int | float | dict[str, str] | None:
    return {"day": value.isoformat()} if isinstance(value, datetime.date) else value


def _page(grid: PageGrid, units: Units) -> dict[str, Any]:
    looks: dict[Look, int] = {}
    pictures: list[dict[str, Any]] = []
    cells = []
    for cell, look in zip(grid.cells, looks_of(grid, units), strict=True):
        place = looks.setdefault(look, len(looks))
        cells.append([cell.row, cell.column, cell.span, place, cell.value, cell.link])
        if cell.picture is not None:
            picture = cell.picture
            png = base64.b64encode(picture.png).decode("ascii")
            pictures.append({"row": cell.row, "column": cell.column, "png": png, "width": picture.width,
                             "height": picture.height, "alt": picture.alt})  # fmt: skip
    follows, precedes = neighbours(grid.name)
    return {
        "name": grid.name,
        "follows": list(follows),
        "precedes": list(precedes),
        "landscape": grid.landscape,
        "widths": list(grid.widths),
        "hidden": sorted(grid.hidden),
        "breaks": list(grid.breaks),
        "heights": [[row, points] for row, points in grid.heights],
        "frozen_rows": grid.frozen_rows,
        "repeat_row": grid.repeat_row,
        "tables": [
            {"name": t.name, "head_row": t.head_row, "last_row": t.last_row, "columns": len(t.headings)}
            for t in grid.tables
        ],
        "looks": [asdict(look) for look in looks],
        "cells": cells,
        "pictures": pictures,
        "charts": [_chart(chart, units) for chart in grid.charts],
    }


def _chart(placed: GridChart, units: Units) -> dict[str, Any]:
    """A native chart of the cells of its table."""
    wanted, table = placed.chart, placed.table
    return {
        "row": placed.row, "width": placed.width, "height": placed.height, "title": wanted.title,
        "axis": axis_title(placed, units), "format": axis_format(placed),
        "stacked": wanted.kind is not ChartKind.COLUMNS, "bars": wanted.kind.lies,
        "shares": wanted.kind is ChartKind.SHARE_BARS,
        "head_row": table.head_row, "last_row": table.last_row,
        "labels": placed.labels, "series": list(placed.series),
        "fills": [asdict(fill) for fill in palette.chart_fills(len(placed.series))],
        "edge": palette.EDGE, "ink": style.INK, "line": style.LINE,
    }  # fmt: skip
