"""The same page in Debian's Firefox: found, zoomed, tapped, ticked and kept, by WebDriver BiDi alone.

Firefox speaks that protocol itself (W3C, WebDriver BiDi), so no driver stands between.
"""

from __future__ import annotations

import json
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from sheetplan.model import Plan
from tests.pages.floor.plans import page_of

FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox") or ""

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        not FIREFOX or find_spec("websocket") is None,
        reason="no Firefox here, or no web socket to speak to it: apt-get install firefox-esr, "
        "pip install websocket-client",
    ),
]

STARTING_SECONDS = 90.0

ANSWER_SECONDS = 200.0
"""Most for one answer: on a busy machine the first page alone has taken more than a minute."""


class Firefox:
    """A window of the browser."""

    def __init__(self, profile: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        command = [FIREFOX, "--headless", "--no-remote", "--profile", str(profile)]
        self.process = subprocess.Popen(
            [*command, "--remote-debugging-port", str(port)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            self._connect(port)
        except BaseException:
            self.process.kill()
            raise

    def _connect(self, port: int) -> None:
        import websocket

        deadline = time.monotonic() + STARTING_SECONDS
        while True:
            try:
                self.line = websocket.create_connection(
                    f"ws://127.0.0.1:{port}/session", timeout=ANSWER_SECONDS, suppress_origin=True
                )
                break
            except OSError:
                if time.monotonic() > deadline:
                    raise
                time.sleep(0.5)
        self.numbers = count(1)
        self.ask("session.new", capabilities={})
        self.window = self.ask("browsingContext.getTree")["contexts"][0]["context"]
        self.ask("browsingContext.setViewport", context=self.window, viewport={"width": 1366, "height": 768})

    def ask(self, method: str, **params: Any) -> Any:
        number = next(self.numbers)
        self.line.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            answer = json.loads(self.line.recv())
            if answer.get("id") == number:
                assert answer["type"] == "success", answer
                return answer["result"]

    def open(self, address: str) -> None:
        self.ask("browsingContext.navigate", context=self.window, url=address, wait="complete")

    def seen(self, expression: str) -> Any:
        """The value of an expression, which looks and changes nothing."""
        told = self.ask(
            "script.evaluate", expression=f"JSON.stringify({expression})", awaitPromise=False,
            target={"context": self.window},
        )  # fmt: skip
        return json.loads(told["result"].get("value", "null"))

    def middle(self, selector: str) -> tuple[int, int]:
        box = self.seen(f"document.querySelector({json.dumps(selector)}).getBoundingClientRect()")
        return round(box["x"] + box["width"] / 2), round(box["y"] + box["height"] / 2)

    def act(self, kind: str, actions: list[dict[str, Any]], **more: Any) -> None:
        source = {"type": kind, "id": kind, "actions": actions, **more}
        self.ask("input.performActions", context=self.window, actions=[source])

    def click(self, selector: str) -> None:
        x, y = self.middle(selector)
        self.act("pointer", [
            {"type": "pointerMove", "x": x, "y": y}, {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ])  # fmt: skip

    def type(self, text: str) -> None:
        keys = [{"type": kind, "value": letter} for letter in text for kind in ("keyDown", "keyUp")]
        self.act("key", keys)

    def wheel(self, selector: str, by: int) -> None:
        x, y = self.middle(selector)
        self.act("wheel", [{"type": "scroll", "x": x, "y": y, "deltaX": 0, "deltaY": by}])

    def close(self) -> None:
        self.line.close()
        self.process.terminate()
        self.process.wait(30)


@pytest.fixture
def firefox(tmp_path: Path) -> Iterator[Firefox]:
    profile = tmp_path / "profile"
    profile.mkdir()
    one = Firefox(profile)
    try:
        yield one
    finally:
        one.close()


def test_found_zoomed_tapped_ticked_and_kept(firefox: Firefox, inch_plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.html"
    path.write_bytes(page_of(inch_plan))
    firefox.open(path.as_uri())
    firefox.click("#find")
    firefox.type("h-2042")
    assert firefox.seen("document.querySelector('#found-count').textContent") == "36 pieces on 2 layouts"
    firefox.click("#sheet-L1 h4 a")
    wide = "document.querySelector('#glass .picture').getBoundingClientRect().width"
    before = firefox.seen(wide)
    firefox.wheel("#glass", -400)
    assert firefox.seen(wide) == pytest.approx(2.718 * before, rel=0.05)
    firefox.click("#whole")
    firefox.click("#glass .pieces use")
    assert "CB-101" in firefox.seen("document.querySelector('#piece').textContent")
    firefox.click("#open-tick")
    firefox.click("#bad button[aria-label^='One bad piece more']")
    firefox.click("#tick-form button.main")
    firefox.open(path.as_uri())
    assert firefox.seen("document.querySelector('#sheet-L1 .state').textContent") == "cut"
    assert firefox.seen("document.querySelector('#waiting').textContent") == "(1)"
