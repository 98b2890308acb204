"""Layer names as a planner writes them in a cell."""

from __future__ import annotations

import re


def layer_names(text: str) -> tuple[str, ...]:
    """Layer names from a cell: separated by commas or semicolons.

    >>> layer_names("cut, holes ;VISIBLE*")
    ('cut', 'holes', 'VISIBLE*')
    """
    return tuple(name.strip() for name in re.split(r"[,;\n]", text) if name.strip())
