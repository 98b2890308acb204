"""The page Month: numbers as the balance has them, what is missing and what differs in sentences."""

from dataclasses import replace

import pytest

from sheetplan.money.layout_figures import MetalSplit
from sheetplan.money.month import Cut, Held, MonthBook, Purchase, ScrapTicket, by_metal, month_balance
from sheetplan.pages.book.month import bare_month_page, month_page
from sheetplan.pages.values import Cell, ResultPage, ResultTable
from sheetplan.trade.units import KG_PER_POUND, Units

METAL_OF = {"steel 10 ga": "steel", "steel 1/4 in": "steel", "aluminium 1/8 in": "aluminium"}
NOVEMBER = MonthBook(
    month="2026-11",
    start=[Held("steel 10 ga", 100.0, 200.0)],
    end=[Held("steel 10 ga", 160.0, 320.0), Held("aluminium 1/8 in", 40.0, 240.0)],
    purchases=[
        Purchase("2026-11-02", "steel 10 ga", 560.0, 1120.0, noted=574.0),
        Purchase("2026-11-02", "steel 1/4 in", 300.0, 600.0),
        Purchase("2026-11-02", "aluminium 1/8 in", 120.0, 720.0),
    ],
    cuts=[
        Cut("2026-11-10", "steel 10 ga", MetalSplit(500.0, 420.0, 10.0, 0.0, 5.0), 1000.0, 0.0),
        Cut("2026-11-11", "steel 1/4 in", MetalSplit(300.0, 230.0, 10.0, 0.0), 600.0, 0.0),
        Cut("2026-11-12", "aluminium 1/8 in", MetalSplit(60.0, 50.0, 1.0, 0.0), 360.0, 0.0),
    ],
    tickets=[
        ScrapTicket("2026-11-27", 124.0, 11.0, metal="steel"),
        ScrapTicket("2026-11-27", 17.0, 9.0, metal="aluminium"),
    ],
)  # fmt: skip
OCTOBER = replace(NOVEMBER, month="2026-10", cuts=[], purchases=[], counted=False)


def page_of(book: MonthBook, units: Units = Units.MM, earlier: tuple[MonthBook, ...] = ()) -> ResultPage:
    metals, gauges = month_balance(by_metal(book, METAL_OF)), month_balance(book)
    months = [*(month_balance(one) for one in earlier), gauges]
    return month_page(metals, gauges, months, units, currency="EUR")


def row(table: ResultTable, name: str) -> dict[str, Cell]:
    heads = [column.heading for column in table.columns]
    rows = [*table.rows, *([table.total] if table.total else [])]
    return dict(zip(heads, next(r for r in rows if r[0] == name), strict=True))


def test_metals_by_hand() -> None:
    steel = row(page_of(NOVEMBER).tables[0], "steel")
    # 100 + 860 - 160 = 800 used up; the cuts took 800 and left 120 of skeleton, 5 bad, 20 of kerf.
    assert (steel["Used up"], steel["By the cuts"], steel["Not recorded"]) == (800.0, 800.0, 0.0)
    assert (steel["Skeleton"], steel["Bad parts"], steel["Kerf"]) == (125.0, 5.0, 20.0)
    assert steel["Waste by the scales"] == pytest.approx(124 / 800)
    assert steel["Waste by the cuts"] == pytest.approx(150 / 800)
    assert steel["Unexplained scrap"] == pytest.approx(-6.0)
    assert steel["Billed over actual"] == pytest.approx(14.0)
    aluminium = row(page_of(NOVEMBER).tables[0], "aluminium")
    assert aluminium["Not recorded"] == pytest.approx(20.0)
    total = row(page_of(NOVEMBER).tables[0], "Total")
    assert total["Scrap weighed"] == 141.0


def test_gauges_and_money_add_up_to_the_totals() -> None:
    _, gauges, money, *_ = page_of(NOVEMBER).tables
    for table in (gauges, money):
        for place, column in enumerate(table.columns[1:], start=1):
            values = [line[place] or 0.0 for line in table.rows]
            if column.heading not in ("Yield", "Waste by the cuts", "Scrap paid", "Net cost"):
                assert table.total is not None
                assert sum(values) == pytest.approx(table.total[place]), column.heading
    assert row(gauges, "steel 10 ga")["Yield"] == pytest.approx(0.84)
    assert row(money, "Total")["Net cost"] == pytest.approx(200 + 2440 - 560 - 20)


def test_the_month_is_said_first_and_differences_by_name_and_weight() -> None:
    lines = page_of(NOVEMBER, Units.INCH).lines
    used = 880.0 / KG_PER_POUND
    assert lines[0].startswith(f"{used:,.1f} lb of metal used up; ")
    assert "went out as scrap by the scales, 16.0%; the cuts on record say 18.6% waste" in lines[0]
    told = "\n".join(lines[1:])
    assert f"aluminium, not recorded: {20 / KG_PER_POUND:.1f} lb more. Metal has left the rack" in told
    assert f"steel, delivery notes: {14 / KG_PER_POUND:.1f} lb more." in told
    assert "2.4 per cent" in told


def test_what_is_missing_is_said() -> None:
    lines = "\n".join(page_of(OCTOBER).lines)
    assert "not counted at both ends of 2026-10" in lines
    assert "No cuts of 2026-10 are on record" in lines
    table = page_of(OCTOBER).tables[0]
    assert all(line[1] is None and line[3] is None for line in table.rows)


def test_the_trend_follows_the_months() -> None:
    page = page_of(NOVEMBER, earlier=(OCTOBER,))
    trend, yields = page.tables[3], page.tables[4]
    assert [line[0] for line in trend.rows] == ["2026-10", "2026-11"]
    assert row(trend, "2026-10")["Yield"] is None
    assert row(trend, "2026-11")["Yield"] == pytest.approx(700 / 860)
    assert row(yields, "steel 1/4 in") == {
        "Gauge": "steel 1/4 in", "2026-10": None, "2026-11": pytest.approx(230 / 300)
    }  # fmt: skip
    for table in (trend, yields):
        assert table.chart is not None
        assert {table.chart.labels, *table.chart.series} <= {column.heading for column in table.columns}


def test_a_year_is_shown_at_most() -> None:
    many = [replace(OCTOBER, month=f"{2020 + n // 12}-{n % 12 + 1:02d}") for n in range(30)]
    assert len(page_of(NOVEMBER, earlier=tuple(many)).tables[3].rows) == 12


def test_before_the_first_month() -> None:
    page = bare_month_page()
    assert page.tables == ()
    assert "sheetplan month" in page.lines[0]


def months(count: int) -> list[MonthBook]:
    """The same month again and again, each under its own name."""
    def moved(number: int) -> MonthBook:
        name = f"2026-{11 - number:02d}"
        return replace(
            NOVEMBER, month=name, purchases=[replace(one, date=f"{name}-02") for one in NOVEMBER.purchases],
            cuts=[replace(one, date=f"{name}-10") for one in NOVEMBER.cuts],
            tickets=[replace(one, date=f"{name}-27") for one in NOVEMBER.tickets],
        )  # fmt: skip

    return [moved(number) for number in range(count)]


def test_three_months_teach_factors_that_are_offered_and_two_teach_nothing() -> None:
    def taught(count: int) -> ResultPage:
        by_metal_ = [month_balance(by_metal(one, METAL_OF)) for one in months(count)]
        metals, gauges = month_balance(by_metal(NOVEMBER, METAL_OF)), month_balance(NOVEMBER)
        return month_page(metals, gauges, [gauges], Units.MM, metals_by_month=by_metal_)

    assert all(table.name != "MonthLearned" for table in taught(2).tables)
    page = taught(3)
    steel = row(next(table for table in page.tables if table.name == "MonthLearned"), "steel")
    # 800 used up each month, 650 in good parts, 124 on the scales where the cuts say 125 and 5: 26 are lost,
    # where the cuts say 20 of kerf.
    assert (steel["Months"], steel["Used up"], steel["Scrap weighed"]) == (3, 2400.0, 372.0)
    assert steel["Scrap by the cuts"] == pytest.approx(390.0)
    assert steel["Scrap factor"] == pytest.approx(124 / 130)
    assert (steel["Lost"], steel["Kerf"]) == (pytest.approx(78.0), 60.0)
    assert steel["Kerf factor"] == pytest.approx(1.3)
    said = next(line for line in page.lines if "months together" in line)
    assert "nothing is applied" in said


def test_a_skeleton_that_is_kept_is_waste_of_the_cuts_and_in_no_scrap_bin() -> None:
    """Of 500 kg 100 go back, 30 of them skeleton: of 430 that count 330 are parts."""
    cut = Cut("2026-11-10", "steel 10 ga", MetalSplit(500.0, 330.0, 10.0, 100.0, along=30.0), 1000.0, 120.0)
    page = page_of(replace(NOVEMBER, cuts=[cut], tickets=[], counted=False))
    steel = row(page.tables[0], "steel")
    assert (steel["By the cuts"], steel["Skeleton"], steel["Kerf"]) == (400.0, 60.0, 10.0)
    assert steel["Waste by the cuts"] == pytest.approx((400 + 30 - 330) / 430)
    assert row(page.tables[1], "steel 10 ga")["Yield"] == pytest.approx(330 / 430)
    (said,) = [one for one in page.notes if "uncropped" in one]
    assert said.endswith(
        "waste once, when it is cut; it is in no scrap bin, and not in Used up, until the sheet is used up."
    )
