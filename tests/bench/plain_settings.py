"""Settings under which the choice between plans is by plain prices, as published costs and counts are."""

from sheetplan.model import Settings


def plain_settings() -> Settings:
    """Metal on hand counts its whole price, and nothing that goes back to the rack counts.

    Bought metal still counts ``box_problem.ON_HAND_DISCOUNT`` more than its price, all of it alike.
    """
    return Settings(on_hand_share=1.0, remnant_share=0.0)
