"""Marks in real photographs: ``python -m tests.hard.real_marks FOLDER``.

FOLDER is test/data of the reference implementation of AprilTag (AprilRobotics/apriltag 3.4.5; it comes with
the source of PyPI's apriltag-python too): photographs by NASA of cubes with tags of the family that our
pages use, and beside each a list of the corners that the reference finds. Their licence, CC BY-SA 2.0, is
not ours, so they do not lie here. Said are how many of theirs we find, how far our corners lie from theirs,
and what we find that they do not: to be looked at, as some of those are tags that they overlook.
"""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from sheetplan.pictures.marks import MODULES, _detected

NEAR_PX = 6.0
"""Middles nearer than this are of one tag."""


def listed(text: str) -> list[Any]:
    """Corners of each tag, shape (4, 2); theirs count from a pixel's corner, ours from its middle."""
    return [
        np.array(re.findall(r"\(([-\d.]+) ([-\d.]+)\)", line), dtype=float) - 0.5
        for line in text.splitlines()
        if line.strip()
    ]


def apart(theirs: Any, ours: Any) -> Any:
    """How far four corners lie from four others, whichever comes first and whichever way round they go."""
    orders = (np.roll(theirs[::way], first, axis=0) for first in range(4) for way in (1, -1))
    return min((np.hypot(*(order - ours).T) for order in orders), key=lambda off: float(off.max()))


def main() -> None:
    """As the head says."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    for path in sorted(parser.parse_args().folder.glob("*.jpg")):
        theirs = listed(path.with_suffix(".txt").read_text())
        large = [tag for tag in theirs if np.hypot(*(tag[0] - tag[1])) >= 2.5 * MODULES]
        off, more = [], []
        for mark in _detected(np.asarray(Image.open(path).convert("L"))):
            middle = mark.corners.mean(axis=0)
            nearest = min(theirs, key=lambda tag, at=middle: float(np.hypot(*(tag.mean(axis=0) - at))))
            if np.hypot(*(nearest.mean(axis=0) - middle)) < NEAR_PX and (mark.page, mark.number) == (1, 0):
                off.append(apart(nearest, mark.corners))
            else:
                more.append(tuple(int(one) for one in middle))
        print(
            f"{path.name}: {len(theirs)} listed, {len(large)} of them large enough for us; {len(off)} found, "
            f"corners off by {np.mean(off):.2f} px in the mean; found beside them, at {more}"
        )


if __name__ == "__main__":
    main()
