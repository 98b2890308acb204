"""A share of the spoilt headings; `python -m tests.hard.headings` has them all."""

from tests.hard.headings import main


def test_no_heading_is_lost_silently() -> None:
    tally = main(160, 22)
    assert tally.silent == []
    assert tally.needless == []
    assert tally.ends["stopped, told"] > 20
