"""Formulas of the live columns, understood by Excel and LibreOffice alike, and the names that they use."""

from __future__ import annotations

from collections.abc import Mapping

from sheetplan.drawings.shape_table import ShapeWord
from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH, Units
from sheetplan.workbook.columns import (
    CUTTING,
    KITS,
    MATERIALS,
    ORDERS,
    PARTS,
    PURCHASES,
    RACK_COUNT,
    REMNANT_SHAPES,
    REMNANTS,
    STOCK,
)
from sheetplan.workbook.schema import BilledBy, InputPage, MissingPiece, PricePer
from sheetplan.workbook.writing.grid import (
    PLANNED_PARTS,
    PLANNED_WEIGHTS,
    PROBLEM_KEYS,
    PROBLEM_MESSAGES,
    PROBLEM_PLACES,
    PROBLEM_SAYS,
    PROBLEM_TURNS,
)

# Names that the template's formulas and drop-downs use, and how a cell of a table is written.

GAUGE_NUMBERS = "sheetplan_gauge_numbers"
GAUGE_SYSTEMS = "sheetplan_gauge_systems"
GAUGE_VALUES = "sheetplan_gauge_values"

LIST_MATERIALS = "sheetplan_materials"
LIST_PARTS = "sheetplan_parts"
LIST_ITEMS = "sheetplan_items"

HEAD_ROW = 3
"""Row of the headings on every input page, from 0: title, one line and a free row stand above."""

FIRST_ROW = HEAD_ROW + 1


def this(page: InputPage, heading: str) -> str:
    """The cell of this row under a heading."""
    return f"{page.table}[[#This Row],[{heading}]]"


def whole(page: InputPage, heading: str) -> str:
    """All cells under a heading."""
    return f"{page.table}[{heading}]"


# Formulas of the live columns, understood by Excel and LibreOffice alike.
#
# No function newer than Excel 2013, no arrays that spill.

INCH_SIGN = '""'
"""The sign as it is written inside a formula's text."""

ON_OPENING = "T(NOW())"
"""An empty text that changes with the clock, and so has a formula worked out on opening.

LibreOffice otherwise trusts the values that stand in the file, which after a run are those of the
run before; the formulas stand on the planner's pages, where the tool writes nothing.
"""

Formulas = dict[str, str]
"""Formula by the heading of its live column."""


def formulas(page: InputPage, units: Units) -> Formulas:
    """The formulas of a page's live columns."""
    makers = {
        MATERIALS.name: _materials, CUTTING.name: _cutting, PARTS.name: _parts, KITS.name: _kits,
        ORDERS.name: _orders, STOCK.name: _stock, REMNANTS.name: _remnants,
        PURCHASES.name: _purchases, RACK_COUNT.name: _rack_count,
    }  # fmt: skip
    maker = makers.get(page.name)
    return maker(units) if maker else {}


MESSAGES_SEEN = 2
"""So many problems of a row are looked at for one that still holds: formulas grow long."""


def message_formula(page: InputPage) -> str:
    """The first message of this row whose cell still says what was wrong, and how many more there are."""
    key = f'"{page.name}!"&ROW()'
    count = f"COUNTIF({PROBLEM_KEYS},{key})"
    cells = ",".join(this(page, column.heading) for column in page.columns)
    said = '""'
    for turn in range(MESSAGES_SEEN, 0, -1):
        at = f'MATCH({key}&"/{turn}",{PROBLEM_TURNS},0)'
        place = f"INDEX({PROBLEM_PLACES},{at})"
        holds = f'IF({place}="",TRUE,CHOOSE({place},{cells})=INDEX({PROBLEM_SAYS},{at}))'
        more = f'IF({count}>{turn}," (and "&{count}-{turn}&" more on the page Problems)","")'
        said = f'IFERROR(IF({holds},INDEX({PROBLEM_MESSAGES},{at})&{more},{said}),"")'
    return f"={said}&{ON_OPENING}"


def _materials(units: Units) -> Formulas:
    density = this(MATERIALS, "Density")
    # One square foot and inch is 144 in3; one square metre and millimetre is 0.001 m3.
    factor = "*144" if units is Units.INCH else "/1000"
    return {"Weight of a plate": _unless_blank(density, f"{density}{factor}")}


def _cutting(units: Units) -> Formulas:
    return {"Read as": _read_as(CUTTING, units)}


def _parts(units: Units) -> Formulas:
    part = this(PARTS, "Part")
    ordered = (
        f"SUMIF({whole(ORDERS, 'Item')},{part},{whole(ORDERS, 'Quantity')})"
        f"+SUMIF({whole(KITS, 'Part')},{part},{whole(KITS, 'Pieces')})"
    )
    return {
        "Read as": _read_as(PARTS, units),
        "Weight each": _part_weight(units),
        "Ordered": _unless_blank(part, ordered),
    }


def _kits(units: Units) -> Formulas:
    kit, part = this(KITS, "Kit"), this(KITS, "Part")
    ordered = f"SUMIF({whole(ORDERS, 'Item')},{kit},{whole(ORDERS, 'Quantity')})"
    description = f"INDEX({whole(PARTS, 'Description')},MATCH({part},{whole(PARTS, 'Part')},0))"
    return {
        "Description": f'=IFERROR({description}&"","")',
        "Kits ordered": _unless_blank(kit, ordered),
        "Pieces": f'=IFERROR({this(KITS, "Quantity")}*{this(KITS, "Kits ordered")},"")',
    }


def _orders(units: Units) -> Formulas:
    item, quantity = this(ORDERS, "Item"), this(ORDERS, "Quantity")
    in_kit = f"SUMIF({whole(KITS, 'Kit')},{item},{whole(KITS, 'Quantity')})"
    is_kit, is_part = (f"COUNTIF({names},{item})>0" for names in (whole(KITS, "Kit"), whole(PARTS, "Part")))
    kind = f'IF({is_kit},"kit",IF({is_part},"part","?"))'
    kind_here = this(ORDERS, "Kit or part")
    return {
        "Kit or part": _unless_blank(item, kind),
        "Pieces": f'=IF({kind_here}="kit",{quantity}*{in_kit},IF({kind_here}="part",{quantity},""))',
    }


def _stock(units: Units) -> Formulas:
    price, per = this(STOCK, "Price"), this(STOCK, "Price per")
    size = f"{this(STOCK, 'Width')}*{this(STOCK, 'Length')}"
    each = f'IF(OR({per}="",{per}="{PricePer.SHEET}"),{price},"")'
    billed, weight = this(STOCK, "Billed weight"), this(STOCK, "Weight each")
    # The published weight of a gauge is no live figure: VALUE fails, and the price stays empty.
    weight = f'IF(OR({billed}="",{billed}="{BilledBy.REAL}"),{weight},VALUE({billed}))'
    for word, amount in _amounts(units, weight, size).items():
        each = f'IF({per}="{word}",{price}*{amount},{each})'
    return {
        "Read as": _read_as(STOCK, units),
        "Weight each": _weight(STOCK, units),
        "Price each": f'=IF({price}="","",IFERROR({each},""))',
    }


def _amounts(units: Units, weight: str, size: str) -> Mapping[PricePer, str]:
    """How much of what a price is for one sheet has; a word that is not one of these gets no price."""
    inch = units is Units.INCH
    kilograms = f"{weight}*{KG_PER_POUND}" if inch else weight
    pounds = weight if inch else f"{weight}/{KG_PER_POUND}"
    metres = f"{size}/{Units.MM.area_mm2 / units.length_mm**2:.10g}"
    feet = f"{size}/{Units.INCH.area_mm2 / units.length_mm**2:.10g}"
    return {
        PricePer.WEIGHT: weight, PricePer.AREA: feet if inch else metres,
        PricePer.KILOGRAM: kilograms, PricePer.POUND: pounds,
        PricePer.SQUARE_METRE: metres, PricePer.SQUARE_FOOT: feet,
    }  # fmt: skip


def _remnants(units: Units) -> Formulas:
    width, length = (this(REMNANTS, heading) for heading in ("Width", "Length"))
    gone_width, gone_length = (this(REMNANTS, heading) for heading in ("Missing width", "Missing length"))
    gone = f"{gone_width}*{gone_length}*{_share_missing(this(REMNANTS, 'Missing piece'))}"
    area = f"({width}*{length}-{gone}-{this(REMNANTS, 'Cut away')})"
    on_page = f"COUNTIF({whole(REMNANT_SHAPES, 'Tag')},{this(REMNANTS, 'Tag')})>0"
    taped = f'AND({this(REMNANTS, "Shape")}="",{on_page})'
    weight = f'=IF({taped},"",IFERROR({area}*{_metal_weight(REMNANTS, units)},""))'
    return {"Read as": _read_as(REMNANTS, units), "Weight": weight}


def _share_missing(piece: str) -> str:
    """What of its rectangle a missing piece takes: half of it where that is a triangle."""
    return f'IF({piece}="{MissingPiece.TRIANGLE}",0.5,1)'


def _purchases(units: Units) -> Formulas:
    return {"Read as": _read_as(PURCHASES, units), "Weight by size": _weight_of_sheets(PURCHASES, units)}


def _rack_count(units: Units) -> Formulas:
    weight = _weight_of_sheets(RACK_COUNT, units, _missing_by_tag())
    return {"Read as": _read_as(RACK_COUNT, units), "Weight by size": weight}


def _missing_by_tag() -> str:
    """Area missing at the corner of the remnant whose tag and size the counted row has; 0 without one."""
    tag = this(RACK_COUNT, "Tag")
    place = f"MATCH({tag},{whole(REMNANTS, 'Tag')},0)"
    same = ",".join(
        f"INDEX({whole(REMNANTS, side)},{place})={this(RACK_COUNT, side)}" for side in ("Width", "Length")
    )
    gone = "*".join(f"INDEX({whole(REMNANTS, side)},{place})" for side in ("Missing width", "Missing length"))
    gone += "*" + _share_missing(f"INDEX({whole(REMNANTS, 'Missing piece')},{place})")
    gone += f"+INDEX({whole(REMNANTS, 'Cut away')},{place})"
    return f'IF({tag}="",0,IFERROR(IF(AND({same}),{gone},0),0))'


def _weight_of_sheets(page: InputPage, units: Units, missing: str = "0") -> str:
    """All sheets of the row; an empty count is one, and without a size there is no weight to show."""
    sheets, width, length = (this(page, heading) for heading in ("Sheets", "Width", "Length"))
    count = f'IF({sheets}="",1,{sheets})'
    each = f"({width}*{length}-{missing})*{_metal_weight(page, units)}"
    return f'=IF(OR({width}="",{length}=""),"",IFERROR({count}*{each},""))'


def _unless_blank(cell: str, formula: str) -> str:
    return f'=IF({cell}="","",{formula})'


def _of_material(page: InputPage, heading: str) -> str:
    """A cell of the row's material on the page Materials."""
    place = f"MATCH({this(page, 'Material')},{whole(MATERIALS, 'Material')},0)"
    return f"INDEX({whole(MATERIALS, heading)},{place})"


def _part_weight(units: Units) -> str:
    """The net weight of a part: as the plan has it, else of a shape by its sizes.

    Blank for a drawing, holes and corners that no plan has seen: a weight without them is too high.
    """
    width, length, inside = (this(PARTS, heading) for heading in ("Width", "Length", "Inside"))
    areas = {
        ShapeWord.DISC: f"PI()/4*{width}*{length}",
        ShapeWord.RING: f"PI()/4*({width}*{length}-{inside}*{inside})",
        ShapeWord.GUSSET: f"{width}*{length}/2",
        ShapeWord.TRAPEZOID: f"{width}*({length}+{inside})/2",
        ShapeWord.ELL: f"{inside}*({width}+{length}-{inside})",
        ShapeWord.TAB: f"{width}*({length}-{width}/2+PI()/8*{width})",
    }
    area = f"{width}*{length}"
    for shape, formula in areas.items():
        area = f'IF({this(PARTS, "Shape")}="{shape}",{formula},{area})'
    more = ",".join(f'{this(PARTS, heading)}<>""' for heading in ("Drawing", "Holes", "Corner"))
    known = f"INDEX({PLANNED_WEIGHTS},MATCH({this(PARTS, 'Part')},{PLANNED_PARTS},0))"
    live = f'IF(OR({more},{width}="",{length}=""),"",IFERROR(({area})*{_metal_weight(PARTS, units)},""))'
    return f"=IFERROR({known},{live})"


def _weight(page: InputPage, units: Units) -> str:
    return f'=IFERROR({_weight_product(page, units)},"")'


def _weight_product(page: InputPage, units: Units) -> str:
    """Weight of one sheet of the row, in the book's unit."""
    return f"{this(page, 'Width')}*{this(page, 'Length')}*{_metal_weight(page, units)}"


def _metal_weight(page: InputPage, units: Units) -> str:
    """What an area of the row's metal is to be multiplied by, for its weight in the book's unit."""
    scale = "" if units is Units.INCH else "/1000000000"
    return f"{this(page, 'Read as')}*{_of_material(page, 'Density')}{scale}"


def _read_as(page: InputPage, units: Units) -> str:
    """A thickness as a number in the book's unit, for the common ways of writing it; ``?`` for others.

    A help to the eye; the tool itself reads thickness with `trade.thickness`.
    """
    cell = this(page, "Thickness")
    said = _without(f"LOWER({cell})", "galvanised", "galvanized", "galv")
    gauge = f'VALUE(TRIM(LEFT({said},SEARCH("ga",{said})-1)))'
    looked_up = (
        f"INDEX({GAUGE_VALUES},MATCH({gauge},{GAUGE_NUMBERS},0),"
        f"MATCH({_of_material(page, 'Gauge system')},{GAUGE_SYSTEMS},0))"
    )
    number = f"TRIM({_without(said, INCH_SIGN, 'inch', 'in', 'mm')})"
    fraction = f'IFERROR(VALUE("0 "&{number}),VALUE({number}))'
    plain = f'IF(ISNUMBER(FIND("/",{number})),{fraction},{_decimal(number)}){_factor(said, units)}'
    text = f'IF(ISNUMBER(SEARCH("ga",{said})),{looked_up},{plain})'
    return f'=IF({cell}="","",IF(ISNUMBER({cell}),{cell},IFERROR({text},"?")))'


def _decimal(number: str) -> str:
    """A number with a point or a comma before its decimals; an error for what `trade.lengths` asks about.

    That is `1,250`, which may be 1250 or 1.25. A comma that sets thousands apart makes a number far
    beyond any thickness, so `1,250.5` needs no rule: with two points it is no number.
    """
    value = f'_xlfn.NUMBERVALUE(SUBSTITUTE({number},",","."),".",",")'
    places = f'LEN({number})-IFERROR(FIND(",",{number}),LEN({number}))'
    return f"IF(AND({places}=3,{value}>=1),NA(),{value})"


def _factor(said: str, units: Units) -> str:
    """Times this, where the text names the other unit."""
    if units is Units.INCH:
        return f'*IF(ISNUMBER(SEARCH("mm",{said})),1/{MM_PER_INCH},1)'
    inches = f'OR(ISNUMBER(SEARCH("in",{said})),ISNUMBER(FIND("{INCH_SIGN}",{said})))'
    return f"*IF({inches},{MM_PER_INCH},1)"


def _without(text: str, *words: str) -> str:
    for word in words:
        text = f'SUBSTITUTE({text},"{word}","")'
    return text
