"""Partly used sheets read from photographs, by printed marks that lie on them.

`marks` prints the marks and finds them in a picture, `camera` works out from where it was taken and through
what lens.
"""

from sheetplan.pictures.marks import NotSeen, marks_pdf, page_numbers

__all__ = ["NotSeen", "marks_pdf", "page_numbers"]
