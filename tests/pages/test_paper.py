"""Paragraphs that are read and set once give the pages of paragraphs that are read and set anew each time.

Outside reference: reportlab's own paragraphs.
"""

from collections.abc import Callable
from typing import Any

import pytest
from reportlab.platypus import Paragraph, Spacer, Table

from sheetplan.pages.drawing.lettering import Holds
from sheetplan.pages.paper.paper import A4, MARGIN, Section, build_pdf, list_table, style, text

WIDTH = A4.width - 2 * MARGIN
LONG = "Plates for the north quay, deburred, bundled by tens and marked with the order. " * 4

Make = Callable[[str], Any]


def plain(said: str) -> Any:
    return Paragraph(said, style())


def running_over(make: Make) -> list[Any]:
    """Paragraphs of several lines over several pages, whatever place is left at each one's end."""
    return [piece for number in range(90) for piece in (make(f"{number} {LONG}"), Spacer(0, number % 7))]


def in_tables(make: Make) -> list[Any]:
    """One text in columns of several widths, in tables that run over a page's end."""
    rows = [[make(LONG), [make(LONG), make("short")], make("short")] for _ in range(12)]
    return [Table(rows, [WIDTH * share for share in (0.5, 0.3, 0.2)], splitInRow=1) for _ in range(2)]


def measured_before(make: Make) -> list[Any]:
    """Paragraphs that were set between other margins before."""
    pieces = [make(f"{number} {LONG}") for number in range(40)]
    for piece in pieces:
        piece.wrap(WIDTH / 3, A4.height)
    return pieces


@pytest.mark.parametrize("content", [running_over, in_tables, measured_before])
def test_pages_are_those_of_plain_paragraphs(content: Callable[[Make], list[Any]]) -> None:
    def pages(make: Make) -> bytes:
        return build_pdf([Section("one", lambda: content(make))], A4, "Trial", "foot")

    assert pages(text) == pages(plain)


def test_a_text_asked_for_twice_is_two_paragraphs() -> None:
    first, second = text("Cut 4 times"), text("Cut 4 times")
    first.wrap(20.0, 100.0)
    assert first is not second
    assert second.wrap(WIDTH, 100.0)[1] < first.wrap(20.0, 100.0)[1]


def test_a_list_runs_over_pages() -> None:
    rows = [(str(number), LONG) for number in range(60)]
    whole = build_pdf(
        [Section("list", lambda: [list_table((("Key", Holds.WHOLE), ("Said", Holds.TEXT)), rows, WIDTH)])],
        A4, "Trial", "foot",
    )  # fmt: skip
    assert whole.count(b"/Type /Page") > 3


def test_a_section_is_made_up_when_those_before_it_are_set() -> None:
    """A large run has hundreds of tickets: they are not all held at once."""
    heard: list[str] = []

    def section(name: str) -> Section:
        def content() -> list[object]:
            heard.append(name)
            return [list_table((("Key", Holds.WHOLE),), [(str(number),) for number in range(120)], WIDTH)]

        return Section(name, content)

    sections = [section("a"), section("b")]
    build_pdf(sections, A4, "Trial", "foot", begun=lambda number: heard.append(f"begun {number}"))
    assert heard == ["begun 0", "a", "begun 1", "b"]
