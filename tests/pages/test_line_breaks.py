"""Lines are broken where a reader loses nothing: never within a date, a size, a figure or a file name."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.pages.drawing.lettering import (
    NO_BREAK,
    SIZES,
    Heads,
    Holds,
    columns_for,
    text_width,
    together,
    wrapped,
)


def width(said: str) -> float:
    return text_width(said, 8.5, narrow=True)


@pytest.mark.parametrize(("said", "held"), [
    ("3 of 48 x 96 in, R-017: 31.5 x 48", ["3", "of", "48~x~96~in,", "R-017:", "31.5~x~48"]),
    ("galvanised steel 16 ga", ["galvanised", "steel", "16~ga"]),
    ("mild steel 3/16 in", ["mild", "steel", "3/16~in"]),
    ("1 h 05 min", ["1~h~05~min"]),
    ("12 x cleat set", ["12~x~cleat", "set"]),
    ("10 minutes in all", ["10", "minutes", "in", "all"]),
])  # fmt: skip
def test_what_belongs_together_stays_on_a_line(said: str, held: list[str]) -> None:
    assert together(said).replace(NO_BREAK, "~").split(" ") == held


@pytest.mark.parametrize(
    "said", ["2026-12-04", "1500 x 3000 mm", "L14_XVUN_mild-steel-10-ga.dxf", "1,234.50"]
)
def test_these_are_never_broken(said: str) -> None:
    assert wrapped(said, 5.0, width) == [together(said)]


def test_a_long_name_breaks_after_its_signs_first() -> None:
    lines = wrapped("HARBOUR-LADDER-BRACKET-LEFT", width("HARBOUR-LADDER-") + 1.0, width)
    assert lines == ["HARBOUR-LADDER-", "BRACKET-LEFT"]


@given(st.text("AB-_ 12.", max_size=60), st.floats(20.0, 200.0))
def test_nothing_is_lost_and_no_line_is_too_wide(said: str, room: float) -> None:
    lines = wrapped(said, room, width)
    assert re.sub(rf"[ {NO_BREAK}]", "", "".join(lines)) == said.replace(" ", "")
    assert all(width(line) <= room or re.fullmatch(r"[\d.]+[.]*", line) for line in lines)


HEADS: Heads = (
    ("Got", Holds.WHOLE), ("Part", Holds.TEXT), ("Size in", Holds.WHOLE), ("Short", Holds.NUMBER),
    ("From", Holds.TEXT),
)  # fmt: skip


def row(part: str) -> tuple[str, ...]:
    return ("☐", part, "48.125 x 120.875", "1,234", "L1, L2")


@pytest.mark.parametrize("letters", [6, 40, 90])
@pytest.mark.parametrize("across", [180.0, 300.0, 540.0])
def test_columns_hold_their_words_and_fill_the_width(across: float, letters: int) -> None:
    rows = [row("CB-101"), row("X" * letters)]
    columns = columns_for(HEADS, rows, across, 7.0)
    assert sum(columns.widths) == pytest.approx(across)
    for place, (head, holds) in enumerate(HEADS):
        said = together(head).split(" ")
        assert all(text_width(word, 7.0, bold=True, narrow=True) <= columns.rooms[place] for word in said)
        if holds is not Holds.TEXT:
            for word in together(rows[0][place]).split(" "):
                assert text_width(word, columns.size, narrow=True) <= columns.rooms[place]
    if across == 540.0 and letters == 40:
        assert columns.size == SIZES[0]


def test_a_closing_row_is_measured_in_bold() -> None:
    rows = [("", "7 different parts of one sheet", "", "1,111", ""), ("", "", "", "1,111,111,111", "")]
    plain, bold = (columns_for(HEADS, rows, 300.0, 7.0, closing=closing) for closing in (False, True))
    assert bold.rooms[3] > plain.rooms[3]
    assert text_width("1,111,111,111", bold.size, bold=True, narrow=True) <= bold.rooms[3]


def test_one_long_cell_does_not_break_the_others() -> None:
    rows = [("☐", "ladder splash cover", "200 x 400", "2", "26 x G Cable tray cover set, " * 9)]
    columns = columns_for(HEADS, rows, 400.0, 7.0)
    for place, cell in enumerate(rows[0][:-1]):
        assert text_width(cell, columns.size, narrow=True) <= columns.rooms[place]
    assert sum(columns.widths) == pytest.approx(400.0)
