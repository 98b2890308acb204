"""Pages for the browser, one file each: the plan at the table, and the month in pictures.

Names: `plan_page_html` makes the first, `month_html` the second. Both need no network and no server.
"""

from sheetplan.pages.floor.month import MONTH_HTML, month_html
from sheetplan.pages.floor.plan import PLAN_HTML, plan_page_html

__all__ = ["MONTH_HTML", "PLAN_HTML", "month_html", "plan_page_html"]
