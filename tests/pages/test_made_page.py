"""The page Made: every order line with what it gets."""

from dataclasses import replace

from sheetplan.model import Plan
from sheetplan.pages.made_page import made_page


def test_each_line_with_its_count_and_what_it_waits_for(inch_plan: Plan) -> None:
    page = made_page(inch_plan)
    table = page.tables[0]
    assert [column.heading for column in table.columns[:4]] == ["Order", "Item", "Due", "Must"]
    assert [row[4:7] for row in table.rows] == [(8, 8, None), (6, 6, None), (4, 2, 2), (3, 3, None)]
    assert table.rows[2][7] == 'Wants 2 x BK-300 gusset, left hand (mild steel 1/4")'
    assert page.lines == (
        "Must be made: 3 of 3 lines complete.",
        "Made if it fits: 0 of 1 line complete; the others are short, see the column Short.",
    )


def test_spare_pieces_have_a_table_of_their_own(inch_plan: Plan) -> None:
    assert [table.name for table in made_page(inch_plan).tables] == ["MadeList"]
    twice = replace(
        inch_plan.groups[0], layouts=tuple(replace(x, repeats=3) for x in inch_plan.groups[0].layouts)
    )
    more = made_page(replace(inch_plan, groups=(twice, inch_plan.groups[1])))
    assert more.tables[1].rows == (("CB-101", 4), ("CB-102", 22), ("FP-7", 2), ("LR-210", 6))
