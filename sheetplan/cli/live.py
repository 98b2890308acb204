"""The other end of the Calc extension: a run that speaks JSON lines on its standard streams.

Started by the extension as ``python -m sheetplan.cli.live``; not meant for people.
"""

from __future__ import annotations

import os
import sys
from typing import TextIO

STDIN, STDOUT, STDERR = 0, 1, 2


def main() -> int:
    """Do the run that the first line asks for; everything else is said in messages."""
    from sheetplan.app.live import run_live
    from sheetplan.workbook.hosts.calc import CalcBook

    incoming, outgoing = own_streams()
    host = CalcBook.start(incoming, outgoing)
    done = run_live(host, host.run, host.stop)
    host.end()
    return 0 if done else 1


def own_streams() -> tuple[TextIO, TextIO]:
    """Take the standard streams for the messages alone.

    Whatever else reads or prints, a library or a worker process, finds nothing to read and its
    words among the errors, so that they cannot fall between the messages.
    """
    incoming = os.fdopen(os.dup(STDIN), "r", encoding="utf-8")
    outgoing = os.fdopen(os.dup(STDOUT), "w", encoding="utf-8", newline="\n")
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, STDIN)
    os.close(nothing)
    os.dup2(STDERR, STDOUT)
    return incoming, outgoing


if __name__ == "__main__":
    sys.exit(main())
