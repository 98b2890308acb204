"""The command line: parsing in the files of commands, printing in `printing`, nothing else."""

from sheetplan.cli import host_commands as host_commands
from sheetplan.cli import import_command as import_command
from sheetplan.cli import rack_commands as rack_commands
from sheetplan.cli import show_command as show_command
from sheetplan.cli import step_commands as step_commands
from sheetplan.cli.commands import main

__all__ = ["main"]
