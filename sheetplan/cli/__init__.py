"""The command line: parsing in `commands` and `rack_commands`, printing in `printing`, nothing else."""

from sheetplan.cli import rack_commands as rack_commands
from sheetplan.cli.commands import main

__all__ = ["main"]
