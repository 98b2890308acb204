"""So that ``python -m sheetplan`` is the command too."""

from sheetplan.cli import main

main()
