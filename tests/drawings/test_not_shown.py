"""What a drawing shows otherwise than it holds it is told: other files, clip paths, styles that hide."""

from __future__ import annotations

import io
import time

import ezdxf
import pytest

from sheetplan.drawings.reading.dxf import read_dxf
from sheetplan.drawings.reading.findings import Allowance, Limits, Says
from sheetplan.drawings.reading.sheaf import Sheaf
from sheetplan.drawings.reading.svg import HIDDEN, read_svg

PLATE = '<rect x="10" y="10" width="50" height="30" stroke="black" fill="none"/>'
SMALL = '<rect {} x="12" y="12" width="5" height="5" stroke="black" fill="none"/>'


def svg(body: str) -> Sheaf:
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
    return read_svg(f"{head}{body}</svg>".encode(), 0.05, None, 1.0, Allowance(Limits(), time.monotonic))


def dxf(document: ezdxf.document.Drawing, old: str = "", new: str = "") -> Sheaf:
    text = io.StringIO()
    document.write(text)
    data = text.getvalue().replace(old, new, 1) if old else text.getvalue()
    return read_dxf(data.encode(), 0.05, None, 1.0, Allowance(Limits(), time.monotonic))


def test_a_block_from_another_drawing_is_missed_by_its_name_and_place() -> None:
    document = ezdxf.new()
    document.add_xref_def("plates/other.dxf", "HOLES")
    document.modelspace().add_blockref("HOLES", (0, 0))
    document.modelspace().add_circle((0, 0), 5)
    [found] = dxf(document).findings
    assert found.says is Says.WRONG
    assert "HOLES stands in plates/other.dxf and not in this file" in found.what


def test_a_block_at_a_scale_of_nothing_is_told() -> None:
    document = ezdxf.new()
    document.blocks.new("B").add_line((0, 0), (1, 0))
    insert = document.modelspace().add_blockref("B", (7, 7))
    assert dxf(document).findings == ()
    insert.dxf.xscale = 0.125
    [found] = dxf(document, " 41\n0.125\n", " 41\n0.0\n").findings
    assert (found.says, "scale of 0 (1 time)" in found.what) == (Says.WRONG, True)


@pytest.mark.parametrize("sheet", [
    ".h{display:none}", "rect.h { display : NONE }", "#h {display:none !important}", 
    ".x, .h{visibility:hidden}", "/* a */ rect.h{visibility:hidden}",
])  # fmt: skip
def test_what_a_style_sheet_hides_is_not_cut_and_counted(sheet: str) -> None:
    hidden = SMALL.format('class="h" id="h"')
    found = svg(f"<style>{sheet}</style>{PLATE}{hidden}")
    assert len(found.pieces) == 4
    assert found.passed_over == {HIDDEN: 1}
    assert found.findings == ()


def test_a_style_that_shows_again_counts_more_than_the_sheet() -> None:
    shown = SMALL.format('class="h" style="display:inline"')
    assert len(svg(f"<style>.h{{display:none}}</style>{PLATE}{shown}").pieces) == 8


@pytest.mark.parametrize("sheet", [
    "g rect.h{display:none}", "@media print{.h{display:none}}", ".h:hover{display:none}",
])  # fmt: skip
def test_a_style_sheet_that_is_not_understood_and_hides_something_is_told(sheet: str) -> None:
    found = svg(f"<style>{sheet}</style>{PLATE}<g>{SMALL.format('')}</g>").findings
    assert [one.says for one in found] == [Says.WRONG]
    assert "save it as plain SVG" in found[0].what


def test_a_style_sheet_that_hides_nothing_needs_no_word() -> None:
    sheet = "@font-face{font-family:x} g rect.h{stroke:red} .a:hover{fill:none}"
    assert svg(f"<style>{sheet}</style>{PLATE}").findings == ()


@pytest.mark.parametrize("by", [
    'clip-path="url(#c)"', 'style="clip-path: url(#c)"', 'class="c"', 'mask="url(#c)"',
])  # fmt: skip
def test_what_is_shown_only_in_part_is_asked_about(by: str) -> None:
    clip = '<defs><clipPath id="c"><rect width="20" height="20"/></clipPath></defs>'
    found = svg(f"<style>.c{{clip-path:url(#c)}}</style>{clip}<g {by}>{PLATE}</g>").findings
    said = [(one.says, one.what.split(",")[0]) for one in found]
    assert said == [(Says.ASKED, "1 thing shown only in part")]
