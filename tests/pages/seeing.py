"""How colours are seen: contrast, simulated colour blindness, colour difference, grey."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Colour = NDArray[np.float64]

# Source: Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color
# vision deficiency", IEEE Trans. Vis. Comput. Graph. 15(6), 2009; full severity, linear RGB.
VISIONS: dict[str, Colour] = {
    "usual": np.eye(3),
    "protanopia": np.array([
        [0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998],
    ]),
    "deuteranopia": np.array([
        [0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881],
    ]),
    "tritanopia": np.array([
        [1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900],
    ]),
}  # fmt: skip

# Source: IEC 61966-2-1 (sRGB), linear RGB to CIE XYZ with white D65.
TO_XYZ = np.array([
    [0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505],
])  # fmt: skip


def linear(hexadecimal: str) -> Colour:
    """Linear RGB, 0 to 1, of ``#RRGGBB``."""
    # Source: WCAG 2.1, definition of relative luminance (its threshold 0.03928 included).
    encoded = np.array([int(hexadecimal[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(encoded <= 0.03928, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def luminance(hexadecimal: str) -> float:
    """Relative luminance, 0 to 1."""
    return float(np.array([0.2126, 0.7152, 0.0722]) @ linear(hexadecimal))


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21. Source: WCAG 2.1, definition of contrast ratio."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def lab(colour: Colour) -> Colour:
    """CIE 1976 L*a*b* of linear RGB. Source: CIE 15, colorimetry."""
    ratio = TO_XYZ @ colour / TO_XYZ.sum(axis=1)
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def difference(one: str, other: str, vision: str = "usual") -> float:
    """CIE 1976 colour difference as a kind of vision sees it."""
    seen = [lab(np.clip(VISIONS[vision] @ linear(colour), 0.0, 1.0)) for colour in (one, other)]
    return float(np.linalg.norm(seen[0] - seen[1]))
