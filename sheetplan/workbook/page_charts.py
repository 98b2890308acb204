"""Native charts under the tables of result pages: they take labels and values from the table's cells.

Neutral fills of their own, dark for what is made, a hatch for what is wasted, so that they survive colour
blindness and a grey print and are not taken for kits; series stand in the order of the table's columns, and
the legend says which is which.
"""

from __future__ import annotations

from typing import Any

from sheetplan.pages import palette
from sheetplan.pages.values import ChartKind, Kind
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.page_grid import GridChart

_TYPES = {
    ChartKind.COLUMNS: {"type": "column"},
    ChartKind.STACKED: {"type": "column", "subtype": "stacked"},
    ChartKind.STACKED_BARS: {"type": "bar", "subtype": "stacked"},
    ChartKind.SHARE_BARS: {"type": "bar", "subtype": "percent_stacked"},
}
_AXIS_FORMATS = {Kind.SHARE: "0%", Kind.COUNT: "#,##0"}
_PIXELS_PER_POINT = 96 / 72
_EDGE_POINTS = 0.75
_SPACE = 4
"""Pixels between the chart and the edges of its row."""


def add_chart(book: Any, sheet: Any, page: str, placed: GridChart, units: Units) -> None:
    """Draw a chart in its row."""
    wanted, table = placed.chart, placed.table
    chart = book.add_chart(dict(_TYPES[wanted.kind]))
    columns = [table.headings[at] for at in placed.series]
    fills = palette.chart_fills(len(columns))
    for number, at in enumerate(placed.series):
        chart.add_series({
            "name": [page, table.head_row, at],
            "categories": [page, table.head_row + 1, placed.labels, table.last_row, placed.labels],
            "values": [page, table.head_row + 1, at, table.last_row, at],
            **_filled(fills[number]),
            "border": {"color": palette.EDGE, "width": _EDGE_POINTS},
            "gap": 60,
        })  # fmt: skip
    _axes(chart, placed, units)
    chart.set_title({"name": wanted.title, "overlay": False, "name_font": _font(bold=True, size=11)})
    chart.set_legend({"position": "bottom", "font": _font()} if len(columns) > 1 else {"none": True})
    chart.set_chartarea({"border": {"color": style.LINE}, "fill": {"color": "#FFFFFF"}})
    chart.show_blanks_as("gap")
    chart.set_size({
        "width": round(placed.width * _PIXELS_PER_POINT),
        "height": round(placed.height * _PIXELS_PER_POINT) - 2 * _SPACE,
    })  # fmt: skip
    sheet.insert_chart(placed.row, 0, chart, {
        "object_position": 1, "x_offset": _SPACE, "y_offset": _SPACE,
        "description": f"{wanted.title}: {', '.join(columns)}. The table above holds the values.",
    })  # fmt: skip


def _filled(fill: palette.ChartFill) -> dict[str, Any]:
    """A plain fill, or a hatch of it on white."""
    if not fill.hatched:
        return {"fill": {"color": fill.colour}}
    hatch = {"pattern": "wide_upward_diagonal", "fg_color": fill.colour, "bg_color": palette.SHEET}
    return {"pattern": hatch}


def axis_title(placed: GridChart, units: Units) -> str:
    """What the values are, with their unit."""
    return style.heading(placed.chart.axis, placed.kind, units)


def axis_format(placed: GridChart) -> str:
    """How numbers stand along the axis of values."""
    return _AXIS_FORMATS.get(placed.kind, "#,##0")


def _axes(chart: Any, placed: GridChart, units: Units) -> None:
    values = {
        "name": axis_title(placed, units),
        "name_font": _font(),
        "num_font": _font(),
        "num_format": axis_format(placed),
        "min": 0,
        "major_gridlines": {"visible": True, "line": {"color": style.LINE, "width": 0.5}},
        "line": {"color": style.LINE},
    }
    labels: dict[str, Any] = {"num_font": _font(), "line": {"color": palette.EDGE}}
    if placed.chart.kind.lies:
        # XlsxWriter counts a bar chart's axes as they lie on the page. The first row of the table goes to
        # the top, the scale stays at the bottom.
        chart.set_x_axis(values)
        chart.set_y_axis({**labels, "reverse": True, "crossing": "max"})
    else:
        chart.set_x_axis(labels)
        chart.set_y_axis(values)


def _font(*, bold: bool = False, size: float = 9) -> dict[str, Any]:
    return {"name": style.FONT, "size": size, "bold": bold, "color": style.INK}
