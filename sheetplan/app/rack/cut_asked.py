"""What the person at the table says of a cut, in words or by the page's own file, and what the plan has to
say.
"""

from __future__ import annotations

import datetime
import json
import re
import zlib
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from sheetplan.app.making.earlier import earlier_plans, kept_plan
from sheetplan.app.rack import Refused
from sheetplan.model import Layout, Part, Placement, Problem, Remnant, Settings, Weight
from sheetplan.pages.book.logs import pieces_text
from sheetplan.pages.wording import sheet_size, size_text
from sheetplan.rack.kept_plan import KeptPlan, PlannedLayout
from sheetplan.rack.step import times_cut
from sheetplan.shapes import box, place
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import RECORD
from sheetplan.workbook.reading.cells import CellFault, day_of, name_of, positive_count, text_of, word_of
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.rows import Place, RowReader, column_problems, heading_problems, readers
from sheetplan.workbook.schema import KeepWord
from sheetplan.workbook.tables import BookTables, CellValue
from sheetplan.workbook.text import clean_text

if TYPE_CHECKING:
    from sheetplan.app.rack.opened import OpenRack

# What the person at the table says of a cut, and what of it the plan has to be asked for.
#
# A ticket is named by its code, as printed on it (``KRTM-L5``), or by the number alone. A number alone
# is asked about where a ticket of an earlier plan may be meant.
#
# What is told of a cut has one model, `CutAsked`: the options of the command, the columns of the page Record
# and the words in How fill it. Refusals ask `SAID_BY`, so that a remedy speaks of what the person
# has before them. Layouts that are alike, or that can no longer be cut, are no question.


class Way(Enum):
    """How a cut is told: by a command, by a mark on the page Layouts, or by a row of the page Record."""

    COMMAND = 0
    MARK = 1
    ROW = 2


SAID_BY: Mapping[str, tuple[str, str, str]] = {
    "layout": ("LAYOUT", "`ticket` in the column How", "Ticket"),
    "times": ("--repeats", "the column Cut now", "Sheets"),
    "on": ("--on", "`on` in the column How", "Cut from"),
    "only": ("--only", "`only` in the column How", "Pieces cut"),
    "bad": ("--bad", "`bad` in the column How", "Bad pieces"),
    "crop": ("--crop or --as-it-is", "`crop` or `as it is` in the column How", "What is left"),
    "date": ("--date", "`date` in the column How", "Cut on"),
    "by": ("--by", "`by` in the column How", "Cut by"),
    "heat": ("--heat", "`heat` in the column How", "Heat"),
    "again": ("--again", "`again` in the column How", "Beyond plan"),
    "note": ("--note", "`note` in the column How", "Note"),
}
"""Each field of `CutAsked` by the option, the mark and the column that say it."""


@dataclass(frozen=True, slots=True)
class CutAsked:
    """What the person at the table says.

    ``layout`` is a number or a code, with how often behind an x if wanted: ``L3``, ``KRTM-L3``,
    ``L3x2``. ``times`` None means all that the plan still asks for. ``on`` names a remnant or a full
    sheet to use instead of the planned one. ``bad`` counts pieces that came out bad, by part. ``again``
    records more than the plan asked for. ``crop`` says whether what is left was cropped to a rectangle,
    None: as the book's settings say. ``date`` None means today. ``only`` names the pieces that were cut
    of a sheet that was stopped half way: ``PLATE``, ``PLATE=4``, ``PLATE#1-3,5``. ``way`` is how all
    this was told, ``row`` the place on the page Record where it stands; ``said_in`` the line of a file
    that was handed back, and ``handed`` that line's own number.
    """

    layout: str
    times: int | None = None
    on: str = ""
    plan: str | None = None
    by: str = ""
    heat: str = ""
    bad: Mapping[str, int] | None = None
    again: bool = False
    crop: bool | None = None
    date: datetime.date | None = None
    only: tuple[str, ...] = ()
    note: str = ""
    way: Way = Way.COMMAND
    row: Place | None = None
    said_in: str = ""
    handed: str = ""

    def told_by(self, field: str) -> str:
        """Where to say a field: an option, a mark or a column, whichever way this was told."""
        said = SAID_BY[field][self.way.value]
        return f"the column {said}" if self.way is Way.ROW else said


_TICKET = re.compile(r"(?:(?P<plan>[A-Za-z]{4})-)?(?P<tag>[^\s-]+?)(?:x(?P<times>\d+))?", re.IGNORECASE)


def read_code(asked: CutAsked) -> CutAsked:
    """The same with what the code says put in its place.

    >>> one = read_code(CutAsked("krtm-L8x2"))
    >>> one.plan, one.layout, one.times
    ('KRTM', 'L8', 2)
    """
    found = _TICKET.fullmatch(asked.layout.strip())
    if found is None:
        return replace(asked, layout=asked.layout.strip())
    plan, times = found["plan"], found["times"]
    if plan and asked.plan and plan.upper() != asked.plan.upper():
        what = f"{asked.layout} is a ticket of plan {plan.upper()}, not of {asked.plan}."
        raise Refused(what, "Say one.", about="layout")
    if times and asked.times is not None and int(times) != asked.times:
        what = f"{asked.layout} says {times} times, {asked.told_by('times')} says {asked.times}."
        raise Refused(what, "Say it once.", about="times")
    return replace(
        asked,
        layout=found["tag"].upper(),
        plan=plan.upper() if plan else asked.plan,
        times=int(times) if times else asked.times,
    )


def plan_of(rack: OpenRack, asked: CutAsked) -> tuple[KeptPlan, PlannedLayout]:
    """The plan and the layout that are meant.

    Raises ``Refused`` where there is none, or where a ticket of an earlier plan may be meant as well.
    """
    plan = _of_shown(rack, asked) or kept_plan(rack.book, rack.job, asked.plan, rack.tables.plan)
    planned = _named(plan, asked.layout)
    others = [] if asked.plan else _other_tickets(rack, plan.mark, asked.layout, planned)
    if planned is None:
        tags = ", ".join(list(plan.layouts)[:30])
        code = f" A ticket of an earlier plan is meant? Say its code: {others[0][0]}." if others else ""
        what = f"Plan {plan.mark} has no layout {asked.layout}."
        raise Refused(what, f"It has: {tags}.{code}", about="layout")
    if others:
        tag = planned.layout.tag
        where = f": sheetplan cut {rack.book.name} {plan.mark}-{tag}"
        if asked.way is not Way.COMMAND:
            where = f" by {asked.told_by('layout')}."
        told = "; ".join(f"{code}: {what}" for code, what in [_said(rack, plan.mark, planned), *others])
        raise Refused(
            f"{tag} may be a ticket of plan {plan.mark} or of an earlier plan.",
            f"Say the code that stands on the ticket ({told}){where}", about="layout",
        )  # fmt: skip
    return plan, planned


def _of_shown(rack: OpenRack, asked: CutAsked) -> KeptPlan | None:
    """The plan that the book shows, where it has kept the layout of the earlier plan that is asked for."""
    shown = rack.tables.plan
    if not asked.plan or not shown or asked.plan == shown:
        return None
    try:
        plan = kept_plan(rack.book, rack.job, shown, shown)
    except Refused:
        return None
    kept = _named(plan, asked.layout)
    return plan if kept is not None and kept.layout.of_plan == asked.plan else None


def _named(plan: KeptPlan, tag: str) -> PlannedLayout | None:
    return {name.lower(): one for name, one in plan.layouts.items()}.get(tag.lower())


def _other_tickets(
    rack: OpenRack, mark: str, tag: str, planned: PlannedLayout | None
) -> list[tuple[str, str]]:
    """Layouts of that number in earlier plans that can still be cut and are not the one of this plan."""
    found = []
    for plan in earlier_plans(rack.book, rack.job, mark):
        other = _named(plan, tag)
        if other is None or (planned is not None and _alike(other.layout, planned.layout)):
            continue
        sheet = other.layout.sheet
        gone = isinstance(sheet, Remnant) and rack.row(sheet.tag) is None
        of_plan = other.layout.of_plan or plan.mark
        so_far = times_cut(rack.steps, of_plan, other.layout.tag) - other.cut_before
        if not gone and so_far < other.layout.repeats:
            found.append(_said(rack, plan.mark, other))
    return found


def _alike(one: Layout, other: Layout) -> bool:
    """Whether it makes no difference to the metal which of the two is recorded."""
    names = [s.tag if isinstance(s, Remnant) else s.name for s in (one.sheet, other.sheet)]
    return names[0] == names[1] and set(one.placements) == set(other.placements)


MOST_SAID = 4
"""Kinds of part that a question names of a layout."""


def _said(rack: OpenRack, mark: str, planned: PlannedLayout) -> tuple[str, str]:
    """Code of a layout, and in words what it is."""
    layout = planned.layout
    counts = Counter(p.part for p in layout.placements)
    shown = dict(sorted(counts.items(), key=lambda item: (-item[1], item[0]))[:MOST_SAID])
    more = ", ..." if len(counts) > len(shown) else ""
    size = size_text(*sheet_size(layout.sheet), rack.job.settings.units)
    return f"{mark}-{layout.tag}", f"{pieces_text(shown)}{more} on {planned.group.label} {size}"


def pieces_cut(
    layout: Layout, parts: Mapping[str, Part], asked: CutAsked, settings: Settings
) -> tuple[Placement, ...]:
    """Those of a layout's pieces that ``asked.only`` names.

    Pieces of one part are numbered from 1 as they lie from the datum corner: along the length first,
    then across. Raises ``Refused`` where a count does not tell which pieces are meant.
    """
    chosen: set[int] = set()
    for text in asked.only:
        try:
            chosen |= _chosen(layout, parts, text.strip(), settings)
        except Refused as unclear:
            remedy = f"{unclear.remedy} Say it by {asked.told_by('only')}."
            raise Refused(unclear.what, remedy, about="only") from unclear
    return tuple(p for index, p in enumerate(layout.placements) if index in chosen)


_PIECES = re.compile(r"(?P<part>.+?)\s*(?:=\s*(?P<count>\d+)|#\s*(?P<numbers>\d[\d\s,-]*))?")


def _chosen(layout: Layout, parts: Mapping[str, Part], text: str, settings: Settings) -> set[int]:
    """Places among the layout's pieces of those that one text names."""
    found = _PIECES.fullmatch(text)
    there = {normal(p.part): p.part for p in layout.placements}
    part = there.get(normal(found["part"])) if found else None
    if found is None or part is None:
        on_it = ", ".join(sorted(there.values()))
        raise Refused(
            f"{text!r} names no piece of {layout.tag}.",
            f"Write a part, and how many or which of them: PART, PART=4, PART#1-3,5. On it are: {on_it}.",
        )
    lying = _lying(layout, parts, part, settings)
    if found["numbers"]:
        numbers = _numbers(found["numbers"])
        if not numbers or not numbers <= set(range(1, len(lying) + 1)):
            raise Refused(
                f"{text}: {part} lies {len(lying)} times on {layout.tag}.", _where(lying, part, settings)
            )
        return {lying[number - 1][0] for number in numbers}
    count = int(found["count"]) if found["count"] else len(lying)
    if count == 0:
        return set()
    if count > len(lying):
        what = f"{count} of {part} cannot be cut: {layout.tag} has {len(lying)}."
        raise Refused(what, "Check the number.")
    if count < len(lying):
        raise Refused(
            f"{part} lies {len(lying)} times on {layout.tag}: which {count} were cut?",
            _where(lying, part, settings),
        )
    return {index for index, _, _ in lying}


def _lying(
    layout: Layout, parts: Mapping[str, Part], part: str, settings: Settings
) -> list[tuple[int, float, float]]:
    """The pieces of a part with their nearest corner from the datum corner, mm, the nearest first."""
    length, width = sheet_size(layout.sheet)
    datum = layout.sheet.datum if isinstance(layout.sheet, Remnant) else settings.datum
    words = datum.value.split()
    found = []
    for index, placement in enumerate(layout.placements):
        if placement.part == part:
            around = box(place(parts[part].outline, placement).outer)
            x = length - around.right if "right" in words else around.left
            y = width - around.top if "upper" in words else around.bottom
            found.append((index, x, y))
    return sorted(found, key=lambda one: (round(one[1], 3), round(one[2], 3), one[0]))


def _numbers(text: str) -> set[int]:
    """The numbers of a list such as ``1-3,5``; empty where it is none."""
    found: set[int] = set()
    for one in text.split(","):
        first, dash, last = (word.strip() for word in one.partition("-"))
        if not first.isdigit() or (dash and not last.isdigit()):
            return set()
        found |= set(range(int(first), int(last or first) + 1))
    return found


def _where(lying: Sequence[tuple[int, float, float]], part: str, settings: Settings) -> str:
    unit = settings.units.length_mm
    said = "; ".join(
        f"#{number} at {x / unit:.4g}, {y / unit:.4g}" for number, (_, x, y) in enumerate(lying, start=1)
    )
    example = f"{part}#1" if len(lying) == 1 else f"{part}#1-{len(lying) - 1}"
    return (
        f"Say which by their numbers, such as {example}. They lie, along the length and across "
        f"from the datum corner ({settings.units.value}): {said}."
    )


_PREFILLED = ("Cut on", "Cut by")
"""What a person may have filled down the whole page: alone it says of no cut."""


def cuts_in_rows(tables: BookTables) -> tuple[tuple[CutAsked, ...], tuple[Problem, ...]]:
    """The cuts that the page Record tells of, and what is wrong with its rows."""
    table = tables.tables.get(RECORD.name)
    if table is None:
        return (), ()
    doubts = (one for one in heading_problems(tables, (RECORD,)) if one.weight is Weight.STOPS)
    problems = [*column_problems(RECORD, table), *doubts]
    cuts = []
    for row in readers(RECORD, table, Units.INCH, Weight.STOPS) if not problems else ():
        said = [column.heading for column in RECORD.columns if not row.blank(column.heading)]
        if set(said) <= set(_PREFILLED):
            continue
        cuts.append(_cut_in(row))
        problems += row.problems
    return tuple(cuts), tuple(problems)


def rows_waiting(tables: BookTables, book: Path) -> tuple[Problem, ...]:
    """A finding where the page Record has rows: a plan would make once more what they say is cut."""
    cuts, wrong = cuts_in_rows(tables)
    if wrong or not cuts or cuts[0].row is None:
        return wrong
    are = "is" if len(cuts) == 1 else "are"
    what = f"{counted(len(cuts), 'cut')} on the page Record {are} not recorded yet."
    remedy = f"Record them in the open book, or run: sheetplan cut {book.name}. Or clear the rows."
    return (cuts[0].row.problem("Ticket", what, remedy),)


def _cut_in(row: RowReader) -> CutAsked:
    """What one row says; what is wrong is noted on the row."""
    keep = row.may("What is left", word_of(KeepWord), None)
    return CutAsked(
        layout=row.need("Ticket", name_of, ""),
        times=row.may("Sheets", positive_count, None),
        on=row.may("Cut from", name_of, ""),
        by=row.may("Cut by", text_of, ""),
        heat=row.may("Heat", text_of, ""),
        bad=row.may("Bad pieces", _bad_in, None),
        again=row.says_yes("Beyond plan"),
        crop=None if keep is None else keep is KeepWord.RECTANGLE,
        date=row.may("Cut on", _day_in, None),
        only=row.may("Pieces cut", _pieces_in, ()),
        note=row.may("Note", text_of, ""),
        way=Way.ROW,
        row=row.place,
    )


def _bad_in(value: CellValue) -> dict[str, int]:
    return _bad(text_of(value))


def _pieces_in(value: CellValue) -> tuple[str, ...]:
    return _listed(text_of(value))


def _day_in(value: CellValue) -> datetime.date:
    return datetime.date.fromisoformat(day_of(value))


def refused_at(asked: CutAsked, refused: Refused) -> Problem:
    """A refusal as a finding about the row of Record that asked for it, at the cell that it is about.

    What a file says is found by its line.
    """
    if asked.row is None:
        return Problem(asked.said_in, None, None, refused.what, refused.remedy)
    if asked.said_in:
        what = f"{asked.said_in}: {refused.what}"
        return asked.row.problem(SAID_BY["layout"][Way.ROW.value], what, refused.remedy)
    column = SAID_BY[refused.about or "layout"][Way.ROW.value]
    return asked.row.problem(column, refused.what, refused.remedy)


OTHERWISE = (
    "on SHEET or TAG; ticket KRTM-L5; date 2026-11-24; only PART=4; bad PART=1; by NAME; heat NUMBER; crop; "
    "as it is; again; note TEXT"
)
"""What may stand in the column How of the page Layouts."""


def asked_otherwise(asked: CutAsked, text: str) -> CutAsked:
    """What a cell of the column How says, put into what is asked.

    >>> one = asked_otherwise(CutAsked("L1", 1), "on MS10-5x10; date 2026-11-24; only PLATE=4, BRACE")
    >>> one.on, one.date, one.only
    ('MS10-5x10', datetime.date(2026, 11, 24), ('PLATE=4', 'BRACE'))
    """
    for entry in filter(None, (part.strip() for part in text.split(";"))):
        word, _, rest = entry.partition(" ")
        try:
            changed = _otherwise(asked, word.lower(), rest.strip())
        except CellFault as fault:
            raise Refused(f"How of {asked.layout} says {entry!r}: {fault.what}.", fault.remedy) from fault
        if changed is None:
            what = f"How of {asked.layout} says {entry!r}, which cannot be read."
            raise Refused(what, f"It may say, with semicolons between: {OTHERWISE}.")
        asked = changed
    return asked


def _otherwise(asked: CutAsked, word: str, rest: str) -> CutAsked | None:
    """One entry put into what is asked; None where it says nothing that is known."""
    match word:
        case "ticket" if rest:  # of an earlier plan, whatever row it is written in
            return replace(asked, layout=rest, plan=None)
        case "date" if rest:
            return replace(asked, date=_day_in(rest))
        case "only" if rest:
            return replace(asked, only=(*asked.only, *_listed(rest)))
        case "bad" if rest:
            return replace(asked, bad={**(asked.bad or {}), **_bad(rest)})
        case "on" | "by" | "heat" | "note" if rest:
            text: Mapping[str, Any] = {word: rest}
            return replace(asked, **text)
        case "crop" | "again" if not rest:
            mark: Mapping[str, Any] = {word: True}
            return replace(asked, **mark)
        case "as" if rest.lower() == "it is":
            return replace(asked, crop=False)
    return None


def _listed(text: str) -> tuple[str, ...]:
    """Pieces with commas between; numbers behind a # have commas of their own."""
    found: list[str] = []
    for one in (part.strip() for part in re.split(r"[,;]", text)):
        more_numbers = found and "#" in found[-1] and re.fullmatch(r"[\d\s-]+", one)
        found[-1:] = [f"{found[-1]},{one}"] if more_numbers else [*found[-1:], one]
    return tuple(filter(None, found))


def _bad(text: str) -> dict[str, int]:
    """Pieces by part, from texts such as ``CB-101=2, CB-100=1``."""
    counts = {}
    for one in filter(None, (part.strip() for part in re.split(r"[,;]", text))):
        part, _, number = one.rpartition("=")
        if not part.strip() or not number.strip().isdigit():
            raise CellFault(f"{one!r} is not a part and a number", "Write such as CB-101=2.")
        counts[part.strip()] = int(number)
    return counts


# What the page of a plan hands back from the table: a small file with a line for each tick.
#
# Terms
# line
#     One layout ticked as cut, once or several times, with all that was told of it.
# check
#     CRC-32 (ISO/IEC/IEEE 8802-3) of all that stands before it, as JSON without spaces. It tells a file that
#     was cut short or changed by mistake; it is no seal against somebody who means to forge one.
#
# The page writes the file in `pages/floor/ledger.js`, and the same values in one line as a code to be read
# by a telephone (`pages/floor/code.js`).
#
# Each line has a number of its own that its step keeps (`Step.handed`), so that a file that is handed back
# twice is told line by line, and may be recorded again once the steps were taken back.

FORMAT = 1
KIND = "hand back"

FILE_END = ".json"

LARGEST_BYTES = 4_000_000
MOST_LINES = 5_000
LONGEST_TEXT = 1_000
"""Characters of a name: the page takes what the book has, and no cell of a name is that long."""

PASTED = "The pasted text"

SAVE_AGAIN = "Take it once more from the page of the plan: Hand back, then Save again or Code."


@dataclass(frozen=True, slots=True)
class HandedBack:
    """A file as read: its name, the plan of its page, when it was saved, and its lines."""

    name: str
    plan: str
    told: str
    lines: tuple[CutAsked, ...]

    def sentences(self) -> tuple[str, ...]:
        """What the file says, line by line."""
        head = f"{self.name}: {counted(len(self.lines), 'line')} of plan {self.plan}, saved {self.told}."
        return (head, *(f"  {number}. {_line_said(line)}" for number, line in enumerate(self.lines, start=1)))


def read_handed_back(path: Path) -> HandedBack:
    """Read a file. Raises ``Refused`` where it is none, is cut short, or was changed since."""
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise Refused(f"{path.name} is far too large for a file from the page of a plan.", SAVE_AGAIN)
        data = path.read_bytes()
    except OSError as error:
        raise Refused(f"{path} cannot be read: {error.strerror}.", "Check its name and place.") from error
    return handed_back_of(data, path.name)


def read_pasted(source: BinaryIO, *, typed: bool) -> HandedBack:
    """Read what is pasted or piped in, such as the text of the page's code; raises as `read_handed_back`.

    ``typed`` says that a person pastes it: then the line that completes it is the last.
    """
    data = b""
    while len(data) <= LARGEST_BYTES and (line := source.readline()):
        data += line
        if typed and _is_whole(data):
            break
    return handed_back_of(data, PASTED)


def _is_whole(data: bytes) -> bool:
    try:
        json.loads(data)
    except (ValueError, RecursionError):
        return False
    return True


def handed_back_of(data: bytes, name: str) -> HandedBack:
    """The file in its bytes; see `read_handed_back`."""
    try:
        value = json.loads(data.decode("utf-8-sig"))  # some editors put a mark before what was pasted
    except (ValueError, RecursionError) as error:
        what = f"{name} is not whole: it was cut short, or is not from the page of a plan."
        raise Refused(what, SAVE_AGAIN) from error
    if not isinstance(value, dict) or value.get("sheetplan") != KIND:
        what = f"{name} was not handed back by the page of a plan."
        raise Refused(what, "Take the file that the page saved: cut-PLAN-DAY-TIME.json.")
    if value.get("format") != FORMAT:
        raise Refused(f"{name} was written by another version.", "Record it with the version that planned.")
    body = {key: held for key, held in value.items() if key != "check"}
    if value.get("check") != check_of(body):
        raise Refused(f"{name} is not as the page wrote it: its check does not agree.", SAVE_AGAIN)
    lines = body.get("lines")
    if not isinstance(lines, list) or not 0 < len(lines) <= MOST_LINES:
        raise Refused(f"{name} has no lines.", SAVE_AGAIN)
    plan = _text(body, "plan", name)
    return HandedBack(
        name, plan, _text(body, "told", name),
        tuple(_line(line, f"{name}, line {number}") for number, line in enumerate(lines, start=1)),
    )  # fmt: skip


def check_of(body: Mapping[str, Any]) -> str:
    """The check of a file's values without it; empty where they are nothing that a page writes."""
    try:
        text = json.dumps(body, ensure_ascii=False, separators=(",", ":"))
        return f"{zlib.crc32(text.encode('utf-8')):08x}"
    except (UnicodeEncodeError, RecursionError):
        return ""


def agreed(
    rack: OpenRack, handed: HandedBack, plan: str | None, leave_out: Collection[int]
) -> Sequence[CutAsked]:
    """The lines to record. Raises ``Refused`` where the file is of a plan that is not meant."""
    shown = rack.tables.plan
    if handed.plan not in (shown, plan):
        says = f"the book shows {shown}" if shown else "the book shows no plan"
        raise Refused(
            f"{handed.name} is of plan {handed.plan}, and {says}.",
            f"If these sheets were cut from the page of plan {handed.plan}, say so by --plan {handed.plan}.",
        )
    beyond = [number for number in leave_out if not 1 <= number <= len(handed.lines)]
    if beyond:
        what = f"{handed.name} has no line {beyond[0]}."
        raise Refused(what, f"It has {counted(len(handed.lines), 'line')}.")
    kept = [line for number, line in enumerate(handed.lines, start=1) if number not in leave_out]
    if not kept:
        raise Refused(f"All lines of {handed.name} are left out.", "Then there is nothing to record.")
    return kept


def with_files(rack: OpenRack, rows: Sequence[CutAsked]) -> list[CutAsked]:
    """Rows of the page Record; one whose ticket is a file beside the book stands for all lines of it."""
    found: list[CutAsked] = []
    wrong: list[Problem] = []
    for row in rows:
        try:
            found += _lines_of(rack, row) if row.layout.lower().endswith(FILE_END) else (row,)
        except Refused as refusal:
            wrong.append(refused_at(row, refusal))
    if wrong:
        what = f"{counted(len(wrong), 'row')} of the page Record cannot be recorded."
        raise Refused(what, "Put right what stands beside it.", tuple(wrong))
    return found


def _lines_of(rack: OpenRack, row: CutAsked) -> list[CutAsked]:
    """The lines of the file that a row names; the row may say who cut what the file does not say."""
    nothing = CutAsked("")
    for field, ways in SAID_BY.items():
        if field not in ("layout", "by") and getattr(row, field) != getattr(nothing, field):
            what = f"{ways[Way.ROW.value]} stands beside a file, which says itself what was cut."
            raise Refused(what, "Clear the cell.", about=field)
    if Path(row.layout).name != row.layout or "\\" in row.layout:
        what = f"{row.layout} is not the name of a file beside the book."
        raise Refused(what, "Put the file beside the book and write its name alone.")
    handed = read_handed_back(rack.book.parent / row.layout)
    lines = agreed(rack, handed, row.plan, ())
    return [replace(line, row=row.row, way=row.way, by=line.by or row.by) for line in lines]


def _line(value: object, where: str) -> CutAsked:
    if not isinstance(value, dict):
        raise Refused(f"{where}: it is not a line of the page.", SAVE_AGAIN)
    times, bad = value.get("times"), value.get("bad")
    if type(times) is not int or not 1 <= times <= 100_000:
        raise Refused(f"{where}: it does not say how many sheets were cut.", SAVE_AGAIN)
    if not isinstance(bad, list) or not all(map(_is_count, bad)):
        raise Refused(f"{where}: its bad pieces cannot be read.", SAVE_AGAIN)
    ticket = _text(value, "ticket", where)
    try:
        day = datetime.date.fromisoformat(_text(value, "day", where))
    except ValueError as error:
        raise Refused(f"{where}: it does not say on which day it was cut.", SAVE_AGAIN) from error
    return CutAsked(
        ticket, times, bad={str(part): count for part, count in bad}, date=day,
        by=_text(value, "by", where, empty=True), heat=_text(value, "heat", where, empty=True),
        note=_text(value, "note", where, empty=True), handed=_text(value, "id", where),
        said_in=f"{where} ({ticket})",
    )  # fmt: skip


def _is_count(value: object) -> bool:
    if not isinstance(value, list) or len(value) != 2:
        return False
    part, count = value
    return isinstance(part, str) and len(part) <= LONGEST_TEXT and type(count) is int and count > 0


def _text(value: Mapping[str, Any], key: str, where: str, *, empty: bool = False) -> str:
    text = value.get(key)
    if not isinstance(text, str) or len(text) > LONGEST_TEXT or not (text or empty):
        raise Refused(f"{where}: {key} cannot be read.", SAVE_AGAIN)
    return clean_text(text)


def _line_said(line: CutAsked) -> str:
    told = [
        f"{line.layout}: {counted(line.times or 1, 'sheet')}",
        f"bad {pieces_text(line.bad)}" if line.bad else "",
        f"heat {line.heat}" if line.heat else "",
        f"by {line.by}" if line.by else "",
        f"on {line.date}",
        line.note,
    ]
    return ", ".join(filter(None, told))
