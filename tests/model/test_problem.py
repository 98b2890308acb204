"""What a problem says can be read, whatever stands in the cell."""

from __future__ import annotations

from sheetplan.model.problem import MOST_QUOTED, Problem


def test_a_cell_full_of_text_is_quoted_in_part() -> None:
    # 32,767 characters fit into a cell. Source: Microsoft, "Excel specifications and limits".
    problem = Problem("Materials", 7, "B7", f"`a{'x' * 32_765}z` is not known here", "Write `none`.")
    begun, ended = "`axxx", "xxz` (32,767 characters) is not known here"
    assert problem.what.startswith(begun)
    assert problem.what.endswith(ended)
    assert len(problem.what) < MOST_QUOTED + 60
    assert problem.remedy == "Write `none`."


def test_what_is_not_long_stays_as_it_is() -> None:
    said = f"`{'y' * MOST_QUOTED}` and `{'z' * MOST_QUOTED}`"
    assert Problem("Parts", None, None, said, said).what == said
