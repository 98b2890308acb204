"""Text on fills is legible. Source: WCAG 2.1, success criterion 1.4.3 (AA) and its definition of contrast."""

from __future__ import annotations

import pytest

from sheetplan.workbook import style

LEAST_CONTRAST = 4.5

PAIRS = (
    (style.INK, style.HEAD_FILL), (style.INK, style.INPUT_FILL), (style.INK, style.NOTE_FILL),
    (style.INK, style.HELPER_FILL), (style.QUIET, style.HELPER_FILL), (style.QUIET, "#FFFFFF"),
    (style.WARN_INK, style.WARN_FILL), (style.WARN_INK, "#FFFFFF"), (style.INK, "#FFFFFF"),
)  # fmt: skip


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_itself() -> None:
    # Source: WCAG 2.1, contrast ratio: black on white is 21 to 1, a colour on itself 1 to 1.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


@pytest.mark.parametrize(("ink", "fill"), PAIRS)
def test_contrast(ink: str, fill: str) -> None:
    assert contrast(ink, fill) >= LEAST_CONTRAST
