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
from functools import partial
from itertools import combinations_with_replacement, islice

from sheetplan.model.job import Job, Remnant, SheetSize
from sheetplan.model.plan import Group, Layout
from sheetplan.packing import Item
from sheetplan.planning.progress import Stop, never
from sheetplan.planning.search.shape_filling import discs_in_rows, most_discs
from sheetplan.planning.whatif.beds import (
    BESIDE,
    FEW_PIECES,
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
from sheetplan.shapes import as_circle

Metal = Mapping[SheetSize | Remnant, int]
"""Sheets and remnants with how many of each there are."""

TOGETHER = (1, 2, 3, 4, 8)
"""So many equal sheets are looked at together; more are made up of these."""

MOST_KNOWN, MOST_COMBINED = 8, 3
"""Layouts of a plan, the best for a question, that are combined, on so many sheets at most."""

MANY_IN_ROWS = 30
"""So many discs of one size lie densest in staggered rows; of fewer, other ways may hold one more."""

FEW_SETS, MANY_SETS = 6, 12
"""Where a sheet holds as many sets, halves and thirds of one are not worth pressing in, or a look at all."""

ANEW = (1, 2)
"""How many of the emptiest sheets of a plan are laid out anew as boxes."""

PACKING_LOOKS = 500_000
"""Work on laying all sets at once on empty sheets, for each pass."""

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
    """How much is done for an answer beyond what is quick, counted.

    ``tries`` sheets of true shapes are laid out anew for each set more, in so many ``passes`` (from 40 on
    pieces are pressed in), on ``pressed`` equal sheets together at most. The search of boxes may spend so
    many ``looks`` on each question of whether so many fit.
    """

    tries: int = 0
    passes: int = 0
    pressed: int = 0
    looks: int = 0


WORKS = (Work(), Work(1, 40, 1), Work(4, 80, 3, 1_000_000))
"""Every answer is quick first; then true shapes are pressed in; then all is done that is worth it."""


@dataclass(frozen=True, slots=True)
class Inquiry:
    """What questions about a gauge are answered with.

    ``known`` are layouts of a plan, which can be cut as they are. Of equal work and layouts, what was found
    is remembered in ``seen``. When ``stop`` says so, answers are the best so far.
    """

    filler: GaugeFiller
    known: tuple[Layout, ...] = ()
    work: Work = WORKS[0]
    stop: Stop = never
    seen: dict[object, Found] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Asked:
    """One set of pieces that is asked about, and pieces that lie on the sheets before and have to stay."""

    inquiry: Inquiry
    one: Mapping[str, int]
    base: Counter[str] = field(default_factory=Counter)

    @property
    def filler(self) -> GaugeFiller:
        """The gauge's filler."""
        return self.inquiry.filler

    @property
    def work(self) -> Work:
        """The work allowed."""
        return self.inquiry.work

    @property
    def stop(self) -> Stop:
        """Whether to stop."""
        return self.inquiry.stop

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


def sets_on_sheets(inquiry: Inquiry, one: Mapping[str, int], metal: Metal) -> Found:
    """How many sets of pieces (``one`` set being so many of each part) were laid out on fresh metal.

    Of one kind of metal more sheets never hold fewer.
    """
    one = {name: count for name, count in one.items() if count > 0}
    metal = {sheet: n for sheet, n in metal.items() if n > 0 and inquiry.filler.usable(sheet)}
    if not one or not metal or any(name not in inquiry.filler.parts for name in one):
        return Found(0, 0)
    ((name, pieces),) = one.items() if len(one) == 1 else (("", 1),)
    if pieces > 1:
        # Of one part alone, pieces are counted, wherever they lie.
        alone = sets_on_sheets(inquiry, {name: 1}, metal)
        return replace(alone, sets=alone.sets // pieces, most=alone.most // pieces)
    asked = Asked(inquiry, one)
    kinds = [_made_up(asked, sheet, count) for sheet, count in metal.items()]
    beds = tuple(bed for found in kinds for bed in found.beds)
    found = Found(asked.on(beds), _bound(asked, metal), beds)
    if len(kinds) == 1:
        return found
    return _raised(asked, found, metal) if sum(metal.values()) <= TOGETHER[-1] else _beside(asked, found)


def _on_equal(asked: Asked, sheet: SheetSize | Remnant, size: int) -> Found:
    """Sets on so many equal sheets looked at together: what fewer hold, or more where a set is shared."""
    key = (*sorted(asked.one.items()), name_of(sheet), size)
    if key not in asked.inquiry.seen:
        metal = {sheet: size}
        sizes = _sizes(asked)
        ways = [
            _joined(asked, _on_equal(asked, sheet, part), _on_equal(asked, sheet, size - part))
            for part in sizes if part <= size - part and size - part in sizes
        ]  # fmt: skip
        ways += _known(asked, sheet, size)
        if size == 1:
            ways += _rows(asked, sheet)
        found = max(ways, key=lambda way: way.sets, default=Found(0, 0))
        asked.inquiry.seen[key] = _raised(asked, replace(found, most=_bound(asked, metal)), metal)
    return asked.inquiry.seen[key]


def _sizes(asked: Asked) -> tuple[int, ...]:
    """Numbers of equal sheets that are looked at together; pieces of one part gain nothing by that."""
    return TOGETHER if len(asked.one) > 1 else TOGETHER[:1]


def _made_up(asked: Asked, sheet: SheetSize | Remnant, count: int) -> Found:
    """So many equal sheets made up of the numbers that are looked at together, the greatest first."""
    beds: list[Bed] = []
    left = count
    for size in reversed(_sizes(asked)):
        times, left = divmod(left, size)
        if times:
            beds += [replace(bed, count=bed.count * times) for bed in _on_equal(asked, sheet, size).beds]
    return Found(asked.on(beds), _bound(asked, {sheet: count}), tuple(beds))


def _joined(asked: Asked, first: Found, second: Found) -> Found:
    beds = (*first.beds, *second.beds)
    return Found(asked.on(beds), 0, beds)


def _known(asked: Asked, sheet: SheetSize | Remnant, count: int) -> list[Found]:
    """What layouts of a plan hold of the pieces asked for, on so many sheets, the other pieces left out."""
    if count > MOST_COMBINED:
        return []
    worth = {}
    for layout in asked.inquiry.known:
        kept = tuple(p for p in layout.placements if p.part in asked.one)
        if name_of(layout.sheet) == name_of(sheet) and kept:
            bed = Bed(sheet, kept)
            worth[bed] = asked.filler.area_of(bed.held)
    best = sorted(worth, key=lambda bed: -worth[bed])[:MOST_KNOWN]
    return [Found(asked.on(beds), 0, beds) for beds in combinations_with_replacement(best, count)]


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
    few = len(empty) == 1 or found.sets < MANY_SETS * len(empty)
    if few and len(asked.one) > 1 and asked.filler.waste_boxes(asked.one):
        found = _climbed(asked, found, lambda sets: _laid(asked, empty, sets))
    if found.sets < MANY_IN_ROWS or not asked.is_round:
        found = _climbed(asked, found, lambda sets: _boxed(asked, metal, sets))
    return _pressed_in(asked, found, empty)


def _pressed_in(asked: Asked, found: Found, empty: Sequence[Bed]) -> Found:
    """One set after the other pressed in, until that fails."""
    while _may_be_pressed(asked, found):
        more = _climbed(asked, found, partial(_pressed, asked, found.beds, empty), once=True)
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
        return _spread(asked, base, missing)[0]

    return _climbed(asked, found, attempt)


def _spread(asked: Asked, beds: Sequence[Bed], wanted: Counter[str]) -> tuple[list[Bed], Counter[str]]:
    """Pieces beside others; true shapes beside pieces that lie anywhere take the work of a second round."""
    anywhere = bool(asked.work.tries)
    return spread(asked.filler, beds, wanted, BESIDE, asked.stop, anywhere=anywhere)


def _laid(asked: Asked, empty: Sequence[Bed], sets: int) -> list[Bed]:
    """So many sets, or most of them, on empty sheets, one sheet filled after the other."""
    return spread(asked.filler, empty, asked.of(sets), stop=asked.stop)[0]


def _boxed(asked: Asked, metal: Metal, sets: int) -> list[Bed] | None:
    if asked.stop():
        raise OutOfTime
    return asked.filler.boxes_on(asked.of(sets), metal, asked.work.looks, asked.stop)


def _may_be_pressed(asked: Asked, found: Found) -> bool:
    """Whether pressing pieces in is worth the work: few pieces that waste their boxes."""
    if not asked.work.tries:
        return False
    sheets = sum(bed.count for bed in found.beds)
    pieces = sum(asked.of(found.sets + 1).values()) / sheets
    if sheets > max(asked.work.pressed, len({name_of(bed.metal) for bed in found.beds})):
        return False
    few = pieces <= FEW_PIECES and not (asked.is_round and found.sets >= MANY_IN_ROWS)
    parts_count = sheets == 1 or found.sets < sheets * FEW_SETS
    worth = few and parts_count and not found.is_most
    return worth and asked.filler.waste_boxes(asked.one)


def _pressed(asked: Asked, here: Sequence[Bed], empty: Sequence[Bed], sets: int) -> list[Bed] | None:
    """One set more pressed in beside those that are here, or all laid out anew; None where it fails."""
    looks = PACKING_LOOKS * asked.work.passes
    found = asked.filler.packed(empty, asked.of(sets) + asked.base, looks, asked.stop)
    if found is not None:
        return found
    ways = (here, empty) if len(empty) > 1 else (empty,)
    for beds in ways:
        missing = asked.of(sets) - held_by(beds)
        after, left = spread(asked.filler, beds, missing, stop=asked.stop)
        after, left = squeeze(asked.filler, after, left, asked.work.tries, asked.work.passes, asked.stop)
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
    inquiry: Inquiry, one: Mapping[str, int], beds: Sequence[Bed], most: int,
    owed: Mapping[str, int] | None = None,
) -> Found:  # fmt: skip
    """How many more sets, ``most`` at most, found room on sheets that hold pieces already.

    All of these stay on the sheets, and pieces that are ``owed`` come before any set. First nothing is
    moved, then the emptiest sheets are laid out anew.
    """
    filler = inquiry.filler
    one = {name: count for name, count in one.items() if count > 0}
    if not one or not beds or any(name not in filler.parts for name in (*one, *(owed or ()))):
        return Found(0, 0)
    asked = Asked(inquiry, one, held_by(beds) + Counter(owed or {}))
    free = sum((filler.room_of(bed.metal) - filler.area_of(bed.held)) * bed.count for bed in beds)
    free = max(0.0, free - filler.area_of(owed or {}))
    bound = math.floor(free / filler.area_of(one) * (1.0 + ROUNDING))
    found = _beside(asked, Found(0, min(most, bound), tuple(beds)))
    here = found.beds
    return replace(_climbed(asked, found, lambda sets: _moved(asked, here, sets)), most=bound)


def _moved(asked: Asked, beds: Sequence[Bed], sets: int) -> list[Bed] | None:
    """So many sets more, the emptiest one or two sheets laid out anew as boxes, or pieces pressed in."""
    missing = asked.of(sets) + asked.base - held_by(beds)
    after, left = _spread(asked, beds, missing)
    if not left:
        return after
    pressed, rest = squeeze(asked.filler, after, left, asked.work.tries, asked.work.passes, asked.stop)
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
    metal: dict[SheetSize | Remnant, int] = {sheet: sheet.on_hand for sheet in group.stock if sheet.on_hand}
    return metal | {remnant: 1 for remnant in group.remnants}
