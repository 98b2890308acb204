"""Outlines in a strip of fixed width, least length; turns as the data allow.

Data published by ESICUP under CC0 (see the data set's README for each instance's own source).
"""

import time
from collections.abc import Sequence
from functools import cache
from statistics import mean

from sheetplan.model import Loop, Outline, Part
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.poses import View
from sheetplan.shapes import area
from sheetplan.trade.thickness import Thickness
from tests.bench.options import Options
from tests.bench.outline_data import faults_of, placed, read_strip, setup_for
from tests.bench.strip_search import StripSearch, first_strip

# Elkeran 2013, European Journal of Operational Research 231, 757 (guided cuckoo search with pairwise
# clustering), best densities in per cent; from memory.
PUBLISHED = {
    "albano": 89.58, "dagli": 89.51, "fu": 92.41, "mao": 85.44, "marques": 90.59, "shapes0": 68.79,
    "shapes1": 76.73, "blaz": 84.84, "shirts": 89.69, "swim": 75.94, "trousers": 91.00,
}  # fmt: skip
SECONDS = 60.0
MEAN_GAP, WORST_GAP = 2.5, 5.0
QUICK_SECONDS, QUICK_MEAN_GAP = 5.0, 6.0

WIDTH_MM = 1000.0
"""Strips are scaled to this width, so that a micrometre is a millionth of it in every instance."""

STEPS_ACROSS = 18.0
"""Lattice steps across a middling piece; the press makes up for the coarse lattice."""

SLICE_WORK = 200_000_000


def instances(options: Options) -> Sequence[str]:
    folder = options.folder("irregular_strip")
    return [name for name in PUBLISHED if (folder / f"{name}.xml").exists()]


def step_for(metal: float, pieces: int, scale: float) -> float:
    """A step near the wanted one that is a whole fraction, or a whole multiple, of the data's unit."""
    wanted = (metal / pieces) ** 0.5 / STEPS_ACROSS
    return scale * round(wanted / scale) if wanted >= scale else scale / round(scale / wanted)


@cache
def make_ready() -> None:
    """Compile the kernels, or fetch them, before a clock runs."""
    corner = Outline(Loop(((0.0, 0.0, 0.0), (30.0, 0.0, 0.0), (0.0, 20.0, 0.0))))
    part = Part("Corner", "Metal", Thickness(1.0, "1 mm"), corner, turns=(0.0, 180.0))
    setup = setup_for((part,), 1.0)
    StripSearch(setup, first_strip(setup, (6,), 50.0), 50.0, 1).run(SLICE_WORK // 10, lambda: False)


def solve(instance: str, options: Options) -> dict[str, object]:
    make_ready()
    begun = time.monotonic()
    seconds = options.seconds or SECONDS
    parts, pieces, scale = read_strip(options.folder("irregular_strip") / f"{instance}.xml", WIDTH_MM)
    metal = sum(area(part.outline) * count for part, count in zip(parts, pieces, strict=True))
    setup = setup_for(parts, step_for(metal, sum(pieces), scale))
    search = StripSearch(setup, first_strip(setup, pieces, WIDTH_MM), WIDTH_MM, options.seed)
    first = search.best.length
    while time.monotonic() < begun + seconds:
        search.run(SLICE_WORK, lambda: time.monotonic() > begun + seconds)
    spent = time.monotonic() - begun
    length = search.best.length
    placements = placed(setup, Field(length, WIDTH_MM, (0.0, 0.0), View()), search.best.laid)
    faults = faults_of(parts, placements, length + 1e-3, WIDTH_MM)
    if len(placements) != sum(pieces):
        faults.append(f"{len(placements)} pieces of {sum(pieces)}")
    density = 100.0 * metal / (length * WIDTH_MM)
    return {
        "instance": instance,
        "seed": options.seed,
        "pieces": sum(pieces),
        "density %": density,
        "published %": PUBLISHED[instance],
        "gap": PUBLISHED[instance] - density,
        "first %": 100.0 * metal / (first * WIDTH_MM),
        "seconds": spent,
        "faults": len(faults),
    }


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    gaps = [float(str(row["gap"])) for row in rows]
    if not gaps:
        return ["no instances"]
    seconds = options.seconds or SECONDS
    bar = QUICK_MEAN_GAP if seconds <= QUICK_SECONDS else MEAN_GAP
    faults = sum(int(str(row["faults"])) for row in rows)
    return [
        f"mean gap {mean(gaps):.2f} points at {seconds:g} s (bar {bar}), worst {max(gaps):.2f} "
        f"(bar {WORST_GAP} at {SECONDS:g} s), faults {faults}"
    ]
