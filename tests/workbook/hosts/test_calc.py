from pathlib import Path

import pytest

from sheetplan.planning.progress import Progress
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.calc import CalcBook
from sheetplan.workbook.outcomes import BookChanged, NotWritten
from tests.workbook.hosts.calc_end import CalcEnd
from tests.workbook.sample_pages import plan_page


def host(end: CalcEnd) -> CalcBook:
    return CalcBook({"run": "plan", "path": "/jobs/may.xlsx", "sheets": []}, end.lines(), end)


def test_what_is_said_arrives_in_order() -> None:
    end = CalcEnd()
    book = host(end)
    book.progress(Progress("10 ga", 0.25, "Planning"))
    book.tell("A sentence.")
    assert book.write((plan_page(),), Units.INCH) == Path("/jobs/may.xlsx")
    book.end()
    assert [next(iter(message)) for message in end.said] == ["progress", "tell", "write", "end"]
    assert end.said[0]["progress"] == [0.25, "Planning"]
    assert (book.run, book.path) == ("plan", Path("/jobs/may.xlsx"))


def test_a_stop_is_heard_while_the_search_runs() -> None:
    end = CalcEnd()
    book = host(end)
    assert not book.stop()
    end.send({"stop": True})
    assert book.write((plan_page(),), Units.INCH)  # the answer comes after the stop on the same line
    assert book.stop()


@pytest.mark.parametrize(
    ("answer", "error", "words"),
    [
        ({"changed": True}, BookChanged, "changed while the run"),
        ({"refused": "The page Plan is your own."}, NotWritten, "The page Plan is your own."),
        ({}, NotWritten, "refused"),
    ],
)
def test_a_refusal_becomes_an_error(answer: dict[str, object], error: type[Exception], words: str) -> None:
    end = CalcEnd(answer or {"odd": 1})
    with pytest.raises(error, match=words):
        host(end).write((plan_page(),), Units.INCH)


def test_a_program_that_has_gone_is_noticed() -> None:
    end = CalcEnd({"refused": "x"})
    book = host(end)
    end.close_line()
    with pytest.raises(NotWritten):
        book.write((plan_page(),), Units.INCH)
    assert book.stop()
