"""What if: answers for the planner that beside a plan are worth a look before ordering.

- How many whole kits the stock on hand makes, and which gauge allows least.
- How many of a kit come from one sheet of each size, halves and thirds included: 13 from two
  sheets is six and a half a sheet.
- What one more sheet of each size would add.
- How far an order can be rounded up on the sheets that the plan takes anyway.

All answers are laid out (see `capacity`), never reckoned from areas: what is said can be cut. An area only
says how many there cannot be.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from sheetplan.model.job import Job
from sheetplan.model.plan import GroupPlan, Plan
from sheetplan.planning.progress import Stop, never
from sheetplan.planning.whatif.beds import filler_of, room_of
from sheetplan.planning.whatif.capacity import (
    WORKS,
    Found,
    Inquiry,
    Work,
    on_hand,
    parts_of,
    sets_beside,
    sets_on_sheets,
)
from sheetplan.planning.whatif.fits import KitsOnHand, KitsPerSheet, OneMoreSheet, RoundUp

MOST_SHEETS_TOGETHER = 3
"""Kits per sheet are sought on one, two and three sheets together."""

Counted = tuple[Found, ...]
"""What was found on one sheet, two, three; or, of other kinds of question, one answer alone."""


class Kind(StrEnum):
    """What a question is about: the stock on hand, sheets of one size, or the sheets of the plan."""

    ON_HAND = "on hand"
    SHEET = "sheet"
    ROOM = "room"


@dataclass(frozen=True, slots=True)
class Question:
    """How many of an item (kit or part) fit in a gauge; ``sheet`` names the size where it is about one."""

    kind: Kind
    gauge: str
    item: str
    sheet: str = ""


Answers = Mapping[Question, Counted]


@dataclass(frozen=True, slots=True)
class Gauge:
    """What is asked about: one gauge of a plan, and of its job what bears on it.

    Room is looked for up to ``most`` of an item, or as many again as were asked for where that is more.
    """

    plan: GroupPlan
    job: Job
    most: int = 0


def gauges_of(plan: Plan) -> tuple[Gauge, ...]:
    """The gauges of a plan, each light enough to be sent to another process."""
    found = []
    for one in plan.groups:
        names = {need.part for need in one.group.needs}
        parts = {name: plan.job.parts[name] for name in sorted(names)}
        job = replace(plan.job, parts=parts, stock=one.group.stock, remnants=one.group.remnants)
        found.append(Gauge(replace(one, choices=()), job))
    return tuple(found)


def kits_ordered(job: Job) -> tuple[str, ...]:
    """Kits that are ordered, in the order of the book."""
    return tuple(dict.fromkeys(order.item for order in job.orders if order.item in job.kits))


def questions_of(gauge: Gauge) -> tuple[Question, ...]:
    """All that is asked about a gauge, each kit and each ordered loose part on each sheet size."""
    group, job = gauge.plan.group, gauge.job
    items = [item for item in dict.fromkeys(o.item for o in job.orders) if parts_of(group, job, item)]
    kits = [item for item in items if item in job.kits]
    sheets = [sheet.name for sheet in group.stock]
    # What is short is asked about by itself, also where it is a part of kits alone.
    lone = dict.fromkeys([*(item for item in items if item not in job.kits), *sorted(gauge.plan.short)])
    return (
        *(Question(Kind.ON_HAND, group.label, kit) for kit in kits),
        *(Question(Kind.SHEET, group.label, item, sheet) for item in (*kits, *lone) for sheet in sheets),
        *(Question(Kind.ROOM, group.label, item) for item in items),
    )


def answers_in(
    gauge: Gauge, questions: Sequence[Question], work: Work = WORKS[0], stop: Stop = never
) -> tuple[dict[Question, Counted], bool]:
    """Answers about a gauge, as many as are ready when ``stop`` says so, and whether it never did."""
    plan, job = gauge.plan, gauge.job
    inquiry = Inquiry(filler_of(plan.group, job.parts, job.settings), plan.layouts, work, stop)
    found: dict[Question, Counted] = {}
    for question in questions:
        if stop():
            break
        if _is_idle(gauge, question, inquiry):
            continue
        # What was laid out is not sent along: it is much, and nobody looks at it.
        found[question] = tuple(replace(one, beds=()) for one in answer(gauge, question, inquiry))
    return found, not stop()


def _is_idle(gauge: Gauge, question: Question, inquiry: Inquiry) -> bool:
    """Whether a round of work does nothing for a question: pressing in true shapes, for parts like boxes."""
    work = inquiry.work
    if not work.tries or work.looks or question.kind is Kind.ROOM:
        return False
    return not inquiry.filler.waste_boxes(parts_of(gauge.plan.group, gauge.job, question.item))


def answer(gauge: Gauge, question: Question, inquiry: Inquiry) -> Counted:
    """The answer to one question, with what was laid out."""
    plan, job = gauge.plan, gauge.job
    one = parts_of(plan.group, job, question.item)
    if question.kind is Kind.ON_HAND:
        return (sets_on_sheets(inquiry, one, on_hand(plan.group)),)
    if question.kind is Kind.ROOM:
        room = room_of(plan)
        most = max(gauge.most, most_asked(job, question.item))
        return (sets_beside(inquiry, one, room.beds, most, room.owed(one)),)
    sheet = next(sheet for sheet in plan.group.stock if sheet.name == question.sheet)
    most = MOST_SHEETS_TOGETHER if question.item in job.kits else 1
    return tuple(sets_on_sheets(inquiry, one, {sheet: number}) for number in range(1, most + 1))


def better(first: Counted, second: Counted) -> Counted:
    """The greater counts and the lesser bounds of two answers to one question."""
    return tuple(
        Found(max(a.sets, b.sets), min(a.most, b.most)) for a, b in zip(first, second, strict=True)
    )


def most_asked(job: Job, item: str) -> int:
    """The greatest quantity of an item on one order line: room is looked for up to as many again."""
    return max((order.quantity for order in job.orders if order.item == item), default=0)


def kits_on_hand(plan: Plan, answers: Answers) -> Iterator[KitsOnHand]:
    """Whole kits and what limits them, of the kits that have an answer in every gauge."""
    for kit in kits_ordered(plan.job):
        found = _by_gauge(plan, answers, Kind.ON_HAND, kit)
        if found:
            counts = {gauge: one.sets for gauge, one in found.items()}
            least = min(counts, key=lambda gauge: counts[gauge])
            yield KitsOnHand(kit, counts[least], least, counts, min(one.most for one in found.values()))


def kits_per_sheet(plan: Plan, answers: Answers) -> Iterator[KitsPerSheet]:
    """The best of one, two and three sheets of each size; fewer sheets where that is as good."""
    for kit in kits_ordered(plan.job):
        for one in plan.groups:
            for sheet in one.group.stock:
                counts = answers.get(Question(Kind.SHEET, one.group.label, kit, sheet.name), ())
                shares = [
                    KitsPerSheet(kit, one.group.label, sheet, found.sets, number, found.most)
                    for number, found in enumerate(counts, 1)
                ]
                yield from sorted(shares, key=lambda share: (-share.each, share.sheets))[:1]


def one_more_sheet(plan: Plan, answers: Answers) -> Iterator[OneMoreSheet]:
    """What one more sheet of each size would add to a gauge.

    Where pieces are short, how many of each part that is short; otherwise how many sets of each kit, or of
    each loose part. Without the room in all its gauges nothing is known of whole kits.
    """
    rooms = {item: _by_gauge(plan, answers, Kind.ROOM, item) for item in kits_ordered(plan.job)}
    for one in plan.groups:
        label = one.group.label
        lone = sorted({need.part for need in one.group.needs if not need.kit})
        kits = [kit for kit, room in rooms.items() if label in room]
        for sheet in one.group.stock:
            for item in sorted(one.short) or [*kits, *lone]:
                counts = answers.get(Question(Kind.SHEET, label, item, sheet.name), ())
                if not counts:
                    continue
                adds = min(counts[0].sets, one.short.get(item, counts[0].sets))
                whole, held_up = adds, ""
                if item in rooms and not one.short:
                    whole, held_up = _whole_kits(plan.job, item, adds, _others(rooms[item], label))
                yield OneMoreSheet(label, sheet, item, adds, bool(one.short), whole, held_up)


def with_other_rooms(plan: Plan, known: Sequence[OneMoreSheet], answers: Answers) -> Iterator[OneMoreSheet]:
    """What one more sheet adds beside another plan of the same job: other gauges have other room there."""
    for one in known:
        if one.short or one.item not in plan.job.kits:
            yield one
        elif room := _by_gauge(plan, answers, Kind.ROOM, one.item):
            whole, held_up = _whole_kits(plan.job, one.item, one.adds, _others(room, one.gauge))
            yield replace(one, whole=whole, held_up=held_up)


def _others(found: Mapping[str, Found], label: str) -> dict[str, int]:
    return {gauge: one.sets for gauge, one in found.items() if gauge != label}


def _whole_kits(job: Job, kit: str, adds: int, others: Mapping[str, int]) -> tuple[int, str]:
    """How many of so many kits are complete in the other gauges too, and which of them holds the rest up."""
    tightest = min(others, key=lambda other: others[other], default="")
    if not tightest or others[tightest] >= adds:
        return adds, ""
    # Room beyond as many kits again as were ordered has not been looked for, so nothing is full there.
    return others[tightest], tightest if others[tightest] < most_asked(job, kit) else ""


def round_up(plan: Plan, answers: Answers, most: int = 0) -> Iterator[RoundUp]:
    """For each order line, how many more fit on the sheets that the plan takes anyway: as many again at the
    most, or ``most`` where room was looked for up to that.

    A line of whose parts some are not made is no line to round up.
    """
    missing = {one.group.label: room_of(one).missing for one in plan.groups}
    for index, order in enumerate(plan.job.orders):
        if any(missing[one.group.label][part] for one in plan.groups
               for part in parts_of(one.group, plan.job, order.item)):  # fmt: skip
            continue
        here = _by_gauge(plan, answers, Kind.ROOM, order.item)
        if here:
            full = min(here, key=lambda gauge: here[gauge].sets)
            extra = min(max(order.quantity, most), here[full].sets)
            yield RoundUp(index, extra, full, extra >= min(one.most for one in here.values()))


def _by_gauge(plan: Plan, answers: Answers, kind: Kind, item: str) -> dict[str, Found]:
    """Answers of one kind about an item by gauge; empty where a gauge of it has none."""
    found: dict[str, Found] = {}
    for one in plan.groups:
        if parts_of(one.group, plan.job, item):
            counts = answers.get(Question(kind, one.group.label, item))
            if counts is None:
                return {}
            found[one.group.label] = counts[0]
    return found
