"""The frame of a page for the browser: one file that asks nobody for anything.

Written to HTML as WHATWG keeps it and to Content Security Policy Level 3 (W3C). The policy allows the page's
own style and script by their SHA-256 and nothing else: no request, no other script, whatever a name in the
book holds.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Sequence
from functools import cache
from html import escape
from importlib.resources import files

from sheetplan.pages.floor.pictures import plain


def page_html(title: str, body: str, styles: Sequence[str], scripts: Sequence[str] = ()) -> str:
    """A whole page.

    Parameters
    ----------
    title : str
        Of the window; any text.
    body : str
        HTML in which every name is escaped already.
    styles, scripts : sequence of str
        Their text; each is put into one element with its digest in the policy.
    """
    style, script = "\n".join(styles), "\n".join(scripts)
    policy = "; ".join(
        (
            "default-src 'none'",
            f"style-src {_digest(style)}",
            f"script-src {_digest(script)}" if script else "script-src 'none'",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
    return "".join(
        (
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n',
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
            '<meta name="color-scheme" content="light dark">\n',
            '<meta name="referrer" content="no-referrer">\n',
            f"<title>{said(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n",
            body,
            f"<script>{script}</script>\n" if script else "",
            "</body>\n</html>\n",
        )
    )


@cache
def source(name: str) -> str:
    """The text of a style or script that lies beside this file."""
    text = (files("sheetplan.pages.floor") / name).read_text(encoding="utf-8")
    assert not re.search("</(?:style|script)", text, re.IGNORECASE), f"{name} would end its element"
    return text


@cache
def vendored(folder: str, named: str) -> str:
    """A library that lies in a folder beside this file, as a value of the page's script, with its licence."""
    licence = source(f"{folder}/LICENSE").strip()
    library = source(f"{folder}/index.js").strip()
    return f"/* {folder}\n{licence}\n*/\nconst {named} = ((exports) => {{{library}\nreturn exports;}})({{}});"


def said(text: str) -> str:
    """A text of the book as HTML, in an element or in an attribute."""
    return escape(plain(text), quote=True)


def name(text: str) -> str:
    """A name of the book, set apart so that one that runs from right to left leaves its line in order."""
    return f"<bdi>{said(text)}</bdi>"


def sentence(text: str) -> str:
    """A text as HTML for an element; a date or a name with a hyphen is not broken at the end of a line."""
    words = []
    for word in map(said, text.split(" ")):
        words.append(f'<span class="whole">{word}</span>' if "-" in word else word)
    return " ".join(words)


ESCAPED = "<>&\x7f\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""What in values stands as its number: signs of HTML, ends of lines, and what turns the way of a line."""


def data_element(identity: str, value: object) -> str:
    """Values for the page's script, in an element that a browser does not run."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in ESCAPED:
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    text = text.encode("utf-8", "backslashreplace").decode("utf-8")  # half pairs as JSON writes them
    return f'<script type="application/json" id="{identity}">{text}</script>\n'


def _digest(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
