"""Fill sheets with true outlines: no-fit maps on a lattice, a quick construction, a patient search."""

from sheetplan.packing.outlines.packer import OutlinePacker

__all__ = ["OutlinePacker"]
