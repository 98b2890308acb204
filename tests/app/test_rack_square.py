"""Squared layouts as files: where the datum corner lands, old cuts to compare, errors told."""

import math
from pathlib import Path

import ezdxf
import pytest
from typer.testing import CliRunner

from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import file_stem
from sheetplan.app.rack.square import Measured, long_edge, square
from sheetplan.cli.commands import app
from sheetplan.model import Corner, Loop, Remnant
from sheetplan.trade.thickness import Thickness
from tests.app.cut_book import DAY, copied, plan, planned_book, record_cut, write


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book whose plan lies on a remnant with old cuts."""
    book = planned_book(tmp_path_factory.mktemp("made"), as_it_is=True)
    record_cut(book, CutAsked("L1"), today=DAY)
    write(book, "Orders", "H-2", "Quantity", 12)
    plan(book)
    return book


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def points(path: Path, layer: str) -> list[tuple[float, float]]:
    space = ezdxf.readfile(path).modelspace()
    return [tuple(p[:2]) for entity in space.query(f"LWPOLYLINE[layer=='{layer}']") for p in entity]


def test_the_sheet_lies_where_it_was_measured(book: Path) -> None:
    # By hand: turned as a 3-4-5 triangle, the 96 in edge from (10, 20) ends at (10 + 76.8, 20 + 57.6).
    done = square(book, "L2", Measured(corner=(10, 20), far=(86.8, 77.6)))
    assert done.lie.turn == pytest.approx(math.degrees(math.atan2(3, 4)))
    corners = points(done.drawing, "SHEET_EDGE")
    assert corners[0] == pytest.approx((10, 20))
    assert corners[1] == pytest.approx((86.8, 77.6))
    # The width of 48 runs up and to the left: 48 x (-0.6, 0.8).
    assert corners[3] == pytest.approx((10 - 28.8, 20 + 38.4))
    assert len(points(done.drawing, "PART_OUTLINES")) == 8 * 4


@pytest.mark.parametrize("datum", Corner)
def test_the_long_edge_ends_where_the_metal_does(datum: Corner) -> None:
    """80 long over all, 66 along the side that is cut off slanting; points stand on the long sides too."""
    edge = Loop(((0, 0, 0), (30, 0, 0), (80, 0, 0), (66, 40, 0), (20, 40, 0), (0, 40, 0)))
    sheet = Remnant("R-1", "mild steel", Thickness(3.0, "3 mm"), edge, datum=datum)
    if datum is Corner.UPPER_RIGHT:
        with pytest.raises(ValueError, match="no edge runs along"):
            long_edge(sheet)
    else:
        assert long_edge(sheet) == (66 if datum is Corner.UPPER_LEFT else 80)


def test_old_cuts_alone_can_be_compared_first(book: Path) -> None:
    done = square(book, "L2", Measured(corner=(0, 0), angle=0.5))
    assert points(done.check, "OLD_CUTS") == points(done.drawing, "OLD_CUTS")
    assert len(points(done.check, "OLD_CUTS")) == 19 * 4
    assert points(done.check, "PART_OUTLINES") == []
    assert len(points(done.check, "LABELS")) > 8


def test_three_ways_of_measuring_agree(book: Path) -> None:
    turn = math.degrees(math.atan2(3, 4))
    ways = (
        Measured(corner=(10, 20), far=(86.8, 77.6)), Measured(corner=(10, 20), along=(14, 23)),
        Measured(corner=(10, 20), angle=turn),
        Measured(pairs=(((0, 0), (10, 20)), ((96, 0), (86.8, 77.6)), ((0, 48), (-18.8, 58.4)))),
    )  # fmt: skip
    lies = [square(book, "L2", way).lie for way in ways]
    for lie in lies:
        assert (lie.turn, lie.x, lie.y) == pytest.approx((turn, 254, 508))


@pytest.mark.parametrize(
    ("measured", "says"),
    [
        (Measured(corner=(0, 0), far=(95, 0)), "off by 0.5 in"),
        (Measured(corner=(0, 0)), "corner alone"),
        (Measured(angle=2.0), "datum corner is missing"),
        (Measured(corner=(0, 0), along=(0, 0)), "one place"),
        (Measured(pairs=(((0, 0), (0, 0)),)), "at least two points"),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_written(
    book: Path, measured: Measured, says: str
) -> None:
    before = sorted(book.parent.rglob("*.dxf"))
    with pytest.raises(Refused, match=says):
        square(book, "L2", measured)
    assert sorted(book.parent.rglob("*.dxf")) == before


def test_a_layout_of_an_earlier_plan_is_written_beside_its_own_drawings(book: Path) -> None:
    [earlier] = (book.parent / "layouts" / "earlier").glob("plan-*")
    done = square(book, "L1", Measured(corner=(0, 0), angle=0.5), plan=earlier.name.removeprefix("plan-"))
    assert done.drawing.parent == done.check.parent == earlier
    assert len(points(done.drawing, "PART_OUTLINES")) == 19 * 4


@pytest.mark.parametrize("measured", [["--corner", "nan,inf"], ["--corner", "0,0", "--angle", "nan"],
                                      ["--corner", "0,0", "--far", "1e999,0"]])  # fmt: skip
def test_what_cannot_be_measured_is_refused_at_the_door(book: Path, measured: list[str]) -> None:
    before = sorted(book.parent.rglob("*"))
    result = CliRunner().invoke(app, ["square", str(book), "L2", *measured])
    assert result.exit_code == 2
    assert "can be measured" in " ".join(result.output.split())
    assert sorted(book.parent.rglob("*")) == before


@pytest.mark.parametrize("tag", ["CON", "nul", "Com1", "LPT9", "aux.7"])
def test_a_tag_that_is_a_device_on_windows_makes_a_file(tag: str) -> None:
    # Source: Microsoft, "Naming Files, Paths, and Namespaces": these names with any ending.
    assert file_stem(tag).partition(".")[0].upper() not in {"CON", "NUL", "COM1", "LPT9", "AUX"}
    assert file_stem("CONE-1") == "CONE-1"
