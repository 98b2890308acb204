"""Holds a LibreOffice of its own and does in it what a person would; run by a Python that has UNO.

``calc_session.py PROFILE``: starts LibreOffice without a screen, then takes one JSON list a line from
standard input, the name of a deed and what it needs, and answers each with one line of JSON. Runs are
started by the addresses of their menu entries, and typing goes through the window's own key events.
"""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
import traceback

import uno
from com.sun.star.awt import KeyEvent
from com.sun.star.beans import PropertyValue

ENTRY = "service:sheetplan.calc.Run?"
RETURN_KEY = 1280
VALUE_SHOWN = 1
FORMULAS = 16
STARTS, BEGINS, LAST_WORD, STEP = 60.0, 10.0, 30.0, 0.05


def option(name, value):
    made = PropertyValue()
    made.Name, made.Value = name, value
    return made


def children_of(pid):
    """Processes that a process started, and theirs."""
    parents = {}
    for name in os.listdir("/proc"):
        with contextlib.suppress(OSError, ValueError):
            with open(f"/proc/{name}/stat", encoding="utf-8") as file:
                fields = file.read().rpartition(")")[2].split()
            if fields[0] != "Z":
                parents[int(name)] = int(fields[1])
    found, new = set(), {pid}
    while new:
        new = {child for child, parent in parents.items() if parent in new} - found
        found |= new
    return found


def kill(group):
    """End a process and all that it started."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(group, signal.SIGKILL)


class Session:
    """One LibreOffice and the document that is looked at."""

    def __init__(self, profile):
        pipe = f"sheetplan{os.getpid()}"
        self.office = subprocess.Popen([
            "soffice", f"-env:UserInstallation=file://{profile}", "--headless", "--norestore", "--nologo",
            f"--accept=pipe,name={pipe};urp;",
        ], start_new_session=True, stdout=subprocess.DEVNULL)  # fmt: skip
        local = uno.getComponentContext()
        resolver = local.ServiceManager.createInstanceWithContext(
            "com.sun.star.bridge.UnoUrlResolver", local
        )
        until = time.monotonic() + STARTS
        while True:
            try:
                self.context = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
                break
            except Exception:
                if time.monotonic() > until:
                    kill(self.office.pid)
                    raise SystemExit("LibreOffice did not start") from None
                time.sleep(0.1)
        self.desktop = self.service("com.sun.star.frame.Desktop")
        self.helper = self.service("com.sun.star.frame.DispatchHelper")
        self.document = None
        self.itself = None

    def service(self, name):
        return self.context.ServiceManager.createInstanceWithContext(name, self.context)

    def program(self):
        """The process of the program itself, below the one that was started; it stays the same."""
        if self.itself is None:
            for pid in children_of(self.office.pid):
                with contextlib.suppress(OSError), open(f"/proc/{pid}/comm", encoding="utf-8") as file:
                    if file.read().startswith("soffice.bin"):
                        self.itself = pid
        return self.itself or self.office.pid

    # deeds

    def open(self, path, options=()):
        made = tuple(option(name, value) for name, value in options)
        self.document = self.desktop.loadComponentFromURL(uno.systemPathToFileUrl(path), "_blank", 0, made)
        return self.document is not None

    def ask(self, run):
        """Choose a menu entry; the run goes on by itself. Whether it began."""
        self.dispatch(ENTRY + run)
        until = time.monotonic() + BEGINS
        while not self.working() and time.monotonic() < until:
            time.sleep(STEP)
        return time.monotonic() < until

    def dispatch(self, address, *options):
        frame = self.document.CurrentController.Frame
        made = tuple(option(name, value) for name, value in options)
        self.helper.executeDispatch(frame, address, "", 0, made)

    def working(self):
        """How many processes work for the program."""
        return len(children_of(self.program()))

    def wait(self, seconds=240.0):
        """Wait for the end of the runs; whether they ended in that time."""
        until = time.monotonic() + seconds
        while self.working():
            if time.monotonic() > until:
                return False
            time.sleep(STEP)
        return True

    def run(self, run):
        """Choose a menu entry and wait until the run is over; what Start says then."""
        if run == "cut":
            self.mark()
        self.ask("cut" if run == "record" else run)
        self.wait()
        until = time.monotonic() + LAST_WORD
        while "under way." in self.said() and time.monotonic() < until:
            time.sleep(STEP)  # the process is gone, its last message not yet on the page
        return self.said()

    def said(self):
        names = self.document.NamedRanges
        if not names.hasByName("sheetplan_said"):
            return ""
        return names.getByName("sheetplan_said").ReferredCells.getCellByPosition(0, 0).getString()

    def mark(self, what=1):
        """Write how often the first layout was cut."""
        sheet = self.document.Sheets.getByName("Layouts")
        found = sheet.createSearchDescriptor()
        found.SearchString, found.SearchWords = "Cut now", True  # the whole cell, not the lines above
        head = sheet.findFirst(found)
        if head is not None:  # no plan, nothing to mark
            sheet.getCellByPosition(head.CellAddress.Column, head.CellAddress.Row + 1).setValue(what)

    def cell(self, page, address):
        return self.document.Sheets.getByName(page).getCellRangeByName(address)

    def shown(self, page, address):
        return self.cell(page, address).getCellByPosition(0, 0).getString()

    def put(self, page, address, value):
        one = self.cell(page, address).getCellByPosition(0, 0)
        (one.setString if isinstance(value, str) else one.setValue)(value)

    def place(self, page, heading):
        """Column and row, from 0, of a heading."""
        for number, row in enumerate(self.held(page)[1]):
            if heading in row:
                return row.index(heading), number
        raise ValueError(f"{page} has no {heading}")

    def without(self, heading):
        """Take the formulas under a heading away on every page: hundreds, worked out at each entry."""
        for sheet in self.document.Sheets:
            found = sheet.createSearchDescriptor()
            found.SearchString, found.SearchWords = heading, True
            head = sheet.findFirst(found)
            if head is not None:
                column, row = head.CellAddress.Column, head.CellAddress.Row + 1
                sheet.getCellRangeByPosition(column, row, column, row + 400).clearContents(FORMULAS)

    def cell_text(self, page, heading, number=1):
        """What a person would type for what stands in a row (from 1) under a heading."""
        column, row = self.place(page, heading)
        return self.document.Sheets.getByName(page).getCellByPosition(column, row + number).FormulaLocal

    def entered(self, page, heading, beside, texts, number=1):
        """Enter texts in one cell as if typed: what it then holds, and the number in a column beside it."""
        sheet = self.document.Sheets.getByName(page)
        column, row = self.place(page, heading)
        other, _ = self.place(page, beside)
        cell, live = (sheet.getCellByPosition(place, row + number) for place in (column, other))
        found = []
        for text in texts:
            cell.FormulaLocal = text
            is_number = cell.Type.value == "VALUE"
            shows_number = live.FormulaResultType2 == VALUE_SHOWN and not live.getError()
            found.append([cell.Value if is_number else cell.String, live.Value if shows_number else None])
        return found

    def setting(self, name, value):
        """Write a value of the page Settings."""
        row = next(number for number, row in enumerate(self.texts("Settings"), 1) if row[0] == name)
        self.put("Settings", f"B{row}", value)

    def held(self, page):
        """A page and all that its cells hold, row by row: in one message, numbers as such."""
        sheet = self.document.Sheets.getByName(page)
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        end = cursor.RangeAddress
        return sheet, sheet.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow).getDataArray()

    def texts(self, page):
        """All that a page shows, row by row."""
        sheet, held = self.held(page)
        # Each cell asked by itself takes a message there and back; only numbers are shown otherwise.
        return [
            [
                one if isinstance(one, str) else sheet.getCellByPosition(column, row).getString()
                for column, one in enumerate(line)
            ]
            for row, line in enumerate(held)
        ]

    def typed(self, page, address, text, leave=True):
        """Type into a cell as a person does, key by key; ``leave`` ends with the return key."""
        controller = self.document.CurrentController
        sheet = self.document.Sheets.getByName(page)
        controller.setActiveSheet(sheet)
        controller.select(sheet.getCellRangeByName(address))
        self.keys(text)
        if leave:
            self.keys("\n")

    def keys(self, text):
        """Press keys in the window."""
        robot = self.service("com.sun.star.awt.Toolkit")
        for letter in text:
            key = KeyEvent()
            key.Source = self.document.CurrentController.Frame.ComponentWindow
            if letter == "\n":
                key.KeyCode, key.KeyChar = RETURN_KEY, "\r"
            else:
                key.KeyChar = letter
            robot.keyPress(key)
            robot.keyRelease(key)
        time.sleep(0.05)

    def undo(self, times):
        for _ in range(times):
            self.dispatch(".uno:Undo")

    def redo(self, times):
        for _ in range(times):
            self.dispatch(".uno:Redo")

    def steps(self):
        """What can be undone."""
        return list(self.document.UndoManager.getAllUndoActionTitles())

    def modified(self):
        return self.document.isModified()

    def drawn(self, page):
        """How many pictures and charts lie on a page."""
        sheet = self.document.Sheets.getByName(page)
        return [sheet.DrawPage.Count, sheet.Charts.Count]

    def save_as(self, path):
        self.document.storeAsURL(
            uno.systemPathToFileUrl(path), (option("FilterName", "Calc MS Excel 2007 XML"),)
        )

    def save_copy(self, path, name="Calc MS Excel 2007 XML"):
        self.document.storeToURL(uno.systemPathToFileUrl(path), (option("FilterName", name),))

    def save(self):
        self.document.store()

    def reload(self):
        self.dispatch(".uno:Reload")
        self.document = self.desktop.CurrentComponent or next(iter(self.desktop.Components))

    def close(self):
        """Close the document, as its window's button does."""
        document, self.document = self.document, None
        if document is None:
            return True
        for _ in range(600):
            try:
                document.close(True)
                return True
            except Exception as error:
                if "Disposed" in type(error).__name__:
                    return True
                time.sleep(0.05)
        return False

    def alive(self):
        return self.office.poll() is None

    def pause(self, seconds):
        time.sleep(seconds)

    def formats(self, page, address):
        """How numbers of a cell are written: its format, and the language that the format is kept in."""
        one = self.cell(page, address).getCellByPosition(0, 0)
        held = self.document.NumberFormats.getByKey(one.NumberFormat)
        return [held.FormatString, held.Locale.Language]

    def menu(self):
        """The addresses behind the extension's menu entries, as LibreOffice has registered them."""
        provider = self.service("com.sun.star.configuration.ConfigurationProvider")
        node = option("nodepath", "/org.openoffice.Office.Addons/AddonUI/OfficeMenuBar")
        root = provider.createInstanceWithArguments(
            "com.sun.star.configuration.ConfigurationAccess", (node,)
        )
        if not root.hasByName("sheetplan.calc"):
            return []
        menu = root.getByName("sheetplan.calc").getByName("Submenu")
        return [menu.getByName(name).URL for name in menu.ElementNames]

    def on_page(self):
        """The page that is looked at."""
        return self.document.CurrentController.ActiveSheet.Name

    def protect(self, page):
        self.document.Sheets.getByName(page).protect("secret")

    def seconds(self):
        """Processor time of the program itself, and of the runs that it started and that have ended."""
        with open(f"/proc/{self.program()}/stat", encoding="utf-8") as file:
            fields = file.read().rpartition(")")[2].split()
        ticks = os.sysconf("SC_CLK_TCK")
        own, ended = fields[11:13], fields[13:15]
        return [sum(map(int, own)) / ticks, sum(map(int, ended)) / ticks]

    def end(self):
        with contextlib.suppress(Exception):  # the line goes dead with the program
            self.desktop.terminate()
        self.office.wait(timeout=60)


def main(profile):
    session = Session(profile)
    print(json.dumps({"ready": session.office.pid}), flush=True)
    try:
        for line in sys.stdin:
            deed, *needed = json.loads(line)
            try:
                answer = {"gave": getattr(session, deed)(*needed)}
            except Exception as error:
                answer = {"failed": f"{type(error).__name__}: {error}", "trace": traceback.format_exc()}
            print(json.dumps(answer, default=str), flush=True)
            if deed == "end":
                return
    finally:
        kill(session.office.pid)


if __name__ == "__main__":
    main(*sys.argv[1:])
