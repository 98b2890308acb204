"""Usual cautions, by family of metal. They remind; they do not replace training or local rules."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from sheetplan.trade.gauges import ALUMINIUM, GALVANISED_STEEL, STAINLESS_STEEL

DEFERENCE = (
    "These are reminders only: local codes, the safety data sheets, the makers' manuals and licensed or "
    "trained people decide how this work is done."
)
"""Said once wherever cautions stand; every caution below also names whom to ask."""

GENERAL = (
    "Heavy sheets: weigh before lifting, use rated lifting gear and enough hands, keep clear below; "
    "lifting is for trained people under local rules.",
    "Hot and sharp: cut edges, dross and small parts burn and cut; gloves, sleeves and eye protection "
    "as the shop's safety rules ask.",
    "Arc light and sparks: eyes and skin need the shade that the table's manual names, bystanders a "
    "screen, and the place a fire watch where local fire codes ask for one.",
    "Fume and gases: cut with the extraction or water that the table's manual calls for; exposure limits "
    "are set by local regulations and measured by qualified people.",
    "Electricity and compressed gas: service and faults are for licensed electricians and gas fitters.",
)
"""What holds for every metal on a cutting table."""

_PARTICULAR: Mapping[str, tuple[str, ...]] = MappingProxyType({
    GALVANISED_STEEL: (
        "Coated metal: zinc fume causes metal fume fever, and paints, platings and oils can give off worse; "
        "extraction and breathing protection as local exposure rules and the safety data sheet require.",
    ),
    STAINLESS_STEEL: (
        "Stainless fume holds hexavalent chromium and nickel, which can cause cancer; extraction, "
        "air measurement and medical rules are set by local law (in the USA 29 CFR 1910.1026).",
    ),
    ALUMINIUM: (
        "Aluminium over a water table: hydrogen gathers under the sheet and in the water and can explode; "
        "follow the table maker's manual on aeration and water level, and local codes, before cutting.",
        "Aluminium dust and fines burn, and more so mixed with rust: keep them out of dust collectors that "
        "are not made for them, as fire codes require.",
    ),
})  # fmt: skip


def particular(gauge_series: str) -> tuple[str, ...]:
    """What is peculiar to one family of metal; empty for carbon steel and for unknown series."""
    return _PARTICULAR.get(gauge_series, ())


def gist(caution: str) -> str:
    """What a caution warns of, in short, for a place that says where it stands in full.

    >>> gist("Hot and sharp: cut edges burn and cut; gloves as the shop's safety rules ask.")
    'Hot and sharp: cut edges burn and cut.'
    """
    return re.split(r";|, as ", caution)[0].rstrip(".") + "."


def cautions_for(gauge_series: str) -> tuple[str, ...]:
    """All cautions for work in one family of metal, the peculiar ones first, the deference last.

    >>> "hydrogen" in cautions_for("aluminium")[0]
    True
    """
    return (*particular(gauge_series), *GENERAL, DEFERENCE)
