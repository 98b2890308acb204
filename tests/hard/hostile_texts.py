"""Texts that try to be something else: formulas, markup, paths, commands of drawings and printers."""

from __future__ import annotations

from tests.nasty.books.plain import Rows, plain_rows

TEXTS = (
    "=cmd|' /C calc'!A0", '=HYPERLINK("http://192.0.2.1","x")', "+1+1", "-2+3", "@SUM(1)", "\t=1+1",
    "\r=1", "../../../etc/passwd", "..\\..\\x", "/etc/passwd", "C:\\temp\\a.dxf",
    "\\\\server\\share\\a", "CON", "NUL.dxf", "<b>bold</b>", "<a href='http://192.0.2.1'>x</a>",
    "&lt;&amp;", "</para><para>", "$\\frac{1}{0}$", "%%d %%c", "\\P{\\fArial|b1;x}", "^J",
    "0\nEOF\n0\nSECTION", "{0} %s %(x)s", "_x0007_", "\u202egpj.exe", "ȩ́", "日本語", "🚢", "'quoted",
    '"quoted"', "a;b,c\td", "file:///etc/passwd", "#REF!", "TRUE", "x" * 120,
)  # fmt: skip


def hostile_rows(text: str) -> Rows:
    """A good book in which every name that the planner chooses is the text."""
    rows = plain_rows()
    for page, headings in (
        ("Parts", ("Description",)), ("Stock", ("Sheet", "Supplier", "Rack place")), ("Orders", ("Order",)),
        ("Remnants", ("Tag", "Rack place")),
    ):  # fmt: skip
        rows[page][0] |= dict.fromkeys(headings, text)
    for row in (
        *rows["Materials"][:1],
        *rows["Cutting"][:1],
        *rows["Parts"][:2],
        *rows["Stock"][:1],
        *rows["Remnants"],
    ):
        row["Material"] = text
    rows["Parts"][0]["Part"] = rows["Kits"][0]["Part"] = text
    rows["Kits"][0]["Kit"] = rows["Kits"][1]["Kit"] = rows["Orders"][0]["Item"] = f"{text} kit"[:120]
    rows["Settings"].append({"Setting": "Currency", "Value": text[:3]})
    return rows
