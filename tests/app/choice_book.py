"""A small planned book of two gauges with something to choose: bought sheets or dearer ones on hand."""

from __future__ import annotations

from pathlib import Path

import openpyxl

from sheetplan.app.new import new_book
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.model import Plan
from sheetplan.planning.progress import quiet
from sheetplan.trade.units import Units
from tests.app.cut_book import DAY, fill

SECONDS = 4.0
"""More than the small book needs, so that the clock ends nothing even on a busy machine."""


def choice_book(folder: Path) -> Path:
    """The book, not planned yet."""
    path = folder / "yard.xlsx"
    new_book(path, demo=False, units=Units.INCH)
    book = openpyxl.load_workbook(path)
    thin, thick = ({"Material": "mild steel", "Thickness": text} for text in ("10 ga", "1/4 in"))
    fill(book, "Parts", [
        {"Part": "PLATE", **thin, "Width": 20, "Length": 40},
        {"Part": "BASE", **thick, "Width": 12, "Length": 30},
        {"Part": "RIB", **thick, "Width": 7, "Length": 22, "Spare": 2},
    ])  # fmt: skip
    fill(book, "Kits", [{"Kit": "stand", "Part": "BASE", "Quantity": 1},
                        {"Kit": "stand", "Part": "RIB", "Quantity": 2}])  # fmt: skip
    fill(book, "Orders", [{"Order": "H-1", "Item": "PLATE", "Quantity": 8},
                          {"Order": "H-2", "Item": "stand", "Quantity": 18}])  # fmt: skip
    fill(book, "Stock", [
        {"Sheet": "BUY", **thin, "Width": 48, "Length": 96, "Price": 100},
        {"Sheet": "OWN", **thin, "Width": 60, "Length": 120, "On hand": 2, "Price": 180, "Most to buy": 0},
        {"Sheet": "T48", **thick, "Width": 48, "Length": 96, "On hand": 1, "Price": 210},
        {"Sheet": "T60", **thick, "Width": 60, "Length": 120, "Price": 330},
    ])  # fmt: skip
    book.save(path)
    return path


def run(
    path: Path, *, seed: int = 1, picks: tuple[str, ...] = (), locks: tuple[str, ...] = ()
) -> PlanOutcome:
    """Plan the book in this process."""
    return plan_book(
        path, PlanAsked(DAY, seconds=SECONDS, seed=seed, picks=picks, locks=locks),
        stop=lambda: False, report=quiet, workers=1,
    )  # fmt: skip


def planned(outcome: PlanOutcome) -> Plan:
    """The plan of an outcome that has one."""
    assert outcome.plan is not None, outcome.problems
    return outcome.plan


def said(outcome: PlanOutcome) -> str:
    """All problems as one text."""
    return "\n".join(f"{p.where}: {p.what} {p.remedy}" for p in outcome.problems)
