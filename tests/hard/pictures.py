"""Sheets read from drawn pictures of known truth: ``python -m tests.hard.pictures --count 300 --seed 1``.

Each scene is drawn by its seed (`tests/pictures/scenes.py`), read as a planner would have it read, and held
against the truth in the sheet's own frame: zero at the datum corner, along the edge from it. The size by
tape is off by up to what a tape is read to. What covers the edge may look like what lies under the sheet:
nobody can tell it from a notch then, and a notch is what is to be read; the metal there counts as lost.

Said are: how many were taken and refused, and why; the claimed error against the real one; the most that the
sheet lost; and metal of the record that is not there.

``--keep FILE`` adds a line of JSON for each scene, and scenes that have one there are not run again: three
hundred are many minutes, and may be run in pieces.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from sheetplan.model.turns import Corner
from sheetplan.pictures import Asked, NotSeen, Reading, read_pictures
from sheetplan.rack.record import AGREE_MM
from sheetplan.shapes import to_polygon
from tests.pictures.scenes import Painted, Scene, jpeg, make_scene

FINE_MM = 0.005
"""Flattening of arcs: far below any error that is measured here."""

THIN_MM = 0.5
"""The record's point at the datum corner is thinner than this somewhere: no part lies in it."""


@dataclass(frozen=True)
class Outcome:
    """One scene: refused with a sentence, or claimed and real error (mm), share lost, metal not there."""

    seed: int
    refused: str = ""
    scene: str = ""
    claimed: float = 0.0
    real: float = 0.0
    lost: float = 0.0
    outside: float = 0.0
    seconds: float = 0.0
    openings: tuple[int, int] = (0, 0)


def photographed(scene: Scene) -> list[tuple[str, bytes]]:
    """All pictures of a scene as files."""
    painted = Painted(scene)
    return [(f"{i + 1}.jpg", jpeg(painted.photograph(i))) for i in range(len(scene.cameras))]


def asked_of(scene: Scene, seed: int) -> Asked:
    """What the planner knows: the size by a tape that is off a little."""
    chance = np.random.default_rng((seed, 5))
    length, width = (side + float(chance.uniform(-AGREE_MM, AGREE_MM)) for side in scene.size)
    return Asked((length, width), scene.thickness, Corner.LOWER_LEFT)


def against_truth(scene: Scene, reading: Reading) -> tuple[float, float, float]:
    """The real error (mm), the share of the metal lost, and metal that is not there (mm²)."""
    seen = to_polygon(reading.edge, FINE_MM)
    for cut in reading.cuts:
        seen = seen - to_polygon(cut, FINE_MM)
    edge, cuts = reading.sure
    sure = to_polygon(edge, FINE_MM)
    for cut in cuts:
        sure = sure - to_polygon(cut, FINE_MM)
    usable = sure.buffer(-THIN_MM).buffer(THIN_MM, join_style="mitre", mitre_limit=2.0) & sure
    told = shapely.union_all([to_polygon(one, FINE_MM) for one in reading.hidden])
    cover = shapely.union_all(scene.cover)
    known = shapely.union_all([scene.truth.boundary, (scene.truth - cover).boundary])
    real = max(
        _apart(seen.boundary, known, told), _apart(scene.truth.boundary - cover, seen.boundary, told)
    )
    return real, 1.0 - sure.area / scene.truth.area, usable.difference(scene.truth).area


POINTS_MM = 0.5
"""Points on a boundary that are held against the other one are so near to one another."""


def _apart(one: Any, other: Any, told: Any) -> float:
    """How far a boundary is at most from another one, or from where the reading says that it cannot tell."""
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(one, POINTS_MM)))
    far = shapely.distance(points, other)
    if not told.is_empty:
        far = np.minimum(far, shapely.distance(points, told))
    return float(far.max(initial=0.0))


def run(scene: Scene, seed: int) -> Outcome:
    """Draw a scene, read it, and hold it against the truth."""
    files = photographed(scene)
    begun = time.process_time()
    try:
        reading = read_pictures(files, asked_of(scene, seed))
        real, lost, outside = against_truth(scene, reading)
    except NotSeen as refused:
        return Outcome(seed, refused.what, _told_as(scene), seconds=time.process_time() - begun)
    return Outcome(
        seed, "", _told_as(scene), reading.claimed, real, lost, outside, time.process_time() - begun,
        (len(reading.cuts), len(scene.truth.interiors)),
    )  # fmt: skip


def _told_as(scene: Scene) -> str:
    """Size, pictures and what is harsh in it."""
    harsh = {"shadow": scene.shadow is not None, "hidden marks": bool(scene.hidden),
             "glare": bool(scene.glare), "edge covered": bool(scene.cover)}  # fmt: skip
    pictures = f"{len(scene.cameras)} {'picture' if len(scene.cameras) == 1 else 'pictures'}"
    return ", ".join((f"{scene.size[0]:.0f} x {scene.size[1]:.0f}", pictures,
                      *(what for what, there in harsh.items() if there)))  # fmt: skip


def told(outcomes: list[Outcome]) -> list[str]:
    """The summary."""
    taken = [one for one in outcomes if not one.refused]
    reasons = Counter(" ".join(one.refused.split(":")[-1].split()[:6]) for one in outcomes if one.refused)
    lines = [f"{len(outcomes)} scenes: {len(taken)} taken, {len(outcomes) - len(taken)} refused"]
    lines += [f"  refused {count}: {reason} ..." for reason, count in reasons.most_common()]
    if taken:
        below = [one for one in taken if one.real > one.claimed]
        lines += [
            f"real error: median {np.median([o.real for o in taken]):.2f} mm, "
            f"largest {max(o.real for o in taken):.2f} mm",
            f"claimed error: median {np.median([o.claimed for o in taken]):.2f} mm; "
            f"below the real one in {len(below)} scenes {[one.seed for one in below]}",
            f"largest loss {max(o.lost for o in taken):.1%} of the sheet",
            f"metal of records that is not there: {sum(o.outside for o in taken):.1f} mm2 in "
            f"{sum(o.outside > 0.01 for o in taken)} scenes",
            f"processor seconds to read: median {np.median([o.seconds for o in outcomes]):.1f}",
        ]
    return lines


def kept(file: Path | None) -> dict[int, Outcome]:
    """Scenes that were run before, by seed."""
    if file is None or not file.exists():
        return {}
    rows = [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines()]
    return {row["seed"]: Outcome(**{**row, "openings": tuple(row["openings"])}) for row in rows}


def line_of(one: Outcome) -> str:
    """A scene in one line."""
    what = one.refused or (
        f"claimed {one.claimed:.2f} real {one.real:.2f} lost {one.lost:.1%} not there {one.outside:.1f} "
        f"openings {one.openings[0]} of {one.openings[1]}"
    )
    return f"{one.seed}: {one.scene}: {what}"


def main() -> None:
    """As the head says."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--megapixels", type=float, default=3.0)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="begin no scene after so long")
    parser.add_argument("--keep", type=Path, help="a file of scenes that were run; others are added")
    parser.add_argument(
        "--large", action="store_true", help="1,250 x 2,500 mm and two pictures, nothing harsh"
    )
    asked = parser.parse_args()
    begun, ran = time.monotonic(), kept(asked.keep)
    wanted = range(asked.seed, asked.seed + asked.count)
    for seed in wanted:
        if seed in ran:
            continue
        if time.monotonic() - begun > asked.seconds:
            print("time is up")
            break
        size, pictures = ((2500.0, 1250.0), 2) if asked.large else (None, None)
        scene = make_scene(
            seed, megapixels=asked.megapixels, size=size, pictures=pictures, harsh=not asked.large
        )
        ran[seed] = run(scene, seed)
        print(line_of(ran[seed]), flush=True)
        if asked.keep is not None:
            with asked.keep.open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(ran[seed])) + "\n")
    print("\n".join(told([ran[seed] for seed in wanted if seed in ran])))


if __name__ == "__main__":
    main()
