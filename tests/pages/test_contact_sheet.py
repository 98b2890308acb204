"""The contact sheet says each part's name, size, metal and flaws within its own place."""

from __future__ import annotations

from itertools import combinations

from sheetplan.model.outline import Outline, rectangle
from sheetplan.pages.paper.contact_sheet import ACROSS, DOWN, Shown, contact_sheet, is_contact_sheet
from sheetplan.shapes import circle_loop
from sheetplan.trade.units import Units
from tests.pages.pdf_reading import pages_of, paths, words

DISC = Outline(circle_loop(20.0, 20.0, 20.0), (circle_loop(20.0, 20.0, 4.0),))
LONG = "a very long folder of many drawings/and another/bracket with a long name.dxf#12"


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] - 0.01 and b[0] < a[2] - 0.01 and a[1] < b[3] - 0.01 and b[1] < a[3] - 0.01


def test_words_and_pictures_stand_apart_and_say_all() -> None:
    shown = [
        Shown("strip", rectangle(900.0, 4.0), "3 mm mild steel; 4 drawn", LONG, "confirm: " + "word " * 60),
        Shown("post", rectangle(5.0, 700.0), "6 mm", "post.dxf"),
        Shown("", DISC, "", "bad.dxf#2", wrong="its outline crosses itself at (12.5, 3) and again later"),
        *[Shown(f"P-{i}", DISC, "10 ga", f"p{i}.dxf") for i in range(ACROSS * DOWN)],
    ]
    unread = [("old.dxf", "the file is empty")]
    data = contact_sheet("book.xlsx: drawings", shown, unread, Units.MM)
    assert data == contact_sheet("book.xlsx: drawings", shown, unread, Units.MM)
    pages = pages_of(data)
    assert len(pages) == 3
    said = [[one.text for one in words(page)] for page in pages]
    assert {"strip", "900 x 4 mm", "3 mm mild steel; 4 drawn", "a disc of 40 mm with 1 hole"} <= {*said[0]}
    assert any(line.startswith("cannot be cut: its outline") for line in said[0])
    assert f"P-{ACROSS * DOWN - 1}" in said[1]
    assert {"old.dxf", "page 3 of 3"} <= {*said[2]}
    for page in pages:
        boxes = [one.box for one in words(page)]
        boxes += [one.box for one in paths(page) if one.fill]
        left, bottom, right, top = (float(side) for side in page.mediabox)
        assert all(left < b[0] and b[2] < right and bottom < b[1] and b[3] < top for b in boxes)
        assert not [pair for pair in combinations(boxes, 2) if overlap(*pair)]


def test_long_names_of_one_file_are_told_apart() -> None:
    long = "outer_pier_wall_brackets_of_the_harbour_master"
    shown = [Shown(f"{long}-{i}", rectangle(121.9287, 40.0), "3 mm", f"{long}.dxf#{i}") for i in (7, 11)]
    [page] = pages_of(contact_sheet("b.xlsx", shown, [], Units.MM))
    said = [one.text for one in words(page)]
    assert any(name.startswith("outer_pier") and name.endswith("master-7") for name in said)
    assert any(name.startswith("outer_pier") and name.endswith("aster-11") for name in said)
    assert said.count("121.9 x 40 mm") == 2


def test_it_is_known_again_and_others_are_not() -> None:
    assert is_contact_sheet(contact_sheet("b.xlsx", [], [], Units.INCH))
    assert not is_contact_sheet(b"%PDF-1.4 /Creator (somebody)")
