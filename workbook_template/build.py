"""Build the books that `sheetplan new` copies, and the demo's drawings.

Run it as ``python workbook_template/build.py``.

Same rows, same bytes; a test builds them again and compares.
"""

from __future__ import annotations

from pathlib import Path

from sheetplan.app.new import template_name
from sheetplan.trade.units import Units
from sheetplan.workbook.template.build import build_book, demo_rows, empty_rows

FOLDER = Path(__file__).parent


def build(demo: bool, units: Units) -> bytes:
    """One book."""
    rows = demo_rows(FOLDER / f"demo_{units.value}", units) if demo else empty_rows(units)
    return build_book(rows, demo=demo)


def main() -> None:
    """Write all four books and the drawings into this folder."""
    from draw_demo import draw_all  # beside this script

    draw_all(FOLDER)
    for demo in (False, True):
        for units in Units:
            path = FOLDER / template_name(demo=demo, units=units)
            path.write_bytes(build(demo, units))
            print(path)


if __name__ == "__main__":
    main()
