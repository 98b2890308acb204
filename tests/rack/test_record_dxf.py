"""Records as drawings: exact round trips, drawings exploded by other programs, hand edits told."""

import io
import json
import time

import ezdxf
import pytest
from hypothesis import given, settings

from sheetplan.model import rectangle
from sheetplan.rack.record import PastCut, Record, record_json, record_of
from sheetplan.rack.record_dxf import EDGE, OLD_CUTS, compare, read_own, read_redrawn, record_drawing, settled
from sheetplan.shapes import Box, area, box, same_loop
from sheetplan.trade.units import Units
from tests.rack.shapes_of_cuts import TEN_GAUGE, block, circle, past_cut, records

EACH = settings(max_examples=40, deadline=None)


@EACH
@given(records())
def test_a_record_survives_its_drawing_exactly(made: tuple[Record, Units]) -> None:
    record, units = made
    drawing = record_drawing(record, units, None)
    back = read_own(drawing, units)
    assert back == record
    assert record_drawing(back, units, None) == drawing


@EACH
@given(records())
def test_a_record_survives_json_exactly(made: tuple[Record, Units]) -> None:
    record, _ = made
    assert record_of(json.loads(json.dumps(record_json(record)))) == record


@EACH
@given(records())
def test_settling_twice_changes_nothing(made: tuple[Record, Units]) -> None:
    record, units = made
    assert settled(record, units) == record


@pytest.fixture
def plain() -> Record:
    cuts = (past_cut(circle(300.0, 300.0, 100.0)), past_cut(block(600.0, 50.0, 900.0, 250.0), 2, "Q"))
    edge = rectangle(2438.4, 1219.2).outer
    return settled(Record("R-001", "mild steel", TEN_GAUGE, edge, cuts), Units.INCH)


def redrawn(data: bytes, change: object) -> bytes:
    """The drawing loaded by a general-purpose library, changed, and saved as that library saves."""
    document = ezdxf.read(io.StringIO(data.decode().replace("\r\n", "\n")))
    change(document.modelspace())  # type: ignore[operator]
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def explode(space: ezdxf.layouts.Modelspace) -> None:
    for entity in list(space.query("LWPOLYLINE")):
        entity.explode()


def test_a_drawing_exploded_into_lines_and_arcs_shows_the_same_loops(plain: Record) -> None:
    data = redrawn(record_drawing(plain, Units.INCH, Box(1000, 0, 2438.4, 1219.2)), explode)
    assert read_own(data, Units.INCH) is None
    shown = read_redrawn("R-001.dxf", data, Units.INCH, time.process_time)
    assert shown.trouble == ""
    assert len(shown.cuts) == 2
    assert sum(map(area, shown.cuts)) == pytest.approx(sum(area(c.loop) for c in plain.cuts), abs=1e-6)
    assert box(shown.edge) == pytest.approx(box(plain.edge))
    # The arcs of an exploded circle may be split elsewhere; the straight loops match one to one.
    difference = compare(plain, shown.edge, shown.cuts, Units.INCH)
    assert not any("edge" in sentence for sentence in difference.sentences)


def test_saving_it_again_elsewhere_changes_nothing_that_matters(plain: Record) -> None:
    data = redrawn(record_drawing(plain, Units.INCH, None), lambda space: None)
    own = read_own(data, Units.INCH)
    assert own == plain


def test_a_cut_drawn_by_hand_and_one_erased_are_told(plain: Record) -> None:
    def change(space: ezdxf.layouts.Modelspace) -> None:
        space.add_circle((70.0, 30.0), 4.0, dxfattribs={"layer": OLD_CUTS})
        for entity in list(space.query(f"LWPOLYLINE[layer=='{OLD_CUTS}']")):
            if len(entity) == 4:
                space.delete_entity(entity)

    data = redrawn(record_drawing(plain, Units.INCH, None), change)
    shown = read_redrawn("R-001.dxf", data, Units.INCH, time.process_time)
    difference = compare(plain, shown.edge, shown.cuts, Units.INCH)
    assert any("drawn at (66, 26)" in sentence for sentence in difference.sentences)
    assert any("Q" in sentence and "no longer drawn" in sentence for sentence in difference.sentences)
    by_hand = [cut for cut in difference.record.cuts if not cut.layout]
    assert [box(cut.loop)[:2] for cut in by_hand] == [pytest.approx((66 * 25.4, 26 * 25.4))]


def test_a_moved_drawing_is_brought_back_to_its_corner(plain: Record) -> None:
    def shift(space: ezdxf.layouts.Modelspace) -> None:
        for entity in space:
            entity.translate(100.0, -40.0, 0.0)

    data = redrawn(record_drawing(plain, Units.INCH, None), shift)
    shown = read_redrawn("R-001.dxf", data, Units.INCH, time.process_time)
    assert compare(plain, shown.edge, shown.cuts, Units.INCH).sentences == ()


def test_a_sheet_drawn_by_hand_on_any_layer_is_understood() -> None:
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 1
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (40, 0), (40, 12), (22, 12), (22, 30), (0, 30)], close=True)
    space.add_circle((10, 10), 5)
    text = io.StringIO()
    document.write(text)
    shown = read_redrawn("scrap.dxf", text.getvalue().encode(), Units.INCH, time.process_time)
    assert shown.trouble == ""
    assert area(shown.edge) / 25.4**2 == pytest.approx(40 * 30 - 18 * 18)
    assert len(shown.cuts) == 1
    assert same_loop(shown.cuts[0], circle(254, 254, 127), 0.01) or area(shown.cuts[0]) == pytest.approx(
        area(circle(254, 254, 127))
    )


@pytest.mark.parametrize("data", [b"", b"no drawing", b"0\nSECTION\n0\nEOF\n", bytes(range(256)) * 40])
def test_what_is_no_drawing_is_trouble_not_a_crash(data: bytes) -> None:
    assert read_own(data, Units.INCH) is None
    assert read_redrawn("R-001.dxf", data, Units.INCH, time.process_time).edge is None


def test_layers_say_what_is_what(plain: Record) -> None:
    data = record_drawing(plain, Units.INCH, Box(1000, 0, 2000, 1000))
    document = ezdxf.read(io.StringIO(data.decode().replace("\r", "")))
    layers = [entity.dxf.layer for entity in document.modelspace().query("LWPOLYLINE")]
    assert layers.count(EDGE) == 1
    assert layers.count(OLD_CUTS) == 2
    assert layers.count("NEXT_ROOM") == 1
    assert not document.audit().has_errors


def test_cuts_inside_a_hole_are_counted_once() -> None:
    ring = PastCut(circle(500, 500, 200), metal=area(circle(500, 500, 200)) - area(circle(500, 500, 150)))
    inner = PastCut(circle(500, 500, 50), metal=area(circle(0, 0, 50)))
    record = Record("R-1", "mild steel", TEN_GAUGE, rectangle(1000, 1000).outer, (ring, inner))
    assert record.metal_left == pytest.approx(1e6 - area(circle(0, 0, 200)))
