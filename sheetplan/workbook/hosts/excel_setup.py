"""What running from within Excel needs: what of it is here, the file beside the book, and the steps by
hand.
"""

from __future__ import annotations

import importlib.metadata
import importlib.util
import keyword
import os
import platform
import sys
from dataclasses import dataclass
from pathlib import Path

# What running from within Excel needs, and what of it is here.

ADD_IN = "xlwings.xlam"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is needed: what, whether it is here, and what to do if not."""

    what: str
    detail: str
    here: bool


def findings() -> tuple[Finding, ...]:
    """Look at this machine."""
    return (_python(), _excel(), _xlwings(), _add_in())


def add_in_places() -> tuple[Path, ...]:
    """Folders from which Excel loads add-ins on starting, on this system."""
    if sys.platform == "win32":
        return (Path(os.environ.get("APPDATA", "")) / "Microsoft" / "Excel" / "XLSTART",)
    if sys.platform == "darwin":
        office = Path.home() / "Library" / "Group Containers" / "UBF8T346G9.Office"
        return (office / "User Content.localized" / "Startup.localized" / "Excel",)
    return ()


def _python() -> Finding:
    return Finding("Python", f"{sys.executable} ({platform.python_version()})", here=True)


def has_excel() -> bool:
    """Whether this system is one that Excel is made for."""
    return sys.platform in ("win32", "darwin")


def _excel() -> Finding:
    here = has_excel()
    detail = (
        "can be used if Excel is installed"
        if here
        else f"there is no Excel for {platform.system()}; use `sheetplan plan` or the Calc extension"
    )
    return Finding("Excel's system", detail, here)


def _xlwings() -> Finding:
    if importlib.util.find_spec("xlwings") is None:
        return Finding("xlwings", 'not installed: `pip install "sheetplan[excel]"`', here=False)
    return Finding("xlwings", importlib.metadata.version("xlwings"), here=True)


def _add_in() -> Finding:
    places = add_in_places()
    found = next((place / ADD_IN for place in places if (place / ADD_IN).exists()), None)
    if found is not None:
        return Finding("xlwings add-in", str(found), here=True)
    return Finding("xlwings add-in", "not installed: `xlwings addin install`, with Excel closed", here=False)


# The one-line file beside a book that lets the xlwings add-in run it.
#
# The add-in's button runs ``main()`` of a module named like the workbook, so ``jobs.xlsx`` needs a
# ``jobs.py`` in its folder, and the name must be one that Python can import and nothing else has.

STARTER = "from sheetplan.cli.excel import main\n"


def starter_of(book: Path) -> Path:
    """Where the book's starter stands."""
    return book.with_suffix(".py")


def name_fault(book: Path) -> str | None:
    """Say why a book of this name could not be run by the add-in, or None where it could.

    Examples
    --------
    >>> name_fault(Path("november.xlsx"))
    >>> name_fault(Path("jobs of may.xlsx"))
    'The name jobs of may has signs that the add-in cannot use: take letters, digits and underscores.'
    """
    name = book.stem
    if not name.isidentifier():
        return f"The name {name} has signs that the add-in cannot use: take letters, digits and underscores."
    if keyword.iskeyword(name):
        return f"The name {name} is a word of Python itself: take another, such as {name}_jobs."
    try:
        taken = importlib.util.find_spec(name)
    except (ImportError, ValueError):
        taken = None
    if taken is not None and Path(taken.origin or "").resolve() != starter_of(book).resolve():
        return f"The name {name} is taken by a part of Python here: take another, such as {name}_jobs."
    return None


def write_starter(book: Path) -> Path | None:
    """Write the starter beside the book; None where the name does not allow one.

    A file that is there already is left as it is: it may be the planner's own.
    """
    if name_fault(book) is not None:
        return None
    starter = starter_of(book)
    if not starter.exists():
        starter.write_text(STARTER, encoding="utf-8")
    return starter


# What no test here can see, since it needs Excel itself: steps by hand, each with what should be seen.
#
# Excel itself runs on no machine of ours. `sheetplan excel --checklist` prints the steps.

CHECKLIST: tuple[tuple[str, str], ...] = (
    (
        "Run `xlwings addin install`, then start Excel.",
        "A tab xlwings stands at the right end of the ribbon.",
    ),
    (
        "On that tab, in Interpreter, enter the Python that `sheetplan excel` names.",
        "The field shows the path and keeps it after Excel is started again.",
    ),
    (
        "Run `sheetplan new --demo harbour.xlsx` and open the book in Excel.",
        "No repair message; a file harbour.py stands beside the book; Run on Start offers ten runs.",
    ),
    (
        "Put a DXF of another part into the folder drawings, choose Import drawings, press Run main.",
        "The last run counts one new part and names the contact sheet; Parts and Kits have a row of it.",
    ),
    (
        "On Start choose Check the book, press Run main on the tab xlwings.",
        "The last run says that no problems were found; you are still on Start.",
    ),
    (
        "Choose Plan the month, press Run main.",
        "The status bar counts up; then Plan to Problems are filled, and you are on the page where you were.",
    ),
    (
        "Look at Plan and Layouts.",
        "One picture in each row of Layouts and a chart on Plan, sharp at 100%, none over another; a link "
        "opens its drawing.",
    ),
    (
        "Press Run main again and save.",
        "The same number of pictures; no page twice; no repair message on opening.",
    ),
    (
        "Choose Price the quotes, press Run main; then write yes in Order it of Q-102 and press it again.",
        "Quoted shows its tables and a chart, a page for each customer lies in quotes; then Orders has a row "
        "Q-102, and Order it says the day. Plan and Layouts are as before.",
    ),
    (
        "Write 1 in Cut now of the first layout, choose Record cuts, press Run main.",
        "A box names the step and the tag of what is left; Stock, Remnants, Layouts and Cut log show it; the "
        "file's date is now.",
    ),
    (
        "Close the book without saving, open it again, run `sheetplan rack harbour.xlsx` with it closed.",
        "The cut is still there, and the command finds nothing that disagrees.",
    ),
    (
        "Choose Take back the last step, press Run main.",
        "On hand, Remnants and Cut log are as before the cut; the drawing is gone from the folder rack.",
    ),
    (
        "Choose Mark the buy list as ordered, press Run main; then Take a delivery in, press Run main.",
        "Stock: On order goes up and down again, On hand up; Purchases has a row with a date for each size; "
        "the page Stock log lists both steps.",
    ),
    (
        "Cancel an order of which pieces are cut and let another ask for more of its parts; choose Record "
        "finished parts, press Run main.",
        "A box names what the other order was given; the page Finished parts shows the rest as free.",
    ),
    (
        "Write 2026-11 in Month to balance, choose Balance the month, press Run main twice.",
        "Month shows its tables and two charts, not four; the cell still says 2026-11.",
    ),
    (
        "Set an order to done, choose Close the month, press Run main.",
        "A box names the archive; it lies beside the book, the order's row is blank, Cut log is empty.",
    ),
    (
        "On Orders write `ten` in a quantity, choose Plan the month, press Run main.",
        "The row's Message says what is wrong; Problems lists it with a link; a box says there is no plan.",
    ),
    (
        "Name a part 007, an order 3/8 and another =1+1, plan.",
        "They stand on Made and Layouts letter by letter, as text.",
    ),
    (
        "While a plan is under way, make an empty file harbour.stop beside the book.",
        "The run ends within seconds with the best plan so far; the file is gone.",
    ),
    (
        "While a plan is under way, change a quantity on Orders (macOS; Excel for Windows is busy).",
        "A box says that the inputs were changed and nothing was written.",
    ),
    (
        "Filter Orders, select a cell, merge two cells on Kits, check.",
        "Filter and selection are as before; Problems notes the hidden rows and the merged cells.",
    ),
    (
        "Mark the file as read-only, open it, mark a cut and record it.",
        "A box says that Excel could not save the workbook; Stock and Cut log show no cut.",
    ),
    (
        "Protect the page Plan with a password, plan.",
        "A box says in a sentence that Excel would not take the pages; no box with program text.",
    ),
)
"""Step and expected sight, in the order in which they are taken."""
