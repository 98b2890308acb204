"""The page of a plan as people use it: looked at, zoomed, searched, measured, ticked and handed back."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import handed_back_of
from sheetplan.cli.commands import app
from sheetplan.model import Plan
from sheetplan.pages.floor import pictures
from sheetplan.workbook.reading.book import read_tables
from tests.app.cut_book import cell, copied, planned_book
from tests.pages.floor.browsing import PHONE, SCREEN, SMALLEST, TABLET, WALL, Window, chromium, needs_chromium
from tests.pages.floor.plans import HOSTILE, hostile_plan, page_of

pytestmark = [needs_chromium, pytest.mark.slow]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as one:
        yield one


@pytest.fixture
def page_file(inch_plan: Plan, tmp_path: Path) -> Path:
    path = tmp_path / "plan.html"
    path.write_bytes(page_of(inch_plan))
    return path


def pinch(window: Window, start: float, end: float) -> None:
    """Two fingers on the middle of the glass, so many dots apart at first and at last."""
    left, top, width, height = window.glass()
    x, y = left + width / 2, top + height / 2
    touch = window.context.new_cdp_session(window.page)

    def fingers(apart: float) -> list[dict[str, float]]:
        return [{"x": x - apart / 2, "y": y, "id": 1}, {"x": x + apart / 2, "y": y, "id": 2}]

    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": fingers(start)})
    for part in range(1, 11):
        apart = start + (end - start) * part / 10
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": fingers(apart)})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_two_fingers_make_the_sheet_larger_and_whole_brings_it_back(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, PHONE)
    window.open_sheet("L1")
    before = window.scale()
    pinch(window, 60.0, 180.0)
    assert window.scale() == pytest.approx(3.0 * before, rel=0.1)
    window.tap("#whole")
    assert window.scale() == pytest.approx(before, rel=0.01)


def test_wheel_and_keys_zoom_and_arrows_move(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, SCREEN)
    window.open_sheet("L1")
    left, top, width, height = window.glass()
    before = window.scale()
    window.page.mouse.move(left + width / 2, top + height / 2)
    window.page.mouse.wheel(0, -400)
    assert window.scale() == pytest.approx(2.718 * before, rel=0.02)  # a factor e for 400 dots of wheel
    window.page.keyboard.press("Tab")
    window.page.locator("#glass").focus()
    window.page.keyboard.press("0")
    assert window.scale() == pytest.approx(before, rel=0.01)
    window.page.keyboard.press("+")
    assert window.scale() > 1.3 * before
    at = window.page.locator("#glass .picture").bounding_box()["x"]
    window.page.keyboard.press("ArrowRight")
    assert window.page.locator("#glass .picture").bounding_box()["x"] < at - 50


def test_a_tapped_part_says_what_it_is_and_for_whom(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, PHONE)
    window.open_sheet("L1")
    piece = window.page.locator("#glass .pieces use").first.bounding_box()
    window.page.touchscreen.tap(piece["x"] + piece["width"] / 2, piece["y"] + piece["height"] / 2)
    said = window.page.locator("#piece").inner_text()
    # 12 x 6 in; 72 in2 x 3.416 mm x 7850 kg/m3 is 1.246 kg, 2.75 lb: worked out by hand.
    for words in ("CB-101", "6 x 12 in", "2.75 lb", "cleat set", "order H-2041", "due 2026-11-20"):
        assert words in said


def test_parts_are_reached_and_walked_by_keys(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, SCREEN)
    window.open_sheet("L1")
    window.page.locator("#glass").focus()
    window.page.keyboard.press("Tab")
    first = window.page.evaluate("document.activeElement.getAttribute('x')")
    window.page.keyboard.press("ArrowRight")
    assert float(window.page.evaluate("document.activeElement.getAttribute('x')")) > float(first)
    assert "CB-101" in window.page.locator("#piece").inner_text()


def test_an_order_lights_up_on_all_its_sheets_with_counts(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, PHONE)
    window.page.fill("#find", "h-2042")
    # Two sheets of L1 with 6 LR-210 and 22 CB-102 each: the order's 12 rails, and 12 of 44 cleats; 12 of 15
    # washers are cut from the remnant. The plan of the fixture, counted by hand.
    assert window.page.locator("#found-count").inner_text() == "36 pieces on 2 layouts"
    shown = window.page.locator(".sheet:visible h4").all_inner_texts()
    assert sorted(shown) == ["L1", "L2"]
    assert window.page.locator("#stage-hits").is_hidden()
    lit = window.page.locator("#sheet-L1 .pieces use.lit").count()
    assert lit == 6 + 22
    assert window.page.locator("#sheet-L1 .hits").inner_text() == "24 of the 56 pieces lit"
    window.page.fill("#find", "")
    assert window.page.locator(".sheet:visible").count() == 3
    assert window.page.locator("use.lit").count() == 0


def test_the_sheet_that_is_shown_says_what_is_sought(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, PHONE)
    window.page.fill("#find", "h-2042")
    window.open_sheet("L1")
    window.says("#stage-hits", "h-2042: 24 of the 56 pieces lit")
    window.tap("#later")
    window.says("#stage-hits", "h-2042: 12 of the 15 pieces lit")
    window.tap("#all-sheets")
    window.page.fill("#find", "")
    window.open_sheet("L1")
    assert window.page.locator("#stage-hits").is_hidden()


def test_what_is_not_there_is_said(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, PHONE)
    window.page.fill("#find", "no such thing")
    assert "Nothing of that name" in window.page.locator("#found-count").inner_text()


def test_the_ruler_snaps_to_corners(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, TABLET)
    window.open_sheet("L1")
    window.tap("#ruler")
    sheet = window.page.locator("#glass .metal").bounding_box()
    left, right, top = sheet["x"], sheet["x"] + sheet["width"], sheet["y"]
    window.page.touchscreen.tap(left + 5, top + 4)
    window.page.touchscreen.tap(right - 4, top + 6)
    assert window.page.locator("#measured").inner_text() == "96 in (along the length 96, across 0)"


def test_the_ruler_works_by_keys_on_a_turned_sheet(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, SCREEN)
    window.open_sheet("L1")
    window.tap("#quarter")
    window.tap("#ruler")
    window.page.locator("#glass").focus()
    window.page.keyboard.press("Enter")
    window.page.keyboard.press("ArrowRight")
    window.page.keyboard.press("Enter")
    assert re.match(r"[\d.]+ in \(along", window.page.locator("#measured").inner_text())


def tick(window: Window, tag: str, bad: int = 0, by: str = "", heat: str = "") -> None:
    window.open_sheet(tag)
    window.tap("#open-tick")
    for _ in range(bad):
        window.tap("#bad button[aria-label^='One bad piece more']")
    window.page.fill("#by", by)
    window.page.fill("#heat", heat)
    window.tap("#tick-form button.main")
    if window.page.viewport_size["width"] < 1000:
        window.tap("#all-sheets")


def handed(window: Window) -> dict[str, Any]:
    window.tap("#open-back")
    with window.page.expect_download() as saved:
        window.tap("#save")
    found: dict[str, Any] = json.loads(Path(saved.value.path()).read_text(encoding="utf-8"))
    return found


def test_ticks_outlive_the_page_and_can_be_undone(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, PHONE)
    tick(window, "L3", bad=2, by="Ann", heat="7741")
    assert window.page.locator("#sheet-L3 .state").inner_text() == "cut"
    window.page.reload()
    assert window.page.locator("#sheet-L3 .state").inner_text() == "cut"
    assert window.page.locator("#waiting").inner_text() == "(1)"
    tick(window, "L2")
    window.tap("#undo")
    assert window.page.locator("#sheet-L2 .state").inner_text() == "to cut"
    [line] = handed(window)["lines"]
    assert (line["ticket"], line["times"], line["bad"]) == ("KRTM-L3", 1, [["RG-9", 2]])
    assert (line["by"], line["heat"]) == ("Ann", "7741")


LOOKS = 30
"""Looks at a code, a tenth of a second apart, before it is taken to be missing."""


def read_code(window: Window) -> str:
    """The text of the code on the screen, by a reader that has nothing to do with the page."""
    import zxingcpp
    from PIL import Image

    window.page.wait_for_selector("#code svg")
    found: list[Any] = []
    for _ in range(LOOKS):  # a busy machine paints a moment after the code is in the page
        picture = Image.open(BytesIO(window.page.locator("#code svg").screenshot())).convert("L")
        found = list(zxingcpp.read_barcodes(picture))
        if found:
            break
        window.page.wait_for_timeout(100)
    [one] = found
    return str(one.text)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_code_holds_what_the_file_holds(browser: Any, page_file: Path, scheme: str) -> None:
    window = Window(browser, page_file, PHONE, color_scheme=scheme)
    tick(window, "L3", bad=2, by='Zoë "Z" שלום', heat="77  41")
    tick(window, "L2", by="Ann")
    window.tap("#open-back")
    window.tap("#show-code")
    text = read_code(window)
    assert text.isascii()
    window.page.keyboard.press("Escape")
    window.tap("#open-back")
    with window.page.expect_download() as saved:
        window.tap("#back-files button[aria-label^='Save']")
    assert json.loads(text) == json.loads(Path(saved.value.path()).read_text(encoding="utf-8"))
    assert [line.by for line in handed_back_of(text.encode(), "code").lines] == ['Zoë "Z" שלום', "Ann"]
    for spoilt in (text[:-30], text.replace("Ann", "Tom"), text.replace('"times":1', '"times":2')):
        with pytest.raises(Refused):
            handed_back_of(spoilt.encode(), "code")


def test_what_is_too_long_for_a_code_is_saved(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, PHONE)
    tick(window, "L1", by="x" * 80)
    window.tap("#open-back")
    assert window.page.locator("#show-code").is_visible()
    window.page.keyboard.press("Escape")
    window.open_sheet("L2")
    window.tap("#open-tick")
    window.page.fill("#note", "long " * 60)
    window.page.fill("#by", "\u05e9" * 80)
    window.tap("#tick-form button.main")
    window.tap("#all-sheets")
    window.tap("#open-back")
    assert not window.page.locator("#show-code").is_visible()
    assert window.page.locator("#save").is_visible()


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("planned"))


@pytest.mark.parametrize("way", ["file", "code"])
def test_from_the_browser_to_the_book(browser: Any, planned: Path, tmp_path: Path, way: str) -> None:
    """Ticked with fingers, handed back, recorded by the command: the book says so."""
    book = copied(planned, tmp_path / "shop")
    [page] = book.parent.glob("layouts/plan-*/plan.html")
    window = Window(browser, page, PHONE)
    tick(window, "L1", bad=1, by="Ann", heat="7741")
    bad = str(window.page.evaluate("JSON.parse(document.querySelector('#values').textContent).parts[0].name"))
    window.tap("#open-back")
    if way == "file":
        with window.page.expect_download() as saved:
            window.tap("#save")
        given, pasted = str(saved.value.path()), ""
    else:
        window.tap("#show-code")
        given, pasted = "-", read_code(window)
    run = CliRunner().invoke(app, ["cut", str(book), "--from", given], input=pasted)
    assert run.exit_code == 0, run.output
    assert f"1 sheet, bad 1 x {bad}, heat 7741, by Ann" in run.output
    assert cell(book, "Layouts", "L1", "Cut so far") == 1
    log = read_tables(book).tables["Cut log"].rows
    [row] = [{heading: one.value for heading, one in row.cells.items()} for row in log]
    assert (row["Layout"], row["Times cut"], row["By"], str(row["Heat"])) == ("L1", 1, "Ann", "7741")
    assert f"1 x {bad}" in str(row["Bad pieces"])


def test_what_cannot_be_is_not_ticked(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, SCREEN)
    window.open_sheet("L3")
    window.tap("#open-tick")
    window.page.locator("#bad input").first.fill("7")
    window.tap("#tick-form button.main")
    assert "6 pieces cut, so 7 cannot be bad" in window.page.locator("#tick-wrong").inner_text()
    assert window.page.locator("#waiting").inner_text() == ""


def test_nothing_is_asked_of_anybody(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, SCREEN)
    tick(window, "L1")
    window.page.fill("#find", "CB")
    handed(window)
    assert {one for one in window.requests if not one.startswith("blob:")} == {page_file.as_uri()}
    assert window.said == []


def test_the_policy_lets_no_other_script_run_and_no_request_leave(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, SCREEN)
    window.page.evaluate(
        """() => {
            const script = document.createElement("script");
            script.textContent = "window.ran = true";
            document.body.append(script);
            const picture = new Image();
            picture.src = "http://127.0.0.1:9/picture.png";
            document.body.append(picture);
            return fetch("http://127.0.0.1:9/").catch(() => null);
        }"""
    )
    assert window.page.evaluate("window.ran") is None
    refusals = [line for line in window.said if "Content Security Policy" in line]
    assert len(refusals) >= 3


def names_shown(window: Window) -> str:
    text: str = window.page.evaluate("document.body.textContent")
    return text


def test_hostile_names_stay_names(browser: Any, inch_plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.html"
    path.write_bytes(page_of(hostile_plan(inch_plan), book='"><script>window.ran=9</script>.xlsx'))
    window = Window(browser, path, PHONE)
    for tag in ("L1", "L2", "L3"):
        tick(window, tag, by="</script><script>window.ran=8</script>", heat="\u202e\u05d0&lt;")
    window.page.fill("#find", "<script>")
    window.page.fill("#find", "")
    text = handed(window)
    assert window.page.evaluate("window.ran") is None
    assert window.page.locator("body script").count() == 2
    assert window.page.locator("img, iframe, object, embed, [onerror], [onload], [onmouseover]").count() == 0
    assert window.said == []
    shown = names_shown(window)
    for name in (HOSTILE[0], HOSTILE[1], HOSTILE[2], HOSTILE[6], HOSTILE[7]):
        assert name in shown
    assert {one for one in window.requests if not one.startswith("blob:")} == {path.as_uri()}
    assert text["lines"][0]["by"] == "</script><script>window.ran=8</script>"
    assert window.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_the_test_of_hostile_names_can_fail(
    browser: Any, inch_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without escapes and policy the same names run: so the test above sees what it looks for."""
    monkeypatch.setattr(pictures, "escape", lambda text, quote=True: text)
    html = page_of(hostile_plan(inch_plan)).decode()
    path = tmp_path / "open.html"
    path.write_text(html.replace("Content-Security-Policy", "X-Nothing"), encoding="utf-8")
    window = Window(browser, path, SCREEN)
    assert window.page.evaluate("window.ran") is not None


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_to_complain_of(browser: Any, page_file: Path, scheme: str) -> None:
    """Source: axe-core, its rules for WCAG 2.0 to 2.2 at levels A and AA, and its best practices."""
    axe = pytest.importorskip("axe_playwright_python", reason="pip install axe-playwright-python")
    rules = (Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    window = Window(browser, page_file, SCREEN, color_scheme=scheme, bypass_csp=True)
    found = []
    for step in ("list", "sheet", "found", "tick", "back"):
        if step == "sheet":
            window.open_sheet("L2")
            window.page.locator("#glass .pieces use").first.focus()
        if step == "found":
            window.page.fill("#find", "H")
        if step == "tick":
            window.tap("#open-tick")
        if step == "back":
            window.tap("#tick-form button.main")
            window.tap("#open-back")
            window.tap("#show-code")
        window.page.evaluate(rules)
        result = window.page.evaluate("axe.run()")
        found += [(step, one["id"], one["nodes"][0]["html"][:200]) for one in result["violations"]]
    assert found == []


@pytest.mark.parametrize("size", [SMALLEST, PHONE, TABLET, SCREEN, WALL], ids=lambda size: f"{size['width']}")
def test_nothing_is_wider_than_the_window_and_targets_are_large(
    browser: Any, page_file: Path, size: dict[str, int]
) -> None:
    """A target of 44 by 44 dots: WCAG 2.1, 2.5.5 (its level AAA), as people wear gloves."""
    window = Window(browser, page_file, size)
    assert window.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    window.open_sheet("L2")
    assert window.page.evaluate("document.querySelector('#stage').scrollWidth <= window.innerWidth")
    for button in window.page.locator("#stage button:visible").all():
        box = button.bounding_box()
        assert min(box["width"], box["height"]) >= 44, button.inner_text()


def test_it_prints_every_sheet_and_no_button(browser: Any, page_file: Path) -> None:
    from pypdf import PdfReader

    window = Window(browser, page_file, SCREEN)
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(window.page.pdf())).pages)
    assert all(tag in text for tag in ("L1", "L2", "L3", "Take care"))
    assert "Hand back" not in text


def test_undo_takes_back_what_it_stands_beside_and_nothing_later(browser: Any, page_file: Path) -> None:
    """Handed back as a code, and then the button of the tick before: it is gone, and undoes nothing."""
    window = Window(browser, page_file, PHONE)
    window.open_sheet("L3")
    window.tap("#open-tick")
    window.page.locator("#heat").fill("A1234")
    window.tap("#tick-form button.main")
    assert window.page.locator("#undo").is_visible()
    window.tap("#undo")
    window.tap("#open-tick")
    assert window.page.locator("#heat").input_value() == "A1234", "nobody types it twice"
    window.tap("#tick-form button.main")
    window.tap("#all-sheets")
    window.tap("#open-back")
    window.tap("#show-code")
    assert "handed back" in window.page.locator("#toast-text").inner_text()
    window.tap("#undo")
    assert window.page.locator("#code").is_hidden()
    assert window.page.locator("#waiting").inner_text() == "(1)"
    window.tap("#show-code")
    window.page.locator('[data-close="back"]').click()
    window.page.evaluate("window.dispatchEvent(new Event('storage'))")
    assert window.page.locator("#undo").is_hidden(), "what was ticked in another window is not undone here"


def test_a_picture_made_larger_stays_while_it_is_measured(browser: Any, page_file: Path) -> None:
    window = Window(browser, page_file, PHONE)
    window.open_sheet("L3")
    window.tap("#larger")
    window.tap("#larger")
    stands = "document.querySelector('#glass .picture').style.transform"
    before = window.page.evaluate(stands)
    window.tap("#ruler")
    box = window.page.locator("#glass").bounding_box()
    assert box
    for share in (0.4, 0.6):
        window.page.touchscreen.tap(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])
    window.page.wait_for_timeout(1_000)
    assert window.page.evaluate(stands) == before
    assert window.page.locator("#piece").inner_text() == "", "a point is meant, not a piece"
    assert "along the length" in window.page.locator("#measured").inner_text()
