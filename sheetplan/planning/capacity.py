"""How many sets of pieces some sheets hold: always laid out, never reckoned from areas.

One function answers (`sets_on_sheets`). What is known without a search comes first: layouts of the plan
that hold several sets, rows of discs, more sheets as multiples of fewer. Then sets are added one after
the other, as boxes and as true shapes, until the bound is met or the work allowed is done. A bound by
area says how many there cannot be.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations_with_replacement, islice

from sheetplan.model.job import Job, Remnant, SheetSize
from sheetplan.model.plan import Group, Layout
from sheetplan.packing import Item
from sheetplan.planning.beds import (
    TRIAL_LOOKS,
    Bed,
    GaugeFiller,
    OutOfTime,
    fresh,
    held_by,
    name_of,
    singles,
    spread,
    squeeze,
    without_surplus,
)
from sheetplan.planning.discs_in_rows import discs_in_rows, most_discs
from sheetplan.planning.progress import Stop, never
from sheetplan.shapes import as_circle

Metal = Mapping[SheetSize | Remnant, int]
"""Sheets and remnants with how many of each there are."""

TOGETHER = (1, 2, 3, 4, 8)
"""So many equal sheets are looked at together; more are made up of these."""

MOST_KNOWN = 8
"""Layouts of a plan, the best for a question, that are combined."""

FEW_PIECES = 200
"""On a sheet of more pieces than this there is nothing to gain by pressing one in."""

MANY_IN_ROWS = 30
"""So many discs of one size lie densest in staggered rows; of fewer, other ways may hold one more."""

FEW_SETS = 6
"""Where a sheet holds as many sets, halves and thirds of one are not worth pressing in."""

ANEW = (1, 2)
"""How many of the emptiest sheets of a plan are laid out anew as boxes."""

ROUNDING = 1e-6
"""Share by which an area bound is widened before it is rounded down."""


@dataclass(frozen=True, slots=True)
class Found:
    """``sets`` were laid out, on ``beds``; more than ``most`` cannot be."""

    sets: int
    most: int
    beds: tuple[Bed, ...] = ()

    @property
    def is_most(self) -> bool:
        """Whether no arrangement at all holds more."""
        return self.sets >= self.most


@dataclass(frozen=True, slots=True)
class Work:
    """How much is done for an answer beyond what is quick.

    ``tries`` counts sheets of true shapes laid out anew with pieces pressed in, for each set more;
    ``looks`` is what the search of boxes may spend on each question of whether so many fit.
    """

    tries: int = 0
    looks: int = 0


QUICKLY, THOROUGHLY = Work(), Work(4, TRIAL_LOOKS)


@dataclass(frozen=True, slots=True)
class Asked:
    """What an answer is made with: one set of pieces, the gauge's filler, the work, and when to stop."""

    filler: GaugeFiller
    one: Mapping[str, int]
    work: Work = QUICKLY
    stop: Stop = never
    base: Counter[str] = field(default_factory=Counter)
    """Pieces that lie on the sheets before, and have to stay."""

    @property
    def is_round(self) -> bool:
        """Whether all pieces are discs or rings of one size."""
        parts = [self.filler.parts[name] for name in self.one]
        return len(parts) == 1 and as_circle(parts[0].outline.outer) is not None

    def of(self, sets: int) -> Counter[str]:
        """Pieces of so many sets."""
        return Counter({name: count * sets for name, count in self.one.items()})

    def on(self, beds: Iterable[Bed]) -> int:
        """Whole sets among what lies on beds, beside what was there; none where any of that is missing."""
        held = held_by(beds)
        if any(held[name] < count for name, count in self.base.items()):
            return 0
        return min((held[name] - self.base[name]) // count for name, count in self.one.items())


def sets_on_sheets(
    filler: GaugeFiller, one: Mapping[str, int], metal: Metal, *, known: Sequence[Layout] = (),
    work: Work = QUICKLY, stop: Stop = never,
) -> Found:  # fmt: skip
    """How many sets of pieces were laid out on some sheets.

    Of one kind of metal more sheets never hold fewer. When ``stop`` says so, the answer is the best so far.

    Parameters
    ----------
    filler
        The gauge.
    one
        The pieces of one set, by part.
    metal
        The sheets and remnants; nothing lies on them.
    known
        Layouts of a plan: what they hold can be cut.
    work
        Counted work; more of it never gives a smaller answer.
    stop
        Asked between steps.
    """
    one = {name: count for name, count in one.items() if count > 0}
    metal = {sheet: count for sheet, count in metal.items() if count > 0 and filler.usable(sheet)}
    if not one or not metal or any(name not in filler.parts for name in one):
        return Found(0, 0)
    asked = Asked(filler, one, work, stop)
    kinds = [
        _made_up(asked, sheet, _by_size(asked, sheet, count, known), count) for sheet, count in metal.items()
    ]
    beds = tuple(bed for found in kinds for bed in found.beds)
    found = Found(asked.on(beds), _bound(asked, metal), beds)
    if len(kinds) == 1:
        return found
    return _raised(asked, found, metal) if sum(metal.values()) <= TOGETHER[-1] else _beside(asked, found)


def sets_by_number(
    filler: GaugeFiller, one: Mapping[str, int], sheet: SheetSize | Remnant, most: int, *,
    known: Sequence[Layout] = (), work: Work = QUICKLY, stop: Stop = never,
) -> tuple[Found, ...]:  # fmt: skip
    """`sets_on_sheets` on one, two ... ``most`` equal sheets, worked out together."""
    one = {name: count for name, count in one.items() if count > 0}
    if not one or not filler.usable(sheet) or any(name not in filler.parts for name in one):
        return (Found(0, 0),) * most
    asked = Asked(filler, one, work, stop)
    sizes = _by_size(asked, sheet, most, known)
    return tuple(_made_up(asked, sheet, sizes, number) for number in range(1, most + 1))


def _by_size(
    asked: Asked, sheet: SheetSize | Remnant, count: int, known: Sequence[Layout]
) -> dict[int, Found]:
    """Sets on those numbers of equal sheets that are looked at together, as many sheets as there are."""
    best: dict[int, Found] = {}
    # Pieces of one part gain nothing by sheets side by side.
    for size in TOGETHER if len(asked.one) > 1 else TOGETHER[:1]:
        if size > count:
            break
        metal = {sheet: size}
        halves = [(size - part, part) for part in best if size - part in best]
        ways = [Found(0, 0), *(_joined(asked, best[a], best[b]) for a, b in halves)]
        ways += _known(asked, sheet, size, known)
        if size == 1:
            ways += _rows(asked, sheet)
        found = max(ways, key=lambda way: way.sets)
        best[size] = _raised(asked, replace(found, most=_bound(asked, metal)), metal)
    return best


def _made_up(asked: Asked, sheet: SheetSize | Remnant, sizes: Mapping[int, Found], count: int) -> Found:
    """So many equal sheets made up of the numbers that were looked at together, the greatest first."""
    beds: list[Bed] = []
    left = count
    for size in sorted(sizes, reverse=True):
        times, left = divmod(left, size)
        beds += [replace(bed, count=bed.count * times) for bed in sizes[size].beds if times]
    return Found(asked.on(beds), _bound(asked, {sheet: count}), tuple(beds))


def _joined(asked: Asked, first: Found, second: Found) -> Found:
    beds = (*first.beds, *second.beds)
    return Found(asked.on(beds), 0, beds)


def _known(asked: Asked, sheet: SheetSize | Remnant, count: int, known: Sequence[Layout]) -> list[Found]:
    """What layouts of a plan hold of the pieces asked for, on so many sheets, the other pieces left out."""
    if count > 3:
        return []
    beds = []
    for layout in known:
        kept = tuple(p for p in layout.placements if p.part in asked.one)
        if name_of(layout.sheet) == name_of(sheet) and kept:
            beds.append(Bed(sheet, kept))
    worth = {bed: asked.filler.area_of(bed.held) for bed in beds}
    best = sorted(worth, key=lambda bed: -worth[bed])[:MOST_KNOWN]
    return [
        Found(asked.on(chosen), 0, chosen) for chosen in combinations_with_replacement(best, count)
    ]  # fmt: skip


def _rows(asked: Asked, sheet: SheetSize | Remnant) -> Iterator[Found]:
    """Staggered rows, where the pieces are of one round part."""
    if len(asked.one) == 1:
        ((name, pieces),) = asked.one.items()
        most = _bound(asked, {sheet: 1}) * pieces
        rows = discs_in_rows(asked.filler.blank(sheet), Item(asked.filler.parts[name], most, 1.0))
        if rows:
            yield Found(len(rows) // pieces, 0, (Bed(sheet, rows),))


def _raised(asked: Asked, found: Found, metal: Metal) -> Found:
    """More sets on the same sheets: beside those found, all laid anew as shapes or boxes, pressed in."""
    empty = singles(fresh(metal))
    found = _exactly(asked, found) if found.sets else replace(found, sets=0, beds=tuple(empty))
    if len(asked.one) == 1 and (found.sets < MANY_IN_ROWS or not asked.is_round):
        found = _climbed(asked, found, lambda sets: _laid(asked, empty, found.most), once=True)
    found = _beside(asked, found)
    if len(asked.one) > 1 and asked.filler.waste_boxes(asked.one):
        found = _climbed(asked, found, lambda sets: _laid(asked, empty, sets))
    if found.sets < MANY_IN_ROWS or not asked.is_round:
        found = _climbed(asked, found, lambda sets: _boxed(asked, metal, sets))
    return _pressed_in(asked, found, empty)


def _pressed_in(asked: Asked, found: Found, empty: Sequence[Bed]) -> Found:
    """One set after the other pressed in, until that fails."""
    while _may_be_pressed(asked, found):
        here = found.beds
        more = _climbed(asked, found, lambda sets, here=here: _pressed(asked, here, empty, sets), once=True)
        if more.sets == found.sets:
            break
        found = more
    return found


def _climbed(
    asked: Asked, found: Found, attempt: Callable[[int], Sequence[Bed] | None], *, once: bool = False
) -> Found:
    """The most sets that attempts lay out: one set more, then twice as many more, at last by halves.

    ``once`` asks for one set more only and takes what comes of it.
    """
    low, high, step, halving = found.sets, found.most + 1, 1, False
    while high - low > 1:
        sets = (low + high) // 2 if halving else min(low + step, high - 1)
        try:
            beds = attempt(sets)
        except OutOfTime:
            break
        got = asked.on(beds) if beds is not None else low
        if got > low:
            found, low, step = replace(found, sets=got, beds=tuple(beds or ())), got, 2 * step
        if got < sets:
            high, halving = sets, True
        if once:
            break
    return found


def _exactly(asked: Asked, found: Found) -> Found:
    """The sets found without pieces beyond them, in whose room another set may lie."""
    beds = without_surplus(found.beds, held_by(found.beds) - asked.of(found.sets))
    return replace(found, beds=tuple(beds))


def _beside(asked: Asked, found: Found) -> Found:
    """More sets beside those that lie there, nothing moved."""
    base, held = found.beds, held_by(found.beds)

    def attempt(sets: int) -> list[Bed]:
        missing = asked.of(sets) + asked.base - held
        return spread(asked.filler, base, missing, stop=asked.stop)[0]

    return _climbed(asked, found, attempt)


def _laid(asked: Asked, empty: Sequence[Bed], sets: int) -> list[Bed]:
    """So many sets, or most of them, on empty sheets, one sheet filled after the other."""
    return spread(asked.filler, empty, asked.of(sets), stop=asked.stop)[0]


def _boxed(asked: Asked, metal: Metal, sets: int) -> list[Bed] | None:
    if asked.stop():
        raise OutOfTime
    return asked.filler.boxes_on(asked.of(sets), metal, asked.work.looks, asked.stop)


def _may_be_pressed(asked: Asked, found: Found) -> bool:
    """Whether pressing pieces in is worth the work: few pieces that waste their boxes."""
    pieces = sum(asked.of(found.sets + 1).values()) / sum(bed.count for bed in found.beds)
    sheets = sum(bed.count for bed in found.beds)
    few = pieces <= FEW_PIECES and not (asked.is_round and found.sets >= MANY_IN_ROWS)
    parts_count = sheets == 1 or found.sets < sheets * FEW_SETS
    worth = few and parts_count and not found.is_most
    return bool(asked.work.tries) and worth and asked.filler.waste_boxes(asked.one)


def _pressed(asked: Asked, here: Sequence[Bed], empty: Sequence[Bed], sets: int) -> list[Bed] | None:
    """One set more pressed in beside those that are here, or all laid out anew; None where it fails."""
    ways = (here, empty) if len(empty) > 1 else (empty,)
    for beds in ways:
        missing = asked.of(sets) - held_by(beds)
        after, left = spread(asked.filler, beds, missing, stop=asked.stop)
        after, left = squeeze(asked.filler, after, left, asked.work.tries, asked.stop)
        if not left:
            return after
    return None


def _bound(asked: Asked, metal: Metal) -> int:
    """Sets that no arrangement exceeds: by area, half the gap round each piece, and by discs of one size."""
    filler = asked.filler
    room = sum(filler.room_of(sheet) * count for sheet, count in metal.items())
    most = math.floor(room / filler.area_of(asked.one) * (1.0 + ROUNDING))
    for name, pieces in asked.one.items():
        discs = [(most_discs(filler.blank(sheet), filler.parts[name]), n) for sheet, n in metal.items()]
        if all(number is not None for number, _ in discs):
            most = min(most, sum((number or 0) * count for number, count in discs) // pieces)
    return most


def sets_beside(
    filler: GaugeFiller, one: Mapping[str, int], beds: Sequence[Bed], most: int, *,
    owed: Mapping[str, int] | None = None, work: Work = QUICKLY, stop: Stop = never,
) -> Found:  # fmt: skip
    """How many more sets, ``most`` at most, found room on sheets that hold pieces already.

    All of these stay on the sheets, and pieces that are ``owed`` come before any set. First nothing is
    moved, then the emptiest sheets are laid out anew.
    """
    one = {name: count for name, count in one.items() if count > 0}
    if not one or not beds or any(name not in filler.parts for name in (*one, *(owed or ()))):
        return Found(0, 0)
    asked = Asked(filler, one, work, stop, held_by(beds) + Counter(owed or {}))
    free = sum((filler.room_of(bed.metal) - filler.area_of(bed.held)) * bed.count for bed in beds)
    free = max(0.0, free - filler.area_of(owed or {}))
    bound = math.floor(free / filler.area_of(one) * (1.0 + ROUNDING))
    found = _beside(asked, Found(0, min(most, bound), tuple(beds)))
    here = found.beds
    return _climbed(asked, found, lambda sets: _moved(asked, here, sets))


def _moved(asked: Asked, beds: Sequence[Bed], sets: int) -> list[Bed] | None:
    """So many sets more, the emptiest one or two sheets laid out anew as boxes, or pieces pressed in."""
    missing = asked.of(sets) + asked.base - held_by(beds)
    after, left = spread(asked.filler, beds, missing, stop=asked.stop)
    if not left:
        return after
    pressed, rest = squeeze(asked.filler, after, left, asked.work.tries, asked.stop)
    if not rest:
        return pressed
    for count in ANEW:
        anew = _emptiest_anew(asked, after, left, count)
        if anew is not None:
            return anew
    return None


def _emptiest_anew(asked: Asked, beds: Sequence[Bed], left: Counter[str], count: int) -> list[Bed] | None:
    """The emptiest sheets laid out anew as boxes with what is missing; None where that fails."""
    filler = asked.filler
    order = sorted(beds, key=lambda bed: filler.area_of(bed.held) - filler.room_of(bed.metal))
    emptiest = list(islice((replace(bed, count=1) for bed in order for _ in range(bed.count)), count))
    if len(emptiest) < count:
        return None
    metal = Counter(bed.metal for bed in emptiest)
    boxed = filler.boxes_on(held_by(emptiest) + left, metal, asked.work.looks, asked.stop)
    if boxed is None:
        return None
    others = list(beds)
    for bed in emptiest:
        place = next(k for k, o in enumerate(others) if replace(o, count=1) == bed)
        few = others[place].count - 1
        others[place : place + 1] = [replace(others[place], count=few)] if few else []
    return [*others, *boxed]


def parts_of(group: Group, job: Job, item: str) -> dict[str, int]:
    """Pieces of a gauge in one of a kit (or of a loose part)."""
    kit = job.kits.get(item)
    pieces: Mapping[str, int] = kit.parts if kit else {item: 1}
    here = {need.part for need in group.needs}
    return {name: n for name, n in pieces.items() if name in here and n}


def on_hand(group: Group) -> dict[SheetSize | Remnant, int]:
    """The metal of a gauge that is in the shop."""
    metal: dict[SheetSize | Remnant, int] = {remnant: 1 for remnant in group.remnants}
    metal.update({sheet: sheet.on_hand for sheet in group.stock if sheet.on_hand})
    return metal
