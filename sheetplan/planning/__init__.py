"""Fill an order book: which sheets, how many, and what is cut from each."""

from sheetplan.planning.order_book import plan_job
from sheetplan.planning.progress import Progress, RunOptions, never, quiet

__all__ = ["Progress", "RunOptions", "never", "plan_job", "quiet"]
