"""The command line: parsing in `commands`, printing in `printing`, nothing else."""

from sheetplan.cli.commands import main

__all__ = ["main"]
