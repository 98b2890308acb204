"""A real browser for tests of the pages: Debian's Chromium, driven by Playwright; real events alone."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or ""

QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip

_TWO_FRAMES = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"

SMALLEST = {"width": 320, "height": 640}
PHONE = {"width": 390, "height": 844}
TABLET = {"width": 820, "height": 1180}
SCREEN = {"width": 1920, "height": 1080}
WALL = {"width": 3840, "height": 2160}

needs_chromium = pytest.mark.skipif(
    not CHROMIUM or find_spec("playwright") is None,
    reason="no Chromium here, or no Playwright to drive it: apt-get install chromium, pip install playwright",
)


@contextmanager
def chromium() -> Iterator[Any]:
    """The browser, until the block ends."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, headless=True, args=list(QUIET))
        try:
            yield browser
        finally:
            browser.close()


class Window:
    """One window with all that it asked for and complained of."""

    def __init__(self, browser: Any, path: Path, size: dict[str, int], **more: Any) -> None:
        is_small = size["width"] < 1000
        self.context = browser.new_context(
            viewport=size, has_touch=is_small, is_mobile=is_small, accept_downloads=True, **more
        )
        self.page = self.context.new_page()
        self.requests: list[str] = []
        self.said: list[str] = []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("console", lambda line: self.said.append(line.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.goto(path.as_uri())

    def tap(self, what: str) -> None:
        """Tap or click the first element of a selector."""
        target = self.page.locator(what).first
        target.tap() if self.page.viewport_size["width"] < 1000 else target.click()
        # A tap becomes a click, and a new address an event, a moment later: two frames on a busy machine too.
        self.page.evaluate(_TWO_FRAMES)

    def says(self, what: str, words: str) -> None:
        """Wait until an element reads so; an error after the browser's own patience."""
        from playwright.sync_api import expect

        expect(self.page.locator(what)).to_have_text(words)

    def open_sheet(self, tag: str) -> None:
        """Tap a sheet's card."""
        self.tap(f"#sheet-{tag} h4 a")
        self.page.wait_for_selector("#glass .picture")

    def glass(self) -> tuple[float, float, float, float]:
        """Left, top, width and height of the glass."""
        box = self.page.locator("#glass").bounding_box()
        return box["x"], box["y"], box["width"], box["height"]

    def scale(self) -> float:
        """How wide the picture stands on the screen."""
        found: float = self.page.locator("#glass .picture").bounding_box()["width"]
        return found
