"""SVG drawings, each with one trouble, and the verdict that each must get."""

from __future__ import annotations

import math

from sheetplan.drawings.reading.choices import LayerChoice
from sheetplan.drawings.reading.drawing import ReadingChoices
from sheetplan.trade.units import MM_PER_INCH, Units
from tests.nasty.drawings_making import DISC, Nasty, svg

PLATE = 100.0 * 50.0
RECT = '<rect x="10" y="10" width="100" height="50"/>'
PIXEL = MM_PER_INCH / 96.0


def choices(**more) -> ReadingChoices:
    return ReadingChoices(units=Units.MM, **more)


def doubling(levels: int) -> str:
    """Groups that each use the one before twice."""
    groups = ['<g id="u0"><circle r="1"/></g>']
    groups += [
        f'<g id="u{n}"><use xlink:href="#u{n - 1}"/><use xlink:href="#u{n - 1}"/></g>'
        for n in range(1, levels)
    ]
    return "<defs>" + "".join(groups) + f'</defs><use xlink:href="#u{levels - 1}"/>'


LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {chr(98 + n)} "{10 * f"&{chr(97 + n)};"}">' for n in range(9))
    + ']><svg xmlns="http://www.w3.org/2000/svg"><text>&j;</text></svg>'
)
# Area under the curve (10 + 100 (3t^2 - 2t^3), 10 + 150 t (1 - t)): 90,000 times the integral of
# t^2 (1 - t)^2, which is 1/30.

LABELS = "http://www.inkscape.org/namespaces/inkscape"

SVG_DRAWINGS = (
    Nasty("plain_rectangle_in_millimetres", svg(RECT), True, (0,), PLATE),
    Nasty(
        "inches_by_width_and_height",
        svg(RECT, 'width="2in" height="1in" viewBox="0 0 200 100"'),
        True,
        (0,),
        PLATE * (MM_PER_INCH / 100) ** 2,
    ),
    Nasty(
        "pixels_only",
        svg(RECT, 'width="200" height="100"'),
        True,
        (0,),
        PLATE * PIXEL**2,
        ("96 to the inch",),
    ),
    Nasty("no_size_at_all", svg(RECT, ""), True, (0,), PLATE * PIXEL**2, ("96 to the inch",)),
    Nasty(
        "units_stated_by_the_book",
        svg(RECT, 'width="200" height="100"'),
        True,
        (0,),
        PLATE,
        choices=choices(unit_mm=1.0),
    ),
    Nasty(
        "per_cent_and_a_view_box",
        svg(RECT, 'width="100%" height="100%" viewBox="0 0 200 100"'),
        True,
        (0,),
        PLATE * PIXEL**2,
        ("96 to the inch",),
    ),
    Nasty(
        "rounded_rectangle",
        svg('<rect x="10" y="10" width="100" height="50" rx="10"/>'),
        True,
        (0,),
        PLATE - (4 - math.pi) * 100.0,
        close=1e-6,
    ),
    Nasty(
        "circle_and_polygon",
        svg('<polygon points="10,10 110,10 110,60 10,60"/><circle cx="50" cy="30" r="10"/>'),
        True,
        (1,),
        PLATE - DISC,
        close=1e-6,
    ),
    Nasty(
        "groups_turned_and_scaled",
        svg(
            '<g transform="rotate(45)"><g transform="scale(2)">'
            '<rect width="50" height="25" transform="translate(20,-10)"/></g></g>'
        ),
        True,
        (0,),
        PLATE,
        close=1e-6,
    ),
    Nasty(
        "mirrored_arcs",
        svg('<g transform="scale(-1,1)"><path d="M10 10 A 20 20 0 0 1 50 10 Z"/></g>'),
        True,
        (0,),
        math.pi * 200.0,
        close=1e-6,
    ),
    Nasty(
        "circle_squeezed_by_a_transform",
        svg('<circle r="10" transform="translate(50,50) scale(3,1)"/>'),
        True,
        (0,),
        3.0 * DISC,
        close=5e-3,
    ),
    Nasty(
        "curves_of_bezier", svg('<path d="M10 10 C 10 60 110 60 110 10 Z"/>'), True, (0,), 3000.0, close=2e-3
    ),
    Nasty(
        "letters_o_as_one_path",
        svg('<path d="M10 10h100v50h-100z M20 20h10v10h-10z M40 20h10v10h-10z"/>'),
        True,
        (2,),
        PLATE - 200.0,
    ),
    Nasty("relative_shorthand", svg('<path d="m10,10h100v50H10z"/>'), True, (0,), PLATE),
    Nasty(
        "holes_by_use",
        svg(
            '<defs><circle id="h" r="5"/></defs>'
            + RECT
            + '<use href="#h" x="30" y="30"/><use xlink:href="#h" x="60" y="30"/>'
        ),
        True,
        (2,),
        PLATE - 50.0 * math.pi,
        close=1e-6,
    ),
    Nasty(
        "symbol_drawn_only_when_used",
        svg('<symbol id="s"><circle r="5"/></symbol>' + RECT),
        True,
        (0,),
        PLATE,
    ),
    Nasty(
        "use_of_what_is_not_there",
        svg(RECT + '<use xlink:href="#gone"/>'),
        False,
        (0,),
        PLATE,
        ("not in the file",),
    ),
    Nasty(
        "use_of_itself", svg('<g id="a"><use xlink:href="#a"/></g>' + RECT), False, (), None, ("uses itself",)
    ),
    Nasty("uses_that_multiply", svg(doubling(40)), False, (), None, ("more than 100,000",)),
    Nasty("entities_that_multiply", LAUGHS.encode(), False, (), None, ("entities",)),
    Nasty(
        "groups_a_thousand_deep",
        svg("<g>" * 1000 + RECT + "</g>" * 1000),
        False,
        (),
        None,
        ("deep in one another",),
    ),
    Nasty(
        "hidden_things",
        svg(
            RECT + '<circle cx="50" cy="30" r="5" display="none"/>'
            '<g visibility="hidden"><circle cx="70" cy="30" r="5"/></g>'
            '<circle cx="90" cy="30" r="5" stroke="none"/>'
        ),
        True,
        (0,),
        PLATE,
    ),
    Nasty(
        "text_pictures_markers",
        svg(
            RECT + '<text x="20" y="20">hi</text><image width="5" height="5" href="x.png"/>'
            '<marker id="m"><path d="M0 0L9 9L0 9z"/></marker>'
        ),
        True,
        (0,),
        PLATE,
    ),
    Nasty(
        "layers_by_label",
        svg(f'<g xmlns:i="{LABELS}" i:label="Notes"><circle cx="50" cy="30" r="5"/></g>{RECT}'),
        True,
        (0,),
        PLATE,
    ),
    Nasty(
        "marks_by_group",
        svg(f'<g id="cut">{RECT}</g><g id="etch"><path d="M20 20 h30"/></g>'),
        True,
        (0,),
        PLATE,
    ),
    Nasty(
        "layers_by_colour",
        svg(
            '<rect x="10" y="10" width="100" height="50" stroke="#ff0000"/>'
            '<circle cx="50" cy="30" r="5" stroke="#00ff00"/>'
        ),
        True,
        (0,),
        PLATE,
        choices=choices(layers=LayerChoice(("#ff0000",))),
    ),
    Nasty("dashed_lines", svg(RECT + '<path d="M60 0 v100" stroke-dasharray="4 2"/>'), True, (0,), PLATE),
    Nasty("open_path", svg('<path d="M10 10 h100 v50 h-100"/>'), False, (), None, ("open by 50",)),
    Nasty(
        "lines_end_to_end",
        svg(
            '<line x1="10" y1="10" x2="110" y2="10"/><line x1="110" y1="60" x2="110" y2="10"/>'
            '<polyline points="110,60 10,60 10,10"/>'
        ),
        True,
        (0,),
        PLATE,
    ),
    Nasty("not_well_formed", svg(RECT)[:-10], False, (), None, ("not sound XML",)),
    Nasty("a_web_page", b"<html><body>hello</body></html>", False, (), None, ("web file",)),
    Nasty("nothing_drawn", svg(""), False, (), None, ("no lines or arcs",)),
    Nasty("a_path_of_nonsense", svg('<path d="M 10 10 L banana"/>'), False, (), None),
    Nasty("view_box_of_nothing", svg(RECT, 'width="10mm" height="10mm" viewBox="0 0 0 0"'), False, (), None),
    Nasty("coordinates_without_end", svg('<rect width="1e400" height="5"/>'), False, (), None),
)
