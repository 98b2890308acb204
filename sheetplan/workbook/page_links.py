"""Targets of links on result pages: files beside the book, or cells in it. Nothing else."""

from __future__ import annotations

import re
from urllib.parse import quote

_SCHEME = re.compile(r"^[A-Za-z][A-Za-z0-9+.-]*:")
_CELL = re.compile(r"^\$?[A-Z]{1,3}\$?[1-9][0-9]{0,6}(:\$?[A-Z]{1,3}\$?[1-9][0-9]{0,6})?$")
_PLAIN_NAME = re.compile(r"^[A-Za-z_][A-Za-z0-9_]*$")
_LOOKS_LIKE_CELL = re.compile(r"^([A-Za-z]{1,3}[0-9]+|[Rr][0-9]*[Cc]?[0-9]*|[Cc][0-9]*)$")

MAX_TARGET = 2_000
"""Longest target kept as a link; spreadsheet programs stop at 2,079 characters."""


def target_of(target: str) -> str | None:
    """Check a target and spell it so that every program follows it.

    Parameters
    ----------
    target : str
        A path relative to the book with forward slashes, or ``#Page!A1``.

    Returns
    -------
    str or None
        ``#'Page one'!A1`` with the page quoted where needed, or a percent-encoded relative path;
        None where the target is neither, and the text then stands alone.

    Examples
    --------
    >>> target_of("#Cut log!B7")
    "#'Cut log'!B7"
    >>> target_of("layouts/L 1.dxf")
    'layouts/L%201.dxf'
    >>> target_of("https://example.org/") is None
    True
    """
    if target.startswith("#"):
        page, mark, cell = target[1:].rpartition("!")
        if not mark or not page or not _CELL.match(cell):
            return None
        return f"#{quoted_page(page.strip(chr(39)))}!{cell}"
    path = target.replace("\\", "/")
    if not path or path.startswith("/") or _SCHEME.match(path) or len(path) > MAX_TARGET:
        return None
    return quote(path, safe="/._-~()+,=")


def quoted_page(name: str) -> str:
    """Spell a page's name as formulas want it: in quotes unless it is a plain word."""
    if _PLAIN_NAME.match(name) and not _LOOKS_LIKE_CELL.match(name):
        return name
    return "'" + name.replace("'", "''") + "'"
