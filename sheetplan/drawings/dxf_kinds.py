"""Which kinds of DXF entity draw nothing that is cut."""

NEVER_CUT = {
    "TEXT": "text", "MTEXT": "text", "ATTRIB": "text", "ATTDEF": "text", "ARCALIGNEDTEXT": "text",
    "DIMENSION": "dimension", "ARC_DIMENSION": "dimension", "LARGE_RADIAL_DIMENSION": "dimension",
    "LEADER": "leader", "MULTILEADER": "leader", "MLEADER": "leader", "TOLERANCE": "tolerance frame",
    "POINT": "point", "HATCH": "hatch", "MPOLYGON": "hatch", "SOLID": "fill", "TRACE": "fill",
    "IMAGE": "picture", "OLE2FRAME": "picture", "WIPEOUT": "cover", "VIEWPORT": "viewport",
    "RAY": "endless line", "XLINE": "endless line", "TABLE": "table", "ACAD_TABLE": "table",
}  # fmt: skip
"""Entities that draw nothing to cut, and what they are called in the report."""
