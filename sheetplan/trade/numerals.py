"""Numbers as people write them: `12 1/2`, `⅜`, `.25`, `6,35`, `1,250.5`.

Only the writing is judged here; units and meaning belong to the callers. Nothing is guessed: a
sign that could stand for two different things is an error that asks.

The grammar
-----------
- Decimals stand behind a point or a comma, whatever the country: `6.35`, `6,35`, `.5`, `48.`
- Thousands are parted by commas or points where the other sign or a second of the same follows (`1,250.5`,
  `1.250,5`, `1.234.567`), by spaces (`1 250`) or by apostrophes (`1'250`); always in threes.
- `1,250` can be 1250 or 1.25, and is asked about. `1.250` is 1.25 here; where it could be 1250 as well, the
  caller asks (`in_thousands`).
- Fractions: `3/8`, `12 1/2`, `12-1/2`, `12½`; the fraction of a mixed number is below one.
- A day that a program made of a fraction or a decimal is none of them: `typed_as` says what it may have been.
"""

from __future__ import annotations

import datetime
import math
import re
import unicodedata
from dataclasses import dataclass

LONGEST_TEXT = 60
"""Characters in the longest cell that can still be a number with a unit; longer text is a note."""

_MIXED = re.compile(r"(?:([0-9]+)(?: ?- ?| ))?([0-9]+) ?/ ?([0-9]+)")
_PLAIN = re.compile(r"[0-9]+[.,]?[0-9]*|[.,][0-9]+")
_GROUPED = re.compile(
    r"(?P<whole>[1-9][0-9]{0,2}(?P<sign>[,. '])[0-9]{3}(?:(?P=sign)[0-9]{3})*)(?P<rest>[.,][0-9]*)?"
)
_AMBIGUOUS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_IN_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")

FIRST_TWO_DIGIT_YEAR, LAST_TWO_DIGIT_YEAR = 1930, 2029
"""Years that a program takes two digits for. Source: Microsoft, "Change the date system, format, or
two-digit year interpretation"."""

OLDEST_TYPED = 2020
"""A day before it was not typed as day and month alone: those get the year in which they are typed."""

FRACTIONS = (2, 4, 8, 16, 32, 64)
"""What inches are divided into; common practice, no source."""

EPOCH = datetime.date(1899, 12, 30)
"""Day 0 of the 1900 date system, as spreadsheet programs count from March 1900 on."""

_SAME_SIGN = str.maketrans({
    "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\u2007": " ", "\t": " ", "\n": " ", "\r": " ",
    "\u2032": "'", "\u2019": "'", "\u2018": "'", "\u00b4": "'", "`": "'",
    "\u2033": '"', "\u201d": '"', "\u201c": '"', "\u02ba": '"',
    "\u2044": "/", "\u2215": "/",
    "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Numeral:
    """A number without its sign or unit: its value, and a tidy text (`1 1/4`, `0.1875`, `6`)."""

    value: float
    text: str
    is_fraction: bool = False


def plain(text: str) -> str:
    """Lower case, single spaces, nothing invisible, one sign for each of many primes, dashes and fractions.

    >>> plain("12½ In") == '12 1/2 in' and plain("3/16″") == '3/16"'
    True
    """
    seen = (sign for sign in text.translate(_SAME_SIGN) if unicodedata.category(sign) != "Cf")
    spread = "".join(_spread_fraction(sign) for sign in seen)
    return " ".join(spread.replace("''", '"').lower().split())


def _spread_fraction(sign: str) -> str:
    """`½` as ` 1/2`, so that `12½` does not turn into 121/2; any other sign as it is."""
    decomposed = unicodedata.decomposition(sign)
    if not decomposed.startswith("<fraction>"):
        return sign
    return " " + unicodedata.normalize("NFKC", sign).replace("\u2044", "/") + " "


def read_numeral(text: str) -> Numeral | None:
    """The number that a `plain` text is, or None where it is not a number.

    Raises
    ------
    ValueError
        Where a comma can be read in two ways, or a fraction divides by nothing.
    """
    mixed = _MIXED.fullmatch(text)
    if mixed:
        return _read_fraction(*mixed.groups())
    if _AMBIGUOUS.fullmatch(text):
        whole = text.replace(",", "")
        raise ValueError(
            f"`{text}` can be read as {whole} or as {text.replace(',', '.')}: write it without the comma"
        )
    grouped = None if in_thousands(text) else _GROUPED.fullmatch(text)
    if grouped:
        sign, rest = grouped["sign"], grouped["rest"] or ""
        same = rest.startswith(sign)
        return None if same else _decimal(grouped["whole"].replace(sign, "") + rest.replace(",", "."))
    if _PLAIN.fullmatch(text):
        return _decimal(text.replace(",", "."))
    return None


def in_thousands(text: str) -> bool:
    """Whether a `plain` text can also be a whole number with a point between its thousands: `1.250`."""
    return _IN_THOUSANDS.fullmatch(text) is not None


def typed_as(day: datetime.date) -> tuple[str, ...]:
    """All that may have been typed into a cell that a program took for this day, the likeliest first.

    Month or day first; with a point between; month and year; or a mixed number as day, month and year.

    >>> typed_as(datetime.date(2026, 3, 8)), typed_as(datetime.date(1932, 5, 1))
    (('3/8', '8/3', '3.8', '8.3'), ('5/32', '5.32', '5-1/32', '1-5/32'))
    >>> typed_as(datetime.date(2002, 3, 1))
    ('3-1/2', '3/1', '1/3', '3.1', '1.3')
    """
    month, date, year = day.month, day.day, day.year
    two_digits = FIRST_TWO_DIGIT_YEAR <= year <= LAST_TWO_DIGIT_YEAR
    short = year % 100
    said: list[str] = []
    if two_digits and date == 1 and year < 2000:
        said += [f"{month}/{short}", f"{month}.{short}"]
    if two_digits and short in FRACTIONS:
        said += [f"{whole}-{over}/{short}" for whole, over in ((month, date), (date, month)) if over < short]
    if year >= 2000:
        alone = [f"{month}/{date}", f"{date}/{month}", f"{month}.{date}", f"{date}.{month}"]
        said = alone + said if year >= OLDEST_TYPED else said + alone
    return tuple(dict.fromkeys(said))


def from_float(value: float) -> Numeral:
    """A number from a cell, shown with at most four places (sheet thickness is never finer)."""
    return Numeral(value, f"{value:.4f}".rstrip("0").rstrip(".") or "0")


def _decimal(text: str) -> Numeral | None:
    value = float(text)
    if not math.isfinite(value):
        return None
    whole, _, places = text.partition(".")
    places = places.rstrip("0")
    whole = whole.lstrip("0") or "0"
    return Numeral(value, f"{whole}.{places}" if places else whole)


def _read_fraction(whole_text: str | None, over_text: str, under_text: str) -> Numeral:
    whole, over, under = int(whole_text or 0), int(over_text), int(under_text)
    if under == 0:
        raise ValueError(f"`{over}/{under}` divides by nothing")
    if whole_text and over >= under:
        raise ValueError(f"`{whole} {over}/{under}` is not a mixed number: the fraction is not below one")
    whole, over = whole + over // under, over % under
    common = math.gcd(over, under)
    parts = [str(whole)] if whole or not over else []
    parts += [f"{over // common}/{under // common}"] if over else []
    return Numeral(whole + over / under, " ".join(parts), is_fraction=True)
