"""Whether a book and the folder rack beside it tell one history, and which steps of a rack are a book's own.

A rack may serve several books, a book may be copied, moved, renamed or put back from yesterday: step numbers,
names and places do not tell. Each step bears its book's mark, and the book's logs say in a line how their
history stands (`rack.step.Seal`). Where the two differ, one sentence says how, the same whichever command
asks; nothing is planned or recorded on it.

Choices
-------
Books of earlier versions have no seal: theirs are the steps that bear the book's name, or that they list.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.rack.folder import RackUnreadable, rack_of, read_steps
from sheetplan.model import Problem, Weight
from sheetplan.pages.values import ResultPage
from sheetplan.rack.step import Seal, Step, new_mark, seal_of
from sheetplan.workbook.columns import CUT_LOG, REMNANTS, STOCK_LOG
from sheetplan.workbook.reading.book import PLAN_PAGE
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, RawTable


def steps_listed(tables: BookTables) -> frozenset[int]:
    """Numbers of the steps on the book's pages Cut log and Stock log."""
    return cuts_listed(tables) | _listed(tables, STOCK_LOG)


def cuts_listed(tables: BookTables) -> frozenset[int]:
    """Numbers of the steps on the page Cut log alone."""
    return _listed(tables, CUT_LOG)


def _listed(tables: BookTables, page: InputPage) -> frozenset[int]:
    table = tables.tables.get(page.name)
    return frozenset(
        int(value) for value in column_of(table, "Step") if isinstance(value, int | float)
    ) if table else frozenset()  # fmt: skip


def column_of(table: RawTable, heading: str) -> list[object]:
    """Values of one column."""
    wanted = normal(heading)
    return [cell.value for row in table.rows for name, cell in row.cells.items() if normal(name) == wanted]


def sealed(tables: BookTables) -> Seal | None:
    """What the book says of its own history: the log that was written last, else the page Plan."""
    logs = [tables.seals[page.name] for page in (CUT_LOG, STOCK_LOG) if page.name in tables.seals]
    if logs:
        return max(logs, key=lambda seal: seal.last)
    return tables.seals.get(PLAN_PAGE)


def own_steps(steps: Mapping[int, Step], tables: BookTables, book: Path) -> dict[int, Step]:
    """The steps of a rack that are this book's, by number."""
    seal, listed = sealed(tables), steps_listed(tables)

    def is_own(step: Step) -> bool:
        if seal is not None and step.of:
            return step.of == seal.mark
        shown = bool(tables.plan) and step.plan == tables.plan
        return step.number in listed or step.book == book.name or shown

    return {number: step for number, step in steps.items() if is_own(step)}


def recorded(steps: Mapping[int, Step], tables: BookTables, book: Path) -> list[Step]:
    """The book's own steps that it lists, by number: all that counts for it."""
    listed = steps_listed(tables)
    return [step for number, step in sorted(own_steps(steps, tables, book).items()) if number in listed]


def mark_of_book(steps: Mapping[int, Step], tables: BookTables, book: Path, data: bytes) -> str:
    """The book's mark; a new one where it has none and no step of it bears one."""
    seal = sealed(tables)
    if seal is not None:
        return seal.mark
    own = own_steps(steps, tables, book).values()
    return next((step.of for step in own if step.of), "") or new_mark(data)


def with_mark(pages: Sequence[ResultPage], book: Path, tables: BookTables) -> tuple[ResultPage, ...]:
    """The pages of a plan, of which Plan bears the book's mark: so a copy is known before anything is cut."""
    try:
        steps = read_steps(rack_of(book))
    except RackUnreadable:
        steps = {}
    # A book that was renamed meanwhile has no bytes here any more: who writes the pages says so.
    data = book.read_bytes() if book.exists() else b""
    line = Seal(mark_of_book(steps, tables, book, data)).line
    return tuple(
        replace(page, notes=(*page.notes, line)) if page.name == PLAN_PAGE else page for page in pages
    )


@dataclass(frozen=True, slots=True)
class Apart:
    """How a book and its rack differ: steps that only the one knows, or that are not the same.

    ``stranger`` is the name of another book, where the rack is that one's; ``gone`` whether there is no
    rack at all.
    """

    only_book: tuple[int, ...] = ()
    only_rack: tuple[int, ...] = ()
    other: tuple[int, ...] = ()
    stranger: str = ""
    gone: bool = False

    @property
    def separate(self) -> bool:
        """Whether nobody can say which of the two is right."""
        return bool(self.stranger or self.other or (self.only_book and self.only_rack))


def apart(steps: Mapping[int, Step], tables: BookTables, book: Path) -> Apart | None:
    """How book and rack differ; None where they tell one history."""
    listed, own, seal = steps_listed(tables), own_steps(steps, tables, book), sealed(tables)
    only_book = tuple(sorted(listed - own.keys()))
    only_rack = tuple(sorted(own.keys() - listed))
    if only_book:
        names = [step.book for number, step in steps.items() if number not in own]
        taken = [steps[number].book for number in only_book if number in steps]
        stranger = taken[0] if taken else names[0] if names and not own else ""
        return Apart(only_book, only_rack, stranger=stranger, gone=not steps and not _is_kept(book))
    if only_rack:
        return Apart(only_rack=only_rack)
    if seal is None or not seal.digest:
        return None
    if not steps and not _is_kept(book):
        return Apart(gone=True)
    if seal.digest == seal_of(seal.mark, own.values()).digest:
        return None
    return Apart(other=_other(own, tables) or (max(own, default=0),))


def _is_kept(book: Path) -> bool:
    """Whether the folder rack beside the book holds anything; a mark of who is at work does not count."""
    rack = rack_of(book)
    return rack.is_dir() and any(not path.name.startswith(".") for path in rack.iterdir())


def _other(steps: Mapping[int, Step], tables: BookTables) -> tuple[int, ...]:
    """Steps of which the page Cut log says something else than the rack."""
    table = tables.tables.get(CUT_LOG.name)
    found = []
    for row in table.rows if table else ():
        cells = {normal(name): cell.value for name, cell in row.cells.items()}
        number = cells.get("step")
        step = steps.get(int(number)) if isinstance(number, int | float) else None
        said = (cells.get("plan"), cells.get("layout"), cells.get("times cut"))
        if step is not None and said != (step.plan, step.layout, step.times):
            found.append(step.number)
    return tuple(found)


def apart_problem(found: Apart, book: Path, steps: Mapping[int, Step]) -> Problem:
    """The one sentence on how book and rack differ, and what to do."""
    what, remedy = _said(found, book, steps)
    return Problem(REMNANTS.name, None, None, what, remedy, Weight.STOPS)


def _said(found: Apart, book: Path, steps: Mapping[int, Step]) -> tuple[str, str]:
    name, repair = book.name, f"sheetplan rack {book.name} --repair"
    last = (
        f"If it is lost, run {repair}: it rebuilds what the book and its plans still tell, and says what not."
    )
    if found.stranger:
        return (
            f"The folder rack beside {name} is not its own: it holds steps of {found.stranger}, and not "
            f"{numbers_said(found.only_book)} of {name}'s logs.",
            f"Move {name} back to the folder that its rack lies in, or put its own rack here.",
        )
    if found.gone:
        knows = f"The logs of {name} list {numbers_said(found.only_book)}" if found.only_book else (
            f"The logs of {name} say that it has a folder rack"
        )  # fmt: skip
        return (
            f"{knows}, and beside it is no folder rack that knows {name}: the folder was deleted, or the "
            "book was moved without it.",
            f"Put the folder rack back beside {name}, or move the book back to it. {last}",
        )
    if found.only_book and found.only_rack:
        return (
            f"{name} and its folder rack went separate ways: {numbers_said(found.only_book)} stands in the "
            f"book alone, {numbers_said(found.only_rack)} in the rack alone.",
            "Put back the book that belongs to this rack, or the rack that belongs to this book.",
        )
    if found.only_book:
        return (
            f"The folder rack beside {name} is older than the book: it does not know "
            f"{numbers_said(found.only_book)} of its logs. Or another copy of the book took that back.",
            f"Put the newer folder rack back, or go on with that copy. {last}",
        )
    if found.only_rack:
        books = sorted({steps[number].book for number in found.only_rack} - {name, ""})
        other = f" in {books[0]}" if len(books) == 1 else ""
        return (
            f"{name} is older than its folder rack: {numbers_said(found.only_rack)} was recorded{other} and "
            "is not on its logs. It is a copy, or was put back from one, or a log was changed.",
            f"Go on with the book that has all steps{f', {books[0]}' if other else ''}. If it is to be this "
            f"one, run {repair}: it enters them here. If it is another book that began as a copy, give it a "
            "name of its own and delete its pages Plan, Layouts, Cut log and Stock log.",
        )
    return (
        f"{name} and its folder rack went separate ways: {numbers_said(found.other)} of the book is not the "
        "step that the rack has under that number.",
        "Put back the book that belongs to this rack, or the rack that belongs to this book.",
    )


MOST_NUMBERS = 6
"""Steps that are named; the others are counted."""


def numbers_said(numbers: tuple[int, ...]) -> str:
    """Steps by number.

    >>> numbers_said((3,)), numbers_said((3, 4))
    ('step 3', 'steps 3, 4')
    """
    shown = ", ".join(map(str, numbers[:MOST_NUMBERS]))
    more = f" and {len(numbers) - MOST_NUMBERS} more" if len(numbers) > MOST_NUMBERS else ""
    return f"{'step' if len(numbers) == 1 else 'steps'} {shown}{more}"
