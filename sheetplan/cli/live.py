"""The other end of the Calc extension: a run that speaks JSON lines on its standard streams.

Started by the extension as ``python -m sheetplan.cli.live``; not meant for people.
"""

from __future__ import annotations

import _thread
import os
import signal
import sys
import threading
import time
from typing import TextIO

STDIN, STDOUT, STDERR = 0, 1, 2


def main() -> int:
    """Do the run that the first line asks for; everything else is said in messages."""
    from sheetplan.app.live import run_live
    from sheetplan.workbook.hosts.calc import CalcBook

    signal.signal(signal.SIGINT, signal.default_int_handler)
    incoming, outgoing = own_streams()
    host = CalcBook.start(incoming, outgoing, leave)
    try:
        done = run_live(host, host.run, host.stop)
        host.end()
    except KeyboardInterrupt:
        return 130
    return 0 if done else 1


HUNG_UP_SECONDS = 0.3
"""How long a run whose document has gone may need to end by itself."""


def leave() -> None:
    """End a run whose document has gone: locks and half-written files are put away on the way out."""
    time.sleep(HUNG_UP_SECONDS)
    if sys.platform == "win32":
        _thread.interrupt_main()
    else:  # a signal also wakes what waits
        signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)


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
