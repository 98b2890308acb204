"""What `sheetplan quote` says on the terminal beside its table."""

from dataclasses import replace
from pathlib import Path

import pytest

from sheetplan.app.quote import QuoteOutcome
from sheetplan.cli.printing import print_quotes
from sheetplan.pages.wording import Decimals
from tests.pages.test_quoted import given


def printed(capsys: pytest.CaptureFixture[str], outcome: QuoteOutcome) -> list[str]:
    print_quotes(outcome)
    return capsys.readouterr().out.splitlines()


def test_a_day_that_cannot_be_met_and_what_cannot_be_made_are_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    late = given("Q-1", {1: 4.0}, wanted="2026-11-27")
    late = replace(late, answers=(replace(late.answers[0], finish="2026-12-01"),))
    short = given("Q-2", {3: 5.0})
    short = replace(short, answers=(replace(short.answers[0], short_alone={"plate": 2}),))
    said = ("1 place of the page Quotes could not be used; Quoted says which.",)
    lines = printed(capsys, QuoteOutcome((late, short), (), said, Path("yard.xlsx")))
    assert "Q-1, 1 of stand: Too late: it can be cut by 2026-12-01, and is wanted on 2026-11-27." in lines
    assert "Q-2, 3 of stand: Cannot be made from sheets that can be bought: 2 of plate." in lines
    assert said[0] in lines


def test_figures_have_the_decimal_sign_of_the_book(capsys: pytest.CaptureFixture[str]) -> None:
    comma = Decimals(comma=True)
    outcome = QuoteOutcome(
        (given("Q-1", {2: 1204.5}),), (), ("at 12.50 each",), Path("b.1.xlsx"), said_as=comma.said
    )
    lines = printed(capsys, outcome)
    assert any("1.204,50" in line and "2.409,00" in line for line in lines), lines
    assert "at 12,50 each" in lines
    assert "  b.1.xlsx" in lines, "a path is no figure"


def test_nothing_is_said_of_a_quote_that_can_be_met(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, QuoteOutcome((given("Q-1", {1: 4.0}),), (), (), Path("yard.xlsx")))
    assert not [line for line in lines if "Q-1, " in line]
    assert [line for line in lines if "Q-1" in line and "4.00" in line]
