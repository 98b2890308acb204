"""The demo month, planned once for all tests that only look or work on a copy."""

import datetime

import pytest

from sheetplan.app.new import new_book
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.planning import never, quiet
from sheetplan.trade.units import Units


@pytest.fixture(scope="session", params=Units)
def planned(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> PlanOutcome:
    """The demo book of each unit, planned once; whoever changes it works on a copy of its folder."""
    book = tmp_path_factory.mktemp("demo") / "harbour.xlsx"
    new_book(book, demo=True, units=request.param)
    return plan_book(
        book, PlanAsked(datetime.date(2026, 11, 30), seconds=1.0, seed=1), stop=never, report=quiet, workers=1
    )
