"""Partly used sheets read from photographs, by printed marks that lie on them.

`marks` prints the marks and finds them in a picture, `camera` works out from where it was taken and through
what lens, `outline` finds the edge of the metal, `fitting` makes lines and arcs of it, `reading` puts it
together and says how far it can be wrong, `showing` draws what was read over the pictures.
"""

from sheetplan.pictures.marks import NotSeen, marks_pdf, page_numbers
from sheetplan.pictures.reading import Asked, Reading, read_pictures

__all__ = ["Asked", "NotSeen", "Reading", "marks_pdf", "page_numbers", "read_pictures"]
