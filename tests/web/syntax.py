"""A module as its syntax tree, and what a call or a function holds."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path

HOLE = "\N{WHITE SQUARE}"  # where a value stands
ROOT = Path(__file__).resolve().parents[2]
Function = ast.FunctionDef | ast.AsyncFunctionDef


class Module:
    """One file: its functions, its constants, and the nearest function around each node."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        self.tree = ast.parse(path.read_text("utf-8"))
        self.around: dict[ast.AST, Function | None] = {}
        self._walk(self.tree, None)

    def _walk(self, node: ast.AST, inside: Function | None) -> None:
        for child in ast.iter_child_nodes(node):
            self.around[child] = inside
            self._walk(child, child if isinstance(child, Function) else inside)

    @cached_property
    def constants(self) -> dict[str, ast.expr]:
        pairs = (n for n in self.tree.body if isinstance(n, ast.Assign | ast.AnnAssign))
        return {
            target.id: node.value
            for node in pairs
            for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
            if isinstance(target, ast.Name) and node.value is not None
        }

    @cached_property
    def imported(self) -> dict[str, tuple[str, str]]:
        return {
            alias.asname or alias.name: (node.module or "", alias.name)
            for node in ast.walk(self.tree)
            if isinstance(node, ast.ImportFrom)
            for alias in node.names
        }

    @cached_property
    def calls(self) -> list[ast.Call]:
        return [node for node in ast.walk(self.tree) if isinstance(node, ast.Call)]

    @cached_property
    def functions(self) -> list[Function]:
        return [node for node in ast.walk(self.tree) if isinstance(node, Function)]


def mentions(value: ast.expr, name: str) -> bool:
    return any(isinstance(n, ast.Name) and n.id == name for n in ast.walk(value))


def picks(call: ast.Call) -> bool:
    """One text out of several that stand there: ``{...}.get(key, "otherwise")``."""
    return isinstance(call.func, ast.Attribute) and isinstance(call.func.value, ast.Dict)


def called(node: ast.expr) -> str:
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def argument(call: ast.Call, name: str, place: int) -> ast.expr | None:
    for keyword in call.keywords:
        if keyword.arg == name:
            return keyword.value
    if place < len(call.args) and not any(isinstance(a, ast.Starred) for a in call.args[:place]):
        return call.args[place]
    return None


def parameter(function: Function, name: str) -> int | None:
    """At which place a caller gives it, not counting ``self``."""
    names = [a.arg for a in (*function.args.posonlyargs, *function.args.args)]
    if names and names[0] in ("self", "cls"):
        names = names[1:]
    if name in names:
        return names.index(name)
    return 99 if name in [a.arg for a in function.args.kwonlyargs] else None


def assigned(function: Function, name: str) -> Iterator[ast.expr]:
    for node in ast.walk(function):
        if isinstance(node, ast.Assign):
            for target in node.targets:
                yield from unpacked(target, node.value, name)
        elif isinstance(node, ast.AnnAssign | ast.AugAssign | ast.NamedExpr):
            mine = isinstance(node.target, ast.Name) and node.target.id == name
            if mine and node.value is not None:
                yield node.value  # of a text that grows, what is put behind it


def unpacked(target: ast.expr, value: ast.expr, name: str) -> Iterator[ast.expr]:
    if isinstance(target, ast.Name) and target.id == name:
        yield value
    elif isinstance(target, ast.Tuple):
        parts = value.elts if isinstance(value, ast.Tuple) else [None] * len(target.elts)
        for one, part in zip(target.elts, parts, strict=False):
            if isinstance(one, ast.Name) and one.id == name:
                yield part if part is not None else ast.Constant(HOLE)


def outcomes(function: Function) -> Iterator[ast.expr]:
    for node in ast.walk(function):
        if isinstance(node, ast.Return | ast.Yield) and node.value is not None:
            yield node.value.elts[-1] if isinstance(node.value, ast.Tuple) else node.value
        elif isinstance(node, ast.Call) and called(node.func) == "append":
            yield from node.args[:1]
