"""Fill sheets with true outlines: no-fit maps on a lattice, a quick construction, a patient search."""

from sheetplan.packing.outlines.packer import OutlinePacker
from sheetplan.packing.outlines.ready import make_ready

__all__ = ["OutlinePacker", "make_ready"]
