"""Strangers' kits through `import`: the book equals the generator's own list, and again changes nothing.

    python -m tests.hard.strangers --files 300 --seed 1
"""

from __future__ import annotations

import argparse
import tempfile
import time
import unicodedata
import warnings
from dataclasses import dataclass
from pathlib import Path

import openpyxl

from sheetplan.app.check import check_book
from sheetplan.app.import_parts import ImportAsked
from sheetplan.app.import_run import Imported, import_drawings
from sheetplan.app.new import new_book
from sheetplan.model import Weight
from sheetplan.shapes import area, size
from sheetplan.trade.units import Units
from tests.nasty.strangers_kits import Kit, Stated, write_kits


@dataclass
class Outcome:
    """What the book has after a run, by drawing."""

    rows: int
    stated: int
    doubtful: int
    refused: int
    seconds: tuple[float, float]


def imported(home: Path, files: int, seed: int) -> Outcome:
    """Generate, import twice, compare; raises AssertionError where anything differs."""
    kit = write_kits(home / "drawings", files, seed)
    book = home / "book.xlsx"
    new_book(book, demo=False, units=Units.MM)
    asked = ImportAsked((home / "drawings",), "mild steel", kit="file")
    begun = time.process_time()
    first = import_drawings(book, asked)
    middle = time.process_time()
    compare(book, kit, first)
    before = book.read_bytes()
    again = import_drawings(book, asked)
    end = time.process_time()
    assert not again.found.new
    assert not again.changed
    assert not again.gone
    assert book.read_bytes() == before
    doubtful = sum(bool(part.doubts) for part in first.found.new)
    return Outcome(
        len(first.found.new), len(kit.parts), doubtful, len(kit.refused), (middle - begun, end - middle)
    )


def compare(book: Path, kit: Kit, done: Imported) -> None:
    """Each stated part has its row: area, holes, size, thickness, quantity, doubts; and there is no other."""
    refused = [one.cell for one in done.found.refused]
    assert len(refused) == len(kit.refused), refused
    for one in kit.refused:
        assert any(plain(cell).startswith(plain(f"drawings/{one.file}")) for cell in refused), one.file
    rows = {plain(part.name): part.found.part.outline for part in done.found.new}
    unusable = {plain(one.name): one for one in done.found.refused}
    rows |= {name: one.part.outline for name, one in unusable.items() if one.part}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sheet = openpyxl.load_workbook(book)
    parts = table(sheet, "Parts")
    quantities = {plain(row["Part"]): row["Quantity"] for row in table(sheet, "Kits")}
    left = {False: list(kit.parts), True: list(kit.refused)}
    for row in parts:
        outline, bad = rows[plain(row["Part"])], plain(row["Part"]) in unusable
        path = plain(str(row["Drawing"]).partition("#")[0])
        own = [s for s in left[bad] if plain(f"drawings/{s.file}") == path and agrees(s, outline)]
        assert own, (row, [s for s in kit.parts if plain(f"drawings/{s.file}") == path])
        stated = own[0]
        left[bad].remove(stated)
        assert str(row.get("Description") or "").startswith("cannot be used: ") == bad, row
        assert (row.get("Thickness") or "") == stated.thickness, (row, stated)
        assert quantities[plain(row["Part"])] == stated.copies, (row, stated)
        if stated.doubtful and not bad:
            assert str(row.get("Description") or "").startswith("to confirm"), (row, stated)
    assert not left[False], left
    assert not left[True], left
    outcome = check_book(book)
    wrong = [p.what for p in outcome.problems if p.page == "Parts" and p.weight is not Weight.NOTE]
    wrong = [what for what in wrong if what != "Thickness is empty."]
    assert all(" cannot be cut: " in what for what in wrong), wrong
    assert {plain(what.partition(" cannot be cut: ")[0]) for what in wrong} == set(map(plain, refused))


def agrees(stated: Stated, outline: object) -> bool:
    return (
        abs(area(outline) - stated.area) <= stated.close  # type: ignore[arg-type]
        and all(abs(a - b) <= 0.11 for a, b in zip(sorted(size(outline)), sorted(stated.size), strict=True))
        and len(outline.holes) == stated.holes  # type: ignore[attr-defined]
    )


def plain(text: object) -> str:
    return unicodedata.normalize("NFC", str(text))


def table(book: openpyxl.Workbook, name: str) -> list[dict[str, object]]:
    sheet = book[name]
    heads = None
    rows = []
    for cells in sheet.iter_rows(values_only=True):
        if heads is None:
            if cells and name[:-1] in cells:
                heads = cells
            continue
        row = {str(h): v for h, v in zip(heads, cells, strict=True) if h}
        if row.get(name[:-1]):
            rows.append(row)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--files", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        print(imported(Path(folder), asked.files, asked.seed))


if __name__ == "__main__":
    main()
