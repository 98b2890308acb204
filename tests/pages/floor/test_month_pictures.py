"""The plan and the month in pictures: each bar is as long as its figure says, and nothing runs or asks."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sheetplan.model import Plan
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.plan import plan_page
from sheetplan.pages.floor import month_html
from sheetplan.pages.wording import decimals_of
from tests.pages.floor.browsing import PHONE, Window, chromium, needs_chromium
from tests.pages.floor.plans import MARK, TODAY, hostile_plan


def pictures(plan: Plan) -> str:
    settings = plan.job.settings
    page = plan_page(plan, plan_figures(plan), today=TODAY, mark=MARK)
    html = month_html("In pictures", (page,), settings.units, settings.currency, decimals_of(plan.job))
    return html.decode()


def test_bars_are_as_long_as_their_figures(inch_plan: Plan) -> None:
    figures = plan_figures(inch_plan)
    html = pictures(inch_plan)
    bars = [float(width) for width in re.findall(r'<rect class="bar s0"[^>]* width="([\d.]+)"', html)]
    shares = [group.split.parts / group.split.taken for group in figures.groups]
    assert len(bars) == len(shares)
    ratios = [bar / share for bar, share in zip(sorted(bars), sorted(shares), strict=True)]
    assert ratios == pytest.approx([ratios[0]] * len(ratios), rel=0.01)


def test_no_script_and_no_request(inch_plan: Plan) -> None:
    html = pictures(hostile_plan(inch_plan))
    assert "default-src 'none'" in html
    assert "script-src 'none'" in html
    assert "<script" not in html
    assert not re.search(r"<[^>]+\s(?:src|style|on\w+)=", html)


@needs_chromium
@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_to_complain_of(inch_plan: Plan, tmp_path: Path, scheme: str) -> None:
    """Source: axe-core, all of its rules."""
    axe = pytest.importorskip("axe_playwright_python", reason="pip install axe-playwright-python")
    rules = (Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    path = tmp_path / "month.html"
    path.write_text(pictures(inch_plan), encoding="utf-8")
    with chromium() as browser:
        window = Window(browser, path, PHONE, color_scheme=scheme, bypass_csp=True)
        for summary in window.page.locator("summary").all():
            summary.tap()
        assert window.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        window.page.evaluate(rules)
        found = window.page.evaluate("axe.run()")["violations"]
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found] == []
