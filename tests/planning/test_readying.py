import threading
import time

import pytest

from sheetplan.packing import kernel_ready
from sheetplan.planning import readying, shape_filling
from sheetplan.planning.progress import Progress
from sheetplan.planning.readying import make_kernels_ready


def said(monkeypatch: pytest.MonkeyPatch, boxes: float, shapes: float, *, wanted: bool = True) -> list[str]:
    """What is said where the two steps take so many seconds; every word has to come from this thread."""
    monkeypatch.setattr(readying, "ANNOUNCED_AFTER", 0.2)
    monkeypatch.setattr(kernel_ready, "make_ready", lambda: time.sleep(boxes))
    monkeypatch.setattr(shape_filling, "make_shapes_ready", lambda: time.sleep(shapes))
    found: list[str] = []

    def report(progress: Progress) -> None:
        assert threading.current_thread() is threading.main_thread()
        found.append(progress.sentence)

    make_kernels_ready(wanted, report)
    return found


def test_what_is_ready_at_once_is_not_spoken_of(monkeypatch: pytest.MonkeyPatch) -> None:
    assert said(monkeypatch, 0.0, 0.0) == []


def test_what_takes_its_time_is_announced(monkeypatch: pytest.MonkeyPatch) -> None:
    assert said(monkeypatch, 0.4, 0.0) == [readying.BOXES]
    assert said(monkeypatch, 0.0, 0.4) == [readying.SHAPES]
    assert said(monkeypatch, 0.4, 0.4) == [readying.BOXES, readying.SHAPES]


def test_true_shapes_are_left_out_where_all_parts_are_plates(monkeypatch: pytest.MonkeyPatch) -> None:
    assert said(monkeypatch, 0.0, 5.0, wanted=False) == []


def test_a_kernel_that_fails_is_heard_of(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> None:
        raise RuntimeError("no compiler")

    monkeypatch.setattr(kernel_ready, "make_ready", broken)
    with pytest.raises(RuntimeError, match="no compiler"):
        make_kernels_ready(False, lambda progress: None)
