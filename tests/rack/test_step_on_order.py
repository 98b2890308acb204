"""What is on order since when, from the steps."""

from sheetplan.rack.step import Kind, Step, StockLine, on_order


def ordered(number: int, date: str, count: int, sheet: str = "MS10") -> Step:
    return Step(number=number, date=date, kind=Kind.ORDERED, lines=(StockLine(sheet, count),))


def received(number: int, count: int, off: int, sheet: str = "MS10") -> Step:
    line = StockLine(sheet, count, off_order=off)
    return Step(number=number, date="2026-11-20", kind=Kind.RECEIVED, lines=(line,))


def test_what_was_ordered_first_comes_first() -> None:
    steps = [ordered(1, "2026-11-10", 4), ordered(2, "2026-11-12", 3), received(3, 5, 5)]
    assert on_order(steps[:2]) == {"MS10": (("2026-11-10", 4), ("2026-11-12", 3))}
    assert on_order(reversed(steps)) == {"MS10": (("2026-11-12", 2),)}


def test_an_order_recorded_late_stands_by_its_day() -> None:
    steps = [ordered(1, "2026-11-12", 3), ordered(2, "2026-11-10", 4), received(3, 4, 4)]
    assert on_order(steps) == {"MS10": (("2026-11-12", 3),)}


def test_a_delivery_that_was_not_on_order_takes_nothing_off() -> None:
    steps = [ordered(1, "2026-11-10", 2), received(2, 6, 0), ordered(3, "2026-11-11", 1, "GV16")]
    assert on_order(steps) == {"MS10": (("2026-11-10", 2),), "GV16": (("2026-11-11", 1),)}
    assert on_order([*steps, received(4, 2, 2), received(5, 1, 1, "GV16")]) == {}
