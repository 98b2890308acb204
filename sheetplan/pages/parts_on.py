"""What lies on a layout, said as a list: how many of which part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from sheetplan.model import Layout


def parts_on(layout: Layout) -> Counter[str]:
    """Pieces of each part on one sheet of a layout."""
    return Counter(placement.part for placement in layout.placements)


def parts_text(layout: Layout, keys: Mapping[str, str] | None = None) -> str:
    """One line for each part, ``12 x CB-101``; parts that the picture shows by a key come with it.

    A keyed line ends in the key, as ``12 x CB-101 = 3``.
    """
    keyed = keys or {}
    counts = sorted(
        parts_on(layout).items(), key=lambda item: (item[0] in keyed, _rank(item[0], keyed), item[0])
    )
    return "\n".join(
        f"{pieces} x {part}" + (f" = {keyed[part]}" if part in keyed else "") for part, pieces in counts
    )


def _rank(part: str, keyed: Mapping[str, str]) -> int:
    return int(keyed.get(part, "0"))
