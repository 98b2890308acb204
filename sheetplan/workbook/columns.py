"""Every input page of the book: its table, its headings and what each column holds, named once.

Readers, the template and the hosts all take their names from here; `schema` says what the terms
mean and names the rows of the page Settings.
"""

from __future__ import annotations

from sheetplan.drawings.shape_table import ShapeWord
from sheetplan.model.job import OrderState
from sheetplan.model.turns import Corner
from sheetplan.pages.values import LAYOUT_TABLE
from sheetplan.trade.thickness import SERIES
from sheetplan.workbook.schema import (
    GrainWord,
    HelperColumn,
    Holds,
    InputColumn,
    InputPage,
    KeepWord,
    MissingPiece,
    MustWord,
    PriceBy,
    PricePer,
    RemnantState,
    ShapeRow,
    Source,
    ToNext,
    Turn,
    choices,
)

START_PAGE = "Start"

NO_GAUGES = "none"
"""The gauge system of a metal that is never ordered by gauge number."""

_MATERIAL_SOURCE = (Source("Materials", "Material"),)
_MATERIAL = InputColumn(
    "Material", Holds.REFERENCE, "A material named on the page Materials.", "mild steel", 16,
    sources=_MATERIAL_SOURCE,
)
_THICKNESS = InputColumn(
    "Thickness", Holds.THICKNESS,
    "As you write it: {thickness_ways}. A bare number is in {length}. "
    "The same thickness written in two ways is one gauge.", "{thickness}", 11,
)

SETTINGS = InputPage(
    "Settings", "Settings", "Settings",
    "Choices for the whole book. Change the column Value only.",
    (
        InputColumn("Setting", Holds.TEXT, "The name of the setting; leave as it is.", "Units", 22),
        InputColumn("Value", Holds.TEXT, "Your choice.", "{unit}", 15, blank="the usual value"),
        InputColumn("What it does", Holds.TEXT, "For reading only.", "", 84, blank="nothing"),
    ),
    keys=("Setting",),
)

MATERIALS = InputPage(
    "Materials", "Materials", "Materials",
    "The metals that you cut. The gauge system decides what 10 ga means for each of them.",
    (
        InputColumn("Material", Holds.TEXT, "Your name for the metal, used on all other pages.",
                    "mild steel", 20),
        InputColumn("Gauge system", Holds.CHOICE,
                    "Which table a gauge number is looked up in; see the page Gauges. 'none': no gauges.",
                    "carbon steel", 20, choices=(*SERIES, NO_GAUGES)),
        InputColumn("Density", Holds.NUMBER, "In {density}, for weights.", "", 12),
        InputColumn("Scrap price", Holds.MONEY, "What the dealer pays for one {weight} of its scrap; for "
                    "quotes.", "0.06", 11, blank="0", since=11),
    ),
    (HelperColumn("Weight of a plate", "Live: pounds in one square foot, one inch thick; kilograms in one "
                  "square metre, one millimetre thick, in a millimetre book.", 16),),
    keys=("Material",),
)

CUTTING = InputPage(
    "Cutting", "Cutting", "Cutting",
    "How each material and thickness is cut. Replace the starter values with your own cut chart.",
    (
        _MATERIAL,
        _THICKNESS,
        InputColumn("Kerf", Holds.LENGTH, "Width of the cut, in {length}.", "", 6),
        InputColumn("Gap", Holds.LENGTH,
                    "Least clear metal between finished parts, kerf included, in {length}.", "", 6),
        InputColumn("Margin", Holds.LENGTH, "Least clear metal to the sheet's edge, in {length}.",
                    "", 7),
        InputColumn("Least hole", Holds.LENGTH, "Smallest hole that is cut through, in {length}.", "", 7,
                    blank="no limit"),
        InputColumn("Least web", Holds.LENGTH, "Least metal between two cuts of one part, in {length}; "
                    "narrower is asked about.", "", 6, blank="no limit", since=8),
        InputColumn("Feed", Holds.NUMBER, "Cutting speed in {feed}.", "", 7, blank="no times worked out"),
        InputColumn("Pierce seconds", Holds.NUMBER, "Seconds for one pierce.", "0.5", 8, blank="0"),
        InputColumn("Travel", Holds.NUMBER, "Speed of moves between cuts, in {feed}.", "", 7,
                    blank="moves not counted", since=1),
        InputColumn("Small hole below", Holds.NUMBER, "Holes whose diameter is less than so many times the "
                    "thickness are cut at Small hole feed (2 is common practice, no source).", "2", 7,
                    blank="all holes are cut at Feed", since=11),
        InputColumn("Small hole feed", Holds.NUMBER, "Cutting speed in small holes, in {feed}; 60 per cent "
                    "of Feed is common practice, no source.", "", 7, blank="all holes are cut at Feed",
                    since=11),
        InputColumn("Lead-in", Holds.LENGTH, "Length that is cut beside each loop before it begins, in "
                    "{length}; for times alone.", "", 7, blank="0", since=11),
        InputColumn("Height seconds", Holds.NUMBER, "Seconds at each pierce until the torch has found its "
                    "height (2 is common practice, no source).", "2", 8, blank="0", since=11),
        InputColumn("Pierce cost", Holds.MONEY, "Consumables for one pierce, beside those of the next two "
                    "columns.", "0.04", 7, blank="0"),
        InputColumn("Set cost", Holds.MONEY, "Price of one set of consumables.", "18", 6,
                    blank="not counted by the set", since=1),
        InputColumn("Pierces a set", Holds.COUNT, "How many pierces one set lasts; the set's price is shared "
                    "among them.", "400", 8, blank="not counted by pierces", since=1),
        InputColumn("Minutes a set", Holds.NUMBER, "How many minutes of arc one set lasts. Filled beside "
                    "Pierces a set: whichever of the two is used up first, part by part.", "90", 8,
                    blank="not counted by minutes", since=11),
        InputColumn("Hour cost", Holds.MONEY, "Cost of one hour of the table.", "95", 6,
                    blank="Machine hour cost in Settings"),
        InputColumn("Process", Holds.TEXT, "Process or amperage of the row. One metal and thickness may have "
                    "a row for each; a plan takes the one with yes in In use.", "65 A", 7, blank="not said",
                    since=11),
        InputColumn("In use", Holds.YES_NO, "yes: of several rows of one metal and thickness, the one to "
                    "plan and to reckon with.", "yes", 5, blank="the first of them is used",
                    choices=("yes", "no"), since=11),
        InputColumn("From", Holds.TEXT, "Where the values come from.", "own cut chart", 16, blank="not said"),
    ),
    (HelperColumn("Read as", "Live: the thickness as a number, in {length}."),),
    keys=("Material", "Thickness"),
)

PARTS = InputPage(
    "Parts", "Parts", "Parts",
    "One row for each part that you make, whether it is ordered this month or not.",
    (
        InputColumn("Part", Holds.TEXT, "Your part number or name; each once only.", "CB-100", 12),
        InputColumn("Description", Holds.TEXT, "In your own words.", "cleat base plate", 20, blank="none"),
        _MATERIAL,
        _THICKNESS,
        InputColumn("Width", Holds.LENGTH, "Finished width in {length}: a number, or text such as "
                    "{part_width}.", "", 8, blank="taken from the drawing; without one it has to be filled"),
        InputColumn("Length", Holds.LENGTH, "Finished length in {length}: a number, or text such as "
                    "{part_length}.", "", 8, blank="taken from the drawing; without one it has to be filled"),
        InputColumn("Shape", Holds.CHOICE, "A shape that needs no drawing: see the page Shapes.",
                    ShapeWord.RECTANGLE, 10, blank=ShapeWord.RECTANGLE, choices=choices(ShapeWord), since=2),
        InputColumn("Inside", Holds.LENGTH, "Inside diameter of a ring, top edge of a trapezoid, width of an "
                    "L's legs, in {length}.", "", 7, blank="not used", since=2),
        InputColumn("Corner", Holds.TEXT, "Corners of a rectangle: r {corner} rounds them, clip {corner} "
                    "clips them. A gusset takes clip. See the page Shapes.", "r {corner}", 8, blank="square",
                    since=2),
        InputColumn("Holes", Holds.TEXT, "4 x {hole} at {inset}: a hole in each corner, {inset} from the "
                    "edges. 5 by 2 x {hole} at {inset}: rows. 6 x {hole} on {circle}: on a bolt circle. 2 "
                    "slots {slot} x {hole} at {inset}: in a strap. See the page Shapes.",
                    "4 x {hole} at {inset}", 13, blank="none", since=2),
        InputColumn("Drawing", Holds.TEXT, "A DXF or SVG below the book's folder: plates/bracket.dxf, or "
                    "plates/bracket.dxf#2 for the second part in it.", "plates/bracket.dxf", 15,
                    blank="no drawing", since=2),
        InputColumn("Drawn in", Holds.CHOICE, "The unit of the drawing, where the file is silent or wrong.",
                    "{unit}", 7, blank="as the file says", choices=("in", "mm", "cm", "m", "ft"), since=2),
        InputColumn("Cut layers", Holds.TEXT, "Layers of the drawing that are cut, separated by commas; * "
                    "stands for any letters.", "0, PROFILE", 7, blank="as in Settings", since=2),
        InputColumn("Doubtful lines", Holds.TEXT, "Open lines that lie inside the part: mark, or leave out. "
                    "Outlines that look like lettering: cut, mark or leave out lettering.", "mark", 9,
                    blank="open lines stop the part; lettering is cut", since=7),
        InputColumn("Turns", Holds.CHOICE,
                    "How the part may lie on the sheet. 'as drawn' keeps length along length.",
                    Turn.ANY_QUARTER, 13, blank=Turn.ANY_QUARTER, choices=choices(Turn)),
        InputColumn("Grain", Holds.CHOICE,
                    "Which way of the part runs with the sheet's length (its rolling direction).",
                    GrainWord.ANY, 11, blank=GrainWord.ANY, choices=choices(GrainWord)),
        InputColumn("Spare", Holds.COUNT, "How many more may be made where metal would be left empty.",
                    "0", 6, blank="0"),
        InputColumn("Mark", Holds.YES_NO, "Whether the part number is marked on the part.", "no", 6,
                    blank="no", choices=("yes", "no")),
    ),
    (
        HelperColumn("Read as", "Live: the thickness as a number, in {length}.", 9),
        HelperColumn("Weight each", "Live: net weight of one part in {weight}s, holes and corners taken off, "
                     "as the last plan has it; of a plain shape that is not planned, by its sizes. Else "
                     "empty.", 9),
        HelperColumn("Ordered", "Live: pieces asked for on the page Orders, kits included.", 9),
    ),
    keys=("Part",),
    prints_live=False,
)

KITS = InputPage(
    "Kits", "Kits", "Kits",
    "What one kit is made of: one row for each part of the kit.",
    (
        InputColumn("Kit", Holds.TEXT, "Name of the kit, again on each of its rows.", "cleat set", 26),
        InputColumn("Part", Holds.REFERENCE, "A part named on the page Parts.", "CB-100", 18,
                    sources=(Source("Parts", "Part"),)),
        InputColumn("Quantity", Holds.COUNT, "Pieces of this part in one kit.", "2", 10),
    ),
    (
        HelperColumn("Description", "Live: the part's description.", 30),
        HelperColumn("Kits ordered", "Live: how many of this kit are asked for on the page Orders.", 11),
        HelperColumn("Pieces", "Live: quantity times kits ordered.", 11),
    ),
    keys=("Kit", "Part"),
)

ORDERS = InputPage(
    "Orders", "Orders", "Orders",
    "What is to be made this month, kits and single parts alike.",
    (
        InputColumn("Order", Holds.TEXT, "Your order number or name.", "H-2041", 14),
        InputColumn("Item", Holds.REFERENCE, "A kit from the page Kits or a part from the page Parts.",
                    "cleat set", 28, sources=(Source("Kits", "Kit"), Source("Parts", "Part"))),
        InputColumn("Quantity", Holds.COUNT, "How many kits or parts.", "12", 10),
        InputColumn("Due", Holds.DATE, "When it is needed.", "", 13, blank="no date"),
        InputColumn("Must", Holds.CHOICE,
                    "'must': has to be made. 'if it fits': buys no sheet, but may take metal that would else "
                    "go back to the rack as a remnant.",
                    MustWord.MUST, 12, blank=MustWord.MUST, choices=choices(MustWord)),
        InputColumn("State", Holds.CHOICE,
                    "Only open orders are planned. What was cut for one that is on hold, cancelled or done "
                    "stays known.", OrderState.OPEN, 11, blank=OrderState.OPEN, choices=choices(OrderState),
                    since=5),
        InputColumn("Earlier name", Holds.TEXT, "The name under which pieces were cut for it, if the order "
                    "was renamed since.", "H-2040", 13, blank="never renamed", since=5),
        InputColumn("Since", Holds.DATE, "Where an earlier order had the same name: the first day whose cuts "
                    "are for this one.", "2026-12-01", 12, blank="all that is cut under its name is for it",
                    since=6),
        InputColumn("Process", Holds.TEXT, "Process or amperage to cut it by, as Cutting names it. "
                    "A gauge is cut by one process in a plan.", "65 A", 9,
                    blank="the row of Cutting that is in use", since=12),
    ),
    (
        HelperColumn("Kit or part", "Live: what the item is.", 12),
        HelperColumn("Pieces", "Live: pieces to cut for this order.", 10),
    ),
    keys=("Order", "Item"),
)

QUOTES = InputPage(
    "Quotes", "Quotes", "Quotes",
    "What somebody asks the price of. `sheetplan quote` answers on the page Quoted and changes no plan.",
    (
        InputColumn("Quote", Holds.TEXT, "Your number or name for it; each once only.", "Q-101", 11),
        InputColumn("Item", Holds.REFERENCE, "A kit from the page Kits or a part from the page Parts.",
                    "cleat set", 24, blank="the drawing", sources=(Source("Kits", "Kit"),
                                                                    Source("Parts", "Part"))),
        InputColumn("Drawing", Holds.TEXT, "Instead of an item: a DXF or SVG below the book's folder, with "
                    "its material and thickness in the next two columns.", "plates/bracket.dxf", 25,
                    blank="the item"),
        InputColumn("Material", Holds.REFERENCE, "Of a drawing: a material named on the page Materials.",
                    "mild steel", 14, blank="the item's own", sources=_MATERIAL_SOURCE),
        InputColumn("Thickness", Holds.THICKNESS, "Of a drawing: {thickness_ways}.", "{thickness}", 10,
                    blank="the item's own"),
        InputColumn("Drawn in", Holds.CHOICE, "Of a drawing: its unit, where the file is silent or wrong.",
                    "{unit}", 7, blank="as the file says", choices=("in", "mm", "cm", "m", "ft"), since=13),
        InputColumn("Quantity", Holds.TEXT, "How many, or several to compare: 1; 10; 50.", "1; 10; 50", 13),
        InputColumn("Wanted", Holds.DATE, "When it is wanted.", "", 12, blank="no date"),
        InputColumn("Customer", Holds.TEXT, "Who asks, and what for; it stands on the customer's page.",
                    "", 20, blank="not said"),
        InputColumn("Mark-up", Holds.SHARE, "What the price adds to the cost, in per cent.", "25%", 9,
                    blank="Mark-up in Settings"),
        InputColumn("Price by", Holds.CHOICE, "Which cost the price stands on. alone: whole sheets and whole "
                    "lots for this quote. this month: what it adds to the month's plan.", PriceBy.ALONE, 11,
                    blank=PriceBy.ALONE, choices=choices(PriceBy)),
        InputColumn("Order it", Holds.TEXT, "yes, or which of the quantities: the next run of quote makes it "
                    "a row of the page Orders and writes here when it did.", "10", 24, blank="asked only"),
    ),
    keys=("Quote",),
)

STOCK = InputPage(
    "Stock", "Stock", "Stock",
    "Sheet sizes that are on hand or can be bought, for each material and thickness.",
    (
        InputColumn("Sheet", Holds.TEXT, "Your name for the sheet; each once only.", "MS10-4x8", 16),
        _MATERIAL,
        _THICKNESS,
        InputColumn("Width", Holds.LENGTH, "Width of the full sheet in {length}.", "", 9),
        InputColumn("Length", Holds.LENGTH, "Length of the full sheet in {length}, along its grain.", "", 9),
        InputColumn("On hand", Holds.COUNT, "Full sheets in the rack now.", "3", 8, blank="0"),
        InputColumn("On order", Holds.COUNT, "Sheets that are ordered and have not come; a plan reckons with "
                    "them. `sheetplan ordered` takes them over from the page Buy.", "4", 8, blank="0",
                    since=4),
        InputColumn("Received", Holds.COUNT, "Of a delivery that has just come: how many. `sheetplan "
                    "receive` puts them on hand, writes Purchases and clears this.", "4", 8, blank="none",
                    since=4),
        InputColumn("Price", Holds.MONEY, "What you pay; the next column says for what.", "", 8,
                    blank="0, and sizes are then compared by area only"),
        InputColumn("Price per", Holds.CHOICE,
                    "What the price is for: one sheet; weight, one {weight}; area, one {area}; or kg, lb, "
                    "m2, ft2.", PricePer.SHEET, 8, blank=PricePer.SHEET, choices=choices(PricePer)),
        InputColumn("Billed weight", Holds.TEXT, "Of a price per weight: which weight is billed. real: by "
                    "size and density. published: the published weight of the gauge. Or what one sheet "
                    "weighs as billed, in {weight}s.", "published", 9, blank="real", since=11),
        InputColumn("Most to buy", Holds.COUNT, "The most sheets that can be bought; 0 for none.", "20", 8,
                    blank="as many as wanted"),
        InputColumn("Order multiple", Holds.COUNT, "Sheets are bought in lots of this many.", "1", 9,
                    blank="1"),
        InputColumn("Supplier", Holds.TEXT, "Who sells it.", "", 13, blank="not said"),
        InputColumn("Lead days", Holds.COUNT, "Days of the calendar from ordering to delivery, for the page "
                    "Cutting order.", "5", 7, blank="not known", since=10),
        InputColumn("Rack place", Holds.TEXT, "Where it lies.", "A2", 11, blank="not said"),
    ),
    (
        HelperColumn("Read as", "Live: the thickness as a number, in {length}.", 9),
        HelperColumn("Weight each", "Live: weight of one sheet in {weight}s.", 9),
        HelperColumn("Price each", "Live: price of one sheet. Empty where a published weight is billed: the "
                     "page Buy has it.", 9),
    ),
    keys=("Sheet",),
)

REMNANTS = InputPage(
    "Remnants", "Remnants", "Remnants",
    "Partly used sheets worth keeping. What the tool cut from them stands in the folder rack.",
    (
        InputColumn("Tag", Holds.TEXT, "Written on the remnant; each once only.", "R-017", 10),
        _MATERIAL,
        _THICKNESS,
        InputColumn("Width", Holds.LENGTH, "Width that is left, in {length}.", "", 9),
        InputColumn("Length", Holds.LENGTH, "Length that is left, in {length}, along its grain.", "", 9),
        InputColumn("Missing width", Holds.LENGTH, "Of a piece that was cut from one corner before the tool "
                    "came: how much of the width is gone, in {length}.", "", 8,
                    blank="nothing is missing", since=3),
        InputColumn("Missing length", Holds.LENGTH, "How much of the length is gone there, in {length}.", "",
                    8, blank="nothing is missing", since=3),
        InputColumn("Missing corner", Holds.CHOICE, "The corner where that piece is missing.",
                    Corner.UPPER_RIGHT, 11, blank="nothing is missing", choices=choices(Corner),
                    since=3),
        InputColumn("Missing piece", Holds.CHOICE, "'triangle': the corner is cut off by one straight line; "
                    "as wide as the sheet, that is a slanted end. What is no rectangle less one corner goes "
                    "on the page Remnant shapes.", MissingPiece.TRIANGLE, 8, blank="a rectangle is missing",
                    choices=choices(MissingPiece), since=11),
        InputColumn("Shape", Holds.TEXT, "What its outline is, where the tool cut it: the tool writes this.",
                    "● disc 16.9 in", 13, blank="a rectangle less the missing corner, or as the page Remnant "
                    "shapes says", since=9),
        InputColumn("Cut away", Holds.NUMBER, "Metal of Width times Length that is not there, besides the "
                    "missing corner, in square {length}: old cuts, what a disc lacks of its square. The tool "
                    "writes this.", "", 9, blank="nothing", since=9),
        InputColumn("Datum corner", Holds.CHOICE, "The corner that is square and measured from.",
                    Corner.LOWER_LEFT, 11, blank="as in Settings", choices=choices(Corner)),
        InputColumn("Rack place", Holds.TEXT, "Where it lies.", "R1", 9, blank="not said"),
        InputColumn("Sheets above", Holds.COUNT, "How many sheets lie on it in the pile; moving them can be "
                    "given a price in Settings.", "14", 7, blank="not said", since=3),
        InputColumn("Extra gap", Holds.LENGTH, "More clear metal to old cuts than the gap, where edges are "
                    "warped, in {length}.", "", 7, blank="as in Settings", since=3),
        InputColumn("Value", Holds.MONEY, "What using it up costs a plan; counts as it is written. 0 for one "
                    "that may be used up for nothing. What a cut leaves, the tool writes here.", "0", 9,
                    blank="its largest rectangle at the price of the cheapest sheet of its gauge, times "
                    "Remnants count at in Settings"),
        InputColumn("State", Holds.CHOICE,
                    "'in rack' may be used; 'used up' is gone; 'leave alone' stays where it is.",
                    RemnantState.IN_RACK, 12, blank=RemnantState.IN_RACK, choices=choices(RemnantState)),
    ),
    (
        HelperColumn("Read as", "Live: the thickness as a number, in {length}.", 9),
        HelperColumn("Weight", "Live: weight in {weight}s of the metal that is there: by its size, less the "
                     "missing corner and what is cut away. Empty for one on the page Remnant shapes: "
                     "`sheetplan rack` says what that weighs.", 10),
    ),
    keys=("Tag",),
)

REMNANT_SHAPES = InputPage(
    "Remnant shapes", "RemnantShapes", "Remnant shapes",
    "Remnants that are no plain rectangle: edge and cut-outs, by tape. A slip that gives another sound shape "
    "is seen in `sheetplan rack --list` alone.",
    (
        InputColumn("Tag", Holds.TEXT, "A remnant of the page Remnants, again on each of its rows. They are "
                    "read until the rack has a record of it: from its first cut on, that is planned on.",
                    "R-030", 10),
        InputColumn("What", Holds.CHOICE, "'edge': a corner of the sheet, one after another all the way "
                    "round, either way; the first one again closes it. 'cut-out': the same round an opening. "
                    "'rectangle', 'disc': an opening of that shape in one row. Without an edge, the sheet is "
                    "what its row on Remnants says.", ShapeRow.EDGE, 11, blank=ShapeRow.EDGE,
                    choices=choices(ShapeRow)),
        InputColumn("Which cut-out", Holds.TEXT, "Where a sheet has several of points: a name for each, on "
                    "all its rows.", "B", 9, blank="there is one"),
        InputColumn("Along length", Holds.LENGTH, "From the datum corner along the sheet's length, in "
                    "{length}: to the point, to a rectangle's nearest corner, to a disc's middle.", "", 10),
        InputColumn("Along width", Holds.LENGTH, "From the datum corner along its width, in {length}.", "",
                    10),
        InputColumn("To next point", Holds.CHOICE, "How the edge runs from this point to the next. "
                    "'straight' is along the length or the width; one that slants has to be said, so that a "
                    "wrong figure or a missing row is noticed. 'round outwards' bulges out of the sheet or "
                    "the cut-out, and makes it larger.",
                    ToNext.STRAIGHT, 15, blank=ToNext.STRAIGHT, choices=choices(ToNext)),
        InputColumn("Radius", Holds.LENGTH, "Of a round piece, in {length}; or give its rise. Give both, and "
                    "a slip in either, or in a point of it, is noticed.", "", 8,
                    blank="its rise is given, or it is straight"),
        InputColumn("Rise", Holds.LENGTH, "Of a round piece: how far its middle stands off the straight line "
                    "between the two points, in {length}.", "", 8,
                    blank="its radius is given, or it is straight"),
        InputColumn("Length", Holds.LENGTH, "Of an opening that is a rectangle: how far it goes along the "
                    "sheet's length, in {length}. Of a slanting piece its own length: with it a slip in "
                    "either of its points is noticed.", "", 8, blank="no rectangle, or a slant not measured"),
        InputColumn("Width", Holds.LENGTH, "How far it goes along the sheet's width, in {length}.", "", 8,
                    blank="no rectangle"),
        InputColumn("Diameter", Holds.LENGTH, "Of an opening that is a disc, in {length}.", "", 9,
                    blank="no disc"),
    ),
    keys=("Tag",),
)

RECORD = InputPage(
    "Record", "CutsToRecord", "What was cut",
    "A row for each ticket that was cut. Recording them clears the rows: they stand in the Cut log then.",
    (
        InputColumn("Ticket", Holds.TEXT, "The layout, or the code on its ticket. A number alone is asked "
                    "about where a ticket of an earlier plan may be meant. Or a file beside the book that "
                    "the page of the plan handed back: it stands for all its lines.",
                    "KRTM-L3", 12),
        InputColumn("Sheets", Holds.COUNT, "How many sheets were cut by it.", "2", 8,
                    blank="all that are still planned"),
        InputColumn("Cut from", Holds.TEXT, "The remnant, by its tag, or the full sheet that was used.",
                    "R-017", 12, blank="as planned"),
        InputColumn("Pieces cut", Holds.TEXT, "Of a sheet that was stopped half way: which pieces were cut. "
                    "PART, PART=4, or PART#1-3 by their numbers from the datum corner; commas between.",
                    "CB-100, CB-101#1-3", 20, blank="all of them"),
        InputColumn("Bad pieces", Holds.TEXT, "Which of them came out bad; commas between.", "CB-101=2", 14,
                    blank="none"),
        InputColumn("What is left", Holds.CHOICE, "What was done with the rest of the sheet.",
                    KeepWord.AS_IT_IS, 18, blank="as in Settings", choices=choices(KeepWord)),
        InputColumn("Cut on", Holds.DATE, "The day.", "2026-11-24", 12, blank="today"),
        InputColumn("Cut by", Holds.TEXT, "Who cut it.", "", 12, blank="not said"),
        InputColumn("Heat", Holds.TEXT, "Heat number of the sheet.", "", 11, blank="not said"),
        InputColumn("Beyond plan", Holds.YES_NO, "yes: it was cut more often than planned.", "yes", 9,
                    blank="no", choices=("yes", "no")),
        InputColumn("Note", Holds.TEXT, "Anything else; it goes into the Cut log.", "", 22,
                    blank="nothing to add"),
    ),
    keys=("Ticket",),
)

PURCHASES = InputPage(
    "Purchases", "Purchases", "Purchases received",
    "Metal that came in, one row for each line of a delivery. For the month's end; a plan does not read it.",
    (
        InputColumn("Date", Holds.DATE, "The day on which it came in.", "2026-11-05", 12),
        _MATERIAL,
        _THICKNESS,
        InputColumn("Width", Holds.LENGTH, "Width of one sheet in {length}.", "{sheet_width}", 9,
                    blank="no size, so that the weight has to be written"),
        InputColumn("Length", Holds.LENGTH, "Length of one sheet in {length}.", "{sheet_length}", 9,
                    blank="no size, so that the weight has to be written"),
        InputColumn("Sheets", Holds.COUNT, "How many sheets the line delivers.", "4", 8, blank="1"),
        InputColumn("Noted weight", Holds.NUMBER, "Weight of the whole line in {weight}s, as the delivery "
                    "note says it. The balance weighs by size and density and names the difference.", "", 11,
                    blank="no note"),
        InputColumn("Paid", Holds.MONEY, "What the whole line cost.", "", 11),
        InputColumn("Supplier", Holds.TEXT, "Who delivered it.", "", 16, blank="not said"),
    ),
    (
        HelperColumn("Read as", "Live: the thickness as a number, in {length}.", 9),
        HelperColumn("Weight by size", "Live: weight of all sheets of the row in {weight}s.", 11),
    ),
    keys=("Date", "Material", "Thickness"),
)

SCRAP_LOG = InputPage(
    "Scrap log", "ScrapLog", "Scrap log",
    "The scrap dealer's tickets, one row for each. For the month's end; a plan does not read it.",
    (
        InputColumn("Date", Holds.DATE, "The day on the ticket.", "2026-11-27", 12),
        InputColumn("Ticket", Holds.TEXT, "Its number.", "", 14, blank="not said"),
        InputColumn("Weight", Holds.NUMBER, "Net weight by the scales, in {weight}s.", "", 12),
        InputColumn("Paid", Holds.MONEY, "What the dealer paid for it.", "", 11, blank="0"),
        InputColumn("Material", Holds.REFERENCE, "The metal in the bin, as named on the page Materials.",
                    "mild steel", 18, blank="a bin of several metals", sources=_MATERIAL_SOURCE),
        InputColumn("Thickness", Holds.THICKNESS, "Only where the bin held one thickness.", "{thickness}", 11,
                    blank="several thicknesses"),
    ),
    keys=("Date", "Ticket"),
)

RACK_COUNT = InputPage(
    "Rack count", "RackCount", "Rack count",
    "What lay in the rack when a month ended, full sheets and remnants alike. The end of one month is the "
    "start of the next.",
    (
        InputColumn("End of", Holds.DATE, "The month at whose end it was counted: any day of that month.",
                    "2026-10-31", 12),
        _MATERIAL,
        _THICKNESS,
        InputColumn("Width", Holds.LENGTH, "Width in {length}.", "{sheet_width}", 9),
        InputColumn("Length", Holds.LENGTH, "Length in {length}.", "{sheet_length}", 9),
        InputColumn("Sheets", Holds.COUNT, "How many of this size; 0 to say that the rack was empty.", "3", 8,
                    blank="1"),
        InputColumn("Tag", Holds.TEXT, "Of a remnant.", "R-017", 10, blank="full sheets"),
        InputColumn("Value", Holds.MONEY, "What the row's metal is worth.", "", 11,
                    blank="with a tag, the Value of its row on Remnants; else by weight, at the price of the "
                    "page Stock, of a tag times Remnants count at in Settings"),
    ),
    (
        HelperColumn("Read as", "Live: the thickness as a number, in {length}.", 9),
        HelperColumn("Weight by size", "Live: weight of all sheets of the row in {weight}s, less a missing "
                     "corner. The balance also takes off what a tag lacks by the page Remnant shapes, and "
                     "what the tool had cut from it by then.", 11),
    ),
    keys=("End of", "Material", "Thickness"),
)

EARLIER_CUTS = InputPage(
    "Earlier cuts", "EarlierCuts", "Earlier cuts",
    "What was cut in months that this book keeps no cut log of, by month and gauge, so that the trend goes "
    "on.",
    (
        InputColumn("Month", Holds.DATE, "Any day of the month.", "2026-09-30", 12),
        _MATERIAL,
        _THICKNESS,
        InputColumn("Taken", Holds.NUMBER, "Weight of the sheets and remnants cut, in {weight}s.", "", 11),
        InputColumn("Good parts", Holds.NUMBER, "Weight of the good parts, in {weight}s.", "", 11),
        InputColumn("Bad parts", Holds.NUMBER, "Weight of parts that came out bad, in {weight}s.", "", 11,
                    blank="0"),
        InputColumn("Kerf", Holds.NUMBER, "Weight of what was burnt or blown away, in {weight}s.", "", 11,
                    blank="0, so that it counts as skeleton"),
        InputColumn("Kept", Holds.NUMBER, "Weight of the remnants that went back, in {weight}s.", "", 11,
                    blank="0"),
        InputColumn("Skeleton kept", Holds.NUMBER, "Of Kept, skeleton that hangs on the remnants, in "
                    "{weight}s; no yield counts it as kept.", "", 11, blank="0", since=12),
        InputColumn("Metal cost", Holds.MONEY, "What the metal taken was worth.", "", 11, blank="0"),
        InputColumn("Kept value", Holds.MONEY, "What the remnants were worth that went back.", "", 11,
                    blank="0"),
    ),
    keys=("Month", "Material", "Thickness"),
)

INPUT_PAGES = (SETTINGS, MATERIALS, CUTTING, PARTS, KITS, ORDERS, STOCK, REMNANTS)
"""Pages with a table that a plan needs, in the order in which one builds on another."""

MONTH_PAGES = (PURCHASES, SCRAP_LOG, RACK_COUNT, EARLIER_CUTS)
"""Pages that only the month's end reads; a book does without them until then."""

PLANNED_FROM = (*INPUT_PAGES, REMNANT_SHAPES)
"""Pages that a plan reads; a book may do without the last."""

MONTHLY_PAGES = ORDERS, QUOTES, STOCK, REMNANTS, REMNANT_SHAPES, RECORD
LASTING_PAGES = PARTS, KITS, SETTINGS, MATERIALS, CUTTING
"""Pages that are filled in each month, and those that stay from month to month."""

ALL_PAGES = (*PLANNED_FROM, QUOTES, RECORD, *MONTH_PAGES)
"""Every page with a table that the planner fills."""


LAYOUT_MARKS = InputPage(
    "Layouts", LAYOUT_TABLE, "Layouts to cut",
    "A result page; only the columns Cut now, How and Lock are read back.",
    (
        InputColumn("Layout", Holds.TEXT, "The layout's tag.", "L3", 8),
        InputColumn("Cut so far", Holds.COUNT, "How often it is recorded as cut.", "0", 7, blank="0"),
        InputColumn("Cut now", Holds.COUNT, "How often it has been cut since; `sheetplan cut` records it.",
                    "1", 7, blank="0"),
        InputColumn("How", Holds.TEXT, "What was not as planned, read with Cut now: on MS10-5x10; date "
                    "2026-11-24; only PLATE=4.", "on R-017", 14, blank="all as planned, today"),
        InputColumn("Lock", Holds.TEXT, "A mark keeps the layout as it is when a plan is made anew.", "x", 6,
                    blank="free"),
    ),
    keys=("Layout",),
)

CUTTING_MARKS = InputPage(
    "Cutting order", "CuttingOrder", "What is cut on which day",
    "A result page; read back only to count up what is cut.",
    (
        InputColumn("Day", Holds.TEXT, "The day with its weekday.", "2026-11-30 Mon", 15),
        InputColumn("Layout", Holds.TEXT, "The layout's tag.", "L3", 8),
        InputColumn("Times", Holds.COUNT, "How often it is cut on that day.", "2", 7, blank="0"),
        InputColumn("Cut so far", Holds.COUNT, "How many of them are recorded as cut.", "0", 7, blank="0"),
    ),
    keys=("Day", "Layout"),
)

CHOICE_MARKS = InputPage(
    "Choices", "ChoiceList", "Plans to pick from",
    "A result page; only the column Pick is read back, with the plan that it is of.",
    (
        InputColumn("Choice", Holds.TEXT, "The tag of one way to plan a gauge.", "C2", 8),
        InputColumn("Pick", Holds.TEXT, "A mark puts this choice to use at the next plan.", "x", 6,
                    blank="not picked"),
        InputColumn("Plan", Holds.TEXT, "The plan that the choice is of.", "KRTM", 8, blank="not known"),
        InputColumn("Of plan", Holds.TEXT, "The same in older books.", "KRTM", 8, blank="see Plan"),
    ),
    keys=("Choice",),
)

CUT_LOG = InputPage(
    "Cut log", "CutLog", "Cut log",
    "Written by the tool; read back only to see which steps the book knows.",
    (InputColumn("Step", Holds.COUNT, "The number of the step.", "1", 6),),
    keys=("Step",),
)

STOCK_LOG = InputPage(
    "Stock log", "StockLog", "Stock log",
    "Written by the tool; read back only to see which steps the book knows.",
    (InputColumn("Step", Holds.COUNT, "The number of the step.", "1", 6),),
    keys=("Step",),
)

FINISHED_MARKS = InputPage(
    "Finished parts", "FinishedParts", "Finished parts",
    "A result page; only the column Counted is read back.",
    (
        InputColumn("Part", Holds.TEXT, "The part.", "CB-100", 14),
        InputColumn("Counted", Holds.COUNT, "How many lie there by a count of the shelf; recording it "
                    "corrects what is free.", "7", 9, blank="not counted"),
    ),
    keys=("Part",),
)

HELD_MARKS = InputPage(
    "Finished parts, cut for orders", "PartsCutFor", "Cut for orders",
    "The second table of the page Finished parts; only the columns Move and To are read back.",
    (
        InputColumn("Order", Holds.TEXT, "The order that the pieces were cut for.", "H-2041", 14),
        InputColumn("Item", Holds.TEXT, "Its kit or part.", "cleat set", 26),
        InputColumn("Part", Holds.TEXT, "The part.", "CB-100", 14),
        InputColumn("Move", Holds.COUNT, "How many go elsewhere.", "4", 8, blank="none"),
        InputColumn("To", Holds.TEXT, "The order that gets them; 'free' or 'scrap'.", "H-2050", 14,
                    blank="free"),
    ),
    keys=("Order", "Item", "Part"),
)

QUOTES_GIVEN = InputPage(
    "Quoted, all so far", "QuotesGiven", "All quotes given so far",
    "The last table of the page Quoted; read back where the file of the quotes does not know its rows.",
    (
        InputColumn("Date", Holds.TEXT, "The day of the quote.", "2026-11-24", 11),
        InputColumn("Item", Holds.TEXT, "Its kit or part.", "cleat set", 19),
        InputColumn("Quote", Holds.TEXT, "Its name.", "Q-101", 11),
        InputColumn("Quantity", Holds.COUNT, "How many.", "10", 8),
        InputColumn("Price each", Holds.MONEY, "The price of one.", "", 10, blank="none was told"),
        InputColumn("Price", Holds.MONEY, "The price of all.", "", 10, blank="none was told"),
        InputColumn("Plan", Holds.TEXT, "The plan that it was laid beside.", "KRTM", 11, blank="none stood"),
        InputColumn("Ordered", Holds.TEXT, "The day on which it became an order.", "", 11,
                    blank="not ordered"),
    ),
    keys=("Date", "Item", "Quote", "Quantity"),
)

READ_BACK = (
    LAYOUT_MARKS, CUTTING_MARKS, CHOICE_MARKS, CUT_LOG, STOCK_LOG, FINISHED_MARKS, HELD_MARKS, QUOTES_GIVEN,
)  # fmt: skip
"""Result pages of which something is read back: what is cut, picked, locked or quoted."""
