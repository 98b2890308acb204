"""An SVG file made safe to hand to the library: no bombs, nothing that is not drawn.

Terms
-----
use
    A reference that draws another element once more; uses of uses multiply.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree

from sheetplan.drawings.limits import Allowance, Refused

NAMESPACE = "{http://www.w3.org/2000/svg}"
HREFS = ("href", "{http://www.w3.org/1999/xlink}href")

NOT_DRAWN = frozenset({
    "marker", "mask", "metadata", "foreignObject", "script", "font", "font-face", "glyph", "filter",
    "linearGradient", "radialGradient", "cursor", "view", "animate", "animateTransform", "set",
    "animateMotion", "pattern",
})  # fmt: skip
"""Elements that draw nothing by themselves, and whose children must not be drawn either."""

GROUPS = frozenset({"a", "switch"})
"""Elements that are groups for our purpose."""

DEPTH_FACTOR = 8
"""Groups lie deeper than blocks do in sound files: so many times the limit on blocks is allowed."""


@dataclass(frozen=True, slots=True)
class Structure:
    """The file cleaned, as bytes, with counts of what was left out and of links that lead nowhere."""

    data: bytes
    left_out: Counter[str]
    missing: int


def clean(data: bytes, allowance: Allowance) -> Structure:
    """Check an SVG's structure and take out what is not drawn.

    Raises
    ------
    Refused
        If it is no XML, declares entities, goes too deep, or multiplies beyond the limits.
    """
    if b"<!ENTITY" in data:
        raise Refused("it declares entities of its own, which drawings have no need of; save it as plain SVG")
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError) as reason:
        raise Refused(f"it is not sound XML ({reason}); save it again from its program") from None
    if local(root) != "svg":
        raise Refused(f"its first element is {local(root)}, not svg")
    deepest = allowance.limits.depth * DEPTH_FACTOR
    left_out: Counter[str] = Counter()
    _prune(root, deepest, left_out)
    missing = _check_uses(root, allowance, deepest)
    return Structure(ElementTree.tostring(root), left_out, missing)


def local(element: ElementTree.Element) -> str:
    """An element's name without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _prune(root: ElementTree.Element, deepest: int, left_out: Counter[str]) -> None:
    stack = [(root, 0)]
    while stack:
        element, depth = stack.pop()
        if depth > deepest:
            raise Refused(f"its groups lie more than {deepest} deep in one another")
        for index, child in reversed(list(enumerate(element))):
            name = local(child)
            if name in NOT_DRAWN or not name:
                element.remove(child)
                left_out[name] += bool(name)
                continue
            if name == "symbol":
                child.tag = f"{NAMESPACE}g"
                element[index] = _set_aside(child)
            elif name in GROUPS:
                child.tag = f"{NAMESPACE}g"
            stack.append((child, depth + 1))


def _set_aside(symbol: ElementTree.Element) -> ElementTree.Element:
    """A symbol is drawn only where it is used."""
    aside = ElementTree.Element(f"{NAMESPACE}defs")
    aside.append(symbol)
    return aside


def _check_uses(root: ElementTree.Element, allowance: Allowance, deepest: int) -> int:
    """Count what all uses come to without drawing them; returns how many lead nowhere."""
    by_id = {element.get("id"): element for element in root.iter() if element.get("id")}
    known: dict[int, int] = {}
    missing = sum(_target(element, by_id) is None for element in root.iter() if local(element) == "use")

    def size(element: ElementTree.Element, above: frozenset[int], depth: int) -> int:
        if id(element) in known:
            return known[id(element)]
        if id(element) in above:
            raise Refused("an element in it uses itself")
        if depth > 2 * deepest:
            raise Refused(f"its uses lie more than {deepest} deep in one another")
        inside = above | {id(element)}
        total = 1 + sum(size(child, inside, depth + 1) for child in _inner(element, by_id))
        allowance.check_pieces(total)
        known[id(element)] = total
        return total

    size(root, frozenset(), 0)
    return missing


def _inner(
    element: ElementTree.Element, by_id: dict[str | None, ElementTree.Element]
) -> Iterator[ElementTree.Element]:
    yield from element
    if local(element) == "use":
        target = _target(element, by_id)
        if target is not None:
            yield target


def _target(
    use: ElementTree.Element, by_id: dict[str | None, ElementTree.Element]
) -> ElementTree.Element | None:
    link = next((use.get(name) for name in HREFS if use.get(name)), None) or ""
    return by_id.get(link[1:]) if link.startswith("#") else None
