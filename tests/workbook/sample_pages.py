"""Result pages made up for tests: every kind of column, links, pictures, long and awkward text."""

from __future__ import annotations

from sheetplan.pages.values import (
    PROBLEM_KEY,
    PROBLEM_PLACE,
    PROBLEM_SAID,
    PROBLEM_TABLE,
    PROBLEM_TURN,
    PROBLEM_WHAT,
    Column,
    Kind,
    Link,
    Picture,
    ResultPage,
    ResultTable,
)
from tests.nasty.worst_book import png

LONG = (
    "The gap on the page Cutting is smaller than the kerf, so two parts would share one cut; "
    "make the gap at least as wide as the kerf, better three times as wide. "
) * 3


def plan_page(title: str = "Plan of the month", rows: int = 12) -> ResultPage:
    """A page with one table that has a total, and lines above it."""
    table = ResultTable(
        "PlanSheets",
        (
            Column("Gauge", width=22),
            Column("Sheets", Kind.COUNT, 9),
            Column("Sheet length", Kind.LENGTH, 11),
            Column("Cut length", Kind.TRAVEL, 11),
            Column("Area", Kind.AREA, 10),
            Column("Weight", Kind.WEIGHT, 11),
            Column("Cost", Kind.MONEY, 12),
            Column("Yield", Kind.SHARE, 9),
            Column("Hours", Kind.HOURS, 9),
            Column("Note", width=30, wrap=True),
        ),
        tuple(
            (
                f"mild steel {number} ga",
                number,
                2438.4,
                123456.0 * number,
                2.97e6 * number,
                58.5 * number,
                1234567.891 * number,
                0.8123,
                1.25,
                LONG if number == 3 else "=1+1 is text here",
            )
            for number in range(1, rows + 1)
        ),
        caption="By gauge",
        total=("All gauges", 78, None, 9.6e6, 2.3e8, 4563.0, 96296296.5, 0.8123, 15.0, None),
    )
    return ResultPage("Plan", title, ("Plan KWXTR of 2026-05-04.", LONG), (table,))


def layouts_page(count: int = 6, colour: tuple[int, int, int] = (60, 120, 110)) -> ResultPage:
    """A page with a picture and links in each row."""
    table = ResultTable(
        "LayoutList",
        (
            Column("Layout", width=9),
            Column("Picture", Kind.PICTURE, 20),
            Column("Parts", width=40, wrap=True),
            Column("Drawing", width=22),
            Column("First part", width=14),
        ),
        tuple(
            (
                f"L{number}",
                Picture(png(480, 240, colour, dots_per_metre=5669), 240.0, 120.0, f"Layout L{number}"),
                f"{number} x CB-100, {2 * number} x CB-110\n007\n1E5",
                Link(f"L{number} drawing.dxf", f"layouts/plan-KWXTR/L{number} drawing.dxf"),
                Link("CB-100", "#Parts!A6"),
            )
            for number in range(1, count + 1)
        ),
    )
    return ResultPage("Layouts", "Layouts", ("Cut each layout as often as it says.",), (table,))


def made_page() -> ResultPage:
    """A page with two tables under one another that share its columns."""
    orders = ResultTable(
        "MadeOrders",
        (Column("Order", width=12), Column("Asked", Kind.COUNT, 8), Column("Made", Kind.COUNT, 8)),
        (("H-2041", 12, 12), ("-2042", 20, 18)),
        caption="Orders",
    )
    spares = ResultTable(
        "MadeSpares", (Column("Part", width=26), Column("Pieces", Kind.COUNT, 8)), (), caption="Spares"
    )
    return ResultPage("Made", "Made", (), (orders, spares))


def problems_page(*messages: tuple[str, str]) -> ResultPage:
    """The page that the message column of the input pages looks at."""
    rows = tuple((key, what, "Put it right.", f"{key}/1", None, None) for key, what in messages)
    table = ResultTable(
        PROBLEM_TABLE,
        (
            Column(PROBLEM_KEY, width=14),
            Column(PROBLEM_WHAT, width=60, wrap=True),
            Column("What to do", width=40, wrap=True),
            Column(PROBLEM_TURN, width=14),
            Column(PROBLEM_PLACE, Kind.COUNT, 8),
            Column(PROBLEM_SAID, width=14),
        ),
        rows,
    )
    return ResultPage("Problems", "Problems", () if rows else ("No problems were found.",), (table,))


def all_pages() -> tuple[ResultPage, ...]:
    """One of each."""
    return plan_page(), layouts_page(), made_page(), problems_page(("Parts!7", "+Width is missing"))
