"""Pictures of a month and of a plan for the browser: the charts of the book at a size to look at.

Each chart of a result page is drawn as bars from its table, with the table under it: nothing is said by a
picture alone, and nothing here that the book does not say. No script runs in it.

Choices
-------
Bars lie, whatever the book's chart does, each under its name: names of gauges are long, windows of telephones
narrow. Series of one label stand under one another or, in a chart of bars on one another, behind one another.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.drawing.layout_drawing import round_length
from sheetplan.pages.floor.pictures import name, page_html, said, sentence, source
from sheetplan.pages.floor.plan import cautions_html
from sheetplan.pages.values import Cell, Chart, ChartKind, Column, Kind, Link, ResultPage, ResultTable
from sheetplan.pages.wording import Decimals, bare_weight, money_text, per_cent
from sheetplan.trade.sentences import number
from sheetplan.trade.units import Units

MONTH_HTML = "month.html"

WIDTH, LEFT, RIGHT, NAME, ROW, GAP, TOP = 400.0, 20.0, 70.0, 20.0, 20.0, 12.0, 34.0
"""Dots of a picture: its width, the rims beside the bars, the line of a name, a bar, the gap, the scale."""

LETTERS = 42
"""Letters of a name that stand above a bar; the table has all of it."""

STEPS = 4
"""Parts of a scale, about."""


def month_html(
    title: str, pages: Sequence[ResultPage], units: Units, currency: str, decimals: Decimals
) -> bytes:
    """The pages' charts and their tables as one page; pages without charts lend their lines alone."""
    view = _View(units, currency, decimals)
    body = [f'<header id="top"><h1>{said(title)}</h1></header>\n', cautions_html(), '<main id="month">\n']
    for page in pages:
        body.append(f"<section><h2>{view.text(page.title)}</h2>\n")
        body += [f"<p>{sentence(decimals.said(line))}</p>\n" for line in page.lines]
        body += [view.charted(table) for table in page.tables if table.chart is not None and table.rows]
        body.append("</section>\n")
    body.append("</main>\n")
    styles = [source("look.css"), source("month.css"), _fills()]
    return page_html(title, "".join(body), styles).encode("utf-8")


def _fills() -> str:
    """Classes of series: plain fills from the palette, told apart in grey too."""
    greys = [one.colour if not one.hatched else "#9FB4BE" for one in palette.CHART_FILLS]
    shades = [*greys, *(one.colour for one in palette.chart_fills(12)[3:])]
    return "".join(
        f".s{place}{{fill:{shade};background-color:{shade}}}" for place, shade in enumerate(shades)
    )


@dataclass(frozen=True, slots=True)
class _View:
    """How values are written."""

    units: Units
    currency: str
    decimals: Decimals

    def text(self, text: str) -> str:
        return said(self.decimals.said(text))

    def value(self, cell: Cell, kind: Kind) -> str:
        """A cell as a person reads it."""
        if cell is None:
            return ""
        if isinstance(cell, str | Link):
            return name(cell if isinstance(cell, str) else cell.text)
        if not isinstance(cell, int | float):
            return ""
        return said(self.decimals.said(self.number(float(cell), kind)))

    def number(self, value: float, kind: Kind) -> str:
        match kind:
            case Kind.SHARE:
                return per_cent(value)
            case Kind.WEIGHT:
                return bare_weight(value, self.units) if value >= 0 else f"-{bare_weight(-value, self.units)}"
            case Kind.MONEY | Kind.MONEY_CHANGE:
                return money_text(value)
            case Kind.AREA | Kind.AREA_CHANGE:
                return f"{value / self.units.area_mm2:,.1f}"
            case Kind.TRAVEL:
                return f"{value / (304.8 if self.units is Units.INCH else 1000.0):,.1f}"
            case Kind.LENGTH:
                return number(value / self.units.length_mm, 3)
            case Kind.HOURS:
                minutes = round(value * 60.0)
                return f"{minutes // 60} h {minutes % 60:02d} min"
            case _:
                return number(value, 2)

    def unit(self, kind: Kind) -> str:
        """What the values of a kind are in."""
        match kind:
            case Kind.WEIGHT:
                return self.units.weight
            case Kind.MONEY | Kind.MONEY_CHANGE:
                return self.currency
            case Kind.AREA | Kind.AREA_CHANGE:
                return self.units.area
            case Kind.TRAVEL:
                return "ft" if self.units is Units.INCH else "m"
            case Kind.LENGTH:
                return self.units.value
            case _:
                return ""

    def charted(self, table: ResultTable) -> str:
        """A chart with its legend and its table."""
        chart = table.chart
        assert chart is not None, "asked for charts alone"
        bars = _bars_of(table, chart)
        title = f"<figcaption><h3>{self.text(chart.title)}</h3></figcaption>\n"
        legend = "".join(
            f'<li><span class="swatch s{place}"></span>{self.text(series)}</li>'
            for place, series in enumerate(chart.series)
        )
        keys = f'<ul class="legend">{legend}</ul>\n' if len(chart.series) > 1 else ""
        opened = f"<details><summary>The figures</summary>{self.table(table)}</details>"
        return f"<figure>{title}{keys}{self.picture(bars, chart)}{opened}</figure>\n"

    def table(self, table: ResultTable) -> str:
        shown = [(at, one) for at, one in enumerate(table.columns) if not one.hidden]
        heads = "".join(f'<th scope="col">{self.heading(one)}</th>' for _, one in shown)
        rows = [*table.rows, *([table.total] if table.total else [])]
        body = "".join(
            "<tr>" + "".join(self.cell(row[at], one, at) for at, one in shown) + "</tr>" for row in rows
        )
        label = self.text(table.caption or (table.chart.title if table.chart else table.name))
        inner = f"<table><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"
        return f'<div class="scroll" tabindex="0" role="region" aria-label="{label}">{inner}</div>'

    def heading(self, column: Column) -> str:
        unit = self.unit(column.kind)
        return said(f"{column.heading}, {unit}" if unit else column.heading)

    def cell(self, cell: Cell, column: Column, at: int) -> str:
        if at == 0:
            return f'<th scope="row">{self.value(cell, column.kind)}</th>'
        kind = "" if column.kind is Kind.TEXT else ' class="count"'
        return f"<td{kind}>{self.value(cell, column.kind)}</td>"

    def picture(self, bars: _Bars, chart: Chart) -> str:
        """Bars that lie, under a scale."""
        each = ROW if bars.stacked else ROW * len(chart.series)
        height = TOP + len(bars.labels) * (NAME + each + GAP)
        room = WIDTH - LEFT - (LEFT if bars.stacked else RIGHT)
        most = bars.most
        step = round_length(most / STEPS) if most > 0 else 1.0
        marks = list(self._scale(step, most, room, height, bars.kind))
        for row, label in enumerate(bars.labels):
            y = TOP + row * (NAME + each + GAP) + NAME
            marks.append(f'<text x="{LEFT:g}" y="{y - 6:.1f}">{_short(label)}</text>')
            marks += self._bars_at(bars, row, y, each, room / most if most > 0 else 0.0)
        shown = f"{chart.title}. {chart.axis}. The figures stand below."
        return (
            f'<svg viewBox="0 0 {WIDTH:g} {height:.0f}" role="img" aria-label="{self.text(shown)}">'
            f"{''.join(marks)}</svg>\n"
        )

    def _bars_at(self, bars: _Bars, row: int, y: float, each: float, dots: float) -> Iterator[str]:
        """The bars of one label, ``dots`` to the unit; those that stand alone say their value."""
        x = LEFT
        for place, values in enumerate(bars.values):
            width = max(0.0, values[row]) * dots
            high = each if bars.stacked else each / len(bars.values)
            top = y if bars.stacked else y + place * high
            size = f'x="{x:.1f}" y="{top:.1f}" width="{width:.1f}" height="{high:.1f}"'
            yield f'<rect class="bar s{place}" {size}/>'
            if bars.stacked:
                x += width
            elif values[row]:
                written = self.text(self.number(values[row], bars.kind))
                yield f'<text x="{x + width + 6:.1f}" y="{top + high / 2 + 5:.1f}">{written}</text>'

    def _scale(self, step: float, most: float, room: float, height: float, kind: Kind) -> Iterator[str]:
        for number_of in range(math.floor(most / step + 1e-9) + 1 if most > 0 else 0):
            x = LEFT + number_of * step / most * room
            value = number_of * step
            text = self.text(per_cent(value, 0) if kind is Kind.SHARE else self.number(value, kind))
            yield f'<path class="grid" d="M{x:.1f} {TOP - 6:g}V{height:.0f}"/>'
            yield f'<text class="tick" x="{x:.1f}" y="{TOP - 14:g}">{text}</text>'


@dataclass(frozen=True, slots=True)
class _Bars:
    """A chart's labels and the values of its series, as its table holds them."""

    labels: tuple[str, ...]
    values: tuple[tuple[float, ...], ...]
    kind: Kind
    stacked: bool

    @property
    def most(self) -> float:
        """The longest bar."""
        rows = zip(*self.values, strict=True)
        return max((sum(max(0.0, v) for v in row) if self.stacked else max(row) for row in rows), default=0.0)


def _bars_of(table: ResultTable, chart: Chart) -> _Bars:
    at = {column.heading: place for place, column in enumerate(table.columns)}
    values = tuple(
        tuple(float(v) if isinstance(v := row[at[series]], int | float) else 0.0 for row in table.rows)
        for series in chart.series
    )
    labels = tuple(_plain(row[at[chart.labels]]) for row in table.rows)
    kind = table.columns[at[chart.series[0]]].kind
    if chart.kind is ChartKind.SHARE_BARS:
        sums = [sum(row) or 1.0 for row in zip(*values, strict=True)]
        values = tuple(tuple(v / whole for v, whole in zip(one, sums, strict=True)) for one in values)
        kind = Kind.SHARE
    return _Bars(labels, values, kind, chart.kind is not ChartKind.COLUMNS)


def _plain(cell: Cell) -> str:
    return cell.text if isinstance(cell, Link) else str(cell or "")


def _short(text: str) -> str:
    return said(text if len(text) <= LETTERS else f"{text[: LETTERS - 1]}…")
