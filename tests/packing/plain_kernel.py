"""The box kernel once more in plain Python, written for reading and not for speed: a test oracle."""

from dataclasses import dataclass

MEASURES = 5
WINDOWS = (1, 2, 4, 1000)

Rectangle = tuple[int, int, int, int]
"""x, y, length, width."""


@dataclass(frozen=True)
class Box:
    length: int
    width: int
    turnable: bool


def score(measure: int, free: Rectangle, length: int, width: int) -> tuple[float, float]:
    over_length, over_width = free[2] - length, free[3] - width
    return (
        (min(over_length, over_width), max(over_length, over_width)),
        (float(free[2]) * free[3] - float(length) * width, min(over_length, over_width)),
        (free[1] + width, free[0]),
        (free[0] + length, free[1]),
        (max(over_length, over_width), min(over_length, over_width)),
    )[measure]


def best_spot(free: list[Rectangle], box: Box, measure: int):
    """Score, free rectangle and turn of the best place, or None."""
    found = None
    for rectangle in free:
        for turned in (False, True)[: 2 if box.turnable and box.length != box.width else 1]:
            length, width = (box.width, box.length) if turned else (box.length, box.width)
            if length <= rectangle[2] and width <= rectangle[3]:
                here = score(measure, rectangle, length, width)
                if found is None or here < found[0]:
                    found = here, rectangle, turned
    return found


def inside(inner: Rectangle, outer: Rectangle) -> bool:
    return (
        inner[0] >= outer[0] and inner[1] >= outer[1]
        and inner[0] + inner[2] <= outer[0] + outer[2] and inner[1] + inner[3] <= outer[1] + outer[3]
    )  # fmt: skip


def cut(free: list[Rectangle], x: int, y: int, length: int, width: int, least: int) -> list[Rectangle]:
    kept, fresh = [], []
    for rectangle in free:
        left, low, far, high = *rectangle[:2], rectangle[0] + rectangle[2], rectangle[1] + rectangle[3]
        if x >= far or x + length <= left or y >= high or y + width <= low:
            kept.append(rectangle)
            continue
        fresh += [
            (left, low, x - left, high - low), (x + length, low, far - x - length, high - low),
            (left, low, far - left, y - low), (left, y + width, far - left, high - y - width),
        ]  # fmt: skip
    fresh = [f for f in fresh if min(f[2], f[3]) >= least]
    distinct = list(dict.fromkeys(fresh))
    return kept + [
        f for f in distinct
        if not any(inside(f, k) for k in kept) and not any(f != g and inside(f, g) for g in distinct)
    ]  # fmt: skip


def fill(blank: list[Rectangle], boxes: list[Box], available: list[int], order: list[int], caps: list[int],
         rule: int, least: int) -> list[tuple[int, int, int, int]]:  # fmt: skip
    """Rows (type, x, y, turned) as the kernel places them."""
    free, placed = list(blank), []
    counts, spent = [0] * len(boxes), [False] * len(boxes)
    for sweep in (0, 1):
        while True:
            candidates = []
            for t in order:
                most = min(available[t], caps[t]) if sweep == 0 else available[t]
                if counts[t] >= most or spent[t]:
                    continue
                spot = best_spot(free, boxes[t], rule % MEASURES)
                if spot is None:
                    spent[t] = True
                    continue
                candidates.append((spot[0], t, spot[1], spot[2]))
                if len(candidates) >= WINDOWS[rule // MEASURES]:
                    break
            if not candidates:
                break
            _, t, rectangle, turned = min(candidates, key=lambda c: c[0])
            length, width = (boxes[t].width, boxes[t].length) if turned else (boxes[t].length, boxes[t].width)
            placed.append((t, rectangle[0], rectangle[1], int(turned)))
            counts[t] += 1
            free = cut(free, rectangle[0], rectangle[1], length, width, least)
    return placed
