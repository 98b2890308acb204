"""A DXF file as a document: strictly where that works, else with repairs that are told.

Terms
-----
strict reading
    Takes a file only if its structure is as the format says.
recovering
    Rebuilds what it can of a damaged file and keeps a list of what it changed.
"""

from __future__ import annotations

import io
import logging
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

import ezdxf
from ezdxf import recover
from ezdxf.audit import AuditError
from ezdxf.document import Drawing
from ezdxf.lldxf import const
from ezdxf.lldxf.tagger import binary_tags_loader

from sheetplan.drawings.findings import Finding, Says, counted
from sheetplan.drawings.limits import Refused

if TYPE_CHECKING:
    from ezdxf.audit import Auditor


BINARY_HEAD = b"AutoCAD Binary DXF\r\n\x1a\x00"
"""First bytes of a binary DXF. Source: Autodesk DXF reference, Binary DXF files."""

BOOKKEEPING = frozenset({
    *range(1, 11), 14, 15, 17, 18, 100, 101, 102, *range(105, 115), *range(116, 120), *range(201, 208),
})  # fmt: skip
"""The library's codes (`ezdxf.audit.AuditError`) for repairs that change nothing that is drawn."""

LOST = frozenset(
    {AuditError.UNDEFINED_BLOCK, AuditError.UNDEFINED_BLOCK_NAME, AuditError.INVALID_BLOCK_REFERENCE_CYCLE}
)
"""Codes for what is missing in the file and was drawn in it once."""

DRAWN = re.compile(r"\b(LINE|ARC|CIRCLE|ELLIPSE|SPLINE|LWPOLYLINE|POLYLINE|INSERT)\(#")
"""What draws something, as the library's messages name it."""

KIND = re.compile(r"\b([A-Z_]+)\(#")

ERROR_NAME = re.compile(r"\b\w+Error: ?")
"""What the library writes before some of its reasons."""

TAIL = 100
"""Bytes at the end of a file in which its last word stands."""

TOLD_REPAIRS = 5
"""Different repairs that are named one by one; the rest are counted."""

NEVER_CUT = {
    "TEXT": "text", "MTEXT": "text", "ATTRIB": "text", "ATTDEF": "text", "ARCALIGNEDTEXT": "text",
    "DIMENSION": "dimension", "ARC_DIMENSION": "dimension", "LARGE_RADIAL_DIMENSION": "dimension",
    "LEADER": "leader", "MULTILEADER": "leader", "MLEADER": "leader", "TOLERANCE": "tolerance frame",
    "POINT": "point", "HATCH": "hatch", "MPOLYGON": "hatch", "SOLID": "fill", "TRACE": "fill",
    "IMAGE": "picture", "OLE2FRAME": "picture", "WIPEOUT": "cover", "VIEWPORT": "viewport",
    "RAY": "endless line", "XLINE": "endless line", "TABLE": "table", "ACAD_TABLE": "table",
}  # fmt: skip
"""Entities that draw nothing to cut, and what they are called in the report."""

# What the library logs is told in the report instead; without this it would print to the console.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())


def load_dxf(data: bytes) -> tuple[Drawing, list[Finding]]:
    """The document in a DXF file and what had to be repaired.

    Raises
    ------
    Refused
        If nothing can be made of it.
    """
    try:
        document = _strict(data)
        _part_handles(document)
        return document, _audited(document.audit(), recovered=False)
    except Exception as strict_reason:  # the library raises anything at all on damaged files
        if data.startswith(BINARY_HEAD):
            raise Refused(f"this binary DXF is damaged ({_short(strict_reason)}); save it again") from None
        return _recovered(data)


def release(document: Drawing) -> str:
    """The DXF version in words."""
    version = document.loaded_dxfversion or document.dxfversion
    return f"DXF {const.acad_release.get(version, version)}"


def _strict(data: bytes) -> Drawing:
    if data.startswith(BINARY_HEAD):
        return Drawing.load(binary_tags_loader(data, errors="surrogateescape"))
    head = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8", errors="ignore")
    encoding = ezdxf.filemanagement.dxf_stream_info(head).encoding
    return ezdxf.read(io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="surrogateescape"))


def _part_handles(document: Drawing) -> None:
    """Give each entity a handle that no other has: the audit takes those out that share one, drawn or not."""
    known = document.entitydb
    for block in document.blocks:  # the spaces that are drawn in are blocks too
        for entity in block:
            if known.get(entity.dxf.handle) is not entity:
                entity.update_handle(known.next_handle())
                known.add(entity)


def _recovered(data: bytes) -> tuple[Drawing, list[Finding]]:
    if data[-TAIL:].split()[-1:] != [b"EOF"]:
        # What is missing may be a hole, and nobody would see it.
        raise Refused("the file ends too early; save or copy it again")
    try:
        document, auditor = recover.read(io.BytesIO(data))
    except Exception as reason:
        what = f"it cannot be read as a DXF ({_short(reason)}); save it again from its program"
        raise Refused(what) from None
    damaged = Finding(Says.REPAIRED, "the file is damaged and was read as far as it could be recovered")
    return document, [damaged, *_audited(auditor, recovered=True)]


def _audited(auditor: Auditor, recovered: bool) -> list[Finding]:
    """Repairs by message, the most frequent first; what could not be repaired counts as damage."""
    findings = []
    fixes = [fix for fix in auditor.fixes if recovered or fix.code not in BOOKKEEPING]
    for says, entries in (
        (Says.WRONG, [*filter(_may_be_cut, auditor.errors), *filter(_lost, fixes)]),
        (Says.REPAIRED, [fix for fix in fixes if not _lost(fix)]),
    ):
        messages = Counter(_short(entry.message) for entry in entries)
        for message, times in messages.most_common(TOLD_REPAIRS):
            findings.append(Finding(says, f"{message} ({counted(times, 'time')})" if times > 1 else message))
        if len(messages) > TOLD_REPAIRS:
            findings.append(Finding(says, f"and {len(messages) - TOLD_REPAIRS} more of this kind"))
    return findings


def _may_be_cut(entry: Any) -> bool:
    """Whether an error is about something that matters to the outline."""
    kind = KIND.search(entry.message)
    named = entry.entity.dxftype() if entry.entity is not None else kind[1] if kind else ""
    return named not in NEVER_CUT


def _lost(fix: Any) -> bool:
    """Whether a repair is about something that was drawn once and is not there any more."""
    taken_out = fix.code == AuditError.REMOVED_INVALID_DXF_OBJECT and DRAWN.search(fix.message)
    return _may_be_cut(fix) and (fix.code in LOST or bool(taken_out))


def _short(reason: object) -> str:
    text = " ".join(ERROR_NAME.sub("", str(reason)).split()) or "nothing more is known"
    return text if len(text) <= 120 else text[:117] + "..."
