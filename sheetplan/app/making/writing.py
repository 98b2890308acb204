"""The files of a plan and the pictures of its pages, made in helper processes where there are some.

What is alike for many layouts is worked out once: figures for a layout however many ways to plan its gauge
share it, one scene for all drawings of a layout, shapes of a part at one scale. Layouts go to the helpers
some at a time, gauge by gauge, with the parts that lie on them and no others; the files are the same
byte for byte whoever makes them. What was made is noted among the plan's files (`MADE_NOTE`): a run whose
plan, book and day are the same takes it from there.
"""

from __future__ import annotations

import datetime
import json
from base64 import b64decode, b64encode
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.app.making.workers import Aside, Handed
from sheetplan.app.rack.folder import digest_of
from sheetplan.model import Group, Job, Layout, Plan
from sheetplan.model.outline import Stroke
from sheetplan.planning.progress import Progress, Report
from sheetplan.shapes import Box

if TYPE_CHECKING:
    from sheetplan.money.comparison import Choices
    from sheetplan.money.cutting_plan import CuttingPlan, Ordered
    from sheetplan.money.figures import LayoutFigures, LayoutKey, PlanFigures
    from sheetplan.pages.drawing.files import LayoutPicture
    from sheetplan.pages.drawing.marks import PartColours
    from sheetplan.pages.ticket_facts import Issue

MADE_NOTE = "made.json"
"""What a plan's files and pictures were made from, with the pictures and a digest of each file."""

TOGETHER = 8
"""Layouts in one call to a helper: few, so that all end at about the same time; many, as they share parts."""


@dataclass(frozen=True, slots=True)
class Weigh:
    """Layouts of a gauge whose figures are wanted."""

    group: Group
    layouts: tuple[Layout, ...]
    job: Job


@dataclass(frozen=True, slots=True)
class Draw:
    """Layouts of a gauge that are wanted as drawings and pictures, with what is left of each."""

    group: Group
    layouts: tuple[Layout, ...]
    job: Job
    crops: tuple[tuple[Stroke, ...], ...]
    kept: tuple[Box | None, ...]
    colours: PartColours


@dataclass(frozen=True, slots=True)
class Drawn:
    """A layout as the bytes of its DXF, of its SVG where the book asks for one, and as a picture."""

    tag: str
    dxf: bytes
    svg: bytes | None
    picture: LayoutPicture


def worked_out(plan: Plan, executor: Executor | None) -> tuple[PlanFigures, Choices]:
    """The figures of a plan and of its choices, each layout's worked out once."""
    from sheetplan.money.comparison import choice_figures, every_layout
    from sheetplan.money.figures import key_of, plan_figures

    asked = [
        Weigh(group, some, _lean(plan.job, some))
        for group, layouts in every_layout(plan)
        for some in _batches(layouts, executor)
    ]
    known: dict[LayoutKey, LayoutFigures] = {}
    for one, found in zip(asked, Handed(executor, weigh, asked).results(), strict=True):
        known |= {key_of(layout): figures for layout, figures in zip(one.layouts, found, strict=True)}
    return plan_figures(plan, known), choice_figures(plan, known)


@dataclass(frozen=True, slots=True)
class Made:
    """Everything that is cut from and printed, by file name, and pictures by layout tag."""

    files: dict[str, bytes]
    pictures: dict[str, LayoutPicture]


def source_of(plan: Plan, today: datetime.date, ordered: Ordered, book: str = "") -> str:
    """A digest of all that the files and pictures of a plan depend on, this program among it."""
    package = Path(__file__).parents[2]
    written = [path for path in package.rglob("*") if path.suffix in (".py", ".js", ".css", ".html")]
    stats = [(path, path.stat()) for path in sorted(written)]
    program = [(str(path.relative_to(package)), one.st_size, one.st_mtime_ns) for path, one in stats]
    groups = [replace(one, choices=()) for one in plan.groups]
    return digest_of(repr((plan.job, groups, today, sorted(ordered.items()), book, program)).encode())


def made_before(plan_folder: Path, source: str) -> Made | None:
    """What was made of the same before; None where it was of something else, or a file is gone or changed."""
    from sheetplan.pages.drawing.files import LayoutPicture
    from sheetplan.pages.values import Picture

    try:
        note = json.loads((plan_folder / MADE_NOTE).read_bytes())
        if note["source"] != source:
            return None
        files = {name: (plan_folder / name).read_bytes() for name in note["files"]}
        if any(digest_of(files[name]) != digest for name, digest in note["files"].items()):
            return None
        pictures = {
            tag: LayoutPicture(Picture(b64decode(png), width, height, alt), keys)
            for tag, (png, width, height, alt, keys) in note["pictures"].items()
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None
    return Made(files, pictures)


def made_note(made: Made, source: str) -> bytes:
    """The text of `MADE_NOTE`."""
    pictures = {}
    for tag, one in made.pictures.items():
        shown = one.picture
        png = b64encode(shown.png).decode("ascii")
        pictures[tag] = [png, shown.width, shown.height, shown.alt, dict(one.keys)]
    files = {name: digest_of(content) for name, content in made.files.items()}
    note = {"source": source, "files": files, "pictures": pictures}
    return f"{json.dumps(note, ensure_ascii=False)}\n".encode()


@dataclass(frozen=True, slots=True)
class Told:
    """What files of a plan say beside it: mark, names of drawings by tag, day, what is on order, the book."""

    mark: str
    names: Mapping[str, str]
    today: datetime.date
    ordered: Ordered
    book: str = ""


class Writing:
    """The files of one plan in the making."""

    def __init__(self, plan: Plan, figures: PlanFigures, told: Told, report: Report) -> None:
        from sheetplan.money.cutting_plan import days_of, timetable
        from sheetplan.pages.ticket_facts import Issue

        self._plan, self._figures, self._told, self._report = plan, figures, told, report
        self._found = days_of(plan, figures, today=told.today, ordered=told.ordered)
        days = timetable(plan, self._found)
        self._issue = Issue(plan, figures, told.today, told.mark, told.names, days)
        self._paper: Aside[dict[str, bytes]] | None = None

    def begin_paper(self) -> None:
        """Have what is printed made here, while helpers are at something else; tickets are one document."""
        self._paper = Aside(self._printed)

    def _printed(self, report: Report) -> dict[str, bytes]:
        """Tickets, lists and labels."""
        from sheetplan.money.cutting_plan import order_days
        from sheetplan.pages.paper.shop_files import LISTS_SAID, TICKETS, Days, has_layouts, list_files
        from sheetplan.pages.paper.tickets import tickets_pdf

        plan, told, issue = self._plan, self._told, self._issue
        printed = {TICKETS: tickets_pdf(issue, report)} if has_layouts(plan) else {}
        report(Progress("", 1.0, LISTS_SAID))
        days = Days(issue.days, order_days(self._found))
        return printed | list_files(plan, told.today, told.mark, days)

    def made(self, executor: Executor | None) -> Made:
        """All of it; drawings, pictures and pages for the browser by helpers."""
        from sheetplan.drawings.writing.dxf import with_remark

        plan, told = self._plan, self._told
        drawing = self._drawing(executor)
        shown = Handed(executor, pages_of, [(self._issue, told.book, self._found)])
        paper = self._paper or Aside(self._printed)
        printed = paper.result(self._report)
        for some in shown.results():
            printed |= some
        files: dict[str, bytes] = {}
        pictures = {}
        of_plan = {la.tag: la.of_plan or told.mark for group in plan.groups for la in group.layouts}
        for one in self._drawn(drawing):
            name = told.names[one.tag]
            files[name] = with_remark(one.dxf, f"sheetplan: plan {of_plan[one.tag]}, layout {one.tag}")
            if one.svg is not None:
                files[name.removesuffix(".dxf") + ".svg"] = one.svg
            pictures[one.tag] = one.picture
        return Made(files | printed, pictures)

    def _drawing(self, executor: Executor | None) -> Handed[Draw, list[Drawn]]:
        from sheetplan.pages.drawing.files import plan_colours

        plan = self._plan
        left = {tag: one for group in self._figures.groups for tag, one in group.layouts.items()}
        colours = plan_colours(plan)
        asked = [
            Draw(
                group_plan.group, some, _lean(plan.job, some),
                tuple(left[layout.tag].left.crop for layout in some),
                tuple(left[layout.tag].kept for layout in some), colours,
            )
            for group_plan in plan.groups
            for some in _batches(group_plan.layouts, executor)
        ]  # fmt: skip
        return Handed(executor, draw, asked)

    def _drawn(self, drawing: Handed[Draw, list[Drawn]]) -> list[Drawn]:
        count = len(self._told.names)
        self._report(Progress("", 1.0, "Writing drawings and pictures"))
        found: list[Drawn] = []
        for some in drawing.results():
            found += some
            self._report(Progress("", 1.0, f"Writing drawings and pictures, {len(found)} of {count}"))
        return found


def weigh(asked: Weigh) -> list[LayoutFigures]:
    """The figures of some layouts."""
    from sheetplan.money.figures import weighed

    return weighed(asked.group, asked.layouts, asked.job.parts, asked.job.settings)


def draw(asked: Draw) -> list[Drawn]:
    """The drawings and pictures of some layouts."""
    from sheetplan.drawings.writing.dxf import scene_drawing
    from sheetplan.drawings.writing.scene import CutScenes
    from sheetplan.drawings.writing.svg import scene_svg
    from sheetplan.pages.drawing.files import layout_picture
    from sheetplan.pages.drawing.layout_drawing import LayoutDrawings

    settings = asked.job.settings
    scenes = CutScenes(asked.job.parts, asked.group.rule, settings)
    pictures = LayoutDrawings(asked.job, asked.colours)
    found = []
    for layout, crop, keep in zip(asked.layouts, asked.crops, asked.kept, strict=True):
        scene = scenes.of(layout, crop)
        svg = scene_svg(scene, settings) if settings.also_svg else None
        picture = layout_picture(layout, pictures, keep)
        found.append(Drawn(layout.tag, scene_drawing(scene, settings), svg, picture))
    return found


def pages_of(asked: tuple[Issue, str, CuttingPlan | None]) -> dict[str, bytes]:
    """The plan as pages for the browser, to cut by and in pictures, where the book asks for them."""
    from sheetplan.pages.book.cutting import cutting_page
    from sheetplan.pages.book.made import made_page
    from sheetplan.pages.book.plan import plan_page
    from sheetplan.pages.floor import MONTH_HTML, PLAN_HTML, month_html, plan_page_html
    from sheetplan.pages.paper.shop_files import has_layouts
    from sheetplan.pages.wording import decimals_of

    issue, book, found = asked
    plan, figures, today, mark = issue.plan, issue.figures, issue.day, issue.mark
    settings = plan.job.settings
    if not (settings.page_for_tablets and has_layouts(plan)):
        return {}
    charted = (
        plan_page(plan, figures, today=today, mark=mark, days=found),
        cutting_page(plan, figures, found, today=today, rows={}),
        made_page(plan, figures),
    )
    pictures = month_html(
        f"Plan {mark} in pictures", charted, settings.units, settings.currency, decimals_of(plan.job)
    )
    return {PLAN_HTML: plan_page_html(issue, book), MONTH_HTML: pictures}


def _lean(job: Job, layouts: Sequence[Layout]) -> Job:
    """The job with the parts of some layouts alone: what goes to another process is copied."""
    names = {placement.part for layout in layouts for placement in layout.placements}
    return replace(job, parts={name: job.parts[name] for name in job.parts if name in names})


def _batches(layouts: Sequence[Layout], executor: Executor | None) -> Iterator[tuple[Layout, ...]]:
    """Layouts of one gauge, some at a time for helpers; all at once where there are none."""
    size = TOGETHER if executor is not None else max(1, len(layouts))
    for start in range(0, len(layouts), size):
        yield tuple(layouts[start : start + size])
