"""A plan that leaves out what another makes says so."""


from sheetplan.model import GroupPlan, Layout, Order, Placement
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.left_out import left_out
from tests.planning.books import job, part, sheet

S = sheet("S", 1000, 1000, price=10.0)
BOOK = job(
    [part("GU-1", 50, 50), part("ST-1", 50, 50, spare=6), part("PL-1", 50, 50)],
    [Order("J-101", "ST-1", 8), Order("J-103", "GU-1", 12, must=False), Order("J-102", "PL-1", 2)],
    [S],
)
(GROUP,) = make_groups(BOOK)[0]


def plan(**pieces: int) -> GroupPlan:
    """One sheet, twice, with some of each part (underscores for hyphens); where they lie does not matter."""
    placed = [
        Placement(name.replace("_", "-"), 0.0, 0.0, 0.0, False)
        for name, n in pieces.items()
        for _ in range(n)
    ]
    return GroupPlan(GROUP, (Layout("L1", S, tuple(placed), 2, False),), (), {}, 20.0)


def test_pieces_that_fit_and_spares_are_told_apart() -> None:
    used, other = plan(GU_1=6, ST_1=6, PL_1=1), plan(GU_1=1, ST_1=4, PL_1=1)
    assert left_out(used, other, BOOK.orders) == "10 GU-1 of J-103 and 4 spare ST-1 not made"
    assert left_out(used, other) == "10 GU-1 and 4 spare ST-1 not made"


def test_a_plan_that_makes_as_much_or_more_leaves_out_nothing() -> None:
    used, other = plan(GU_1=1, ST_1=4, PL_1=1), plan(GU_1=6, ST_1=6, PL_1=1)
    assert left_out(used, used, BOOK.orders) == ""
    assert left_out(used, other, BOOK.orders) == ""
