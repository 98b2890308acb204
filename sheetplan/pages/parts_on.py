"""What lies on a layout, said as a list: how many of which part."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping
from itertools import accumulate
from math import ceil

from sheetplan.model import Layout

LINE_LETTERS = 18
"""Letters of a line in the column of parts, with a little to spare."""

MOST_LINES = 28
"""Lines that the tallest row of a spreadsheet shows; what is beyond would be cut off."""


def parts_on(layout: Layout) -> Counter[str]:
    """Pieces of each part on one sheet of a layout."""
    return Counter(placement.part for placement in layout.placements)


def parts_text(layout: Layout, keys: Mapping[str, str] | None = None) -> str:
    """One line for each part, ``12 x CB-101``; parts that the picture shows by a key come with it.

    A keyed line ends in the key, as ``12 x CB-101 = 3``. Of more parts than the tallest row of a page shows,
    those that are left over are counted.
    """
    keyed = keys or {}
    counts = sorted(
        parts_on(layout).items(), key=lambda item: (item[0] in keyed, _rank(item[0], keyed), item[0])
    )
    lines = [f"{pieces} x {part}" + (f" = {keyed[part]}" if part in keyed else "") for part, pieces in counts]
    ends = list(accumulate(ceil(len(line) / LINE_LETTERS) for line in lines))
    if not lines or ends[-1] <= MOST_LINES:
        return "\n".join(lines)
    room = bisect_right(ends, MOST_LINES - 2)
    return "\n".join([*lines[:room], f"and {len(lines) - room} more parts, which the ticket lists"])


def _rank(part: str, keyed: Mapping[str, str]) -> int:
    return int(keyed.get(part, "0"))
