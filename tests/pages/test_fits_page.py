"""The page What fits: every answer in its table, and what is missing said."""

from __future__ import annotations

from dataclasses import replace

from sheetplan.model import Plan
from sheetplan.money.figures import plan_figures
from sheetplan.pages import plan_json as described
from sheetplan.pages.book.choices import (
    ADDS_NOTHING,
    FITTED,
    NOT_SEARCHED,
    NOT_WHOLE,
    SPARES_GIVE_WAY,
    fits_page,
)
from sheetplan.pages.plan_json import plan_json, with_fits
from sheetplan.pages.values import Kind
from sheetplan.planning.whatif.fits import Fits, KitsOnHand, KitsPerSheet, OneMoreSheet, RoundUp


def answers(plan: Plan) -> Fits:
    thin, thick = plan.job.stock
    return Fits(
        (KitsOnHand("cleat set", 7, "mild steel 10 ga", {"mild steel 10 ga": 7, 'mild steel 1/4"': 11}, 9),),
        (KitsPerSheet("cleat set", "mild steel 10 ga", thin, 13, 2, 15),),
        (
            OneMoreSheet("mild steel 10 ga", thin, "cleat set", 6, False, 2, 'mild steel 1/4"'),
            OneMoreSheet("mild steel 10 ga", thin, "ladder rail", 1200, False, 1200),
            OneMoreSheet('mild steel 1/4"', thick, "WS-1", 3, True, 3),
            OneMoreSheet('mild steel 1/4"', thick, "cleat set", 4, False, 0, "mild steel 10 ga"),
            OneMoreSheet('mild steel 1/4"', thick, "hinge set", 9, False, 0, "mild steel 10 ga"),
        ),
        (RoundUp(0, 2, "mild steel 10 ga", False), RoundUp(1, 0, 'mild steel 1/4"', True)),
    )


def test_every_answer_has_its_row(inch_plan: Plan) -> None:
    room, kits, more, share = fits_page(inch_plan, answers(inch_plan)).tables
    by_gauge = '7 by mild steel 10 ga\n11 by mild steel 1/4"'
    assert kits.rows == (("cleat set", 7, "mild steel 10 ga", by_gauge, 9),)
    assert room.rows == (("H-2041", "cleat set", 8, "mild steel 10 ga", 2, 10),)
    held = '2 x cleat set, then no room found in mild steel 1/4"\n1,200 x ladder rail'
    assert [row[3:] for row in more.rows] == [(held, 92.5), ("3 x WS-1, short in the plan", 210.0)]
    # Six and a half kits a sheet is a fair answer: 13 from two. Kits themselves are whole.
    assert share.rows == (("cleat set", "mild steel 10 ga", "MS10-4x8", "48 x 96 in", 13, 15, 2, 6.5),)
    kinds = {column.heading: column.kind for column in share.columns}
    assert (kinds["Kits"], kinds["At most"]) == (Kind.COUNT, Kind.COUNT)


def test_rows_that_promise_nothing_are_a_sentence(inch_plan: Plan) -> None:
    found = answers(inch_plan)
    vain = replace(
        found, on_hand=(replace(found.on_hand[0], whole=0),), one_more=found.one_more[-2:],
    )  # fmt: skip
    page = fits_page(inch_plan, vain)
    assert page.tables[1].rows == page.tables[2].rows == ()
    assert page.lines[-2] == "What is on hand makes no whole kit of cleat set."
    assert page.lines[-1] == f"{ADDS_NOTHING} {inch_plan.job.stock[1].name}."


def test_only_what_is_proven_is_called_impossible(inch_plan: Plan) -> None:
    """Room that was looked for in vain is not the same as room that cannot be."""
    found = answers(inch_plan)
    lines = fits_page(inch_plan, found).lines
    assert lines == (FITTED, SPARES_GIVE_WAY, "Not one more can fit on the sheets of this plan for H-2042.")
    vain = replace(found, round_up=tuple(replace(one, extra=0, is_most=False) for one in found.round_up))
    said = "No room for one more was found on the sheets of this plan for H-2041, H-2042."
    assert fits_page(inch_plan, vain).lines == (FITTED, said)


def test_an_order_of_several_lines_is_named_with_the_item(inch_plan: Plan) -> None:
    first, second, *others = inch_plan.job.orders
    job = replace(inch_plan.job, orders=(first, replace(second, name=first.name), *others))
    lines = fits_page(replace(inch_plan, job=job), answers(inch_plan)).lines
    assert lines[-1].endswith(f"for {first.name} ({second.item}).")


def test_answers_that_were_not_ready_are_said_to_be_missing(inch_plan: Plan) -> None:
    found = answers(inch_plan)
    assert fits_page(inch_plan, replace(found, whole=False, searched=False)).lines[0] == NOT_WHOLE
    assert fits_page(inch_plan, replace(found, searched=False)).lines[0] == NOT_SEARCHED


def test_the_record_holds_the_answers_and_describes_them(inch_plan: Plan) -> None:
    record = with_fits(plan_json(inch_plan, plan_figures(inch_plan)), answers(inch_plan))["fits"]
    assert record["on_hand"][0]["whole"] == 7
    assert record["round_up"][0] == {"order": 0, "extra": 2, "full": "mild steel 10 ga", "is_most": False}
    assert record["per_sheet"][0]["sheet"] == "MS10-4x8"
    lists = [record[key] for key in record if key not in ("all_ready", "searched")]
    fields = set(record) | {field for answers in lists for one in answers for field in one}
    assert not [field for field in fields if f"``{field}``" not in (described.__doc__ or "")]
