"""A shop's books kept by hand beside the tool: pieces, sheets and metal, from what was told to it alone.

Nothing of the tool's own reckoning is used: plans are read from their record (JSON), the book by openpyxl,
shapes of remnants from their vertices, and areas, weights and sums are worked out here.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import openpyxl

LB_PER_CUBIC_INCH = 0.2836
"""Density that the ledger's book writes for its metal."""
KG_LB, MM_INCH = 0.45359237, 25.4


@dataclass
class Ledger:
    """What the shop knows. ``parts`` are sizes in inches and gauges, ``sheets`` sizes and gauges."""

    parts: dict[str, tuple[float, float, str]]
    kits: dict[str, dict[str, int]]
    sheets: dict[str, tuple[float, float, str]]
    inch: dict[str, float]
    """Thickness of each gauge."""
    lies: Counter[str] = field(default_factory=Counter)
    """Sheets in the rack; less than none where some were cut before they came."""
    bought: Counter[str] = field(default_factory=Counter)
    cut_sheets: Counter[str] = field(default_factory=Counter)
    good: Counter[str] = field(default_factory=Counter)
    made: Counter[str] = field(default_factory=Counter)
    """All pieces that were ever cut good, whatever became of them."""
    bad: Counter[str] = field(default_factory=Counter)
    shipped: Counter[str] = field(default_factory=Counter)
    orders: dict[str, tuple[str, int, str]] = field(default_factory=dict)
    """Item, quantity and state of every order on the page, by name."""
    paid: float = 0.0

    def asked(self, name: str) -> Counter[str]:
        """Pieces that an order asks for."""
        item, quantity, _ = self.orders[name]
        return Counter({part: each * quantity for part, each in self.kits.get(item, {item: 1}).items()})

    def open_pieces(self) -> Counter[str]:
        """Pieces that open orders ask for."""
        total: Counter[str] = Counter()
        for name, (_, _, state) in self.orders.items():
            if state == "open":
                total += self.asked(name)
        return total

    def cut(self, sheet: str, times: int, pieces: Counter[str], bad: Counter[str]) -> None:
        """Sheets cut: a full size, or none where it was a remnant."""
        if sheet:
            self.lies[sheet] -= times
            self.cut_sheets[sheet] += times
        self.good += pieces - bad
        self.made += pieces - bad
        self.bad += bad

    def received(self, sheet: str, count: int, price: float) -> None:
        self.lies[sheet] += count
        self.bought[sheet] += count
        self.paid += count * price

    def weight_of_sheet(self, sheet: str) -> float:
        width, length, gauge = self.sheets[sheet]
        return width * length * self.inch[gauge] * LB_PER_CUBIC_INCH

    def weight_of(self, pieces: Counter[str]) -> float:
        return sum(
            self.parts[part][0] * self.parts[part][1] * self.inch[self.parts[part][2]] * count
            for part, count in pieces.items()
        ) * LB_PER_CUBIC_INCH  # fmt: skip


def shown_plan(folder: Path) -> tuple[str, dict[str, dict[str, object]]]:
    """Mark and layouts of the plan that stands, from its record."""
    [plan] = (folder / "layouts").glob("plan-*")
    record = json.loads((plan / "plan.json").read_text())
    layouts = {layout["tag"]: layout for group in record["groups"] for layout in group["layouts"]}
    return plan.name.removeprefix("plan-"), layouts


def bought_of(folder: Path) -> list[dict[str, object]]:
    """Sheets by size of the plan that stands."""
    [plan] = (folder / "layouts").glob("plan-*")
    record = json.loads((plan / "plan.json").read_text())
    return [sheet for group in record["groups"] for sheet in group["sheets"]]


def column(book: Path, page: str, key: str, heading: str) -> dict[str, object]:
    """A column of a page by the names in another."""
    opened = openpyxl.load_workbook(book, read_only=True)  # a fifth of the time, for one page of many
    rows = list(opened[page].iter_rows(values_only=True)) if page in opened.sheetnames else []
    opened.close()
    if not any(key in row for row in rows):
        return {}
    head = next(row for row in rows if key in row and any(str(cell).startswith(heading) for cell in row))
    at = head.index(key), next(i for i, cell in enumerate(head) if str(cell).startswith(heading))
    below = rows[rows.index(head) + 1 :]
    return {str(row[at[0]]): row[at[1]] for row in below if row[at[0]] is not None}


def rack_weight(ledger: Ledger, rack: Path) -> float:
    """What lies in the rack as remnants, cropped to rectangles, from the vertices of their records."""
    total = 0.0
    for path in (rack / "known").glob("*.json"):
        record = json.loads(path.read_text())["record"]
        if not record["used_up"]:
            thick = record["thickness"]["mm"] / MM_INCH
            total += area_of(record["edge"]) / MM_INCH**2 * thick * LB_PER_CUBIC_INCH
    return total


def area_of(vertices: list[list[float]]) -> float:
    """The shoelace formula; edges that bend would be wrong by it, and there are none in this shop."""
    assert not any(vertex[2] for vertex in vertices)
    around = zip(vertices, vertices[1:] + vertices[:1], strict=True)
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in around)) / 2.0


def steps_of(folder: Path) -> list[dict[str, object]]:
    """All steps, those in archives as well."""
    import zipfile

    found = [json.loads(path.read_text()) for path in (folder / "rack" / "steps").glob("*.json")]
    for archive in folder.glob("*.zip"):
        with zipfile.ZipFile(archive) as kept:
            found += [json.loads(kept.read(n)) for n in kept.namelist() if n.startswith("steps/")]
    return found


def close_to(one: float, other: float) -> bool:
    """Whether two weights agree to a millionth."""
    return math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-6)
