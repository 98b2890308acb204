"""Twelve months of a seeded shop through the tool's own commands, with a ledger kept by hand beside it.

Deliveries, late metal, cancellations, renames, rush orders, bad pieces, price changes, sheets stopped half
way, counts and plans every few days; a month is closed at its end. After every step the ledger has to agree.
The same shop with one plan a month says what planning more often costs or saves.
"""

from __future__ import annotations

import datetime
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import openpyxl

from sheetplan.app.check import check_book
from sheetplan.app.close import close_month
from sheetplan.app.new import new_book
from sheetplan.app.parts import Move, PartsAsked, record_parts
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.receive import SheetsAsked, ordered, receive
from sheetplan.model import Job, OrderState
from sheetplan.planning.progress import quiet
from sheetplan.trade.units import Units
from tests.app.cut_book import fill, record_cut
from tests.bench.options import Options
from tests.bench.shop_ledger import (
    KG_LB,
    LB_PER_CUBIC_INCH,
    Ledger,
    bought_of,
    close_to,
    column,
    rack_weight,
    shown_plan,
    steps_of,
)

PARTS = {
    "PLATE": (14.0, 22.0, "thin"), "BRACE": (5.0, 19.0, "thin"), "FOOT": (9.0, 9.0, "thick"),
    "RIB": (6.0, 27.0, "thick"),
}  # fmt: skip
KITS = {"stand": {"PLATE": 2, "BRACE": 4, "FOOT": 4}, "frame": {"RIB": 3, "BRACE": 2}}
SHEETS = {
    "THIN-4x8": (48.0, 96.0, "thin"), "THIN-5x10": (60.0, 120.0, "thin"), "THICK-4x8": (48.0, 96.0, "thick"),
    "THICK-5x10": (60.0, 120.0, "thick"),
}  # fmt: skip
WRITTEN = {"thin": '3/16"', "thick": '1/4"'}
INCH = {"thin": 0.1875, "thick": 0.25}
PRICES = {"THIN-4x8": 140.0, "THIN-5x10": 215.0, "THICK-4x8": 190.0, "THICK-5x10": 292.0}
SECONDS = 0.2
WEEKS = 4


class Shop:
    """The shop: its book, its chance, and the ledger. ``every`` is how many weeks lie between two plans."""

    def __init__(self, folder: Path, seed: int, every: int = 1) -> None:
        self.book, self.chance, self.every = folder / "shop.xlsx", random.Random(seed), every
        self.ledger = Ledger(PARTS, KITS, SHEETS, INCH)
        self.today = datetime.date(2026, 1, 1)
        self.coming: list[tuple[datetime.date, str, int]] = []
        self.prices = dict(PRICES)
        self.plans = self.checks = 0
        self._seen: tuple[bytes, Job] | None = None
        """The book as it was last read, and what was read of it."""
        new_book(self.book, demo=False, units=Units.INCH)
        book = openpyxl.load_workbook(self.book)
        metal = {key: {"Material": "mild steel", "Thickness": text} for key, text in WRITTEN.items()}
        fill(book, "Parts", [{"Part": name, **metal[gauge], "Width": width, "Length": length}
                             for name, (width, length, gauge) in PARTS.items()])  # fmt: skip
        fill(book, "Kits", [{"Kit": kit, "Part": part, "Quantity": count}
                            for kit, parts in KITS.items() for part, count in parts.items()])  # fmt: skip
        fill(book, "Stock", [{"Sheet": n, **metal[g], "Width": w, "Length": le, "Price": PRICES[n]}
                             for n, (w, le, g) in SHEETS.items()])  # fmt: skip
        for row in book["Materials"].iter_rows():
            if row[0].value == "mild steel":
                row[2].value = LB_PER_CUBIC_INCH
        book.save(self.book)

    def happens(self, share: float) -> bool:
        return self.chance.random() < share

    def type_order(self, name: str, item: str, quantity: int) -> None:
        book = openpyxl.load_workbook(self.book)
        sheet = book["Orders"]
        head = next(row[0].row for row in sheet.iter_rows() if row[0].value == "Order")
        row = next(r for r in range(head + 1, head + 400) if sheet.cell(r, 1).value is None)
        for at, value in enumerate((name, item, quantity), 1):
            sheet.cell(row, at, value)
        book.save(self.book)
        self.ledger.orders[name] = (item, quantity, "open")

    def write(self, page: str, key: str, values: dict[str, object]) -> None:
        """Type into the row that begins with a name."""
        book = openpyxl.load_workbook(self.book)
        rows = list(book[page].iter_rows())
        head = next(row for row in rows if any(cell.value == next(iter(values)) for cell in row))
        row = next(row for row in rows[rows.index(head) + 1 :] if row[0].value == key)
        for heading, value in values.items():
            row[[cell.value for cell in head].index(heading)].value = value
        book.save(self.book)

    def job(self) -> Job:
        now = self.book.read_bytes()
        if self._seen is not None and self._seen[0] == now:  # every step changes the book
            return self._seen[1]
        outcome = check_book(self.book)
        assert outcome.job is not None, outcome.problems
        # A book of which every order is folded away can be worked with, but not planned.
        assert not outcome.stops or not self.ledger.orders, outcome.problems
        self._seen = now, outcome.job
        return outcome.job

    def week(self, number: int) -> None:
        """Orders come and go, metal comes, a plan is made, and some of it is cut."""
        self.new_orders()
        self.changed_minds()
        self.deliveries()
        if number % self.every == 0 and self.ledger.orders:
            self.plan()
        self.cut()
        self.afterthoughts()
        self.ship()

    def new_orders(self) -> None:
        for _ in range(self.chance.randint(1, 2)):
            item = self.chance.choice([*KITS, *PARTS])
            quantity = self.chance.randint(2, 6) if item in KITS else self.chance.randint(4, 20)
            number = 1  # names come again as soon as the earlier order of that name is folded away
            while f"H-{number}" in self.ledger.orders:
                number += 1
            self.type_order(f"H-{number}", item, quantity)

    def open_orders(self) -> list[str]:
        return [name for name, one in self.ledger.orders.items() if one[2] == "open"]

    def changed_minds(self) -> None:
        names = self.open_orders()
        if names and self.happens(0.2):
            name = self.chance.choice(names)
            self.write("Orders", name, {"State": "cancelled"})
            self.ledger.orders[name] = (*self.ledger.orders[name][:2], "cancelled")
        elif names and self.happens(0.2):
            name = self.chance.choice(names)
            renamed = f"{name}{'b' if len(name) < 8 else ''}"
            if renamed not in self.ledger.orders and not name.endswith("b"):
                self.write("Orders", name, {"Earlier name": name, "Order": renamed})
                self.ledger.orders[renamed] = self.ledger.orders.pop(name)
        elif names and self.happens(0.2):
            name = self.chance.choice(names)
            item, quantity, state = self.ledger.orders[name]
            quantity = max(1, quantity + self.chance.choice((-2, 3)))
            self.write("Orders", name, {"Quantity": quantity})
            self.ledger.orders[name] = (item, quantity, state)
        if self.happens(0.3):
            sheet = self.chance.choice([*SHEETS])
            self.prices[sheet] = round(self.prices[sheet] * self.chance.uniform(0.9, 1.15), 2)
            self.write("Stock", sheet, {"Price": self.prices[sheet]})
        self.agree("what changed in the book")

    def deliveries(self) -> None:
        for day, sheet, count in [one for one in self.coming if one[0] <= self.today]:
            self.coming.remove((day, sheet, count))
            receive(self.book, SheetsAsked({sheet: count}), today=self.today)
            self.ledger.received(sheet, count, self.prices[sheet])
            self.agree("a delivery")

    def plan(self) -> None:
        outcome = plan_book(
            self.book, PlanAsked(self.today, seconds=SECONDS, seed=1),
            stop=lambda: False, report=quiet, workers=1,
        )
        assert outcome.plan is not None, outcome.problems
        self.plans += 1
        _, layouts = shown_plan(self.book.parent)
        planned: Counter[str] = Counter()
        for one in layouts.values():
            for part, count in one["parts"].items():
                planned[part] += count * one["repeats"]
        in_shop = self.ledger.good - self.ledger.shipped
        wanted = self.ledger.open_pieces() - in_shop
        assert planned == wanted, f"planned {planned}, but {wanted} are wanted and not there"
        self.agree("a plan")
        if not any(sheet["to_buy"] for sheet in bought_of(self.book.parent)):
            return
        step, _ = ordered(self.book, SheetsAsked(), today=self.today)
        for line in step.lines:
            late = self.today + datetime.timedelta(days=self.chance.choice((0, 0, 7, 14)))
            self.coming.append((late, line.sheet, line.count))
        self.deliveries()
        self.agree("an order of metal")

    def cut(self) -> None:
        """Some of the layouts, by the code on their tickets; of some a part only, and some pieces bad."""
        mark, layouts = shown_plan(self.book.parent) if self.plans else ("", {})
        so_far = column(self.book, "Layouts", "Layout", "Cut so far") if layouts else {}
        for tag, one in layouts.items():
            left = one["repeats"] - int(str(so_far.get(tag) or 0))
            if left < 1 or self.happens(0.4):
                continue
            times = self.chance.randint(1, left)
            code = f"{one.get('of_plan') or mark}-{tag}"
            pieces = Counter({part: count * times for part, count in one["parts"].items()})
            bad: Counter[str] = Counter()
            only: tuple[str, ...] = ()
            if self.happens(0.15):
                bad[self.chance.choice([*pieces])] = 1
            elif times == 1 and self.happens(0.15):
                part = self.chance.choice([*pieces])
                made = self.chance.randint(1, pieces[part])
                pieces, only = Counter({part: made}), (f"{part}#1-{made}",)
            record_cut(self.book, CutAsked(code, times=times, bad=dict(bad), only=only), today=self.today)
            self.ledger.cut(one["sheet"] or "", times, pieces, bad)
            self.agree(f"a cut of {code}")

    def afterthoughts(self) -> None:
        """Pieces found bad later, a rush that gets another's pieces, a count of the shelf."""
        names = self.open_orders()
        if names and self.happens(0.3):
            self.try_move(Move(self.chance.choice([*PARTS]), 1, self.chance.choice(names), "scrap"))
        if len(names) > 1 and self.happens(0.3):
            self.try_move(Move(self.chance.choice([*PARTS]), 1, *self.chance.sample(names, 2)))
        free = [one for one in self.job().finished if one.pieces]
        if free and self.happens(0.3):
            one = self.chance.choice(free)
            record_parts(self.book, PartsAsked({one.part: one.pieces - 1}), today=self.today)
            self.ledger.good[one.part] -= 1
            self.agree("a count")

    def try_move(self, move: Move) -> None:
        try:
            record_parts(self.book, PartsAsked(moves=[move]), today=self.today)
        except Refused:
            return
        if move.target == "scrap":
            self.ledger.good[move.part] -= move.pieces
            self.ledger.made[move.part] -= move.pieces
            self.ledger.bad[move.part] += move.pieces
        self.agree("a move")

    def ship(self) -> None:
        """Take over what is free, then mark orders of which all is cut as done: they leave the shop."""
        if any(one.offered for one in self.job().finished):
            record_parts(self.book, PartsAsked(take=True), today=self.today)
        for one in self.job().progress:
            name = one.order.name
            if one.order.state is OrderState.OPEN and one.cut == dict(self.ledger.asked(name)):
                self.write("Orders", name, {"State": "done"})
                self.ledger.shipped += self.ledger.asked(name)
                self.ledger.orders[name] = (*self.ledger.orders[name][:2], "done")
        self.agree("shipping")

    def agree(self, after: str) -> None:
        """The ledger and the tool say the same."""
        self.checks += 1
        ledger, job = self.ledger, self.job()
        cells = column(self.book, "Stock", "Sheet", "On hand")
        for sheet in SHEETS:
            count = int(str(cells.get(sheet) or 0))
            assert count == max(0, ledger.lies[sheet]), f"{after}: {count} of {sheet}, ledger {ledger.lies}"
            assert ledger.bought[sheet] == ledger.lies[sheet] + ledger.cut_sheets[sheet]
        wanted: Counter[tuple[str, str]] = Counter()
        for order in job.orders:
            for part, each in KITS.get(order.item, {order.item: 1}).items():
                wanted[order.name, part] += each * order.quantity
        held: Counter[str] = Counter()
        for one in job.progress:
            name, is_open = one.order.name, ledger.orders[one.order.name][2] == "open"
            for part, asked in ledger.asked(name).items() if is_open else ():
                cut, offered = one.cut.get(part, 0), one.offered.get(part, 0)
                assert asked == cut + offered + wanted[name, part], f"{after}: {name} {part}"
                held[part] += cut
        for one in job.finished:
            assert not one.unsettled, f"{after}: {one}"
            held[one.part] += one.pieces
        there = +(ledger.good - ledger.shipped)
        assert +held == there, f"{after}: {held}, ledger {there}"

    def close(self, month: str) -> None:
        close_month(self.book, month, today=self.today)
        self.ledger.orders = {n: one for n, one in self.ledger.orders.items() if one[2] == "open"}
        self.agree(f"closing {month}")
        self.weigh()

    def weigh(self) -> None:
        """Metal cut is in good parts, bad ones, the rack or the bin; the tool's weights are the ledger's."""
        steps = [one for one in steps_of(self.book.parent) if one["weights"]]
        keys = ("taken", "parts", "kept", "bad")
        sums = {key: sum(one["weights"][key] for one in steps) / KG_LB for key in keys}
        full = sum(self.ledger.weight_of_sheet(n) * count for n, count in self.ledger.cut_sheets.items())
        lies = rack_weight(self.ledger, self.book.parent / "rack")
        assert close_to(sums["taken"] - sums["kept"], full - lies), (sums, full, lies)
        assert close_to(sums["parts"], self.ledger.weight_of(self.ledger.made)), sums
        assert close_to(sums["bad"], self.ledger.weight_of(self.ledger.bad)), sums


def run(folder: Path, seed: int, months: int, every: int = 1, weeks: int = WEEKS) -> dict[str, object]:
    """Live so many months; gives the figures."""
    shop, start = Shop(folder, seed, every), time.process_time()
    for month in range(1, months + 1):
        for week in range(weeks):
            shop.today = datetime.date(2026, month, 2 + 7 * week)
            shop.week(week)
        shop.today = datetime.date(2026, month, 28)
        shop.close(f"2026-{month:02d}")
        told = f"seed {seed}, a plan every {every} weeks: month {month} closed, {shop.checks} checks"
        print(told, file=sys.stderr, flush=True)
    ledger = shop.ledger
    left = sum(max(0, count) * shop.prices[sheet] for sheet, count in ledger.lies.items())
    return {
        "plans": shop.plans, "checks": shop.checks, "sheets bought": sum(ledger.bought.values()),
        "sheets cut": sum(ledger.cut_sheets.values()), "good pieces": sum(ledger.made.values()),
        "pieces shipped": sum(ledger.shipped.values()), "paid": ledger.paid, "sheets left at": left,
        "paid less those left": ledger.paid - left, "lb of good parts": ledger.weight_of(ledger.made),
        "seconds": time.process_time() - start,
    }  # fmt: skip


def instances(options: Options) -> Sequence[str]:
    return ["a plan a week", "a plan a month"]


def solve(instance: str, options: Options) -> dict[str, object]:
    with tempfile.TemporaryDirectory() as folder:
        every = 1 if instance == "a plan a week" else WEEKS
        return {"instance": instance, **run(Path(folder), options.seed, 12, every)}


def summary(rows: Sequence[dict[str, object]], options: Options) -> list[str]:
    return [f"The ledger agreed after every step: {sum(int(str(row['checks'])) for row in rows)} times."]
