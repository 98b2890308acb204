"""What the page of a plan hands back from the table: a small file with a line for each tick.

Terms
-----
line
    One layout ticked as cut, once or several times, with all that was told of it.
check
    CRC-32 (ISO/IEC/IEEE 8802-3) of all that stands before it, as JSON without spaces. It tells a file that
    was cut short or changed by mistake; it is no seal against somebody who means to forge one.

The page writes the file in `pages/floor/ledger.js`, and the same values in one line as a code to be read by a
telephone (`pages/floor/code.js`).

Choices
-------
Each line has a number of its own that its step keeps (`Step.handed`), so that a file that is handed back
twice is told line by line, and may be recorded again once the steps were taken back.
"""

from __future__ import annotations

import datetime
import json
import zlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, BinaryIO

from sheetplan.app.rack.cut_asked import SAID_BY, CutAsked, Way, refused_at
from sheetplan.app.rack.opened import OpenRack, Refused
from sheetplan.model import Problem
from sheetplan.pages.cut_log_page import pieces_text
from sheetplan.pages.wording import counted
from sheetplan.workbook.safe_text import clean_text

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
        return (head, *(f"  {number}. {_said(line)}" for number, line in enumerate(self.lines, start=1)))


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


def _said(line: CutAsked) -> str:
    told = [
        f"{line.layout}: {counted(line.times or 1, 'sheet')}",
        f"bad {pieces_text(line.bad)}" if line.bad else "",
        f"heat {line.heat}" if line.heat else "",
        f"by {line.by}" if line.by else "",
        f"on {line.date}",
        line.note,
    ]
    return ", ".join(filter(None, told))
