"""A workbook's package in memory: its parts by name, as bytes, in their order.

Words used here (ECMA-376, part 2):

part
    One file inside the package, named without a leading slash. Names compare without regard to
    case, so a part is found however a relation spells it.
entry
    The zip's record of a part: its date, its method of compression. Entries of parts that stay
    are written again as they were.
"""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass

_FIXED_DATE = (1980, 1, 1, 0, 0, 0)
"""The date of entries that we make: fixed, so that equal content is equal bytes."""


@dataclass(slots=True)
class _Entry:
    info: zipfile.ZipInfo
    data: bytes


class Package:
    """Parts of a package. Dropped parts keep their place, so putting one back keeps the order."""

    def __init__(self) -> None:
        self._entries: dict[str, _Entry | None] = {}
        self._spelling: dict[str, str] = {}
        self._comment = b""

    @classmethod
    def of_bytes(cls, data: bytes) -> Package:
        """Read a package that `guard.judge` found sound."""
        package = cls()
        with zipfile.ZipFile(io.BytesIO(data)) as file:
            package._comment = file.comment
            for info in file.infolist():
                package._entries[info.filename] = _Entry(_copied(info), file.read(info))
                package._spelling[_key(info.filename)] = info.filename
        return package

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all parts, in order."""
        return tuple(name for name, entry in self._entries.items() if entry is not None)

    def find(self, name: str) -> str | None:
        """Spell a part's name as the package does, or None where there is no such part."""
        spelled = self._spelling.get(_key(name))
        return spelled if spelled is not None and self._entries[spelled] is not None else None

    def __contains__(self, name: str) -> bool:
        return self.find(name) is not None

    def read(self, name: str) -> bytes:
        """Bytes of a part; KeyError where there is none."""
        spelled = self.find(name)
        entry = self._entries[spelled] if spelled is not None else None
        if entry is None:
            raise KeyError(name)
        return entry.data

    def put(self, name: str, data: bytes) -> None:
        """Add a part, or replace its bytes."""
        spelled = self._spelling.setdefault(_key(name), name)
        entry = self._entries.get(spelled)
        if entry is None:
            info = zipfile.ZipInfo(spelled, _FIXED_DATE)
            info.compress_type = zipfile.ZIP_STORED if spelled.endswith(".png") else zipfile.ZIP_DEFLATED
            info.create_system = 0
            self._entries[spelled] = _Entry(info, data)
        else:
            entry.data = data

    def drop(self, name: str) -> None:
        """Take a part out, if it is there."""
        spelled = self.find(name)
        if spelled is not None:
            self._entries[spelled] = None

    def to_bytes(self) -> bytes:
        """Write the package as a zip; the same parts in the same order give the same bytes."""
        memory = io.BytesIO()
        with zipfile.ZipFile(memory, "w") as file:
            file.comment = self._comment
            for entry in self._entries.values():
                if entry is not None:
                    file.writestr(_copied(entry.info), entry.data)
        return memory.getvalue()


def _key(name: str) -> str:
    """Make names comparable; some writers put a slash in front that does not belong there."""
    return name.lstrip("/").lower()


def _copied(info: zipfile.ZipInfo) -> zipfile.ZipInfo:
    """Copy what is worth keeping of an entry; sizes and offsets belong to the file it came from."""
    copy = zipfile.ZipInfo(info.filename, info.date_time)
    copy.compress_type = info.compress_type
    copy.create_system = info.create_system
    copy.external_attr = info.external_attr
    copy.comment = info.comment
    return copy
