"""What-if answers as plain values, and back over the same job; sheets are named, not repeated."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sheetplan.model.job import Job
from sheetplan.planning.fits import Fits

ON_HAND = ("kit", "whole", "bottleneck", "most")
PER_SHEET = ("kit", "gauge", "kits", "sheets", "most")
ONE_MORE = ("gauge", "item", "adds", "short", "whole", "held_up")
ROUND_UP = ("order", "extra", "full", "is_most")


def fits_values(fits: Fits) -> dict[str, Any]:
    """The answers as lists and dictionaries."""
    return {
        "on_hand": [
            {**{name: getattr(one, name) for name in ON_HAND}, "by_gauge": dict(one.by_gauge)}
            for one in fits.on_hand
        ],
        "per_sheet": [
            {"sheet": one.sheet.name, **{name: getattr(one, name) for name in PER_SHEET}}
            for one in fits.per_sheet
        ],
        "one_more": [
            {"sheet": one.sheet.name, **{name: getattr(one, name) for name in ONE_MORE}}
            for one in fits.one_more
        ],
        "round_up": [{name: getattr(one, name) for name in ROUND_UP} for one in fits.round_up],
        "all_ready": fits.whole,
        "searched": fits.searched,
    }


def fits_of_values(values: Mapping[str, Any], job: Job) -> Fits:
    """The answers that `fits_values` wrote.

    Raises KeyError or TypeError where the values are damaged or name a sheet that the job does not have.
    """
    from sheetplan.planning.whatif import KitsOnHand, KitsPerSheet, OneMoreSheet, RoundUp

    sheets = {sheet.name: sheet for sheet in job.stock}

    def on_sheet(one: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
        return {"sheet": sheets[one["sheet"]], **{name: one[name] for name in names}}

    return Fits(
        tuple(KitsOnHand(**one) for one in values["on_hand"]),
        tuple(KitsPerSheet(**on_sheet(one, PER_SHEET)) for one in values["per_sheet"]),
        tuple(OneMoreSheet(**on_sheet(one, ONE_MORE)) for one in values["one_more"]),
        tuple(RoundUp(**{name: one[name] for name in ROUND_UP}) for one in values["round_up"]),
        bool(values["all_ready"]),
        bool(values["searched"]),
    )
