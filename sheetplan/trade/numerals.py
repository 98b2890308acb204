"""Numbers as people write them: `12 1/2`, `⅜`, `.25`, `6,35`, `1,250.5`.

Only the writing is judged here; units and meaning belong to the callers. Nothing is guessed: a
comma that could stand for two different things is an error that asks.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass

LONGEST_TEXT = 60
"""Characters in the longest cell that can still be a number with a unit; longer text is a note."""

_MIXED = re.compile(r"(?:([0-9]+)(?: ?- ?| ))?([0-9]+) ?/ ?([0-9]+)")
_PLAIN = re.compile(r"[0-9]+[.,]?[0-9]*|[.,][0-9]+")
_GROUPED = re.compile(
    r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]*)?|[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]*"
)
_AMBIGUOUS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")

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
    if _GROUPED.fullmatch(text):
        comma_is_point = text.rfind(",") > text.rfind(".") > -1
        return _decimal(text.replace(".", "").replace(",", ".") if comma_is_point else text.replace(",", ""))
    if _PLAIN.fullmatch(text):
        return _decimal(text.replace(",", "."))
    return None


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
