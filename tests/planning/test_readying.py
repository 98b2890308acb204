import threading
import time
from concurrent.futures import Executor, Future

import pytest

from sheetplan.packing import kernel_cache
from sheetplan.planning import readying
from sheetplan.planning.progress import Progress
from sheetplan.planning.readying import BOXES, SHAPES, STRIPS, Readying, make_kernels_ready, make_set_ready


def said(monkeypatch: pytest.MonkeyPatch, boxes: float, shapes: float, *, wanted: bool = True) -> list[str]:
    """What is said where the sets take so many seconds; every word has to come from this thread."""
    monkeypatch.setattr(readying, "ANNOUNCED_AFTER", 0.2)
    monkeypatch.setattr(readying, "STEPS", {
        BOXES: lambda: time.sleep(boxes), STRIPS: lambda: None, SHAPES: lambda: time.sleep(shapes),
    })  # fmt: skip
    monkeypatch.setattr(readying, "note_compiled", lambda name: None)
    monkeypatch.setattr(readying, "forget_stale", lambda: None)
    found: list[str] = []

    def report(progress: Progress) -> None:
        assert threading.current_thread() is threading.main_thread()
        found.append(progress.sentence)

    make_kernels_ready(report, shapes=wanted)
    return found


def test_what_is_ready_at_once_is_not_spoken_of(monkeypatch: pytest.MonkeyPatch) -> None:
    assert said(monkeypatch, 0.0, 0.0) == []


def test_what_takes_its_time_is_announced(monkeypatch: pytest.MonkeyPatch) -> None:
    boxes, shapes = readying.said([BOXES], 0.2), readying.said([SHAPES], 0.2)
    assert said(monkeypatch, 0.4, 0.0) == [boxes]
    assert said(monkeypatch, 0.0, 0.4) == [shapes]
    assert said(monkeypatch, 0.4, 0.4) == [boxes, shapes]


def test_what_lasts_is_told_again_and_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readying, "TOLD_EVERY", 0.2)
    told = said(monkeypatch, 1.0, 0.0)
    assert len(told) >= 3
    assert "s so far" in told[-1]


def test_true_shapes_are_left_out_where_all_parts_are_plates(monkeypatch: pytest.MonkeyPatch) -> None:
    assert said(monkeypatch, 0.0, 5.0, wanted=False) == []


def test_a_kernel_that_fails_is_heard_of(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> None:
        raise RuntimeError("no compiler")

    monkeypatch.setattr(readying, "STEPS", {BOXES: broken})
    with pytest.raises(RuntimeError, match="no compiler"):
        make_kernels_ready(lambda progress: None, shapes=False)


class Asked(Executor):
    """Notes what it is asked for; every call is done at once."""

    def __init__(self) -> None:
        self.sets: list[str] = []

    def submit(self, fn: object, /, *args: object, **_: object) -> Future[None]:  # type: ignore[override]
        assert fn is make_set_ready
        self.sets += [str(arg) for arg in args]
        done: Future[None] = Future()
        done.set_result(None)
        return done


def test_a_set_is_handed_to_helpers_once_and_only_where_it_was_never_compiled(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(readying, "is_compiled", lambda name: name == STRIPS)
    helpers = Asked()
    begun = Readying(helpers)
    begun.begin((BOXES, STRIPS))
    begun.await_all((BOXES, STRIPS, SHAPES), lambda progress: None)
    assert helpers.sets == [BOXES, SHAPES]


def test_a_note_holds_for_the_sources_that_it_was_made_from(
    monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("packing")
    cache = folder / "__pycache__"
    (folder / "kernel.py").write_text("one", encoding="ascii")
    monkeypatch.setattr(kernel_cache, "PACKING", folder)
    monkeypatch.setattr(kernel_cache, "FOLDERS", (folder,))
    kernel_cache.forget_stale()
    assert (cache / "kernels.mark").exists(), "as on a fresh machine, where nothing was imported yet"
    kernel_cache.note_compiled("boxes")
    assert not kernel_cache.is_compiled("boxes"), "no machine code lies there"
    code = cache / "kernel.fill.nbi"
    code.touch()
    kernel_cache.note_compiled("boxes")
    kernel_cache.forget_stale()
    assert kernel_cache.is_compiled("boxes")
    assert code.exists()
    (folder / "kernel.py").write_text("two", encoding="ascii")
    assert not kernel_cache.is_compiled("boxes")
    kernel_cache.forget_stale()
    assert not code.exists()
