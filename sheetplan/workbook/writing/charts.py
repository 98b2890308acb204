"""Charts of result pages: native ones that take their values from cells, and pictures of them."""

from __future__ import annotations

import io
from typing import Any

from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.values import ChartKind, Kind, Picture
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.writing.grid import PICTURE_SPACE, GridChart, PageGrid

# Native charts under the tables of result pages: they take labels and values from the table's cells.
#
# Neutral fills of their own, dark for what is made, a hatch for what is wasted, so that they survive colour
# blindness and a grey print and are not taken for kits; series stand in the order of the table's columns,
# and the legend says which is which.

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


# Charts as pictures, for a program in which native ones cannot be drawn; they look like those.

DOTS_PER_INCH = 144
BAR = 0.62
"""Width of a bar, or of all bars of a label side by side, over the room of one label."""

TEXT_SIZE, TITLE_SIZE = 9, 11
HATCH = "///"


def chart_picture(grid: PageGrid, placed: GridChart, units: Units) -> Picture:
    """Draw a chart of a grid from the cells of its table."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    wanted, table = placed.chart, placed.table
    rows = range(table.head_row + 1, table.last_row + 1)
    cells = {(cell.row, cell.column): cell.value for cell in grid.cells}
    labels = [str(cells.get((row, placed.labels)) or "") for row in rows]
    width, height = placed.width, placed.height - 2 * PICTURE_SPACE
    figure = Figure(figsize=(width / 72, height / 72), dpi=DOTS_PER_INCH, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    values = [[_number(cells.get((row, column))) for row in rows] for column in placed.series]
    _bars(axes, placed, labels, values)
    _dress(axes, placed, units)
    title = f"{wanted.title}: {', '.join(table.headings[at] for at in placed.series)}."
    memory = io.BytesIO()
    figure.savefig(memory, format="png", metadata={"Software": None})
    return Picture(memory.getvalue(), width, height, f"{title} The table above holds the values.")


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _bars(axes: Any, placed: GridChart, labels: list[str], values: list[list[float]]) -> None:
    """One set of bars for each series, on one another or side by side."""
    lying = placed.chart.kind.lies
    stacked = placed.chart.kind is not ChartKind.COLUMNS
    each = BAR if stacked else BAR / len(values)
    starts = [0.0] * len(labels)
    fills = palette.chart_fills(len(values))
    for number, (column, series) in enumerate(zip(placed.series, values, strict=True)):
        shift = 0.0 if stacked else (number - (len(values) - 1) / 2) * each
        places = [at + shift for at in range(len(labels))]
        look = {
            "label": placed.table.headings[column],
            "color": palette.SHEET if fills[number].hatched else fills[number].colour,
            "hatch": HATCH if fills[number].hatched else None,
            "edgecolor": palette.EDGE,
            "linewidth": 0.75,
        }
        if lying:
            axes.barh(places, series, each, left=starts, **look)
        else:
            axes.bar(places, series, each, bottom=starts if stacked else None, **look)
        starts = [a + b for a, b in zip(starts, series, strict=True)]
    if lying:
        axes.set_yticks(range(len(labels)), labels)
        axes.invert_yaxis()  # the first row of the table at the top
    else:
        axes.set_xticks(range(len(labels)), labels)


def _dress(axes: Any, placed: GridChart, units: Units) -> None:
    from matplotlib.ticker import FuncFormatter

    lying = placed.chart.kind.lies
    scale = axes.xaxis if lying else axes.yaxis
    share = placed.kind is Kind.SHARE
    scale.set_major_formatter(FuncFormatter(lambda x, _: f"{x:.0%}" if share else f"{x:,.0f}"))
    scale.set_label_text(axis_title(placed, units), fontsize=TEXT_SIZE, color=style.INK)
    scale.grid(visible=True, color=style.LINE, linewidth=0.5)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=TEXT_SIZE, colors=style.INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.set_title(placed.chart.title, fontsize=TITLE_SIZE, fontweight="bold", color=style.INK)
    if len(placed.series) > 1:
        axes.figure.legend(
            loc="outside lower center", ncols=min(4, len(placed.series)), fontsize=TEXT_SIZE, frameon=False
        )
