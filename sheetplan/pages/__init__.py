"""What a person looks at: result pages as host-neutral values, pictures of layouts, tickets."""

from sheetplan.pages.book.results import empty_pages, problems_only, result_pages

__all__ = ["empty_pages", "problems_only", "result_pages"]
