"""Fill an order book: which sheets, how many, and what is cut from each."""

from sheetplan.planning.order_book import Planned, plan_job, plan_with_sizes
from sheetplan.planning.progress import Progress, RunOptions, never, quiet

__all__ = ["Planned", "Progress", "RunOptions", "never", "plan_job", "plan_with_sizes", "quiet"]
