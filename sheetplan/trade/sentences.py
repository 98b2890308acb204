"""Counts, numbers and names as they stand in a sentence, the same wherever one is made."""

from __future__ import annotations

from collections.abc import Iterable


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun.

    >>> counted(1, "sheet"), counted(1200, "sheet"), counted(2, "box", "boxes")
    ('1 sheet', '1,200 sheets', '2 boxes')
    """
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def number(value: float, digits: int) -> str:
    """A number with at most so many decimals and no idle zeros.

    >>> number(48.0, 3), number(12.125, 3), number(-0.0001, 3)
    ('48', '12.125', '0')
    """
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def named(names: Iterable[str], most: int, between: str = ", ") -> str:
    """Names in a row for a sentence, of many the first few and how many more.

    >>> named("abc", 3), named("abcd", 2), named("abcd", 2, "; ")
    ('a, b, c', 'a, b and 2 more', 'a; b; and 2 more')
    """
    listed = list(names)
    more = len(listed) - most
    joint = " and " if between == ", " else f"{between}and "
    return between.join(listed[:most]) + (f"{joint}{more:,} more" if more > 0 else "")


def sentence(text: str) -> str:
    """A text with a full stop, unless it ends with a mark of its own.

    >>> sentence("is it so?"), sentence("it is")
    ('is it so?', 'it is.')
    """
    return text if text.endswith((".", "?", "!")) else f"{text}."
