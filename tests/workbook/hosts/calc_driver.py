"""Drives a LibreOffice of its own through UNO; run by a Python that has UNO, not by the tests' Python.

``calc_driver.py PROFILE BOOK RUN OUT``: opens the book in a LibreOffice whose profile has the
extension, dispatches the menu entry's address, saves the document as OUT.xlsx and OUT.pdf, and
prints what it saw as JSON.
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


def main(profile, book, run, out):
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
        start = time.monotonic()
        helper = services.createInstanceWithContext("com.sun.star.frame.DispatchHelper", context)
        active = document.CurrentController.ActiveSheet.Name
        seen = {}
        for turn in range(2 if run == "plan" else 1):
            helper.executeDispatch(document.CurrentController.Frame, ENTRY + run, "", 0, ())
            seen[f"seconds {turn + 1}"] = time.monotonic() - start
            start = time.monotonic()
        layouts = document.Sheets.getByName("Layouts")
        seen |= {
            "pictures": layouts.DrawPage.Count,
            "sheets": list(document.Sheets.ElementNames),
            "left on": [active, document.CurrentController.ActiveSheet.Name],
            "said": document.Sheets.getByName("Problems").getCellByPosition(0, 1).getString(),
            "undo": list(document.UndoManager.getAllUndoActionTitles()),
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
