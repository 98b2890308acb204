"""A DXF file as a sheaf of loose lines and arcs."""

from __future__ import annotations

from sheetplan.drawings.drawn import Sheaf
from sheetplan.drawings.dxf_loading import load_dxf, release
from sheetplan.drawings.dxf_pieces import dxf_pieces
from sheetplan.drawings.limits import Allowance
from sheetplan.drawings.units_said import unit_of_dxf


def read_dxf(
    data: bytes, curve_mm: float, stated_mm: float | None, fallback_mm: float, allowance: Allowance
) -> Sheaf:
    """Everything to cut or mark in a DXF file.

    Parameters
    ----------
    data : bytes
        The file.
    curve_mm : float
        How far splines and ellipses may stray from the arcs that replace them, mm.
    stated_mm : float, optional
        The unit in mm where the planner states it, whatever the file says.
    fallback_mm : float
        The unit in mm for a file that states none.
    allowance : Allowance
        Time and size left.
    """
    document, findings = load_dxf(data)
    allowance.check_time()
    # The library fills in a unit where the file has none, so only what the file holds is asked for.
    insunits, measurement = (
        document.header.get(name) if name.encode() in data else None for name in ("$INSUNITS", "$MEASUREMENT")
    )
    unit_mm, said = unit_of_dxf(insunits, measurement)
    in_use = stated_mm or unit_mm or fallback_mm
    pieces, passed_over, odd = dxf_pieces(document, curve_mm / in_use, allowance)
    return Sheaf(release(document), tuple(pieces), unit_mm, said, passed_over, (*findings, *odd))
