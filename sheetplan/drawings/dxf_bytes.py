"""A DXF document as bytes that depend on its content alone.

The library stamps each file with the time, random identifiers and its own version; these are
set to fixed values, so that the same plan writes the same file and a changed file means a
changed plan.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from ezdxf.lldxf.tagwriter import TagWriter

from sheetplan.trade.units import Units

if TYPE_CHECKING:
    from ezdxf.document import Drawing

NO_GUID = "{00000000-0000-0000-0000-000000000000}"
NO_DATE = 2451544.5
"""The Julian date of 1 January 2000."""

INSUNITS = {Units.INCH: 1, Units.MM: 4}
"""Header variable $INSUNITS. Source: Autodesk DXF reference, HEADER section."""

MEASUREMENT = {Units.INCH: 0, Units.MM: 1}
"""Header variable $MEASUREMENT, English or metric. Source: as above."""

MAKER = "sheetplan"


def dxf_bytes(document: Drawing, units: Units) -> bytes:
    """The document as an ASCII DXF with its units stated, the same bytes every time."""
    old_style = document.dxfversion == "AC1009"
    if not old_style:
        document.header["$INSUNITS"] = INSUNITS[units]
        document.header["$MEASUREMENT"] = MEASUREMENT[units]
    document.commit_pending_changes()
    document.update_all()
    # The library leaves out an extent that has a corner at zero, which ours always has.
    space = document.modelspace().dxf
    document.header["$EXTMIN"], document.header["$EXTMAX"] = space.extmin, space.extmax
    stamps = document.ezdxf_metadata()
    stamps["CREATED_BY_EZDXF"] = MAKER
    stamps["WRITTEN_BY_EZDXF"] = MAKER
    for name in ("$TDCREATE", "$TDUPDATE", "$TDUCREATE", "$TDUUPDATE"):
        document.header[name] = NO_DATE
    for name in ("$FINGERPRINTGUID", "$VERSIONGUID"):
        document.header[name] = NO_GUID
    text = io.StringIO()
    document.export_sections(TagWriter(text, write_handles=not old_style, dxfversion=document.dxfversion))
    whole = _units_said(text.getvalue(), units) if old_style else text.getvalue()
    return bytes(document.encode(whole.replace("\n", "\r\n")))


def with_remark(drawing: bytes, said: str) -> bytes:
    """The drawing with a line in front that programs pass over and a person who opens the file reads.

    Source: Autodesk DXF reference, group code 999 (comment).
    """
    line = "".join(c for c in said if c.isprintable() and c.isascii())
    return f"999\r\n{line}\r\n".encode() + drawing


def _units_said(text: str, units: Units) -> str:
    """An R12 file with the units in its header: newer than R12, harmless to it, and useful to readers."""
    version = "$ACADVER\n  1\nAC1009\n"
    said = f"  9\n$INSUNITS\n 70\n{INSUNITS[units]:6}\n  9\n$MEASUREMENT\n 70\n{MEASUREMENT[units]:6}\n"
    if version not in text:
        raise ValueError("no version in the header of an R12 drawing")
    return text.replace(version, version + said, 1)
