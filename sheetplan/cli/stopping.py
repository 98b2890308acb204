"""Ctrl-C while a plan is made: once ends the search and keeps the best so far, twice ends the run."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


class StopSwitch:
    """Off until somebody presses it; pressing it a second time interrupts at once.

    >>> stop = StopSwitch()
    >>> stop()
    False
    >>> stop.press(); stop()
    True
    """

    def __init__(self) -> None:
        self._pressed = threading.Event()

    def __call__(self) -> bool:
        """Whether the run should end and keep the best so far."""
        return self._pressed.is_set()

    def press(self) -> None:
        """Ask the run to end."""
        if self._pressed.is_set():
            raise KeyboardInterrupt
        self._pressed.set()


@contextmanager
def stops_on_ctrl_c(stop: StopSwitch) -> Iterator[None]:
    """Within the block Ctrl-C presses the switch instead of ending the program.

    Only the main thread can take signals; elsewhere the block changes nothing.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def on_signal(_number: int, _frame: FrameType | None) -> None:
        stop.press()

    before = signal.signal(signal.SIGINT, on_signal)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
