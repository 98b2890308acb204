"""The layers of the house: each folder imports only from folders above it in the list."""

import ast
import re
from collections.abc import Collection
from functools import cache
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent / "sheetplan"
LAYERS = (
    "trade", "model", "shapes", "drawings", "packing", "planning", "checking", "rack", "money", "pages",
    "pictures", "workbook", "app", "cli",
)
FLOORS = {
    "workbook": ("reading", "package", "writing", "template", "hosts"),
    "pages": ("drawing", "book", "paper", "floor"),
}
"""Within a room the same holds of its folders; files beside them may be used by all."""
APART = {("checking", "packing"), ("checking", "planning")}
"""The check may not lean on what it checks, though the order of the layers would allow it."""


def layer(path: Path) -> str:
    inside = path.relative_to(HOUSE).parts
    return inside[0] if len(inside) > 1 else path.stem


def imported_layers(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names = [node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        found |= {n.split(".")[1] for n in names if n.startswith("sheetplan.") and n.split(".")[1] in LAYERS}
    return found


MODULES = sorted(p for p in HOUSE.rglob("*.py") if p != HOUSE / "__init__.py" and p.name != "__main__.py")


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(HOUSE)))
def test_imports_point_upward_in_the_list(path: Path) -> None:
    here = layer(path)
    assert here in LAYERS, f"{path} stands outside the layers"
    for other in imported_layers(path):
        assert LAYERS.index(other) <= LAYERS.index(here), f"{here} imports {other}"
        assert (here, other) not in APART, f"{here} must stand apart from {other}"


@pytest.mark.parametrize("room", FLOORS)
def test_floors_of_a_room_keep_their_order(room: str) -> None:
    order = FLOORS[room]
    assert {path.parent.name for path in HOUSE.glob(f"{room}/*/__init__.py")} == set(order)
    for path in HOUSE.glob(f"{room}/*/*.py"):
        here = path.parent.name
        said = path.read_text(encoding="utf-8")
        for other in re.findall(rf"^ *(?:from|import) sheetplan\.{room}\.(\w+)", said, re.MULTILINE):
            if other in order:
                assert order.index(other) <= order.index(here), f"{path.name} in {here} imports {other}"


def test_no_folder_is_a_heap() -> None:
    """A folder with more files than one sees at a glance wants folders of its own."""
    for folder in {path.parent for path in HOUSE.rglob("*.py")}:
        assert len(list(folder.glob("*.py"))) <= 15, folder


def test_the_walk_sees_the_imports() -> None:
    assert "trade" in imported_layers(HOUSE / "model" / "settings.py")
    assert MODULES_BY_NAME["sheetplan.model.settings"] == {"sheetplan.model.turns", "sheetplan.trade.units"}


def own_modules() -> dict[str, Path]:
    """Each module by its name; a package stands for its first file."""
    found = {}
    for path in HOUSE.rglob("*.py"):
        parts = path.relative_to(HOUSE.parent).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def fetched_at_once(path: Path, known: Collection[str]) -> set[str]:
    """Our modules that a module imports while it is imported itself, not only for its types."""
    found = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.ImportFrom):
            named = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= {name if name in known else node.module or "" for name in named}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found & set(known)


OWN = own_modules()
MODULES_BY_NAME = {name: fetched_at_once(path, OWN) - {name} for name, path in OWN.items()}

LONGEST_CHAIN = 14
"""Modules one upon the other: from an order book planned anew down to the model. It may get shorter."""


def test_no_chain_of_imports_grows_longer() -> None:
    """Whoever reads a module has so many floors below it to know, and waits for them at the start."""

    @cache
    def chain(name: str) -> tuple[str, ...]:
        return (name, *max((chain(below) for below in MODULES_BY_NAME[name]), key=len, default=()))

    longest = max(map(chain, MODULES_BY_NAME), key=len)
    assert len(longest) <= LONGEST_CHAIN, " <- ".join(longest)


PAGE = (HOUSE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_page_for_developers_shows_the_layers_in_their_order() -> None:
    assert tuple(re.findall(r"^\| `(\w+)/` \|", PAGE, re.MULTILINE)) == LAYERS


def test_every_file_that_the_page_for_developers_names_is_there() -> None:
    """A bare name follows one with its folder, as in `rack/cut.py`, `record.py`."""
    root = HOUSE.parent
    missing = []
    for line in PAGE.splitlines():
        folder = HOUSE
        for named in re.findall(r"`([a-z0-9_/]+\.py|[\w/]+\.md)`", line):
            bare = "/" not in named
            places = (folder / named,) if bare and folder != HOUSE else (root / named, HOUSE / named)
            found = next((place for place in places if place.exists()), None)
            if found is None:
                missing.append(named)
            else:
                folder = found.parent
    assert not missing
