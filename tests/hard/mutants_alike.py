"""Wrong lines that are none: what they change, nobody can see. Each with its reason."""

_DISTANCES = "sheetplan/checking/distances.py"

ALIKE: dict[tuple[str, str, str], str] = {
    (
        _DISTANCES,
        "lean = np.arccos(np.where(cut, np.clip(cosine, -1.0, 1.0), 0.0))",
        "lean = np.arccos(np.where(cut, np.clip(cosine, -2.0, 1.0), 0.0))",
    ): "by the rule of cosines no more than rounding lies below -1, where the circles touch and the line "
       "through both centres gives their distance",
    (
        _DISTANCES,
        "apart = _sides(first, second.x0, second.y0) * _sides(first, second.x1, second.y1)",
        "apart = (_sides(first, second.x0, second.y0) / _sides(first, second.x1, second.y1))",
    ): "sides are -1, 0 or 1: where one is 0, an end lies on the other line, and is measured as an end",
    (
        _DISTANCES,
        "within = (along >= 0.0) & (along <= length)",
        "within = (along >= 0.0) & ((along < length))",
    ): "a foot at the very end of a line is that end, and is measured as an end",
    (
        _DISTANCES,
        "base = np.where(swap, towards + np.pi, towards)",
        "base = np.where(swap, (towards - np.pi), towards)",
    ): "half a turn to the left is half a turn to the right",
    (
        "sheetplan/rack/usable.py", "ROUND = 16", "ROUND = 15",
    ): "how finely curves are drawn, which rounds corners by two ten-thousandths of half a web more",
}  # fmt: skip
"""The reason, by file, line as it is, and line as it would be."""
