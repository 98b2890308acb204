"""The layers of the house: each folder imports only from folders above it in the list."""

import ast
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent / "sheetplan"
LAYERS = (
    "trade", "model", "shapes", "drawings", "packing", "planning", "checking", "rack", "money", "pages",
    "workbook", "app", "cli",
)
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


def test_the_walk_sees_the_imports() -> None:
    assert "trade" in imported_layers(HOUSE / "model" / "job.py")
