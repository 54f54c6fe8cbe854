"""Small wrongs put into a module's source, one at a time, for ``mutation_check.py``.

======================= ==========================================================
kind                    what is done
======================= ==========================================================
``negated comparison``  ``a < b`` becomes ``a >= b``, ``a is b`` ``a is not b`` ...
``moved boundary``      ``a < b`` becomes ``a <= b`` ...
``arithmetic``          ``+`` and ``-``, ``*`` and ``/``, ``//`` and ``*`` swapped
``bits``                ``&`` and ``|`` swapped
``and/or``              swapped
``condition``           of an ``if``, ``while`` or conditional expression, negated
``sign``                a minus, a ``not`` or a ``~`` left out
``constant``            a whole number one more and one less; another doubled and halved
``truth``               ``True`` and ``False`` swapped
``least/greatest``      ``min`` and ``max``, ``minimum`` and ``maximum`` swapped
``statement``           a call, an addition in place, a stored element, ``break`` left out
======================= ==========================================================

Annotations, decorators, enumerations and the words of sentences are left alone.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass

__all__ = ["Mutant", "mutants_of"]

_NEGATED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE, ast.GtE: ast.Lt, ast.Gt: ast.LtE, ast.LtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
_MOVED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
}  # fmt: skip
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Pow: ast.Mult, ast.Mod: ast.Mult,
}  # fmt: skip
_BITS: dict[type[ast.operator], type[ast.operator]] = {ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd}
_OTHER_END = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum"}

Path = tuple[tuple[str, int | None], ...]
"""Way from the root of a tree to a node: fields, and places in lists."""


@dataclass(frozen=True)
class Mutant:
    """One wrong in one module."""

    module: str
    """Path of the module within the repository."""
    line: int
    column: int
    kind: str
    before: str
    after: str
    owner: str
    """The function or method it sits in; "" for what sits in none."""
    _tree: ast.Module
    _path: Path
    _replacement: ast.AST

    @property
    def source(self) -> str:
        """The whole module with the wrong in it."""
        return ast.unparse(ast.fix_missing_locations(_replaced(self._tree, self._path, self._replacement)))

    @property
    def name(self) -> str:
        """Tells it from all others."""
        return f"{self.module}:{self.line}:{self.column}: {self.kind}: {self.before} -> {self.after}"


Change = tuple[str, ast.AST]


def mutants_of(module: str, source: str) -> list[Mutant]:
    """Every wrong this file knows of for a module's source, in order of place."""
    tree = ast.parse(source)
    found = []
    for path, node in _places(tree, ()):
        for kind, replacement in _changes(node):
            line, column = getattr(node, "lineno", 0), getattr(node, "col_offset", 0)
            shown = _shown(node), _shown(replacement)
            found.append(
                Mutant(module, line, column, kind, *shown, _owner(tree, path), tree, path, replacement)
            )
    return found


def _shown(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 90 else f"{text[:87]}..."


def _places(node: ast.AST, path: Path) -> Iterator[tuple[Path, ast.AST]]:
    """All nodes in which a wrong may be put, with the way to each from the root."""
    yield path, node
    for field, value in ast.iter_fields(node):
        if field in {"annotation", "returns", "decorator_list"} or isinstance(node, ast.JoinedStr):
            continue
        if isinstance(node, (ast.Import, ast.ImportFrom, ast.FormattedValue)):
            continue
        if _is_list_of_names(node) or _is_enumeration(node):
            continue
        children = enumerate(value) if isinstance(value, list) else [(None, value)]
        for index, child in children:
            if isinstance(child, ast.AST):
                yield from _places(child, (*path, (field, index)))


def _owner(tree: ast.Module, path: Path) -> str:
    """Name of the outermost function on the way, with its class before it; defaults belong to none."""
    holder: ast.AST = tree
    names: list[str] = []
    for field, index in path:
        if isinstance(holder, ast.FunctionDef):
            return ".".join(names) if field == "body" else ""
        held = getattr(holder, field)
        holder = held if index is None else held[index]
        if isinstance(holder, (ast.FunctionDef, ast.ClassDef)):
            names.append(holder.name)
    return ".".join(names) if isinstance(holder, ast.FunctionDef) else ""


def _is_enumeration(node: ast.AST) -> bool:
    """Its members can't be exchanged in a running program."""
    return isinstance(node, ast.ClassDef) and any(
        isinstance(b, ast.Name) and "Enum" in b.id for b in node.bases
    )


def _is_list_of_names(node: ast.AST) -> bool:
    return isinstance(node, ast.Assign) and any(
        isinstance(t, ast.Name) and t.id == "__all__" for t in node.targets
    )


def _replaced(tree: ast.Module, path: Path, replacement: ast.AST) -> ast.Module:
    root = copy.deepcopy(tree)
    holder: ast.AST = root
    for field, index in path[:-1]:
        held = getattr(holder, field)
        holder = held if index is None else held[index]
    field, index = path[-1]
    if index is None:
        setattr(holder, field, replacement)
    else:
        getattr(holder, field)[index] = replacement
    return root


def _changes(node: ast.AST) -> Iterator[Change]:
    for change in _CHANGES:
        yield from change(node)


def _with(node: ast.AST, **fields: object) -> ast.AST:
    other = copy.deepcopy(node)
    for name, value in fields.items():
        setattr(other, name, value)
    return other


def _comparison(node: ast.AST) -> Iterator[Change]:
    if not isinstance(node, ast.Compare):
        return
    for place, op in enumerate(node.ops):
        for kind, table in (("negated comparison", _NEGATED), ("moved boundary", _MOVED)):
            if type(op) in table:
                ops = [*node.ops[:place], table[type(op)](), *node.ops[place + 1 :]]
                yield kind, _with(node, ops=ops)


def _operator(node: ast.AST) -> Iterator[Change]:
    if not isinstance(node, (ast.BinOp, ast.AugAssign)):
        return
    for kind, table in (("arithmetic", _ARITHMETIC), ("bits", _BITS)):
        if type(node.op) in table and not _joins_words(node):
            yield kind, _with(node, op=table[type(node.op)]())


def _joins_words(node: ast.BinOp | ast.AugAssign) -> bool:
    return any(isinstance(part, (ast.JoinedStr, ast.List)) for part in ast.walk(node))


def _boolean(node: ast.AST) -> Iterator[Change]:
    if isinstance(node, ast.BoolOp):
        yield "and/or", _with(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
    if isinstance(node, (ast.If, ast.While, ast.IfExp)) and not isinstance(node.test, ast.Compare):
        yield "condition", _with(node, test=ast.UnaryOp(ast.Not(), copy.deepcopy(node.test)))
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not, ast.Invert)):
        yield "sign", copy.deepcopy(node.operand)


def _constant(node: ast.AST) -> Iterator[Change]:
    if not isinstance(node, ast.Constant):
        return
    value = node.value
    if isinstance(value, bool):
        yield "truth", _with(node, value=not value)
    elif isinstance(value, int):
        yield "constant", _with(node, value=value + 1)
        yield "constant", _with(node, value=value - 1)
    elif isinstance(value, float):
        yield "constant", _with(node, value=2.0 * value if value else 1.0)
        if value:
            yield "constant", _with(node, value=0.5 * value)


def _other_end(node: ast.AST) -> Iterator[Change]:
    if isinstance(node, ast.Call):
        if isinstance(node.func, ast.Name) and node.func.id in _OTHER_END:
            yield "least/greatest", _with(node, func=ast.Name(_OTHER_END[node.func.id], ast.Load()))
        elif isinstance(node.func, ast.Attribute) and node.func.attr in _OTHER_END:
            yield "least/greatest", _with(node, func=_with(node.func, attr=_OTHER_END[node.func.attr]))


def _statement(node: ast.AST) -> Iterator[Change]:
    called = isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
    stored = isinstance(node, ast.Assign) and isinstance(node.targets[0], (ast.Subscript, ast.Attribute))
    if called or stored or isinstance(node, (ast.AugAssign, ast.Break, ast.Continue)):
        yield "statement", ast.Pass()


_CHANGES: tuple[Callable[[ast.AST], Iterator[Change]], ...] = (
    _comparison,
    _operator,
    _boolean,
    _constant,
    _other_end,
    _statement,
)
