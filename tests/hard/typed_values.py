"""What a live column reads is what a plan reads: numbers typed into each column that one looks at, in Calc.

A live column may stay empty, or ask, beside a text that a plan reads; it never shows another number.
``python -m tests.hard.typed_values --count 200`` types so many into each column in each of three languages.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from sheetplan.app.new import new_book
from sheetplan.trade.thickness import parse_thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.reading.cells import count_of, money_of, positive_number, size_in
from tests.hard.options import told
from tests.workbook.hosts.real_calc import Calc, calc, profile_with_extension

LOCALES = ("de-DE", "fr-FR", "en-US")
READ = size_in(Units.MM)
SIZES = ("{}", "{} mm", '{}"')


def thickness(held: Any) -> float:
    """As a plan reads it, of a metal that is ordered by gauge."""
    return parse_thickness(held, "carbon steel", Units.MM).mm


@dataclass(frozen=True)
class Typed:
    """A column, the live one beside it, the ways to write in it, how a plan reads it, in which row.

    ``usual`` is entered first: the live column is so many times what is typed as it is then.
    """

    page: str
    heading: str
    beside: str
    ways: tuple[str, ...]
    read: Callable[[Any], float]
    usual: str = ""
    row: int = 1


COLUMNS = (
    *(Typed(page, "Thickness", "Read as", ("{}", "{} mm", "{}mm", "{} in", '{}"', "{} ga"), thickness)
      for page in ("Cutting", "Parts", "Stock", "Remnants", "Purchases", "Rack count")),
    *(Typed(page, side, beside, SIZES, READ, "1000")
      for page, beside in (("Stock", "Weight each"), ("Remnants", "Weight"), ("Purchases", "Weight by size"),
                           ("Rack count", "Weight by size")) for side in ("Width", "Length")),
    *(Typed("Parts", side, "Weight each", SIZES, READ, "100", 3) for side in ("Width", "Length")),
    *(Typed(page, "Sheets", "Weight by size", ("{}",), count_of, "1")
      for page in ("Purchases", "Rack count")),
    Typed("Materials", "Density", "Weight of a plate", ("{}",), positive_number, "1000"),
    Typed("Kits", "Quantity", "Pieces", ("{}",), count_of, "1"),
    Typed("Orders", "Quantity", "Pieces", ("{}",), count_of, "1"),
    Typed("Stock", "Price", "Price each", ("{}",), money_of, "1"),
)  # fmt: skip


def amounts(ways: tuple[str, ...], count: int, chance: random.Random) -> list[str]:
    """Ways to write a number, with a point or a comma, alone or with something beside it."""
    found = []
    for _ in range(count):
        number = f"{chance.uniform(0.3, 40):.{chance.randint(0, 3)}f}"
        found.append(chance.choice(ways).format(number.replace(".", chance.choice(".,"))))
    return found


def faults(
    program: Calc, count: int, seed: int, columns: Sequence[Typed] = COLUMNS
) -> tuple[int, list[str]]:
    """Types into the open demo book; how many were compared, and where live column and plan differ."""
    chance, seen, found = random.Random(seed), 0, []
    program.without("Message")
    program.entered("Stock", "Price per", "Price each", ["sheet"])
    for one in columns:
        first, times = program.cell_text(one.page, one.heading, one.row), 1.0
        if one.usual:
            [[held, live]] = program.entered(one.page, one.heading, one.beside, [one.usual], one.row)
            if live is None:
                found.append(f"{one.page} {one.heading}: nothing beside {one.usual}")
                continue
            times = live / one.read(held)
        typed = amounts(one.ways, count, chance)
        for text, (held, live) in zip(
            typed, program.entered(one.page, one.heading, one.beside, typed, one.row), strict=True
        ):
            try:
                wanted = times * one.read(held)
            except ValueError:
                continue  # refused with a problem at the cell, whatever the live column makes of it
            if live is not None:
                seen += 1
                if live != pytest.approx(wanted, rel=1e-6):
                    found.append(f"{one.page} {one.heading}: {text} is {live}, a plan reads {wanted}")
        program.entered(one.page, one.heading, one.beside, [first], one.row)
    return seen, found


def main(count: int, seed: int) -> int:
    """All columns in all languages; how many faults."""
    total = 0
    with tempfile.TemporaryDirectory(prefix="sheetplan-typed-") as folder:
        for place, locale in enumerate(LOCALES):
            with profile_with_extension() as profile:
                if profile is None:
                    raise SystemExit("unopkg refuses the administrator, and setpriv is not there")
                with calc(profile, locale) as program:
                    program.open(str(new_book(Path(folder, f"{locale}.xlsx"), demo=True, units=Units.MM)))
                    seen, found = faults(program, count, seed + place)
                    program.close()
                    program.end()
            print(f"{locale}: {seen} of {count * len(COLUMNS)} compared, {len(found)} differ", flush=True)
            print("\n".join(found))
            total += len(found)
    return total


if __name__ == "__main__":
    asked = told(__doc__, count=200)
    raise SystemExit(1 if main(asked.count, asked.seed) else 0)
