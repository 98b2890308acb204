"""What every harness can be told on the command line."""

from __future__ import annotations

import argparse


def told(about: str | None, *, count: int) -> argparse.Namespace:
    """``--count`` and ``--seed``."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--count", type=int, default=count)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int, help="the number of one case, to look at it alone")
    return parser.parse_args()
