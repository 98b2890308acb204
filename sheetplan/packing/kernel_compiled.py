"""One way to compile a kernel, so that its types stay visible to the checker."""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

from numba import njit

P = ParamSpec("P")
R = TypeVar("R")


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Compile on first call and keep the machine code beside the module for the next process."""
    return cast("Callable[P, R]", njit(cache=True)(function))
