"""How large and how quick the page of a plan is: its size, the first picture, and frames a second in a pan.

``--count`` pieces in a plan, 100 to a sheet, looked at in Debian's Chromium on a window of 1280 x 800. Frames
are those of the browser's own trace (``DrawFrame``) between the first and the last of 120 moves of the
pointer; the work of the page's thread for each is told beside them, since a busy machine shows fewer frames
for no fault of the page.
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.hard.options import told
from tests.pages.floor.browsing import CHROMIUM, Window, chromium
from tests.pages.floor.plans import many_pieces, page_of

SIZE = {"width": 1280, "height": 800}
MOVES = 120
CATEGORIES = [
    "devtools.timeline", "disabled-by-default-devtools.timeline",
    "disabled-by-default-devtools.timeline.frame",
]  # fmt: skip


def first_picture(window: Window) -> float:
    """Milliseconds from the start of loading to the first picture."""
    window.page.wait_for_function("performance.getEntriesByType('paint').length > 0")
    paints = window.page.evaluate("performance.getEntriesByType('paint').map(e => e.startTime)")
    return float(max(paints))


def panned(browser: Any, window: Window) -> tuple[float, float]:
    """Frames a second while a sheet is pushed about, and milliseconds of the page's thread for each."""
    left, top, width, height = window.glass()
    x, y = left + width / 2, top + height / 2
    window.page.mouse.move(x, y)
    window.page.mouse.wheel(0, -300)
    window.page.wait_for_timeout(500)
    window.page.mouse.down()
    browser.start_tracing(page=window.page, categories=CATEGORIES)
    for move in range(MOVES):
        window.page.mouse.move(x - 150 + abs(150 - move * 8 % 300), y - 40 + abs(40 - move * 5 % 80))
    events = json.loads(browser.stop_tracing())["traceEvents"]
    window.page.mouse.up()
    frames = sorted(event["ts"] for event in events if event["name"] == "DrawFrame")
    threads = {
        (event["pid"], event["tid"]) for event in events
        if event["name"] == "thread_name" and event["args"]["name"] == "CrRendererMain"
    }  # fmt: skip
    tasks = [e for e in events if e["name"] == "RunTask" and (e["pid"], e["tid"]) in threads]
    work = sum(event.get("tdur", 0) for event in tasks)
    seconds = (frames[-1] - frames[0]) / 1e6
    return (len(frames) - 1) / seconds, work / 1e3 / len(frames)


def main() -> int:
    options = told(__doc__, count=6000)
    if not CHROMIUM:
        print("no Chromium here")
        return 1
    html = page_of(many_pieces(options.count))
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        path = Path(folder) / "plan.html"
        path.write_bytes(html)
        window = Window(browser, path, SIZE)
        shown = first_picture(window)
        frames, work = panned(browser, window)
    print(f"{options.count} pieces: {len(html) / 1e6:.2f} MB, first picture after {shown:.0f} ms")
    print(f"panning: {frames:.0f} frames a second, {work:.1f} ms of the page's thread for each")
    return 0


if __name__ == "__main__":
    sys.exit(main())
