"""An Excel for tests: an xlwings engine over an openpyxl workbook, as strict as Excel about text.

Registered with xlwings itself, so the code under test runs through xlwings' own objects. Text
written without the hidden apostrophe becomes what Excel would make of it: a number, a date, a
formula.
"""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import xlwings as xw
from openpyxl.drawing.image import Image
from openpyxl.utils import range_boundaries
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.table import Table as PlainTable
from xlwings import base_classes as base

from tests.workbook.hosts.excel_engine_cells import Range

ERRORS = ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!")


class Engine:
    name, type = "sheetplan tests", "desktop"

    def __init__(self) -> None:
        self.apps = Apps(self)

    def clean_value_data(self, data: Any, dates: Any, empty: Any, numbers: Any, err_to_str: bool) -> Any:
        def one(value: Any) -> Any:
            if value is None or value == "":
                return empty
            if isinstance(value, str) and value in ERRORS:
                return value if err_to_str else None
            if isinstance(value, int) and not isinstance(value, bool):
                value = float(value)  # Excel knows no whole numbers
            return numbers(value) if numbers and isinstance(value, float) else value

        return [[one(value) for value in row] for row in data]

    def prepare_xl_data_element(self, value: Any, options: Any) -> Any:
        return "" if value is None or value != value else value


class Apps(base.Apps):
    def __init__(self, engine: Engine) -> None:
        self.engine, self.items = engine, {}

    def keys(self) -> list[int]:
        return list(self.items)

    def add(self, **_: Any) -> App:
        app = App(self.engine, 1000 + len(self.items))
        self.items[app.pid] = app
        return app

    def __iter__(self) -> Iterator[App]:
        return iter(self.items.values())

    def __len__(self) -> int:
        return len(self.items)

    def __getitem__(self, pid: int) -> App:
        return self.items[pid]


class App(base.App):
    visible = display_alerts = enable_events = interactive = True
    screen_updating = True
    api = object()

    def __init__(self, engine: Engine, pid: int) -> None:
        self.engine, self._pid, self._books = engine, pid, Books(self)
        self.alerts: list[str] = []
        self.statuses: list[Any] = []

    pid = property(lambda self: self._pid)
    books = property(lambda self: self._books)
    status_bar = property(lambda self: self.statuses[-1], lambda self, value: self.statuses.append(value))

    def activate(self, steal_focus: bool = False) -> None:
        """Nothing else could be in front."""

    def alert(self, prompt: str, *_: Any) -> str:
        self.alerts.append(prompt)
        return "ok"


class Books(base.Books):
    def __init__(self, app: App) -> None:
        self.app, self.items = app, []

    def __call__(self, key: Any) -> Book:
        found = (
            self.items[key - 1 : key] if isinstance(key, int) else [b for b in self.items if b.name == key]
        )
        if not found:
            raise KeyError(key)
        return found[0]

    def open(self, fullname: str, *_: Any, **__: Any) -> Book:
        book = Book(self.app, openpyxl.load_workbook(fullname, data_only=True), str(fullname))
        book.formulas = formulas_of(fullname, book.plain)
        self.items.append(book)
        return book

    def __len__(self) -> int:
        return len(self.items)

    def __iter__(self) -> Iterator[Book]:
        return iter(self.items)


Formulas = dict[tuple[str, str], tuple[str, Any]]
"""Formula and value by sheet and address."""


def formulas_of(path: str, values: openpyxl.Workbook) -> Formulas:
    book = openpyxl.load_workbook(path)
    return {
        (sheet.title, cell.coordinate): (cell.value, values[sheet.title][cell.coordinate].value)
        for sheet in book.worksheets for row in sheet.iter_rows() for cell in row
        if cell.data_type == "f" and isinstance(cell.value, str)
    }  # fmt: skip


class Book(base.Book):
    def __init__(self, app: App, plain: openpyxl.Workbook, path: str) -> None:
        self._app, self.plain, self.path = app, plain, path
        self.formulas: Formulas = {}

    refuses_saving = ""

    def activate(self) -> None:
        """The only book is in front."""

    def save(self, path: Any = None, password: Any = None) -> None:
        """Save in place, with the formulas behind the values that nobody has overwritten."""
        if self.refuses_saving:
            raise OSError(self.refuses_saving)
        shown = {}
        for (sheet, address), (formula, value) in self.formulas.items():
            cell = self.plain[sheet][address]
            if cell.value == value:
                shown[sheet, address] = value
                cell.value = formula
        images = [image for sheet in self.plain.worksheets for image in sheet._images]
        kept = [image.ref.getvalue() for image in images]
        self.plain.save(self.path)
        for image, data in zip(images, kept, strict=True):
            image.ref = io.BytesIO(data)  # openpyxl closes what it has written
        for (sheet, address), value in shown.items():
            self.plain[sheet][address].value = value

    app = property(lambda self: self._app)
    api = property(lambda self: self.plain)
    name = property(lambda self: os.path.basename(self.path))
    fullname = property(lambda self: self.path)
    sheets = property(lambda self: Sheets(self))
    names = property(lambda self: Names(self, self.plain.defined_names, ""))


class Sheets(base.Sheets):
    def __init__(self, book: Book) -> None:
        self.book = book

    active = property(lambda self: Sheet(self.book, self.book.plain.active))

    def __call__(self, key: Any) -> Sheet:
        try:
            sheets = self.book.plain
            return Sheet(self.book, sheets.worksheets[key - 1] if isinstance(key, int) else sheets[key])
        except IndexError:
            raise KeyError(key) from None

    def __len__(self) -> int:
        return len(self.book.plain.worksheets)

    def __iter__(self) -> Iterator[Sheet]:
        return (Sheet(self.book, sheet) for sheet in self.book.plain.worksheets)

    def add(self, before: Any = None, after: Any = None, name: str | None = None) -> Sheet:
        sheets = self.book.plain.worksheets
        place = sheets.index(before.plain) if after is None else sheets.index(after.plain) + 1
        made = self.book.plain.create_sheet(name, place)
        self.book.plain.active = made  # Excel goes to a new sheet
        return Sheet(self.book, made)


class Sheet(base.Sheet):
    def __init__(self, book: Book, plain: Any) -> None:
        self._book, self.plain = book, plain

    api = property(lambda self: self.plain)
    book = property(lambda self: self._book)
    name = property(lambda self: self.plain.title, lambda self, value: setattr(self.plain, "title", value))
    index = property(lambda self: self._book.plain.worksheets.index(self.plain) + 1)
    names = property(lambda self: Names(self._book, self.plain.defined_names, f"{self.plain.title}!"))
    pictures = property(lambda self: Pictures(self))
    tables = property(lambda self: Tables(self))
    cells = property(lambda self: Range(self, 1, 1, 1048576, 16384))
    used_range = property(lambda self: Range(self, 1, 1, self.plain.max_row, self.plain.max_column))

    def activate(self) -> None:
        self._book.plain.active = self.plain

    def range(self, first: Any, last: Any = None) -> Range:
        if isinstance(first, Range) and last is None:
            return first
        if isinstance(first, tuple):
            last = last or first
            return Range(self, first[0], first[1], last[0], last[1])
        if isinstance(first, Range):
            return Range(self, first.r, first.c, last.r2, last.c2)
        left, top, right, bottom = range_boundaries(first.replace("$", ""))
        return Range(self, top, left, bottom, right)

    def clear(self) -> None:
        assert not self.plain.tables, "Excel keeps a table whose cells are cleared"
        for block in list(self.plain.merged_cells.ranges):
            self.plain.unmerge_cells(str(block))
        self.plain._cells.clear()
        self.plain._hyperlinks.clear()


class Names(base.Names):
    def __init__(self, book: Book, plain: Any, prefix: str) -> None:
        self.book, self.plain, self.prefix = book, plain, prefix

    def __len__(self) -> int:
        return len(self.plain)

    def __call__(self, key: Any) -> Name:
        return Name(self, list(self.plain)[key - 1] if isinstance(key, int) else key)

    def contains(self, key: str) -> bool:
        return key in self.plain

    def add(self, name: str, refers_to: str) -> Name:
        assert refers_to.startswith("=")
        self.plain[name] = DefinedName(name, attr_text=refers_to[1:])
        return Name(self, name)


class Name(base.Name):
    def __init__(self, names: Names, key: str) -> None:
        self.names, self.key = names, key

    name = property(lambda self: self.names.prefix + self.key)
    refers_to = property(
        lambda self: "=" + self.names.plain[self.key].attr_text,
        lambda self, value: setattr(self.names.plain[self.key], "attr_text", value[1:]),
    )

    @property
    def refers_to_range(self) -> Range:
        page, _, cells = self.names.plain[self.key].attr_text.rpartition("!")
        return Sheets(self.names.book)(page.strip("'")).range(cells)


class Collection(base.Collection):
    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet

    parent = property(lambda self: self.sheet)

    def items(self) -> list[Any]:
        raise NotImplementedError

    def __len__(self) -> int:
        return len(self.items())

    def __iter__(self) -> Iterator[Any]:
        return iter(self.items())

    def __contains__(self, key: str) -> bool:
        return any(item.name == key for item in self.items())

    def __call__(self, key: Any) -> Any:
        if isinstance(key, int):
            return self.items()[key - 1]
        return next(item for item in self.items() if item.name == key)


class Pictures(Collection, base.Pictures):
    def items(self) -> list[Any]:
        return [Picture(self.sheet, image) for image in self.sheet.plain._images]

    def add(self, filename: str, *rest: Any, **more: Any) -> Picture:
        # The file may go as soon as the picture is in, so its bytes are taken here.
        image = Image(io.BytesIO(Path(filename).read_bytes()))
        image.name = f"Picture {len(self) + 1}"
        self.sheet.plain._images.append(image)
        names = ("link_to_file", "save_with_document", "left", "top", "width", "height")
        image.place = dict(zip(names, rest, strict=False)) | more
        return Picture(self.sheet, image)


class Picture(base.Picture):
    def __init__(self, sheet: Sheet, image: Any) -> None:
        self.sheet, self.image = sheet, image

    parent = property(lambda self: self.sheet)
    name = property(
        lambda self: getattr(self.image, "name", "Picture"),
        lambda self, value: setattr(self.image, "name", value),
    )
    left = property(lambda self: self.image.place["left"])
    top = property(lambda self: self.image.place["top"])
    width = property(lambda self: self.image.place["width"])
    height = property(lambda self: self.image.place["height"])
    lock_aspect_ratio = True

    def delete(self) -> None:
        self.sheet.plain._images.remove(self.image)


class Tables(Collection, base.Tables):
    def items(self) -> list[Any]:
        return [Table(self.sheet, table) for table in self.sheet.plain.tables.values()]

    def add(self, source: Any = None, name: str | None = None, has_headers: bool = True, **_: Any) -> Table:
        block = source.impl
        headings = [cell.value for cell in next(block._rows())]
        assert all(isinstance(h, str) and h for h in headings)
        assert len({h.lower() for h in headings}) == len(headings)
        for sheet in self.sheet.book.plain.worksheets:
            assert name not in sheet.tables, f"Excel has a table {name} already"
        made = PlainTable(displayName=name, ref=block.address.replace("$", ""))
        made._initialise_columns()
        for column, heading in zip(made.tableColumns, headings, strict=True):
            column.name = heading
        self.sheet.plain.add_table(made)
        return Table(self.sheet, made)


class Table(base.Table):
    def __init__(self, sheet: Sheet, plain: PlainTable) -> None:
        self.sheet, self.plain = sheet, plain

    parent = property(lambda self: self.sheet)
    name = property(lambda self: self.plain.name)
    range = property(lambda self: self.sheet.range(self.plain.ref))
    show_headers = property(lambda self: self.plain.headerRowCount != 0)
    show_totals = property(lambda self: bool(self.plain.totalsRowCount))
    api = property(lambda self: self)

    @property
    def header_row_range(self) -> Range:
        whole = self.range
        return Range(self.sheet, whole.r, whole.c, whole.r, whole.c2)

    def resize(self, block: Any) -> None:
        self.plain.ref = block.impl.address.replace("$", "")
        if self.plain.autoFilter is not None:
            self.plain.autoFilter.ref = self.plain.ref

    def Delete(self) -> None:
        del self.sheet.plain.tables[self.plain.displayName]


def opened(path: Path) -> xw.Book:
    """Open a book in this Excel."""
    engine = xw.Engine(impl=Engine())
    if engine.name not in [e.name for e in xw.engines]:
        xw.engines.add(engine)
    xw.engines.active = engine
    app = engine.apps.add()
    return app.books.open(str(path))
