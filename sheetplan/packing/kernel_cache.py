"""What is known of the machine code that lies compiled beside the modules, without loading any of it.

Terms
-----
set
    Kernels that are compiled together, in one process: those of a step of the search.
"""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Iterator
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path

PACKING = Path(__file__).parent
FOLDERS = (PACKING, PACKING / "outlines")
"""Where kernels lie; those of one folder call one another, and of the other none but the shared ones."""

SHARED = (PACKING / "rng.py",)
"""Kernels that both folders call."""


def forget_stale() -> None:
    """Drop machine code that was made from other sources than those that lie here now.

    numba looks at the file of a function alone, but a kernel holds the code of those that it calls
    in other files. A place that cannot be written keeps nothing, so there is nothing to drop.
    """
    for folder in FOLDERS:
        cache, now = folder / "__pycache__", _sources(folder)
        mark = cache / "kernels.mark"
        with suppress(OSError):
            if mark.exists() and mark.read_text(encoding="ascii") == now:
                continue
            for path in _code(cache):
                path.unlink(missing_ok=True)
            cache.mkdir(exist_ok=True)
            mark.write_text(now, encoding="ascii")


def is_compiled(name: str) -> bool:
    """Whether a set was compiled here from these sources, by this numba on this kind of machine."""
    with suppress(OSError):
        return _note(name).read_text(encoding="ascii") == _made_with()
    return False


def note_compiled(name: str) -> None:
    """Remember that a set lies compiled beside the modules."""
    with suppress(OSError):
        if any(path for folder in FOLDERS for path in _code(folder / "__pycache__")):
            _note(name).write_text(_made_with(), encoding="ascii")


def _code(cache: Path) -> Iterator[Path]:
    """Machine code in a folder, and the index of it."""
    yield from (path for path in cache.glob("*.nb?") if path.suffix in (".nbi", ".nbc"))


def _note(name: str) -> Path:
    return PACKING / "__pycache__" / f"kernels.{name}"


def _made_with() -> str:
    parts = [*map(_sources, FOLDERS), version("numba"), platform.python_version(), platform.machine()]
    return " ".join(parts)


def _sources(folder: Path) -> str:
    sources = b"".join(path.read_bytes() for path in sorted({*folder.glob("*.py"), *SHARED}))
    return hashlib.sha256(sources).hexdigest()
