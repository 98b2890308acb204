"""What a gauge's plan depends on, and what is only shown beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from sheetplan.app.making.earlier import gauge_digests
from sheetplan.model import Job
from sheetplan.trade.units import Units
from tests.demo import demo_job


def described(job: Job) -> Job:
    return replace(job, parts={name: replace(part, description="new") for name, part in job.parts.items()})


def moved(job: Job) -> Job:
    stock = tuple(replace(one, on_order=0, supplier="new", rack_place="new") for one in job.stock)
    return replace(job, stock=stock, remnants=tuple(replace(one, rack_place="new") for one in job.remnants))


def turned(job: Job) -> Job:
    return replace(job, parts={name: replace(part, turns=(90.0,)) for name, part in job.parts.items()})


def dearer(job: Job) -> Job:
    return replace(job, stock=tuple(replace(one, price=one.price + 1.0) for one in job.stock))


@pytest.mark.parametrize("shown", [described, moved])
def test_a_gauge_stands_whatever_is_only_shown_beside_its_plan(shown: Callable[[Job], Job]) -> None:
    job = demo_job(Units.INCH)
    assert gauge_digests(shown(job)) == gauge_digests(job)


@pytest.mark.parametrize("asked", [turned, dearer])
def test_a_gauge_changes_with_what_its_plan_depends_on(asked: Callable[[Job], Job]) -> None:
    job = demo_job(Units.INCH)
    before, after = gauge_digests(job), gauge_digests(asked(job))
    assert before.keys() == after.keys()
    assert all(before[label] != after[label] for label in before)
