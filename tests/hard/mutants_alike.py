"""Wrong lines that are none: what they change, nobody can see. Each with its reason."""

_DISTANCES = "sheetplan/checking/distances.py"
_LAYOUTS = "sheetplan/checking/layouts.py"

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
        _DISTANCES,
        "across = _sides(second, first.x0, first.y0) * _sides(second, first.x1, first.y1)",
        "across = (_sides(second, first.x0, first.y0) / _sides(second, first.x1, first.y1))",
    ): "sides are -1, 0 or 1: where one is 0, an end lies on the other line, and is measured as an end",
    (
        _DISTANCES,
        "within = (along >= 0.0) & (along <= length)",
        "within = ((along > 0.0)) & (along <= length)",
    ): "a foot at the very start of a line is that end, and is measured as an end",
    (
        _DISTANCES, "safe = np.where(cut, away, 1.0)", "safe = np.where(cut, away, 2.0)",
    ): "where circles do not cut each other nothing that is reckoned with it is used",
    (
        _DISTANCES, "STRAIGHT_BULGE = 1e-8", "STRAIGHT_BULGE = 2e-08",
    ): "on 10 m an arc so flat rises a ten-thousandth of a mm, a tenth of what counts as the same length",
    (
        _LAYOUTS, "CHUNK = 1_000_000", "CHUNK = 1000001",
    ): "how many pairs are measured at once, and not which",
    (
        _LAYOUTS,
        'stop = max(start + 1, int(np.searchsorted(work, done + CHUNK, side="right")))',
        'stop = max(start + 2, int(np.searchsorted(work, done + CHUNK, side="right")))',
    ): "how many pairs are measured at once, and not which",
    (
        "sheetplan/money/cutting_plan.py", "sheet = sheets[some[0].sheet]", "sheet = sheets[some[-1].sheet]",
    ): "of what is cut together all sheets are of one turn, so of one layout, gauge and length of work",
    (
        "sheetplan/rack/step.py",
        "last = found[line.sheet].step if before else 0",
        "last = found[line.sheet].step if before else -1",
    ): "no sheet is ahead then, and of a size of which none is ahead no step is told",
    (
        "sheetplan/rack/usable.py", "ROUND = 16", "ROUND = 15",
    ): "how finely curves are drawn, which rounds corners by two ten-thousandths of half a web more",
}  # fmt: skip
"""The reason, by file, line as it is, and line as it would be."""
