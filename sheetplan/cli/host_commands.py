"""Commands that bring the tool into a spreadsheet program: `excel` and `calc`."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from sheetplan.cli.commands import app
from sheetplan.cli.printing import say


class CalcStep(StrEnum):
    """What to do with the Calc extension."""

    INSTALL = "install"
    REMOVE = "remove"


@app.command(epilog="Example:  sheetplan excel --checklist")
def excel(
    book: Annotated[
        Path | None,
        typer.Argument(metavar="BOOK.xlsx", help="Also write this book's starter.", show_default=False),
    ] = None,
    *,
    checklist: Annotated[
        bool, typer.Option("--checklist", help="Also list what to look at by hand, step by step.")
    ] = False,
) -> None:
    """Say what runs from within Excel need and which of it is here."""
    from sheetplan.workbook.hosts.excel_setup import CHECKLIST, findings, name_fault, write_starter

    for finding in findings():
        say(f"{'yes' if finding.here else 'no ':4}{finding.what}: {finding.detail}")
    say()
    say("A book jobs.xlsx needs a starter jobs.py beside it: `sheetplan new` writes it where there is Excel,")
    say("`sheetplan excel jobs.xlsx` anywhere. Run main then does the run that the page Start names.")
    if book is not None:
        say(name_fault(book) or f"Made {write_starter(book)}")
    if not checklist:
        say("`sheetplan excel --checklist` lists what to look at by hand.")
        return
    for number, (step, sight) in enumerate(CHECKLIST, start=1):
        say()
        say(f"{number:2}. {step}")
        say(f"    Seen: {sight}")


@app.command(epilog="Example:  sheetplan calc install")
def calc(
    step: Annotated[CalcStep, typer.Argument(help="Bring them in, or take them out.", show_default=False)],
) -> None:
    """Bring the runs into LibreOffice Calc's menu, or take them out."""
    from sheetplan.workbook.hosts.calc import install, remove

    answer = install() if step is CalcStep.INSTALL else remove()
    say(answer.sentence)
    if answer.code:
        raise typer.Exit(answer.code)
