"""Sheets that were cut before they came, from the steps, counted by hand."""

from sheetplan.rack.step import Ahead, AheadThen, Closed, Kind, Step, StockLine, ahead_of


def cut(number: int, times: int, from_stock: int, found: int | None, sheet: str = "MS10") -> Step:
    return Step(
        number=number, date="2026-11-10", sheet=sheet, times=times, from_stock=from_stock, found=found
    )


def came(number: int, count: int, covered: int, found: int) -> Step:
    line = StockLine("MS10", count, found=found, covered=covered)
    return Step(number=number, date="2026-11-11", kind=Kind.RECEIVED, lines=(line,))


THREE_OF_TWO = cut(1, 3, 2, 2)
"""Three sheets were cut where the book had two."""


def test_a_sheet_too_many_is_ahead_and_one_that_was_there_is_not() -> None:
    assert ahead_of([THREE_OF_TWO], {"MS10": 0}) == {"MS10": Ahead(1, 1, 0)}
    assert ahead_of([cut(1, 2, 2, 2)], {"MS10": 0}) == {}
    assert ahead_of([cut(1, 3, 2, None)], {"MS10": 0}) == {}, "of earlier versions nobody knows"
    assert ahead_of([cut(1, 3, 2, 2, sheet="")], {}) == {}, "a remnant is not counted"


def test_sheets_ahead_add_up_until_some_come() -> None:
    more = [THREE_OF_TWO, cut(2, 2, 0, 0)]
    assert ahead_of(more, {"MS10": 0}) == {"MS10": Ahead(3, 2, 0)}
    assert ahead_of(reversed(more), {"MS10": 0}) == {"MS10": Ahead(3, 2, 0)}
    # Of five that come three are cut already: two are put on hand, and none is ahead.
    assert ahead_of([*more, came(3, 5, 3, 0)], {"MS10": 2}) == {}
    assert ahead_of([*more, came(3, 1, 1, 0)], {"MS10": 0}) == {"MS10": Ahead(2, 2, 0)}
    # A later cut of sheets that are there takes none too many; the last step that did is still the second.
    assert ahead_of([*more, came(3, 2, 1, 0), cut(4, 1, 1, 1)], {"MS10": 0}) == {"MS10": Ahead(2, 2, 0)}


def test_what_is_counted_by_hand_is_the_truth() -> None:
    told = ahead_of([THREE_OF_TWO], {"MS10": 4})
    assert told == {"MS10": Ahead(1, 1, 0, typed_up=True)}
    assert (told["MS10"].open, ahead_of([THREE_OF_TWO], {"MS10": 0})["MS10"].open) == (0, 1)
    assert ahead_of([THREE_OF_TWO], {})["MS10"].open == 1, "a size that is in the book no more has none"
    # Four were typed in after the first step: the next one begins anew.
    assert ahead_of([THREE_OF_TWO, cut(2, 5, 4, 4)], {"MS10": 0}) == {"MS10": Ahead(1, 2, 0)}


def test_a_closed_month_says_how_its_sheets_stood() -> None:
    closed = Step(
        number=5, date="2026-11-30", kind=Kind.CLOSED,
        closed=Closed("2026-11", "archive", 4, ahead=(AheadThen("MS10", 2, 3, 0),)),
    )  # fmt: skip
    assert ahead_of([THREE_OF_TWO, closed], {"MS10": 0}) == {"MS10": Ahead(2, 3, 0)}
    assert ahead_of([closed, cut(6, 1, 0, 0)], {"MS10": 0}) == {"MS10": Ahead(3, 6, 0)}
    assert ahead_of([closed, came(6, 4, 2, 0)], {"MS10": 2}) == {}
