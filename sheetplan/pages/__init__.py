"""What a person looks at: result pages as host-neutral values, pictures of layouts, tickets."""

from sheetplan.pages.book.results import Beside, Files, empty_pages, problems_only, result_pages

__all__ = ["Beside", "Files", "empty_pages", "problems_only", "result_pages"]
