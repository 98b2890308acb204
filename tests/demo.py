"""The demo month as tests want it: as a job, or as a book of its own with its drawings beside it."""

from functools import cache
from pathlib import Path

from sheetplan.app.making.drawings import book_drawings
from sheetplan.app.new import new_book, template_path
from sheetplan.model import Job
from sheetplan.planning.grouping import make_groups
from sheetplan.trade.units import Units
from sheetplan.workbook.reading.book import read_tables
from sheetplan.workbook.reading.job import read_job
from sheetplan.workbook.reading.parts import Drawings


@cache
def demo_job(units: Units = Units.INCH) -> Job:
    """The month as the shipped book says it; its drawings stand beside that book."""
    job, problems = read_job(read_tables(template_path(demo=True, units=units)), demo_drawings(units))
    assert job is not None
    assert (*problems, *make_groups(job)[1]) == ()
    return job


@cache
def demo_drawings(units: Units = Units.INCH) -> Drawings:
    """The reports on the demo's drawings, for those who read its tables themselves."""
    book = template_path(demo=True, units=units)
    return book_drawings(read_tables(book), book)


def demo_book(folder: Path, units: Units = Units.INCH, name: str = "harbour.xlsx") -> Path:
    """A demo book in a folder, as `sheetplan new --demo` makes it."""
    return new_book(folder / name, demo=True, units=units)
