"""Small wrong changes of a source text, one line each: what a slip of the hand would write instead.

Not changed, because nobody could see it from outside: annotations, decorators (frozen, slots), what is said
to type checkers alone, `assert` and `strict=` (guards against faults of our own, which right code never
meets). Nor words: of texts, other tests ask (`tests/pages`).
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}
"""Each comparison with its edge moved, and turned."""

RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}

CALLED = {
    "max": "min", "min": "max", "any": "all", "all": "any", "maximum": "minimum", "minimum": "maximum",
    "floor": "ceil", "ceil": "floor", "union": "intersection", "intersection": "union",
}  # fmt: skip

NEUTRAL = {
    "bool": "False", "int": "0", "float": "0.0", "str": "''", "tuple": "()", "list": "[]", "dict": "{}",
    "set": "set()", "frozenset": "frozenset()", "Iterator": "()", "Sequence": "()", "Mapping": "{}",
}  # fmt: skip
"""What a function returns that does nothing, by the first word of what it is said to return."""

UNSEEN = ("annotation", "returns", "decorator_list", "bases", "type_comment")
"""Fields of syntax that do nothing when the program runs."""


@dataclass(frozen=True, order=True)
class Change:
    """Another text of one line of a source, counted from 1."""

    line: int
    kind: str
    before: str
    after: str
    at_import: bool
    """Whether the line is run when the module is imported, and not only in a function."""

    def made_in(self, source: str) -> str:
        """The whole source with the change."""
        lines = source.split("\n")
        if lines[self.line - 1] != self.before:
            raise ValueError(f"line {self.line} is another one")
        lines[self.line - 1] = self.after
        return "\n".join(lines)

    def counts(self, source: str) -> bool:
        """Whether the changed source can be read, and as another program."""
        try:
            return ast.dump(ast.parse(self.made_in(source))) != ast.dump(ast.parse(source))
        except SyntaxError:
            return False


def changes(source: str) -> list[Change]:
    """Every change that we know for a source text; `Change.counts` tells those that are none."""
    lines = source.split("\n")
    found = set()
    for node, within in _live(ast.parse(source), None):
        for kind, old, new in _variants(node, within):
            if old.lineno != old.end_lineno:
                continue
            before = lines[old.lineno - 1]
            data = before.encode()
            after = (data[: old.col_offset] + new.encode() + data[old.end_col_offset :]).decode()
            found.add(Change(old.lineno, kind, before, after, within is None))
    return sorted(found)


Function = ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda
Placed = ast.expr | ast.stmt


def _live(node: ast.AST, within: Function | None) -> Iterator[tuple[ast.AST, Function | None]]:
    """Syntax that does something, with the function in which it stands."""
    yield node, within
    for name, value in ast.iter_fields(node):
        if name in UNSEEN:
            continue
        inner = within
        if name == "body" and isinstance(node, Function):
            inner = node
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not _dumb(child):
                yield from _live(child, inner)


def _dumb(node: ast.AST) -> bool:
    match node:
        case ast.Assert() | ast.JoinedStr() | ast.keyword(arg="strict"):
            return True
        case ast.Expr(value=ast.Constant()) | ast.Call(func=ast.Name(id="TypeVar" | "NewType" | "cast")):
            return True
        case ast.If(test=ast.Name(id="TYPE_CHECKING")):
            return True
    return False


def _variants(node: ast.AST, within: Function | None) -> Iterator[tuple[str, Placed, str]]:
    """What could stand there instead: in a word, what is replaced, and the text that replaces it."""
    match node:
        case ast.Compare(left=left, ops=ops, comparators=others):
            for place, op in enumerate(ops):
                for other in COMPARED[type(op)]:
                    turned = [*ops[:place], other(), *ops[place + 1 :]]
                    yield "compare", node, _text(ast.Compare(left, turned, others))
        case ast.BinOp(left=left, op=op, right=right) if type(op) in RECKONED:
            if not (_is_text(left) or _is_text(right)):
                yield "reckon", node, _text(ast.BinOp(left, RECKONED[type(op)](), right))
        case ast.BoolOp(op=op, values=values):
            other = ast.Or() if isinstance(op, ast.And) else ast.And()
            yield "and-or", node, _text(ast.BoolOp(other, values))
        case ast.UnaryOp(op=ast.USub() | ast.Not() | ast.Invert(), operand=operand):
            yield "sign", node, _text(operand)
        case ast.Constant(value=bool() as value):
            yield "constant", node, str(not value)
        case ast.Constant(value=int() as value):
            yield from (("constant", node, str(value + step)) for step in (1, -1))
        case ast.Constant(value=float() as value):
            yield "constant", node, repr(2.0 * value or 1.0)
        case ast.IfExp(test=test) | ast.If(test=test) | ast.While(test=test):
            yield "negated", test, f"(not {_text(test)})"
        case ast.comprehension(ifs=tests):
            yield from (("negated", test, f"(not {_text(test)})") for test in tests)
        case ast.Return(value=ast.expr() as value):
            neutral = _neutral(within)
            if ast.unparse(value) != neutral:
                yield "returned", node, f"return {neutral}"
        case ast.Call(func=ast.Name(id=name) as func) if name in CALLED:
            yield "called", func, CALLED[name]
        case ast.Call(func=ast.Attribute(value=of, attr=name) as func) if name in CALLED:
            yield "called", func, f"{ast.unparse(of)}.{CALLED[name]}"
        case ast.Assign(targets=[ast.Subscript() | ast.Attribute()]) | ast.AugAssign() | ast.Delete():
            yield "dropped", node, "pass"
        case ast.Expr() | ast.Raise() | ast.Continue() | ast.Break():
            yield "dropped", node, "pass"
    if isinstance(node, ast.AugAssign) and type(node.op) in RECKONED:
        yield "reckon", node, ast.unparse(ast.AugAssign(node.target, RECKONED[type(node.op)](), node.value))


def _text(node: ast.expr) -> str:
    return f"({ast.unparse(node)})"


def _is_text(node: ast.expr) -> bool:
    """Whether something is a text or a row, of which nothing can be taken away."""
    row = isinstance(node, ast.JoinedStr | ast.List | ast.Tuple | ast.ListComp)
    return row or (isinstance(node, ast.Constant) and isinstance(node.value, str | bytes))


def _neutral(within: Function | None) -> str:
    said = getattr(within, "returns", None)
    name = ast.unparse(said) if said is not None else ""
    return "None" if "| None" in name else NEUTRAL.get(name.partition("[")[0], "None")


def stands_over(source: str, line: int) -> range:
    """The lines of the innermost statement in which a line stands; of a block, its head alone."""
    spans = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None)
            last = body[0].lineno - 1 if body else node.end_lineno or node.lineno
            if node.lineno <= line <= max(last, node.lineno):
                spans.append(range(node.lineno, max(last, node.lineno) + 1))
    return min(spans, key=len, default=range(line, line + 1))


def imported(root: Path, package: str) -> dict[str, set[str]]:
    """What each module of a package imports of it, by the words alone."""
    sources = {_module(root, path): path for path in sorted((root / package).rglob("*.py"))}
    found: dict[str, set[str]] = {}
    for module, path in sources.items():
        names = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        # Whoever imports a module imports the packages in which it lies.
        names |= {name[:place] for name in [*names, module] for place, sign in enumerate(name) if sign == "."}
        found[module] = (names & sources.keys()) - {module}
    return found


def _module(root: Path, path: Path) -> str:
    parts = path.relative_to(root).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
