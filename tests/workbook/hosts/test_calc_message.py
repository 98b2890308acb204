import base64
import datetime
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.calc import SentView, value_of, write_message
from sheetplan.workbook.reading.grid import Box
from sheetplan.workbook.tables import ErrorValue, NotComputed
from sheetplan.workbook.writing.grid import grid_of
from tests.workbook.sample_pages import all_pages


@pytest.mark.parametrize(
    ("sent", "value"),
    [
        (3.0, 3), (2.5, 2.5), ("007", "007"), ("", None), (None, None), (True, True),
        ({"error": "#N/A"}, ErrorValue("#N/A")),
        ({"date": "2026-05-04T00:00:00"}, datetime.datetime(2026, 5, 4)),
        ({"time": "08:30:00"}, datetime.time(8, 30)), ({}, NotComputed()),
    ],
)  # fmt: skip
def test_values_as_they_are_sent(sent: object, value: object) -> None:
    assert value_of(sent) == value
    assert type(value_of(sent)) is type(value)


@given(st.integers(1, 6), st.integers(1, 6), st.integers(0, 4), st.integers(0, 4))
def test_a_block_is_cut_out_of_the_rows(top: int, left: int, down: int, right: int) -> None:
    rows = [[f"{r},{c}" for c in range(1, 5)] for r in range(1, 5)]
    view = SentView([{"name": "P", "tables": [], "rows": rows}])
    found = list(view.rows("P", Box(left, top, left + right, top + down)))
    assert [number for number, _ in found] == list(range(top, min(top + down, 4) + 1))
    for number, cells in found:
        assert cells == [f"{number},{c}" for c in range(left, min(left + right, 4) + 1)]


def test_a_page_to_draw_is_plain_json_and_loses_nothing() -> None:
    grids = [grid_of(page, Units.INCH) for page in all_pages()]
    message = json.loads(json.dumps(write_message(grids, Units.INCH)))["write"]
    for grid, page in zip(grids, message["pages"], strict=True):
        assert [tuple(cell[:2]) for cell in page["cells"]] == [(c.row, c.column) for c in grid.cells]
        assert [cell[4] for cell in page["cells"]] == [c.value for c in grid.cells]
        assert max(cell[3] for cell in page["cells"]) == len(page["looks"]) - 1
        pictures = [c.picture for c in grid.cells if c.picture is not None]
        assert [base64.b64decode(p["png"]) for p in page["pictures"]] == [p.png for p in pictures]
    assert message["names"]["sheetplan_problem_keys"] == ["Problems", "$A$4:$A$4"]
