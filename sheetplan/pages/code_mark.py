"""The square code on a ticket, for a hand-held reader.

QR code as in ISO/IEC 18004, error correction M: 15 per cent of it may be dirty.
"""

from __future__ import annotations

from sheetplan.pages.marks import Area, Drawing, box

QUIET_MODULES = 4
"""Free rim in modules that ISO/IEC 18004 asks for."""

DARK = "#000000"


def code_drawing(said: str, size: float) -> Drawing:
    """A code as a drawing, ``size`` points square with its free rim."""
    from reportlab.graphics.barcode.qr import QrCodeWidget

    qr = QrCodeWidget(said, barLevel="M").qr
    qr.make()
    count = qr.getModuleCount()
    module = size / (count + 2 * QUIET_MODULES)
    bars = []
    for row in range(count):
        top = size - (row + QUIET_MODULES) * module
        for start, end in _runs([bool(qr.isDark(row, column)) for column in range(count)]):
            left, right = ((edge + QUIET_MODULES) * module for edge in (start, end))
            bars.append(Area((box(left, top - module, right, top),), DARK))
    return Drawing(size, size, tuple(bars), f"Code: {said}")


def _runs(dark: list[bool]) -> list[tuple[int, int]]:
    """Start and end of each stretch of dark modules in a row."""
    found = []
    start: int | None = None
    for place, is_dark in enumerate([*dark, False]):
        if is_dark and start is None:
            start = place
        elif not is_dark and start is not None:
            found.append((start, place))
            start = None
    return found
