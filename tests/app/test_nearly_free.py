"""How many more fit on sheets that are cut anyway, whatever was asked for."""

from __future__ import annotations

import datetime
import math
from dataclasses import replace

from sheetplan.app.quote_plans import MOST_MORE, also_nearly_free, nearly_free, planned_with
from sheetplan.model import Job, Order, Plan, Settings, rectangle
from sheetplan.model.job import QuoteLine
from sheetplan.money.quoting import NearlyFree, Priced, Quoted
from sheetplan.pages.book.quoted import quoted_page
from sheetplan.planning import RunOptions
from sheetplan.planning.whatif.fits import RoundUp
from tests.money.bookmaking import RULE, SHEET, STEEL, parts

OPTIONS = RunOptions(0.2, 1)


def planned(side: float, quantity: int) -> Plan:
    """A plan of so many squares on one sheet size."""
    book = parts(plate=rectangle(side, side))
    job = Job(Settings(), {STEEL.name: STEEL}, (RULE,), book, {}, (), (replace(SHEET, on_hand=9),))
    return planned_with(Plan(job, ()), job, (Order("Q-1", "plate", quantity),), OPTIONS)


def lattice(side: float) -> int:
    """Squares in rows and columns on one sheet, by hand."""
    each = side + RULE.gap
    across, along = (math.floor((room - 2 * RULE.margin + RULE.gap) / each)
                     for room in (SHEET.width, SHEET.length))  # fmt: skip
    return across * along


def test_of_one_that_is_asked_for_all_that_fit_beside_it_are_told() -> None:
    side = 300.0
    fit = lattice(side)
    assert 5 < fit < MOST_MORE
    for asked in (1, 2, fit - 1, fit):
        found = nearly_free(planned(side, asked), OPTIONS, "plate")
        assert [(one.more, one.at_least) for one in found] == ([(fit - asked, False)] if asked < fit else [])


def test_no_more_than_a_limit_are_looked_for_and_then_it_says_at_least() -> None:
    assert lattice(40.0) > MOST_MORE + 10
    (found,) = nearly_free(planned(40.0, 1), OPTIONS, "plate")
    assert found == NearlyFree("Q-1", "plate", MOST_MORE, at_least=True)
    answer = Priced(1, more=found.more, at_least=True)
    one = Quoted(QuoteLine("Q-1", "plate", (1,)), "2026-11-24", "USD", (answer,), free=(found,))
    shown = quoted_page([one], [one], today=datetime.date(2026, 11, 24), settings=Settings())
    tables = {table.name: table.rows[0][-1] for table in shown.tables}
    assert tables["QuotePrices"] == tables["QuoteFree"] == f"at least {MOST_MORE}"


def test_of_orders_that_could_be_doubled_more_is_looked_for() -> None:
    side = 300.0
    plan = planned(side, 2)
    (doubled,) = also_nearly_free(plan, OPTIONS, [RoundUp(0, 2, "", False)])
    assert doubled.more == lattice(side) - 2
    (once,) = also_nearly_free(plan, OPTIONS, [RoundUp(0, 1, "", False)])
    assert once.more == 1, "what was found with more time stands"
