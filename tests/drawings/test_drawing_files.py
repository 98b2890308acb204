import json
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from sheetplan.drawings.reading.drawing import (
    DrawingReport,
    ReadingChoices,
    choices_from_json,
    choices_to_json,
    read_bytes,
    report_from_json,
    report_to_json,
)
from sheetplan.drawings.reading.findings import Limits
from sheetplan.drawings.reading.reader_process import HOME, NotRead, Reader
from sheetplan.drawings.reading.store import DrawingCache, Request, read_drawings
from sheetplan.shapes import area
from sheetplan.trade.units import Units
from tests.nasty.drawings_making import box_lines, dxf, space
from tests.nasty.test_drawings import ALL

MM = ReadingChoices(units=Units.MM)
MANY = 6


@pytest.fixture
def in_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """However few drawings there are, reader processes are started for them."""
    monkeypatch.setattr("sheetplan.drawings.reading.store.FEW_BYTES", 0)


def plate(length: float) -> bytes:
    return dxf(space(lambda msp: box_lines(msp, 0, 0, length, 50)))


def read_drawing(path: Path, choices: ReadingChoices, cache: DrawingCache | None = None) -> DrawingReport:
    return read_drawings([Request(path, path.name, choices)], cache or DrawingCache(None))[0]


def test_one_file(tmp_path: Path) -> None:
    path = tmp_path / "plate.dxf"
    path.write_bytes(plate(100))
    report = read_drawing(path, MM)
    assert report.name == "plate.dxf"
    assert area(report.parts[0].outline) == pytest.approx(5000.0)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    report = read_drawing(tmp_path / "gone.dxf", MM)
    assert not report.good
    assert "cannot be opened" in str(report.findings[0])


@pytest.mark.parametrize("nasty", ALL[::6], ids=lambda nasty: nasty.name)
def test_reports_go_through_json_unchanged(nasty) -> None:
    report = read_bytes("x.dxf", nasty.data, nasty.choices, time.process_time)
    text = json.dumps(report_to_json(report))
    assert report_from_json(json.loads(text), "x.dxf") == report
    assert choices_from_json(json.loads(json.dumps(choices_to_json(nasty.choices)))) == nasty.choices


def test_many_are_read_side_by_side_in_order(tmp_path: Path, in_processes: None) -> None:
    requests = []
    for i in range(MANY):
        path = tmp_path / f"{i}.dxf"
        path.write_bytes(plate(100 + i))
        requests.append(Request(path, path.name, MM))
    requests.append(requests[0])
    reports = read_drawings(requests, DrawingCache(None))
    assert [r.name for r in reports] == [r.name for r in requests]
    lengths = [round(area(report.parts[0].outline) / 50) for report in reports]
    assert lengths == [*range(100, 100 + MANY), 100]


def test_one_that_takes_too_long_is_stopped_and_the_rest_goes_on(tmp_path: Path, in_processes: None) -> None:
    slow = ReadingChoices(units=Units.MM, limits=Limits(seconds=0.0))
    requests = []
    for i in range(MANY):
        path = tmp_path / f"{i}.dxf"
        path.write_bytes(plate(100 + i))
        requests.append(Request(path, path.name, slow if i == 1 else MM))
    reports = read_drawings(requests, DrawingCache(None))
    assert [report.good for report in reports] == [i != 1 for i in range(MANY)]
    assert "longer than" in str(reports[1].findings[0])


def test_the_cache_knows_a_file_by_its_content(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = DrawingCache(tmp_path / "cache")
    (tmp_path / "a.dxf").write_bytes(plate(100))
    (tmp_path / "b.dxf").write_bytes((tmp_path / "a.dxf").read_bytes())
    first = read_drawing(tmp_path / "a.dxf", MM, cache)

    def never(*args: object) -> None:
        raise AssertionError("read again")

    monkeypatch.setattr("sheetplan.drawings.reading.store.read_bytes", never)
    assert read_drawing(tmp_path / "a.dxf", MM, cache) == first
    assert read_drawing(tmp_path / "b.dxf", MM, cache) == replace(first, name="b.dxf")
    (tmp_path / "a.dxf").write_bytes(plate(101))
    with pytest.raises(AssertionError, match="read again"):
        read_drawing(tmp_path / "a.dxf", MM, cache)
    with pytest.raises(AssertionError, match="read again"):
        read_drawing(tmp_path / "b.dxf", replace(MM, join=0.2), cache)


@pytest.mark.parametrize(
    "damage", [b"", b"{", b"[]", b"null", b'{"parts": 3}', b'{"parts": [{}]}', b"\xff\xfe"]
)
def test_a_damaged_entry_is_written_anew(tmp_path: Path, damage: bytes) -> None:
    cache = DrawingCache(tmp_path / "cache")
    path = tmp_path / "a.dxf"
    path.write_bytes(plate(100))
    first = read_drawing(path, MM, cache)
    (entry,) = (tmp_path / "cache").glob("*.json")
    entry.write_bytes(damage)
    assert read_drawing(path, MM, cache) == first
    assert report_from_json(json.loads(entry.read_bytes()), "a.dxf") == first


def test_a_cache_that_cannot_be_written_is_no_reason_to_stop(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "a.dxf").write_bytes(plate(100))
    assert read_drawing(tmp_path / "a.dxf", MM, DrawingCache(tmp_path / "file" / "cache")).good


def test_old_entries_are_cleared_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sheetplan.drawings.reading.store.MOST_ENTRIES", 2)
    cache = DrawingCache(tmp_path)
    for i in range(4):
        (tmp_path / f"{i}.json").write_text("{}")
    (tmp_path / "x.draft").write_text("{}")
    cache.clear_out()
    assert len(list(tmp_path.iterdir())) == 2


def test_a_reader_that_hangs_is_stopped_from_outside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sheetplan.drawings.reading.reader_process.GRACE", 0.0)
    monkeypatch.setattr("sheetplan.drawings.reading.reader_process.BUSY", 1.0)
    reader = Reader()
    try:
        assert reader.read("a.dxf", plate(100), MM).good
        process = reader._started()
        process.send_signal(signal.SIGSTOP)
        begun = time.monotonic()
        slow = replace(MM, limits=Limits(seconds=0.5))
        with pytest.raises(NotRead, match=r"within 0\.5 s and was stopped"):
            reader.read("b.dxf", plate(100), slow)
        assert time.monotonic() - begun < 5.0
        assert reader.read("c.dxf", plate(100), MM).good
    finally:
        reader.close()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such clock")
def test_a_reader_is_ended_by_its_own_processor_time() -> None:
    """On a busy machine a drawing may wait as long as it likes; only work counts."""
    work = (
        "from sheetplan.drawings.reading.reader_process import stop_after; stop_after(0.05)\nwhile True: pass"
    )
    ended = subprocess.run([sys.executable, "-c", work], cwd=HOME, check=False, capture_output=True)
    assert ended.returncode == -signal.SIGPROF


def test_a_reader_that_breaks_down_is_no_verdict_to_remember(
    tmp_path: Path, in_processes: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, cache = tmp_path / "a.dxf", DrawingCache(tmp_path / "cache")
    path.write_bytes(plate(100))
    with monkeypatch.context() as broken:
        broken.setattr("sheetplan.drawings.reading.reader_process._asked", lambda *_: "")
        assert "broke down" in str(read_drawing(path, MM, cache).findings[0])
    assert read_drawing(path, MM, cache).good


def test_refusals_are_remembered_like_readings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bad = [nasty for nasty in ALL if not nasty.good and "limit" not in nasty.name]
    requests = []
    for nasty in bad:
        path = tmp_path / f"{nasty.name}.dxf"
        path.write_bytes(nasty.data)
        requests.append(Request(path, path.name, nasty.choices))
    cache = DrawingCache(tmp_path / "cache")
    first = read_drawings(requests, cache)

    def never(*_: object) -> None:
        raise AssertionError("it was read again")

    monkeypatch.setattr("sheetplan.drawings.reading.store._read", never)
    assert read_drawings(requests, cache) == first
