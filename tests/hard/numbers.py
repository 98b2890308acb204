"""Typed lengths, counts, prices and days against a grammar of their own, written here and not the tool's.

The grammar gives every reading that a text can have in any of the ways in which people write numbers. A text
with one reading may be read so or asked about; one with none, or with two that are not the same, must be
asked about. A cell that a program took for a date must be asked about in the words that were typed.
``python -m tests.hard.numbers --count 20000 --seed 1``
"""

from __future__ import annotations

import datetime
import math
import random
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from sheetplan.trade.units import Units
from sheetplan.workbook.reading.cells import CellFault, count_of, day_of, length_in, money_of
from tests.hard.options import told

HAIR = 1e-9
"""Share by which two readings may differ and be the same."""

LONGEST = 30_000.0
"""mm: no sheet or part is longer, so that a longer reading is none where there is another."""

MM = {"": None, "in": 25.4, '"': 25.4, "ft": 304.8, "'": 304.8, "mm": 1.0, "cm": 10.0, "m": 1000.0}
"""Source: the inch is 25.4 mm by the international agreement of 1959."""

WHOLE = r"[0-9]+"
STYLES = (
    ("plain", r"(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)", ""),
    ("English", r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]*)?", ","),
    ("German", r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+(?:,[0-9]*)?", "."),
    ("French", r"[1-9][0-9]{0,2}(?: [0-9]{3})+(?:[.,][0-9]*)?", " "),
    ("Swiss", r"[1-9][0-9]{0,2}(?:'[0-9]{3})+(?:[.,][0-9]*)?", "'"),
)
"""Ways to write a number with decimals and thousands: name, form, what parts the thousands."""

SIGNS = {"’": "'", "′": "'", "″": '"', "”": '"', "−": "-", "–": "-",
         "\u00a0": " ", "\u202f": " ", "\u200b": ""}  # fmt: skip
HALVES = {"½": Fraction(1, 2), "¼": Fraction(1, 4), "¾": Fraction(3, 4), "⅜": Fraction(3, 8)}


def tidy(text: str) -> str:
    """One sign for each of several that mean the same, single spaces, small letters."""
    for sign, half in HALVES.items():
        text = text.replace(sign, f" {half} ")
    text = "".join(SIGNS.get(sign, sign) for sign in text)
    return " ".join(text.replace("''", '"').lower().split())


def decimals(text: str, *, inches: bool = False) -> set[Fraction]:
    """All readings of a number without fractions; in inches no point parts thousands."""
    found = set()
    for name, form, parts in STYLES:
        short = inches and name == "German" and re.fullmatch(r"[0-9]+\.[0-9]+", text)
        if re.fullmatch(form, text) and not short:
            bare = text.replace(parts, "") if parts else text
            found.add(Fraction(bare.replace(",", ".").rstrip(".") or "0"))
    return found


def fractions(text: str) -> set[Fraction]:
    """All readings of a fraction or a mixed number."""
    found = re.fullmatch(rf"(?:({WHOLE})(?: ?- ?| ))?({WHOLE}) ?/ ?({WHOLE})", text)
    if not found or int(found[3]) == 0:
        return set()
    part = Fraction(int(found[2]), int(found[3]))
    if found[1] is None:
        return {part}
    return {int(found[1]) + part} if part < 1 else set()


def lengths(text: str, units: Units) -> set[float]:
    """All lengths in mm that a text can be."""
    text, found = re.sub(r"(?<=[a-z\"'])\.$", "", tidy(text)), set()
    for unit, mm in MM.items():
        number = text[: len(text) - len(unit)].strip() if text.endswith(unit) else None
        if number is None or (unit and number.endswith(tuple("abcdefghijklmnopqrstuvwxyz"))):
            continue
        size = mm or units.length_mm
        read = decimals(number, inches=size >= 25.4)
        if mm is not None or units is Units.INCH:
            read |= fractions(number)
        found |= {float(one) * size for one in read}
    feet = re.fullmatch(r"([0-9]+) ?(?:'|ft\.?) ?-? ?([0-9.,/ -]+?) ?(?:\"|in)?", text)
    if feet:
        inches = decimals(feet[2], inches=True) | fractions(feet[2])
        found |= {(int(feet[1]) * 12 + float(one)) * 25.4 for one in inches if one < 12}
    return {one for one in found if one <= LONGEST}


def counts(text: str) -> set[float]:
    """All whole numbers that a text can be."""
    said = tidy(text).removeprefix("+").strip()
    said = "0" if said == "-0" else said
    return {float(one) for one in decimals(said) if one.denominator == 1}


def amounts(text: str) -> set[float]:
    """All amounts of money that a text can be."""
    said = tidy(text).removeprefix("+").strip()
    return {float(one) for one in decimals(said) | fractions(said)}


def written(dice: random.Random, inches: bool) -> str:
    """A number as one of many people writes it, right or wrong."""
    value = dice.choice(
        (dice.uniform(0, 40), dice.uniform(0, 4000), dice.randint(0, 12000), dice.randint(0, 60))
    )
    places = 0 if isinstance(value, int) else dice.randint(0, 4)
    whole, _, rest = f"{value:.{places}f}".partition(".")
    parts = dice.choice(("", "", ",", ".", " ", "'", "’", "\u202f", "\u00a0"))
    grouped = f"{int(whole):,}".replace(",", parts)
    point = dice.choice((".", ".", ","))
    plain = f"{grouped}{point}{rest}" if rest or dice.random() < 0.05 else grouped
    under = dice.choice((2, 4, 8, 16, 32, 64, 3, 0))
    over = dice.randint(1, max(1, under))
    fraction = dice.choice((f"{over}/{under}", f"{dice.randint(1, 90)}{dice.choice(' -')}{over}/{under}",
                            f"{dice.randint(1, 90)}½", f"{dice.randint(1, 9)} ¾"))  # fmt: skip
    feet = f"{dice.randint(0, 12)}{dice.choice((chr(39), ' ft ', '’', chr(39) + ' '))}" + dice.choice((
        f"{dice.randint(0, 20)}", f"{dice.randint(0, 11)} {over}/{under}", f"{dice.randint(0, 999):03}",
        f"{dice.randint(0, 11)}.5",
    ))  # fmt: skip
    kinds = (plain, plain, plain, fraction, fraction, feet) if inches else (plain, plain, plain, fraction)
    return dice.choice(kinds)


def disturbed(text: str, dice: random.Random) -> str:
    """Now and then with a sign that nobody sees, a space or a slip."""
    at = dice.randrange(len(text) + 1)
    chance = dice.random()
    if chance < 0.05:
        return text[:at] + "\u200b" + text[at:]
    if chance < 0.1:
        return f" {text} "
    if chance < 0.15:
        return text[:at] + dice.choice(".,' -/0") + text[at:]
    return text


@dataclass
class Tally:
    """How the cases of each kind ended; ``wrong`` are values that nobody wrote so."""

    ends: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)


def judge(kind: str, text: Any, read: Callable[[Any], float], wanted: set[float], tally: Tally) -> None:
    """Read a cell and hold it against all readings of the grammar."""
    low, high = min(wanted, default=math.nan), max(wanted, default=math.nan)
    clear = bool(wanted) and high - low <= HAIR * max(1.0, high)
    try:
        got = float(read(text))
    except CellFault:
        tally.ends[f"{kind}: asked about, {'though clear' if clear else 'as it must be'}"] += 1
        if clear:
            tally.asked.append(f"{kind} {text!r}: {low:g}")
        return
    if clear and math.isclose(got, low, rel_tol=HAIR, abs_tol=HAIR):
        tally.ends[f"{kind}: read"] += 1
    else:
        tally.ends[f"{kind}: SILENTLY WRONG"] += 1
        tally.wrong.append(f"{kind} {text!r} is read as {got:g}; it can be {sorted(wanted) or 'nothing'}")


def became(text: str, dice: random.Random) -> datetime.date | None:
    """The day that a spreadsheet program makes of a typed text, in a country of its choice; None for none.

    From memory, of Excel: two numbers are month and day, else month and year; three are month, day and year;
    a day before 30 is of 2000 on, two figures of a year from 30 on of 1930 on. Day first elsewhere.
    """
    numbers = [int(one) for one in re.findall(r"[0-9]+", text)]
    day_first = dice.random() < 0.5
    try:
        if len(numbers) == 2:
            first, second = numbers
            month, day = (second, first) if day_first else (first, second)
            try:
                return datetime.date(2026, month, day)
            except ValueError:
                return datetime.date(1900 + second, first, 1) if 30 <= second < 100 else None
        if len(numbers) == 3:
            first, second, year = numbers
            month, day = (second, first) if day_first else (first, second)
            return datetime.date(year + (2000 if year < 30 else 1900), month, day)
    except ValueError:
        return None
    return None


def judge_slip(text: str, dice: random.Random, tally: Tally) -> None:
    """A fraction or a decimal that became a date: the finding must name what was typed."""
    day = became(text, dice)
    if day is None:
        return
    held = datetime.datetime.combine(day, datetime.time())
    for read in (length_in(dice.choice(list(Units))), count_of, money_of):
        try:
            got = read(held)
        except CellFault as fault:
            said = re.findall(r"[0-9][0-9./-]*[0-9]", fault.remedy)
            tally.ends[f"date slip: {'named' if text in said else 'NOT NAMED'}"] += 1
            if text not in said:
                tally.wrong.append(f"{text} became {day} and is asked about as {fault.remedy}")
        else:
            tally.ends["date slip: SILENTLY WRONG"] += 1
            tally.wrong.append(f"{text} became {day} and is read as {got}")


def slip(dice: random.Random) -> str:
    """A fraction, a mixed number or a decimal that a program may take for a date."""
    under = dice.choice((2, 4, 8, 16, 32, 64))
    over, whole = dice.randint(1, under - 1), dice.randint(1, 28)
    return dice.choice((f"{over}/{under}", f"{whole}-{over}/{under}", f"{whole}.{dice.randint(1, 12)}"))


def judge_day(dice: random.Random, tally: Tally) -> None:
    """A due date as people write it: read as that day, or asked about."""
    day = datetime.date(2026, 1, 1) + datetime.timedelta(days=dice.randint(0, 900))
    forms: Sequence[Any] = (
        day, datetime.datetime.combine(day, datetime.time(8)), day.isoformat(), f"{day.isoformat()} 08:00",
        (day - datetime.date(1899, 12, 30)).days, f"{day:%d.%m.%Y}", f"{day:%m/%d/%y}", f"{day.isoformat()}1",
        f"{day:%Y%m%d}", f"{day:%Y-%m}", "week 49", f"{day:%B %d}", 12, "",
    )  # fmt: skip
    held = dice.choice(forms)
    try:
        got = day_of(held)
    except CellFault:
        tally.ends["day: asked about"] += 1
        return
    right = got == day.isoformat() and held in forms[:5]
    tally.ends["day: read" if right else "day: SILENTLY WRONG"] += 1
    if not right:
        tally.wrong.append(f"{held!r} is read as {got}")


def main(count: int, seed: int) -> Tally:
    """So many typed cells; how they ended."""
    dice, tally = random.Random(seed), Tally()
    for number in range(count):
        units = Units.INCH if dice.random() < 0.5 else Units.MM
        match number % 10:
            case 0 | 1 | 2 | 3:
                unit = dice.choice(("", "", "", " mm", '"', " in", "mm", " cm", "″"))
                text = disturbed(f"{written(dice, True)}{unit}", dice)
                judge(f"length, {units.value}", text, length_in(units), lengths(text, units), tally)
            case 4 | 5:
                text = disturbed(written(dice, False), dice)
                judge("count", text, count_of, counts(text), tally)
            case 6 | 7:
                text = disturbed(written(dice, False), dice)
                judge("price", text, money_of, amounts(text), tally)
            case 8:
                judge_slip(slip(dice), dice, tally)
            case _:
                judge_day(dice, tally)
    return tally


if __name__ == "__main__":
    asked = told(__doc__, count=20_000)
    seen = main(asked.count, asked.seed)
    for what, times in sorted(seen.ends.items()):
        print(f"{times:6} {what}")
    print("\n".join([*seen.wrong[:40], *(f"asked though clear: {one}" for one in seen.asked[:25])]))
    raise SystemExit(1 if seen.wrong else 0)
