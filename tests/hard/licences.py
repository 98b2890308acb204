"""Licences of everything that an installation brings along: ``python -m tests.hard.licences`` prints a table.

Walks the requirements of the installed package from what the packages themselves declare, without
optional extras, for the machine that it runs on.
"""

from __future__ import annotations

import re
import sys
from importlib.metadata import Distribution, PackageNotFoundError, distribution

_CLASSIFIER = "License :: OSI Approved :: "


def needed(name: str, found: dict[str, Distribution] | None = None) -> dict[str, Distribution]:
    """The package and all that it needs at run time, by normalised name."""
    found = {} if found is None else found
    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in found:
        return found
    try:
        found[key] = distribution(name)
    except PackageNotFoundError:
        return found  # needed on another system only
    for line in found[key].requires or ():
        requirement, _, condition = line.partition(";")
        if "extra" not in condition and (applies := re.match(r"[A-Za-z0-9._-]+", requirement)):
            needed(applies.group(), found)
    return found


def licence(package: Distribution) -> str:
    """What the package says its licence is, in few words."""
    told = package.metadata
    if told.get("License-Expression"):
        return str(told["License-Expression"])
    classified = [
        c.removeprefix(_CLASSIFIER) for c in told.get_all("Classifier") or () if c.startswith(_CLASSIFIER)
    ]
    if classified:
        return ", ".join(sorted(set(classified)))
    return str(told.get("License") or "not stated").splitlines()[0][:60]


def table() -> list[tuple[str, str, str]]:
    """Name, version and licence of each package, without our own."""
    packages = needed("sheetplan")
    packages.pop("sheetplan", None)
    return [(name, package.version, licence(package)) for name, package in sorted(packages.items())]


def main() -> int:
    print("| package | licence |\n|---|---|")
    for name, _version, said in table():
        print(f"| {name} | {said} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
