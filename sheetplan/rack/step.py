"""One recorded step: what was cut, what that did to the rack and the book, and how to take it back."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sheetplan.rack.record import Json

# Steps are numbered from 1 and never change. What a step replaced is kept in it, so that the last one
# can be taken back whatever it did.
#
# Terms
# ahead
#     Sheets of a size that were cut before the book knew of them: the page Stock had fewer on hand. They
#     belong to a delivery that is still to be taken in, and are then not put on hand a second time.
# seal
#     A line on the logs of a book that says whose steps they are and how their history stands. Step numbers
#     alone do not: after a step is taken back, or in another folder, a number is given again.
# typed up
#     On hand was raised by hand since the last step: the planner's count is the truth, so nothing is ahead.

FORMAT = 3

READABLE = (1, 2, 3)
"""Forms of a step's file that are read; the first knew nothing from `Step.together` on."""


class NotAStep(Exception):
    """A step's file cannot be used: it is damaged, or of a later form."""


@dataclass(frozen=True, slots=True)
class Credit:
    """Pieces of one part that were cut for an order; less than none where they were taken from it again.

    ``date`` is the day on which they were cut, where that is not the day of their step.
    """

    order: str
    item: str
    part: str
    pieces: int
    date: str = ""


@dataclass(frozen=True, slots=True)
class CellChange:
    """One cell of the book that a step wrote: where, what stood there, what stands there now.

    Rows are found by a name in a column, not by number, so that the planner may sort them.
    """

    page: str
    row: str
    heading: str
    before: str | float | None
    after: str | float | None


class Kind(StrEnum):
    """What a step records."""

    CUT = "cut"
    ORDERED = "ordered"
    RECEIVED = "received"
    PARTS = "parts"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class StockLine:
    """Full sheets of one size that were ordered or came in.

    ``off_order`` is by how much On order went down, ``found`` what On hand said before, ``covered`` how
    many of the sheets had been cut before they came; ``purchase`` is the row written into Purchases.
    """

    sheet: str
    count: int
    off_order: int = 0
    found: int = 0
    covered: int = 0
    purchase: Mapping[str, str | float | None] = field(default_factory=dict)

    @property
    def put_on_hand(self) -> int:
        """By how much On hand went up."""
        return self.count - self.covered


@dataclass(frozen=True, slots=True)
class Asked:
    """An order line as it stood: by row, item and quantity it is known again when its name is changed."""

    order: str
    item: str
    quantity: int
    line: int


@dataclass(frozen=True, slots=True)
class AheadThen:
    """Sheets of a size that were cut before they came, when a month was closed; as `Ahead`."""

    sheet: str
    sheets: int
    step: int
    left: int


@dataclass(frozen=True, slots=True)
class Closed:
    """What of the steps of a month outlives them, beside pieces and credits.

    ``cut`` is how often each layout was cut, as plan, layout and count; ``steps`` how many steps went into
    the archive.
    """

    month: str
    archive: str
    steps: int
    cut: tuple[tuple[str, str, int], ...] = ()
    ahead: tuple[AheadThen, ...] = ()


@dataclass(frozen=True, slots=True)
class Weights:
    """Where the metal went, kg, and money, for all sheets of the step together."""

    taken: float
    parts: float
    kerf: float
    kept: float
    bad: float
    metal_cost: float
    kept_value: float
    along: float = 0.0
    """Of ``kept``, skeleton that hangs on the remnants; 0 in steps of earlier versions."""


NO_WEIGHTS = Weights(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A cut as recorded; or sheets ordered or received, which have ``lines`` and nothing of a cut.

    Finished parts that are counted, moved or scrapped are a step as well: ``pieces`` and ``credits`` are
    then less than none where something went. A month that is closed leaves one step (`Closed`) for all
    that it takes out of the book.

    ``sheet`` is the stock name or empty, ``on`` the tag of the remnant that was cut, or empty.
    ``from_stock`` is by how much the page Stock's count went down; it is less than ``times`` where
    the book had fewer. ``left`` are tags that went back to the rack, ``pieces`` the good ones by
    part. ``former`` maps files of the rack to what they held before, None where they were not there.
    """

    number: int
    date: str
    plan: str = ""
    layout: str = ""
    times: int = 0
    gauge: str = ""
    sheet: str = ""
    on: str = ""
    from_stock: int = 0
    left: tuple[str, ...] = ()
    pieces: Mapping[str, int] = field(default_factory=dict)
    bad: Mapping[str, int] = field(default_factory=dict)
    credits: tuple[Credit, ...] = ()
    weights: Weights = NO_WEIGHTS
    by: str = ""
    heat: str = ""
    note: str = ""
    changes: tuple[CellChange, ...] = ()
    new_rows: tuple[str, ...] = ()
    """Tags whose rows this step added to the page Remnants."""
    former: Mapping[str, str | None] = field(default_factory=dict)
    wrote: Mapping[str, str] = field(default_factory=dict)
    """Digest of each file of the rack that this step wrote."""
    book: str = ""
    """File name of the workbook."""
    together: int = 0
    """The first of the steps that one command recorded together; 0 for a step of its own."""
    kind: Kind = Kind.CUT
    found: int | None = None
    """On hand of the full sheet before the cut; None for a remnant, and in books of earlier versions."""
    lines: tuple[StockLine, ...] = ()
    asked: tuple[Asked, ...] = ()
    """The order lines that its pieces are for, as the book then had them."""
    bad_for: tuple[Credit, ...] = ()
    """The orders that the bad pieces would have gone to."""
    shown: str = ""
    """The plan that the page Layouts showed, where that is not the one of the ticket."""
    closed: Closed | None = None
    """What a month that is closed leaves behind."""
    handed: str = ""
    """The number of the line, in a file handed back from the table, that said it."""
    of: str = ""
    """The mark of the book whose step it is; empty in racks of earlier versions."""
    unknown: tuple[str, ...] = ()
    """What of a step that was rebuilt from the book nobody knows any more, in sentences."""


ALWAYS = (
    "number", "date", "plan", "layout", "times", "gauge", "sheet", "on", "from_stock", "left", "pieces",
    "bad", "credits", "weights",
)  # fmt: skip
"""What the file of every step says, in all of its forms."""


def step_text(step: Step) -> str:
    """The step's file."""
    value = {"format": FORMAT, **asdict(step)}
    return json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def step_of(text: str) -> Step:
    """The step in a file's text.

    Raises
    ------
    NotAStep
        The text is damaged or of a later form.
    """
    try:
        value = json.loads(text)
        if value["format"] not in READABLE:
            raise NotAStep("it was written by a later version")
        return _step(value)
    except (KeyError, TypeError, ValueError) as error:
        raise NotAStep(f"it is damaged ({type(error).__name__}: {error})") from error


def _step(value: Json) -> Step:
    own: dict[str, Any] = {key: entry for key, entry in value.items() if key != "format"}
    own |= {key: value[key] for key in ALWAYS}
    return Step(
        **{
            **own,
            "left": tuple(own["left"]),
            "new_rows": tuple(own["new_rows"]),
            "credits": tuple(Credit(**one) for one in own["credits"]),
            "weights": Weights(**own["weights"]),
            "changes": tuple(CellChange(**one) for one in own["changes"]),
            "kind": Kind(own.get("kind", Kind.CUT)),
            "asked": tuple(Asked(**one) for one in own.get("asked", ())),
            "unknown": tuple(own.get("unknown", ())),
            "bad_for": tuple(Credit(**one) for one in own.get("bad_for", ())),
            "lines": tuple(StockLine(**one) for one in own.get("lines", ())),
            "closed": _closed(own["closed"]) if own.get("closed") else None,
        }
    )


def _closed(value: Json) -> Closed:
    cut = tuple((str(plan), str(layout), int(times)) for plan, layout, times in value["cut"])
    ahead = tuple(AheadThen(**one) for one in value["ahead"])
    return Closed(str(value["month"]), str(value["archive"]), int(value["steps"]), cut, ahead)


@dataclass(frozen=True, slots=True)
class Seal:
    """Whose steps a book lists (``mark``), the last of them, and a digest of all; see `Terms`."""

    mark: str
    last: int = 0
    digest: str = ""

    @property
    def line(self) -> str:
        """The seal as it stands on a page."""
        stands = f", step {self.last}, state {self.digest}" if self.digest else ""
        return f"Book {self.mark}{stands}: by this line it and the folder rack know one another."


_SEAL = re.compile(r"Book ([A-Z]{8})(?:, step ([0-9]+), state ([0-9a-f]{12}))?[:.]")


def seal_among(values: Iterable[object]) -> Seal | None:
    """The seal that one of some texts states, if any does.

    >>> seal_among(["Plans", "Book ABCDEFGH."])
    Seal(mark='ABCDEFGH', last=0, digest='')
    """
    found = (_SEAL.match(str(value or "")) for value in values)
    return next((Seal(one[1], int(one[2] or 0), one[3] or "") for one in found if one), None)


def seal_of(mark: str, steps: Iterable[Step]) -> Seal:
    """The seal of a book that lists these steps.

    What is alike in its digest is the same history: what was cut, when, of which sheet, for whom.
    """
    known = sorted(steps, key=lambda step: step.number)
    told = [
        (s.number, str(s.kind), s.date, s.plan, s.layout, s.times, s.gauge, s.sheet, s.on, s.from_stock,
         s.left, sorted(s.pieces.items()), sorted(s.bad.items()),
         [tuple(asdict(c).values()) for c in s.credits], [(one.sheet, one.count) for one in s.lines],
         s.heat, s.by)
        for s in known
    ]  # fmt: skip
    digest = hashlib.sha256(json.dumps(told, ensure_ascii=False).encode()).hexdigest()[:12]
    return Seal(mark, known[-1].number if known else 0, digest)


def new_mark(source: bytes) -> str:
    """A mark for a book that has none yet, from its bytes; the same book gets the same one.

    >>> len(new_mark(b"a book"))
    8
    """
    number, letters = int.from_bytes(hashlib.sha256(source).digest()[:16]), []
    for _ in range(8):
        number, index = divmod(number, 26)
        letters.append(chr(ord("A") + index))
    return "".join(letters)


def times_cut(steps: Mapping[int, Step], plan: str, layout: str) -> int:
    """How often a layout of a plan has been recorded as cut."""
    before = [one for s in steps.values() if s.closed for one in s.closed.cut]
    return sum(s.times for s in steps.values() if s.plan == plan and s.layout == layout) + sum(
        times for of_plan, tag, times in before if (of_plan, tag) == (plan, layout)
    )


@dataclass(frozen=True, slots=True)
class Ahead:
    """Sheets of one size that are ahead; ``step`` is the last one that took a sheet too many.

    ``left`` is On hand as the last step left it; ``typed_up`` whether it has been raised since, in which
    case the sheets no longer count as ahead.
    """

    sheets: int
    step: int
    left: int
    typed_up: bool = False

    @property
    def open(self) -> int:
        """Sheets of the next delivery that are cut already."""
        return 0 if self.typed_up else self.sheets


def ahead_of(steps: Iterable[Step], on_hand: Mapping[str, int]) -> dict[str, Ahead]:
    """Sizes of which sheets are ahead, by name.

    Parameters
    ----------
    steps : iterable of Step
        All that the book lists.
    on_hand : mapping
        What the page Stock says now, by the sheet's name.
    """
    found: dict[str, Ahead] = {}
    by_number = sorted(steps, key=lambda one: one.number)
    closings = [place for place, step in enumerate(by_number) if step.closed]
    # A month that was closed says how its sheets stood; what was before it is in that already.
    for step in by_number[closings[-1] :] if closings else by_number:
        for one in step.closed.ahead if step.closed else ():
            found[one.sheet] = Ahead(one.sheets, one.step, one.left)
        if step.kind is Kind.CUT and step.sheet and step.found is not None:
            before = _carried(found.get(step.sheet), step.found)
            more = step.times - step.from_stock
            last = step.number if more else found[step.sheet].step if before else 0
            found[step.sheet] = Ahead(before + more, last, step.found - step.from_stock)
        for line in step.lines if step.kind is Kind.RECEIVED else ():
            before = _carried(found.get(line.sheet), line.found)
            last = found[line.sheet].step if before else 0
            found[line.sheet] = Ahead(before - line.covered, last, line.found + line.put_on_hand)
    return {
        name: Ahead(one.sheets, one.step, one.left, on_hand.get(name, 0) > one.left)
        for name, one in found.items() if one.sheets > 0
    }  # fmt: skip


def _carried(last: Ahead | None, found: int) -> int:
    """What is still ahead at a step that finds so many on hand."""
    return last.sheets if last is not None and found <= last.left else 0


def on_order(steps: Iterable[Step]) -> dict[str, tuple[tuple[str, int], ...]]:
    """By sheet name, the days of ordering with what is still to come; what was ordered first comes first.

    Orders of a month that is closed, and those typed into Stock by hand, are in no step.
    """
    waiting: dict[str, list[tuple[str, int]]] = {}
    for step in sorted(steps, key=lambda one: one.number):
        for line in step.lines:
            if step.kind is Kind.ORDERED:
                lots = [*waiting.get(line.sheet, []), (step.date, line.count)]
                waiting[line.sheet] = sorted(lots, key=lambda lot: lot[0])
            elif step.kind is Kind.RECEIVED:
                waiting[line.sheet] = _less(waiting.get(line.sheet, []), line.off_order)
    return {sheet: tuple(lots) for sheet, lots in waiting.items() if lots}


def _less(lots: list[tuple[str, int]], came: int) -> list[tuple[str, int]]:
    """Lots without so many that came, the first ordered taken as the first to come."""
    left = []
    for day, count in lots:
        taken = min(came, count)
        came -= taken
        if count > taken:
            left.append((day, count - taken))
    return left
