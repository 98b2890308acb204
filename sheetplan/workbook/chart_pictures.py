"""Charts as pictures, for a program in which native ones cannot be drawn; they look like `page_charts`."""

from __future__ import annotations

import io
from typing import Any

from sheetplan.pages import palette
from sheetplan.pages.values import ChartKind, Kind, Picture
from sheetplan.trade.units import Units
from sheetplan.workbook import style
from sheetplan.workbook.page_charts import axis_title
from sheetplan.workbook.page_grid import PICTURE_SPACE, GridChart, PageGrid

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
