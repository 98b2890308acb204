"""Settings under which the choice between plans is by plain prices, as published costs and counts are."""

from sheetplan.model import Settings


def plain_settings() -> Settings:
    """Metal on hand counts its price, but for what settles ties, and what goes back to the rack nothing."""
    return Settings(on_hand_share=1.0, remnant_share=0.0)
