"""Loaded by Python itself at its start when this folder is on the path: notes what every process does.

Network use of any kind is refused. Files opened for writing, and folders and names made, changed or
removed, go to the file that ``WATCHED`` names, one a line.
"""

import os
import sys

_FORBIDDEN = (
    "socket.connect", "socket.bind", "socket.sendto", "socket.getaddrinfo", "socket.gethostby",
    "urllib.Request", "socket.getnameinfo", "http.client.connect", "ftplib.connect", "smtplib.connect",
)  # fmt: skip
_CHANGES = (
    "os.mkdir",
    "os.rename",
    "os.remove",
    "os.rmdir",
    "os.link",
    "os.symlink",
    "os.truncate",
    "os.chmod",
)
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND

_note = os.open(os.environ["WATCHED"], os.O_WRONLY | os.O_APPEND | os.O_CREAT)


def _watch(event: str, told: tuple) -> None:
    if event.startswith(_FORBIDDEN):
        os.write(_note, f"network\t{event} {told!r}\n".encode())
        raise RuntimeError(f"network use: {event} {told!r}")
    if event == "open":
        path, _, flags = told
        if isinstance(path, str | bytes | os.PathLike) and (flags or 0) & _WRITING:
            os.write(_note, f"open\t{os.path.abspath(os.fsdecode(path))}\n".encode())
    elif event in _CHANGES:
        for path in told[:2] if event in ("os.rename", "os.link", "os.symlink") else told[:1]:
            if isinstance(path, str | bytes | os.PathLike):
                os.write(_note, f"{event}\t{os.path.abspath(os.fsdecode(path))}\n".encode())
    elif event in ("subprocess.Popen", "os.system", "os.exec"):
        os.write(_note, f"{event}\t{told[0]!r}\n".encode())


sys.addaudithook(_watch)
