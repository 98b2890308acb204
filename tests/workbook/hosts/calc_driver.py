"""Drives a LibreOffice of its own through UNO; run by a Python that has UNO, not by the tests' Python.

``calc_driver.py PROFILE BOOK RUNS OUT``: opens the book in a LibreOffice whose profile has the
extension, dispatches the addresses of some menu entries in turn (words with commas between), saves a
copy of the document as OUT.xlsx and OUT.pdf, and prints what it saw as JSON. Before a cut the first
layout is marked, as a person would.
"""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time

import uno
from com.sun.star.beans import PropertyValue

ENTRY = "service:sheetplan.calc.Run?"


def option(name, value):
    made = PropertyValue()
    made.Name, made.Value = name, value
    return made


def connected(pipe):
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
    for _ in range(300):
        try:
            return resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except Exception:
            time.sleep(0.2)
    raise SystemExit("LibreOffice did not start")


def main(profile, book, runs, out):
    pipe = f"sheetplan{os.getpid()}"
    office = subprocess.Popen([
        "soffice", f"-env:UserInstallation=file://{profile}", "--headless", "--norestore", "--nologo",
        f"--accept=pipe,name={pipe};urp;",
    ], start_new_session=True)  # fmt: skip
    try:
        context = connected(pipe)
        services = context.ServiceManager
        desktop = services.createInstanceWithContext("com.sun.star.frame.Desktop", context)
        document = desktop.loadComponentFromURL(uno.systemPathToFileUrl(book), "_blank", 0, ())
        menu = entries(context)
        helper = services.createInstanceWithContext("com.sun.star.frame.DispatchHelper", context)
        active = document.CurrentController.ActiveSheet.Name
        turns = []
        for run in runs.split(","):
            if run == "cut":
                mark(document)
            start, (host, ran) = time.monotonic(), cpu_seconds(office.pid)
            helper.executeDispatch(document.CurrentController.Frame, ENTRY + run, "", 0, ())
            host_after, ran_after = cpu_seconds(office.pid)
            said = document.NamedRanges.getByName("sheetplan_said").ReferredCells
            turns.append(
                {
                    "run": run,
                    "seconds": time.monotonic() - start,
                    "host seconds": host_after - host,
                    "run seconds": ran_after - ran,
                    "said": said.getCellByPosition(0, 0).getString(),
                    "modified": document.isModified(),
                    "undo": list(document.UndoManager.getAllUndoActionTitles()),
                    "pictures": document.Sheets.getByName("Layouts").DrawPage.Count,
                    "charts": document.Sheets.getByName("Month").Charts.Count,
                    "month shapes": document.Sheets.getByName("Month").DrawPage.Count,
                }
            )
        seen = {
            "turns": turns,
            "sheets": list(document.Sheets.ElementNames),
            "left on": [active, document.CurrentController.ActiveSheet.Name],
            "menu": menu,
        }
        document.storeToURL(
            uno.systemPathToFileUrl(out + ".xlsx"), (option("FilterName", "Calc MS Excel 2007 XML"),)
        )
        document.storeToURL(uno.systemPathToFileUrl(out + ".pdf"), (option("FilterName", "calc_pdf_Export"),))
        document.close(False)
        print(json.dumps(seen))
        with contextlib.suppress(Exception):  # the line goes dead with the program
            desktop.terminate()
        office.wait(timeout=60)
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(office.pid, signal.SIGKILL)


def mark(document):
    """Write how often the first layout was cut."""
    layouts = document.Sheets.getByName("Layouts")
    found = layouts.createSearchDescriptor()
    found.SearchString, found.SearchWords = "Cut now", True  # the whole cell, not the lines above
    head = layouts.findFirst(found)
    if head is None:
        return  # no plan, nothing to mark
    layouts.getCellByPosition(head.CellAddress.Column, head.CellAddress.Row + 1).setValue(1)


def cpu_seconds(leader):
    """Processor time of LibreOffice itself, and of the runs that it started and that have ended."""
    own, runs = 0, 0
    for name in os.listdir("/proc"):
        with contextlib.suppress(OSError, ValueError):
            with open(f"/proc/{name}/stat", encoding="utf-8") as file:
                text = file.read()
            program, fields = text[text.index("(") + 1 : text.rindex(")")], text.rpartition(")")[2].split()
            if int(fields[3]) == leader and program.startswith(("soffice", "oosplash")):
                own += int(fields[11]) + int(fields[12])
                runs += int(fields[13]) + int(fields[14])
    ticks = os.sysconf("SC_CLK_TCK")
    return own / ticks, runs / ticks


def entries(context):
    """The addresses behind the extension's menu entries, as LibreOffice has registered them."""
    provider = context.ServiceManager.createInstanceWithContext(
        "com.sun.star.configuration.ConfigurationProvider", context
    )
    node = option("nodepath", "/org.openoffice.Office.Addons/AddonUI/OfficeMenuBar")
    root = provider.createInstanceWithArguments("com.sun.star.configuration.ConfigurationAccess", (node,))
    if not root.hasByName("sheetplan.calc"):
        return []
    menu = root.getByName("sheetplan.calc").getByName("Submenu")
    return [menu.getByName(name).URL for name in menu.ElementNames]


if __name__ == "__main__":
    main(*sys.argv[1:])
