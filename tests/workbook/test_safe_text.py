import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetplan.workbook.text import MAX_CELL_UNITS, clean_text, looks_like_formula


@given(st.text(st.characters(codec=None), max_size=200))
def test_clean_text_can_stand_in_xml_and_cleaning_again_changes_nothing(text: str) -> None:
    clean = clean_text(text)
    assert ET.fromstring(f"<t>{clean.replace('&', '&amp;').replace('<', '&lt;')}</t>").text in (clean, None)
    assert clean_text(clean) == clean


@given(st.text("abcäß=+-@ 0123/\\'\"\n\t", max_size=200))
def test_ordinary_text_stays_as_it_is(text: str) -> None:
    assert clean_text(text) == text


def test_text_is_cut_to_the_length_of_a_cell_without_halving_a_character() -> None:
    emoji = "\N{NUT AND BOLT}" * 20_000
    cut = clean_text(emoji)
    assert len(cut.encode("utf-16-le")) // 2 <= MAX_CELL_UNITS
    assert cut.startswith("\N{NUT AND BOLT}" * 16_000)
    assert cut.endswith(" ...")
    assert clean_text("x" * MAX_CELL_UNITS) == "x" * MAX_CELL_UNITS


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-5 left", "@SUM(A1)"])
def test_text_that_a_program_would_take_for_a_formula_is_known(text: str) -> None:
    assert looks_like_formula(text)
    assert not looks_like_formula(" " + text)
