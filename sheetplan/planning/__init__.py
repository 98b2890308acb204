"""Fill an order book: which sheets, how many, and what is cut from each."""

from sheetplan.planning.order_book import Planned, plan_job, plan_with_sizes
from sheetplan.planning.progress import Progress, never, quiet

__all__ = ["Planned", "Progress", "never", "plan_job", "plan_with_sizes", "quiet"]
