"""Headings of every input page renamed, removed, doubled and moved: told, or without any harm.

A book in which every column says something is read as it is and once more with one heading spoilt. Where what
was read differs, a finding must name the heading; where it does not, nothing may stop the plan. So with each
row of Settings and its name.
``python -m tests.hard.headings --count 3000 --seed 1``; the first cases are each column in each way.
"""

from __future__ import annotations

import datetime
import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sheetplan.app.rack.cut_asked import cuts_in_rows
from sheetplan.model import Job
from sheetplan.model.job import QuoteLine
from sheetplan.model.problem import Problem, Weight
from sheetplan.workbook.columns import ALL_PAGES
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.job import drawings_wanted, read_job, read_month
from sheetplan.workbook.reading.orders import read_quotes
from sheetplan.workbook.reading.rows import PageRead
from sheetplan.workbook.reading.settings import read_settings, settings_missed
from sheetplan.workbook.schema import InputColumn, InputPage
from sheetplan.workbook.tables import BookTables, RawCell, RawRow, RawTable
from tests.hard.options import told
from tests.nasty.books.plain import Rows, plain_rows, tables_of

DAY = datetime.datetime(2026, 11, 24)
STEEL: dict[str, Any] = {"Material": "mild steel", "Thickness": "10 ga"}

FULL: dict[str, dict[str, Any]] = {
    "Materials": {"Scrap price": 0.06},
    "Cutting": {"Least hole": 0.2, "Least web": 0.1, "Feed": 90, "Pierce seconds": 0.6, "Travel": 400,
                "Small hole below": 2, "Small hole feed": 55, "Lead-in": 0.2, "Height seconds": 1.5,
                "Pierce cost": 0.04, "Set cost": 18, "Pierces a set": 400, "Minutes a set": 80,
                "Hour cost": 95, "Process": "65 A", "In use": "no", "From": "own cut chart"},
    "Parts": {"Description": "base plate", "Corner": "r 0.5", "Holes": "4 x 0.25 at 0.5",
              "Turns": "half turn only", "Grain": "along length", "Spare": 2, "Mark": "yes"},
    "Orders": {"Due": DAY, "Must": "if it fits", "State": "open", "Earlier name": "H-0", "Since": DAY},
    "Stock": {"On hand": 3, "On order": 2, "Price": 1.4, "Price per": "lb", "Billed weight": 181,
              "Most to buy": 40,
              "Order multiple": 5, "Supplier": "Harbour Metals", "Lead days": 5, "Rack place": "A2"},
    "Remnants": {"Missing width": 4, "Missing length": 5, "Missing corner": "upper left",
                 "Missing piece": "triangle", "Cut away": 12,
                 "Datum corner": "lower right", "Rack place": "R1", "Sheets above": 3, "Extra gap": 0.2,
                 "Value": 11, "State": "in rack"},
}  # fmt: skip
"""What every optional column of a page says, on all its rows, so that one that is lost changes something."""

MORE: Rows = {
    "Quotes": [{"Quote": "Q-1", "Item": "CB-100", "Quantity": "1; 10", "Wanted": DAY, "Customer": "pier",
                "Mark-up": 0.3, "Price by": "this month", "Order it": "10"},
               {"Quote": "Q-2", "Drawing": "lug.dxf", **STEEL, "Drawn in": "mm", "Quantity": 4}],
    "Remnant shapes": [
        {"Tag": "R-8", "What": "rectangle", "Along length": 3, "Along width": 3, "Length": 4, "Width": 2},
        {"Tag": "R-8", "What": "disc", "Along length": 12, "Along width": 6, "Diameter": 3},
        *({"Tag": "R-8", "What": "cut-out", "Which cut-out": "A", "Along length": x, "Along width": y}
          for x, y in ((18, 4), (22, 4), (22, 8), (18, 8), (18, 4))),
        *({"Tag": "R-8", "What": "cut-out", "Which cut-out": "B", "Along length": x, "Along width": y, **more}
          for x, y, more in ((22, 11, {"To next point": "round outwards", "Radius": 3}), (26, 11, {}),
                             (26, 16, {"To next point": "round outwards", "Rise": 0.5}), (22, 16, {}),
                             (22, 11, {}))),
    ],
    "Record": [{"Ticket": "L1", "Sheets": 1, "Cut from": "MS-4x8", "Pieces cut": "CB-100",
                "Bad pieces": "CB-100=1", "What is left": "keep as it is", "Cut on": DAY, "Cut by": "Ann",
                "Heat": "A7", "Beyond plan": "yes", "Note": "torch was new"}],
    "Purchases": [{"Date": DAY, **STEEL, "Width": 48, "Length": 96, "Sheets": 4, "Noted weight": 730,
                   "Paid": 600, "Supplier": "Harbour Metals"}],
    "Scrap log": [{"Date": DAY, "Ticket": "S-1", "Weight": 300, "Paid": 30, **STEEL}],
    "Rack count": [{"End of": DAY, **STEEL, "Width": 20, "Length": 30, "Tag": "R-9", "Value": 8},
                   {"End of": DAY, **STEEL, "Width": 48, "Length": 96, "Sheets": 3}],
    "Earlier cuts": [{"Month": DAY, **STEEL, "Taken": 900, "Good parts": 700, "Bad parts": 9, "Kerf": 20,
                      "Kept": 50, "Skeleton kept": 10, "Metal cost": 700, "Kept value": 30}],
}  # fmt: skip

SETTINGS: dict[str, Any] = {
    "Output folder": "cut", "Datum corner": "upper right", "Seconds to spend": 7, "Least remnant length": 20,
    "Least remnant width": 9, "What is left": "keep as it is", "On hand counts at": "70 %",
    "Remnants count at": "50 %", "Extra gap to old cuts": 0.1, "Cost of moving": 2,
    "Drawing format": "DXF R12", "Page for tablets": "no", "Layouts as SVG too": "yes",
    "Kerf offset": "yes", "Mark small holes": "yes",
    "Curve tolerance": 0.003, "Drawing folders": "more", "Layers to cut": "CUT", "Layers to mark": "NOTE",
    "Layers to leave out": "FRAME", "Currency": "CAD", "Decimal sign": "comma", "Save with the plan": "yes",
    "Cutting hours": 5, "Cutting days": "Mon to Thu", "Minutes to load": 3, "Minutes to square": 1,
    "Minutes to unload": 6, "Minutes to clean": 1, "Machine hour cost": 80, "Hand hour cost": 40,
    "Shop name": "Quay Works", "Mark-up": "25 %", "Lift limit": 300,
}  # fmt: skip
"""What each row of Settings says, otherwise than where it is missing."""

UNREAD = {("Settings", "What it does"), ("Cutting", "From"), ("Stock", "Received"), ("Remnants", "Shape"),
          ("Remnants", "Cut away"), ("Purchases", "Supplier"), ("Rack count", "Tag")}  # fmt: skip
"""Columns that are for reading only, or for one run or a record beside the book that asks for them itself."""


def full_book() -> BookTables:
    """A book in which every column that is read says something."""
    rows = {**plain_rows(), **MORE}
    for page, more in FULL.items():
        rows[page] = [{**more, **row} for row in rows[page]]
    rows["Settings"] += [{"Setting": name, "Value": value} for name, value in SETTINGS.items()]
    rows["Cutting"] += [
        {**row, "Process": "105 A", "Kerf": 2 * row["Kerf"], "In use": "yes"} for row in rows["Cutting"]
    ]
    rows["Parts"].append({"Part": "RG-1", **STEEL, "Width": 9, "Length": 9, "Shape": "ring", "Inside": 4})
    rows["Parts"].append({"Part": "DR-1", **STEEL, "Drawing": "lug.dxf", "Drawn in": "mm",
                          "Cut layers": "CUT", "Doubtful lines": "mark"})
    rows["Kits"].append({"Kit": "cleat set", "Part": "RG-1", "Quantity": 1})
    rows["Orders"].append({"Order": "H-9", "Item": "CB-100", "Quantity": 2, "State": "on hold",
                           "Process": "65 A"})
    rows["Remnants"].append({"Tag": "R-8", **STEEL, "Width": 20, "Length": 30})
    rows["Remnants"].append({"Tag": "R-9", **STEEL, "Width": 22, "Length": 30, "State": "leave alone"})
    return tables_of(rows)


@dataclass(frozen=True)
class Reading:
    """What a plan, a month's end and a cut get from a book, and what is said about it."""

    got: tuple[Any, ...]
    problems: tuple[Problem, ...]

    @property
    def stops(self) -> bool:
        return any(problem.weight is Weight.STOPS for problem in self.problems)


def read(tables: BookTables) -> Reading:
    job, problems = read_job(tables)
    settings, month, more = read_month(tables)
    cuts, wrong = cuts_in_rows(tables)
    asked = tuple(replace(cut, row=None) for cut in cuts)
    quotes = quotes_in(tables, job) if job else None
    got = (job, drawings_wanted(tables)[1], settings, month and month.rows, asked, quotes and quotes.rows)
    return Reading(got, (*problems, *more, *wrong, *(quotes.problems if quotes else ())))


def quotes_in(tables: BookTables, job: Job) -> PageRead[QuoteLine]:
    """The page Quotes as the command reads it, but for its drawings."""
    items = {normal(name): name for name in (*job.parts, *job.kits)}
    read = read_quotes(tables.tables["Quotes"], job.settings.units, items)
    rows = tuple(replace(one, place=replace(one.place, row=0)) for one in read.rows)
    return replace(read, rows=rows)


def settings_alone(tables: BookTables, table: RawTable) -> Reading:
    """What every reading of a book gets from such a page Settings."""
    settings, problems = read_settings(table)
    missed = settings_missed(replace(tables, tables={**tables.tables, "Settings": table}))
    return Reading((settings,), (*problems, *missed))


Spoil = Callable[[RawTable, InputColumn, random.Random], RawTable]


def renamed(table: RawTable, old: str, new: str) -> RawTable:
    """The table with one heading written otherwise; one without letters loses its cells."""
    rows = tuple(
        RawRow(row.number, {new if h == old else h: cell for h, cell in row.cells.items() if h != old or new})
        for row in table.rows
    )
    return replace(table, headings=tuple(new if h == old else h for h in table.headings), rows=rows)


def near(table: RawTable, column: InputColumn, dice: random.Random) -> RawTable:
    """A heading as people write it: a slip, more letters, a unit, other words, other signs."""
    said = column.heading
    at = dice.randrange(len(said))
    new = dice.choice((
        f"{said}s", said.replace(" ", "_"), f"Qty {said.lower()}", f"{said} (own)", f"{said} (mm)",
        f"{said}2", said[:at] + said[at + 1 :], said[:at] + said[at] + said[at:], f"Our {said.lower()}",
        said.replace(" ", ""), said.replace("e", "é"), f"{said}:", f"{said} 2026",
        said.replace("o", "\u043e").replace("a", "\u0430").replace("e", "\u0435"),
    ))  # fmt: skip
    return renamed(table, said, " ".join(new.split()) or "x")


def other(table: RawTable, column: InputColumn, dice: random.Random) -> RawTable:
    """A heading that nobody can guess."""
    return renamed(table, column.heading, dice.choice(("Bestand", "X", "Spalte 7", "Remarks", "neu", "数量")))


def hidden(table: RawTable, column: InputColumn, dice: random.Random) -> RawTable:
    """A character that nobody sees among the letters."""
    at = dice.randrange(len(column.heading) + 1)
    sign = dice.choice("\u200b\u00ad\ufeff\u2060\u200e")
    return renamed(table, column.heading, column.heading[:at] + sign + column.heading[at:])


def spaced(table: RawTable, column: InputColumn, dice: random.Random) -> RawTable:
    """Other spaces and other capitals."""
    new = dice.choice((column.heading.upper(), column.heading.lower(), f"{column.heading}\u00a0"))
    return renamed(table, column.heading, new)


def emptied(table: RawTable, column: InputColumn, dice: random.Random) -> RawTable:
    """The heading deleted, its cells left: `raw_table` then names the column by its letter."""
    return renamed(table, column.heading, "column Q")


def removed(table: RawTable, column: InputColumn, dice: random.Random) -> RawTable:
    """The column deleted."""
    bare = renamed(table, column.heading, "")
    return replace(bare, headings=tuple(heading for heading in bare.headings if heading))


def doubled(table: RawTable, column: InputColumn, dice: random.Random) -> RawTable:
    """The column once more, as a program copies it (a number behind) or under the very same heading."""
    again = column.heading + dice.choice(("", "2"))
    place = dice.randrange(len(table.headings) + 1)
    headings = (*table.headings[:place], again, *table.headings[place:])
    rows = tuple(
        replace(row, cells={again: RawCell("7", f"ZZ{row.number}"), **row.cells}) for row in table.rows
    )
    return replace(table, headings=headings, rows=rows)


def moved(table: RawTable, column: InputColumn, dice: random.Random) -> RawTable:
    """All columns in another order."""
    order = dice.sample(table.headings, len(table.headings))
    rows = tuple(RawRow(r.number, {h: r.cells[h] for h in order if h in r.cells}) for r in table.rows)
    return replace(table, headings=tuple(order), rows=rows)


NEWEST = [
    column for page in ALL_PAGES for column in page.columns
    if column.since == max(one.since for other in ALL_PAGES for one in other.columns)
]  # fmt: skip
"""Columns of the newest template: a book without any of them is one of the template before."""

WAYS: tuple[Spoil, ...] = (near, other, hidden, spaced, emptied, removed, doubled, moved)


@dataclass
class Tally:
    """How the cases ended; ``silent`` are those in which nothing was said of a change."""

    ends: Counter[str] = field(default_factory=Counter)
    silent: list[str] = field(default_factory=list)
    needless: list[str] = field(default_factory=list)


def cases(count: int, seed: int) -> Iterator[tuple[InputPage, InputColumn, Spoil, random.Random]]:
    """Every column in every way, then seeded ones, up to a count."""
    dice = random.Random(seed)
    columns = [(page, column) for page in ALL_PAGES for column in page.columns]
    every = [(page, column, way) for way in WAYS for page, column in columns]
    dice.shuffle(every)
    for number in range(count):
        page, column, way = every[number % len(every)]
        yield page, column, way, random.Random(f"{seed} {number}")


def named(problems: Sequence[Problem], headings: Sequence[str]) -> bool:
    """Whether a finding speaks of one of some headings."""
    said = " ".join(f"{problem.what} {problem.remedy}" for problem in problems)
    return any(heading in said for heading in headings if heading)


def stopped(problems: Sequence[Problem], page: str) -> bool:
    """Whether a finding on the page stops what is wanted of the book."""
    return any(problem.page == page and problem.weight is Weight.STOPS for problem in problems)


def settings_spoilt(table: RawTable, dice: random.Random) -> Iterator[tuple[str, str, RawTable]]:
    """Each row of Settings but Units in each way: what was done, the row's name, the table then."""
    for place, row in enumerate(table.rows):
        name = str(row.cells["Setting"].value)
        if name == "Units":
            continue
        at = dice.randrange(len(name))
        others = (*table.rows[:place], *table.rows[place + 1 :])
        for new in (f"{name}s", name[:at] + name[at + 1 :], f"Our {name.lower()}", f"{name} (own)", "neu",
                    name.replace("o", "\u043e").replace("e", "\u0435"), name[:at] + "\u200b" + name[at:],
                    name.upper(), f"{name}\u00a0"):  # fmt: skip
            spoilt = RawRow(row.number, {**row.cells, "Setting": replace(row.cells["Setting"], value=new)})
            yield f"Settings: {name} as {new}", name, replace(table, rows=(*others, spoilt))
        yield f"Settings: {name} removed", name, replace(table, rows=others)
        twice = RawRow(99, {**row.cells, "Value": replace(row.cells["Value"], value="7")})
        yield f"Settings: {name} doubled", name, replace(table, rows=(*table.rows, twice))
        yield f"Settings: {name} moved", name, replace(table, rows=(*others, row))


def judge(
    sound: Reading, after: Reading, done: str, headings: Sequence[str], page: str, tally: Tally, *,
    meant: bool = False,
) -> None:  # fmt: skip
    """One spoilt book beside the sound one; ``meant``: as a book of the template before has it."""
    fresh = [problem for problem in after.problems if problem not in sound.problems]
    if after.got == sound.got:
        tally.ends["no harm, stopped" if after.stops else "no harm"] += 1
        if after.stops:
            tally.needless.append(done)
    elif named(fresh, headings) or stopped(fresh, page):
        tally.ends["stopped, told" if after.stops else "read otherwise, told"] += 1
    elif meant:
        tally.ends["as a book of the template before has it"] += 1
    else:
        tally.ends["SILENT"] += 1
        tally.silent.append(done)


def main(count: int, seed: int, tables: BookTables | None = None) -> Tally:
    """So many cases of headings, and all of Settings; what came of them."""
    tables = tables or full_book()
    sound, tally = read(tables), Tally()
    assert not sound.stops, sound.problems

    for page, column, way, dice in cases(count, seed):
        before = tables.tables[page.name]
        if column.heading not in before.headings:
            continue
        table = way(before, column, dice)
        own = set(table.headings) - set(before.headings)
        done = f"{way.__name__} {page.name}!{column.heading} as {', '.join(own)}"
        after = read(replace(tables, tables={**tables.tables, page.name: table}))
        judge(
            sound, after, done, [column.heading, *own], page.name, tally,
            meant=way is removed and [column] == NEWEST,
        )  # fmt: skip
    sound = settings_alone(tables, tables.tables["Settings"])
    for done, name, table in settings_spoilt(tables.tables["Settings"], random.Random(seed)):
        judge(sound, settings_alone(tables, table), done, [name], "Settings", tally)
    tally.needless = [
        name for name in tally.needless
        if "doubled" not in name and not any(f" {page}!{heading} " in name for page, heading in UNREAD)
    ]  # fmt: skip
    return tally


if __name__ == "__main__":
    asked = told(__doc__, count=3000)
    seen = main(asked.count, asked.seed)
    for what, times in sorted(seen.ends.items()):
        print(f"{times:6} {what}")
    print("\n".join(seen.silent[:40] + [f"needless: {name}" for name in seen.needless[:40]]))
    raise SystemExit(1 if seen.silent else 0)
