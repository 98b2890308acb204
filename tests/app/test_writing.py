"""Files of a plan: the same whoever makes them, and nothing worked out twice."""

import datetime
import shutil
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sheetplan.app.making.answer import Answer
from sheetplan.app.making.workers import WORTH_STARTING, Crew, Handed, Helpers
from sheetplan.app.making.writing import Made, Told, Writing, worked_out
from sheetplan.app.plan import PlanOutcome, Said, Watch, _write_all
from sheetplan.drawings.writing import scene
from sheetplan.drawings.writing.scene import CutScenes
from sheetplan.model import Plan
from sheetplan.model.plan import Choice
from sheetplan.money.comparison import every_layout
from sheetplan.money.layout_figures import Weighing
from sheetplan.pages.drawing.layout_drawing import LayoutDrawings
from sheetplan.planning.order_book import Before
from sheetplan.planning.progress import never, quiet
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.reading.book import seen_in

DAY = datetime.date(2026, 11, 30)


def tags(plan: Plan) -> list[str]:
    return [layout.tag for group in plan.groups for layout in group.layouts]


def with_choices(plan: Plan) -> Plan:
    """Every gauge with another way that shares all layouts but the last: a short search may find none."""
    groups = []
    for group in plan.groups:
        *shared, last = group.layouts
        other = replace(last, placements=last.placements[::-1])
        way = replace(group, layouts=(*shared, other), choices=())
        groups.append(replace(group, choices=(Choice("fewest sheets", "", way),)))
    return replace(plan, groups=tuple(groups))


def made(plan: Plan, executor: Executor | None) -> tuple[object, Made]:
    figures, choices = worked_out(plan, executor)
    told = Told("ABCD", {tag: f"{tag}.dxf" for tag in tags(plan)}, DAY, {})
    return (figures, choices), Writing(plan, figures, told, quiet).made(executor)


@pytest.mark.slow
def test_helpers_make_the_same_files_byte_for_byte(planned: PlanOutcome) -> None:
    assert planned.plan is not None
    settings = replace(planned.plan.job.settings, also_svg=True)
    plan = replace(planned.plan, job=replace(planned.plan.job, settings=settings))
    with Helpers(2) as helpers:
        there = made(plan, helpers)
    here = made(plan, None)
    assert there == here
    assert {f"{tag}.svg" for tag in tags(plan)} < set(here[1].files)
    assert list(there[1].files) == list(here[1].files)


def counting(monkeypatch: pytest.MonkeyPatch, owner: Any, name: str, calls: Counter[str]) -> None:
    """Count the calls of a function or method."""
    function = getattr(owner, name)

    def counted(*given: Any, **named: Any) -> Any:
        calls[f"{owner.__name__}.{name}"] += 1
        return function(*given, **named)

    monkeypatch.setattr(owner, name, counted)


def test_each_layout_is_weighed_once_and_each_part_followed_once(
    planned: PlanOutcome, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Through the writing of a whole book, choices, drawings in two formats, pages and tickets."""
    plan = planned.plan
    assert plan is not None
    settings = replace(plan.job.settings, also_svg=True, kerf_offset=True)
    plan = with_choices(replace(plan, job=replace(plan.job, settings=settings)))
    calls: Counter[str] = Counter()
    for owner, name in (
        (Weighing, "of"), (CutScenes, "of"), (scene, "part_to_cut"), (scene, "letter_room"),
        (LayoutDrawings, "of"),
    ):  # fmt: skip
        counting(monkeypatch, owner, name, calls)
    shutil.copy(planned.book, tmp_path / planned.book.name)
    host = ClosedBook(tmp_path / planned.book.name, quiet)
    tables = host.read()
    with Crew(1) as crew:
        watch = Watch(host, tables, plan.job, never)
        said = Said(DAY, seen_in(tables), Before(), {}, {}, {}, tables)
        _write_all(host, watch, Answer(plan), said, crew, {})
    layouts, distinct = len(tags(plan)), sum(len(some) for _, some in every_layout(plan))
    parts = {p.part for group in plan.groups for layout in group.layouts for p in layout.placements}
    assert any(len(group.layouts) > 1 for group in plan.groups), "choices share layouts with the plan"
    assert calls == {
        "Weighing.of": distinct,
        "CutScenes.of": layouts,
        "sheetplan.drawings.writing.scene.part_to_cut": len(parts),
        "sheetplan.drawings.writing.scene.letter_room": 2
        * len(parts),  # for drawings, and for the page for tablets
        "LayoutDrawings.of": 2 * layouts,  # on the page and, larger, on the ticket
    }


def double(number: int) -> int:
    return 2 * number


class Dying(Executor):
    """Does what it is asked, until its helper dies: of the calls after that there is no answer."""

    def __init__(self, after: int) -> None:
        self.left = after

    def submit(self, fn: Callable[..., Any], /, *args: Any, **named: Any) -> Future[Any]:
        answer: Future[Any] = Future()
        self.left -= 1
        if self.left < 0:
            answer.set_exception(BrokenProcessPool("killed"))
        else:
            answer.set_result(fn(*args, **named))
        return answer


@pytest.mark.parametrize("executor", [None, Dying(0), Dying(2), Dying(9)])
def test_what_dies_with_a_helper_is_done_here(executor: Executor | None) -> None:
    assert list(Handed(executor, double, [1, 2, 3]).results()) == [2, 4, 6]


@pytest.mark.slow
def test_who_searched_writes_and_others_start_only_where_it_is_worth_it() -> None:
    with Crew(2) as crew:
        assert crew.writing(1) is None, "nobody was started, and nobody is for one layout"
        searching = crew.searching(1.0, quiet, shapes=False)
        assert isinstance(searching, Helpers)
        assert crew.writing(1) is searching
        searching.shutdown(wait=False, cancel_futures=True)
        assert crew.writing(1) is None, "they were let go by a stop"
        others = crew.writing(WORTH_STARTING)
        assert isinstance(others, Helpers)
        assert not others.gone
        crew.lost()
        assert crew.writing(WORTH_STARTING) is None, "what killed one helper may kill the next"
    with Crew(1) as crew:
        assert crew.searching(1.0, quiet, shapes=False) is None
        assert crew.writing(WORTH_STARTING) is None
