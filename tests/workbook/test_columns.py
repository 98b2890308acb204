import re

import pytest

from sheetplan.trade.lengths import parse_length
from sheetplan.trade.thickness import CARBON_STEEL, parse_thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import ALL_PAGES
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.schema import MESSAGE, NOT_STATED, SETTING_ROWS, Holds, InputPage, note_in
from tests.nasty.books.plain import page

LONGEST_LIST = 255
"""Characters of a drop-down written out. Source: Microsoft, "Excel specifications and limits"."""

pages = pytest.mark.parametrize("input_page", ALL_PAGES, ids=lambda p: p.name)


@pages
def test_headings_differ_even_when_compared_loosely(input_page: InputPage) -> None:
    headings = [normal(heading) for heading in input_page.headings]
    assert len(set(headings)) == len(headings)
    assert input_page.headings[-1] == MESSAGE


@pages
@pytest.mark.parametrize("units", Units)
def test_notes_are_sentences_with_the_units_put_in(input_page: InputPage, units: Units) -> None:
    for note in [c.note for c in input_page.columns] + [h.note for h in input_page.helpers]:
        said = note_in(note, units)
        assert said.endswith(".")
        assert "{" not in said


@pages
@pytest.mark.parametrize("units", Units)
def test_examples_are_written_as_a_book_in_these_units_is(input_page: InputPage, units: Units) -> None:
    for column in input_page.columns:
        example = note_in(column.example, units)
        if example and column.holds is Holds.LENGTH:
            # Common practice, no source: a sheet is about 1.2 m wide and 2.5 m long.
            assert 1100 < parse_length(example, units) < 2600, column.heading
        if example and column.holds is Holds.THICKNESS:
            assert 2.9 < parse_thickness(example, CARBON_STEEL, units).mm < 3.5
        # The note on thickness lists all ways of writing it, whatever the book's units.
        said = example if column.holds is Holds.THICKNESS else f"{example} {note_in(column.note, units)}"
        assert units is Units.INCH or not re.search("[0-9]/[0-9]", said), column.heading


@pages
def test_sources_and_keys_name_columns_that_exist(input_page: InputPage) -> None:
    for column in input_page.columns:
        for source in column.sources:
            page(source.page).column(source.heading)
    for key in input_page.keys:
        input_page.column(key)


@pages
def test_choices_fit_a_drop_down(input_page: InputPage) -> None:
    for column in input_page.columns:
        assert len(",".join(column.choices)) <= LONGEST_LIST


def test_usual_settings_are_among_their_choices() -> None:
    for row in SETTING_ROWS:
        for units in Units:
            assert not row.choices or row.usual_in(units) in (NOT_STATED, *row.choices)


def test_an_unknown_page_or_column_is_an_error() -> None:
    with pytest.raises(KeyError):
        page("Partz")
    with pytest.raises(KeyError):
        page("Parts").column("Lenght")
