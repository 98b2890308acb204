"""The runs that can be started from within an open book, as people call them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

RUN_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "import": "Import drawings",
        "check": "Check the book",
        "plan": "Plan the month",
        "quote": "Price the quotes",
        "ordered": "Mark the buy list as ordered",
        "receive": "Take a delivery in",
        "cut": "Record cuts",
        "parts": "Record finished parts",
        "undo": "Take back the last step",
        "month": "Balance the month",
        "close": "Close the month",
    }
)
"""What the drop-down on the page Start and Calc's menu say, by the run; in the order of work."""

USUAL_RUN = "plan"
"""The run of a book that asks for none."""


def run_of(text: str) -> str:
    """The run that a text asks for: a label, or the run's own word; other texts come back as they are.

    >>> run_of("Record cuts"), run_of("CHECK"), run_of("")
    ('cut', 'check', 'plan')
    """
    asked = " ".join(text.split()).casefold()
    by_label = {label.casefold(): run for run, label in RUN_LABELS.items()}
    return by_label.get(asked, asked or USUAL_RUN)
