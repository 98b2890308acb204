"""The other end of the Calc extension: a run that speaks JSON lines on its standard streams.

Started by the extension as ``python -m sheetplan.cli.live``; not meant for people.
"""

from __future__ import annotations

import io
import sys


def main() -> int:
    """Do the run that the first line asks for; everything else is said in messages."""
    from sheetplan.app.live import run_live
    from sheetplan.workbook.hosts.calc import CalcBook

    incoming = io.TextIOWrapper(sys.stdin.buffer, encoding="utf-8")
    outgoing = io.TextIOWrapper(sys.stdout.buffer, encoding="utf-8", newline="\n")
    sys.stdout = sys.stderr  # whatever a library prints must not fall between the messages
    host = CalcBook.start(incoming, outgoing)
    done = run_live(host, host.run, host.stop)
    host.end()
    return 0 if done else 1


if __name__ == "__main__":
    sys.exit(main())
