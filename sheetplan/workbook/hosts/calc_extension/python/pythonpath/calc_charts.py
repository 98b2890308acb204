"""Draw a native chart into a Calc sheet: it takes labels and values from the cells of its table."""

from __future__ import annotations

from typing import Any

from com.sun.star.awt import Rectangle
from com.sun.star.chart.ChartLegendPosition import BOTTOM
from com.sun.star.drawing import Hatch
from com.sun.star.drawing.FillStyle import HATCH
from com.sun.star.drawing.FillStyle import NONE as NO_FILL
from com.sun.star.drawing.HatchStyle import SINGLE
from com.sun.star.drawing.LineStyle import NONE as NO_LINE
from com.sun.star.drawing.LineStyle import SOLID
from com.sun.star.lang import Locale
from com.sun.star.table import CellRangeAddress

SPACE = 100
"""Hundredths of a millimetre between the chart and the edges of its row."""

TEXT, TITLE = 9, 11
HATCH_APART, HATCH_TURN = 100, 450
"""Hundredths of a millimetre between the lines of a hatch, and tenths of a degree."""


def format_key(formats: Any, code: str) -> int:
    """The number of a format that is written in the English way, for numbers as the program writes them.

    That is the language of no country, as formats of a file have it: kept in a file, they say no language.
    """
    if code == "General":
        return int(formats.getStandardIndex(Locale()))
    return int(formats.addNewConverted(code, Locale("en", "US", ""), Locale()))


def draw_chart(sheet: Any, name: str, sent: dict[str, Any], per_point: float) -> None:
    """Draw one chart in its row; ``per_point`` turns points into the document's measure."""
    cell = sheet.getCellByPosition(0, sent["row"]).Position
    place = Rectangle(
        cell.X + SPACE,
        cell.Y + SPACE,
        int(sent["width"] * per_point),
        int(sent["height"] * per_point) - 2 * SPACE,
    )
    number = sheet.RangeAddress.Sheet
    columns = tuple(
        CellRangeAddress(number, column, sent["head_row"], column, sent["last_row"])
        for column in (sent["labels"], *sent["series"])
    )
    sheet.Charts.addNewByName(name, place, columns, True, True)
    chart = sheet.Charts.getByName(name).EmbeddedObject
    chart.lockControllers()
    try:
        _dress(chart, sent)
    finally:
        chart.unlockControllers()


def _dress(chart: Any, sent: dict[str, Any]) -> None:
    chart.setDiagram(chart.createInstance("com.sun.star.chart.BarDiagram"))
    diagram = chart.getDiagram()
    diagram.Vertical = sent["bars"]  # the service means bars that lie
    diagram.Stacked = sent["stacked"]
    diagram.Percent = sent["shares"]
    chart.HasMainTitle = True
    chart.Title.String = sent["title"]
    _words(chart.Title, TITLE, sent["ink"])
    chart.Title.CharWeight = 150.0
    chart.HasLegend = len(sent["series"]) > 1
    if chart.HasLegend:
        chart.Legend.Alignment = BOTTOM
        _words(chart.Legend, TEXT, sent["ink"])
        _bare(chart.Legend)
    _bare(diagram.getWall())
    diagram.HasYAxisTitle = True
    diagram.YAxisTitle.String = sent["axis"]
    _words(diagram.YAxisTitle, TEXT, sent["ink"])
    values = diagram.getYAxis()
    values.Min = 0.0
    values.LinkNumberFormatToSource = False
    values.NumberFormat = format_key(chart.NumberFormats, sent["format"])
    for axis in (values, diagram.getXAxis()):
        _words(axis, TEXT, sent["ink"])
    diagram.getYMainGrid().LineColor = _colour(sent["line"])
    if sent["bars"]:
        diagram.getXAxis().ReverseDirection = True  # the first row of the table at the top
    for place, fill in enumerate(sent["fills"]):
        series = diagram.getDataRowProperties(place)
        series.FillColor = _colour(fill["colour"])
        if fill["hatched"]:
            series.FillStyle = HATCH
            series.FillHatchName = _hatch(chart, fill["colour"])
        series.LineStyle = SOLID
        series.LineColor = _colour(sent["edge"])


def _hatch(chart: Any, colour: str) -> str:
    """The name of a hatch of that colour, which a chart knows from its own table."""
    name, known = f"sheetplan {colour}", chart.createInstance("com.sun.star.drawing.HatchTable")
    if not known.hasByName(name):
        known.insertByName(name, Hatch(SINGLE, _colour(colour), HATCH_APART, HATCH_TURN))
    return name


def _bare(thing: Any) -> None:
    """Without a fill and a frame of its own."""
    thing.FillStyle, thing.LineStyle = NO_FILL, NO_LINE


def _words(thing: Any, size: int, ink: str) -> None:
    thing.CharHeight = float(size)
    thing.CharColor = _colour(ink)


def _colour(text: str) -> int:
    return int(text.lstrip("#"), 16)
