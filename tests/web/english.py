"""The English sentences of the program, read from its source.

Every text that becomes a part of a refusal, a warning or a word of the plan is gathered as a
template: what is put in while the program runs stands in it as ``HOLE``. A text that only hands on
what another has said is no template of its own.
"""

from __future__ import annotations

import ast
import itertools
from collections.abc import Iterable, Iterator
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from tests.web.syntax import (
    HOLE,
    ROOT,
    Function,
    Module,
    argument,
    assigned,
    called,
    mentions,
    outcomes,
    parameter,
    picks,
)

PLACES = (
    "counter/trade", "counter/plan", "counter/shop", "counter/books", "counter/web", "labels",
    "counter/reports", "counter/errors.py",
)  # fmt: skip
APART = {"labels/facts_file.py", "labels/__main__.py"}  # what only a command line reads
PARTS = ("tried", "why", "do", "kind")
# Functions that take a reason which another puts into its sentence: at which place.
REASONS = {
    "bad": 1,
    "bad_entry": 3,
    "absent": 2,
    "unlisted": 2,
    "Misfit": 0,
    "Hold": 2,
    "find": 1,
    "wrong": 1,
    "DateMark": 3,
    "ClosingCopy": 0,
}
# Functions whose answer is shown, or put into a sentence, as it is.
SAYING = {
    "too_slow", "why_not_cooked", "unusual", "allowed", "limit_of", "what_to_do", "given_up",
    "what_is_wrong", "why_stopped",
    "weighed_fault", "torn_notice",
    "answer_to", "_caution", "_holiday_caution", "why_tiny", "said", "unproved",
    "_beside", "_take_catalogue", "_take_numbers", "_take_closing", "_folded", "_differs", "_told",
    "_indexed",
}  # fmt: skip
MOST = 60  # templates of one text; more would be a text put together out of single words
DEEP = 9
INNER = 20  # what stands inside a text is not looked up in other functions
SPOKEN = {
    "tried",
    "what",
    "kind",
    "word",
    "verb",
    "name",
}  # parameters that carry words, not values


class Found(NamedTuple):
    """One template: which part of a sentence it is, and where it stands."""

    part: str
    text: str
    where: str


class Source:
    """All modules together."""

    def __init__(self) -> None:
        files: list[Path] = []
        for place in PLACES:
            path = ROOT / place
            files += sorted(path.rglob("*.py")) if path.is_dir() else [path]
        read = (f for f in files if str(f.relative_to(ROOT)) not in APART)
        self.modules = {m.name: m for m in map(Module, read)}
        self.errors = self._errors()
        self.within: set[tuple[Function, str]] = set()

    def _errors(self) -> dict[str, dict[str, int]]:
        """Every class of refusal, and at which places it takes the parts of its sentence."""
        found: dict[str, dict[str, int]] = {}
        classes = [n for m in self.modules.values() for n in ast.walk(m.tree)
                   if isinstance(n, ast.ClassDef)]  # fmt: skip
        for _ in range(4):  # as deep as the trees of errors are
            for made in classes:
                bases = [called(base) for base in made.bases]
                parents = [found[base] for base in bases if base in found]
                if parents or made.name in ("CounterError", "LabelError"):
                    own = [n for n in made.body if isinstance(n, Function) and n.name == "__init__"]
                    places = {p: parameter(own[0], p) for p in PARTS} if own else parents[0]
                    found[made.name] = {k: v for k, v in places.items() if v is not None}
        return found

    def _places(self, call: ast.Call, module: Module) -> dict[str, int] | None:
        """Where a call hands the parts of a sentence to a class of refusal."""
        name = called(call.func)
        if name == "__init__":
            made = next((c for c in ast.walk(module.tree) if isinstance(c, ast.ClassDef)
                         and c.name in self.errors and call in ast.walk(c)), None)  # fmt: skip
            above = [called(b) for b in made.bases if called(b) in self.errors] if made else []
            return self.errors[above[0]] if above else None
        return self.errors.get(name)

    @cached_property
    def functions(self) -> dict[str, list[tuple[Module, Function]]]:
        found: dict[str, list[tuple[Module, Function]]] = {}
        for module in self.modules.values():
            for function in module.functions:
                found.setdefault(function.name, []).append((module, function))
        return found

    @cached_property
    def callers(self) -> dict[str, list[tuple[Module, ast.Call]]]:
        found: dict[str, list[tuple[Module, ast.Call]]] = {}
        for module in self.modules.values():
            for call in module.calls:
                found.setdefault(called(call.func), []).append((module, call))
        return found

    def refusals(self) -> Iterator[Found]:
        """Every part of every refusal."""
        for module in self.modules.values():
            for call in module.calls:
                for part, place in (self._places(call, module) or {}).items():
                    value = argument(call, part, place)
                    if value is not None and part == "kind":
                        for kind in self.found(part, value, module, call):
                            yield Found("why", f"there is no {kind.text} '{HOLE}'", kind.where)
                    elif value is not None:
                        yield from self.found(part, value, module, call)

    def questions(self) -> Iterator[Found]:
        """Both sentences of every question that a person is asked."""
        for module in self.modules.values():
            for call in (c for c in module.calls if called(c.func) in ("Question", "Doubt")):
                for part, name in (("tried", "tried"), ("why", "text")):
                    value = argument(call, name, 99)
                    if value is not None:
                        yield from self.found(part, value, module, call)

    def reasons(self) -> Iterator[Found]:
        """Every reason that another function puts into its sentence."""
        for module in self.modules.values():
            for call in module.calls:
                name = called(call.func)
                warns = name == "append" and called(getattr(call.func, "value", call)) == "warnings"
                place = 0 if warns else REASONS.get(name)
                value = None if place is None else argument(call, "why", place)
                if name == "key":  # what a form says of a key of shop.toml
                    value = argument(call, "hint", 99)
                if value is not None:
                    yield from self.found("said", value, module, call)
            for function in (f for f in module.functions if f.name.endswith("faults")):
                for node in (n for n in ast.walk(function) if isinstance(n, ast.Yield)):
                    if isinstance(node.value, ast.Tuple):
                        yield from self.found("said", node.value.elts[1], module, node)

    def found(self, part: str, value: ast.expr, module: Module, at: ast.AST) -> Iterator[Found]:
        where = f"{module.path.relative_to(ROOT)}:{getattr(at, 'lineno', 0)}"
        for text in self.templates(value, module, module.around.get(at)):
            bare = text.strip(" ;")
            if bare.replace(HOLE, "").strip(" .,:;-()"):
                yield Found(part, bare, where)

    def pairs(self) -> Iterator[Found]:
        """Reasons and what to do that stand side by side in a table, by the error of the disk."""
        for module in self.modules.values():
            tables = [v for v in module.constants.values() if isinstance(v, ast.Dict) and v.keys]
            for table in tables:
                known = (called(key.value) for key in table.keys if isinstance(key, ast.Attribute))
                if set(known) == {"sqlite3"}:
                    for pair in table.values:
                        assert isinstance(pair, ast.Tuple)
                        for part, value in zip(("why", "do"), pair.elts, strict=True):
                            yield from self.found(part, value, module, pair)

    def answers(self) -> Iterator[Found]:
        """Every text that one of the functions in ``SAYING`` answers with."""
        spoken = (m for m in self.modules.values() if not m.name.startswith("counter.web"))
        for module in spoken:
            for function in module.functions:
                if function.name in SAYING:
                    for value in outcomes(function):
                        yield from self.found("said", value, module, value)

    def words(self) -> str:
        """Every text of the program behind one another: where single words stand."""
        nodes = (n for m in self.modules.values() for n in ast.walk(m.tree))
        return "\n".join(
            n.value for n in nodes if isinstance(n, ast.Constant) and isinstance(n.value, str)
        )

    def templates(
        self, value: ast.expr, module: Module, inside: Function | None, deep: int = 0
    ) -> list[str]:
        """What ``value`` may be, as templates."""
        if deep % INNER > DEEP:
            return [HOLE]
        again = [HOLE]
        if isinstance(value, ast.Constant):
            again = [value.value] if isinstance(value.value, str) else [HOLE]
        elif isinstance(value, ast.JoinedStr):
            parts = [self.templates(part, module, inside, deep + 1) for part in value.values]
            again = _products(parts)
        elif isinstance(value, ast.FormattedValue):
            again = self.templates(value.value, module, inside, deep % INNER + INNER + 1)
        elif isinstance(value, ast.IfExp):
            again = [
                *self.templates(value.body, module, inside, deep + 1),
                *self.templates(value.orelse, module, inside, deep + 1),
            ]
        elif isinstance(value, ast.BoolOp) and isinstance(value.op, ast.Or):
            again = [t for v in value.values for t in self.templates(v, module, inside, deep + 1)]
        elif isinstance(value, ast.BinOp) and isinstance(value.op, ast.Add):
            again = _products([
                self.templates(value.left, module, inside, deep + 1),
                self.templates(value.right, module, inside, deep + 1),
            ])  # fmt: skip
        elif isinstance(value, ast.Name):
            again = self._named(value.id, module, inside, deep)
        elif isinstance(value, ast.Call) and (deep < INNER or picks(value)):
            again = self._answered(value, deep)
        elif isinstance(value, ast.Subscript) and isinstance(value.value, ast.Name | ast.Dict):
            again = self._picked(value, module, inside, deep)
        elif isinstance(value, ast.Starred):
            again = self.templates(value.value, module, inside, deep)
        return list(dict.fromkeys(again))[:MOST]

    def _named(self, name: str, module: Module, inside: Function | None, deep: int) -> list[str]:
        """A local, a parameter as its callers give it, a constant here or in another module."""
        if inside is not None:
            local, here = list(assigned(inside, name)), (inside, name)
            if here in self.within:  # a text put together out of what it was before
                local = [v for v in local if not mentions(v, name)]
            if local:
                self.within.add(here)
                found = [t for v in local for t in self.templates(v, module, inside, deep + 1)]
                self.within.discard(here)
                return found
            place = parameter(inside, name)
            if place is not None:
                return (
                    self._given(inside, name, place, deep)
                    if deep < INNER or name in SPOKEN
                    else [HOLE]
                )
            outer = module.around.get(inside)
            if outer is not None:
                return self._named(name, module, outer, deep)
        if name in module.constants:
            return self.templates(module.constants[name], module, None, deep + 1)
        where, original = module.imported.get(name, ("", ""))
        other = self.modules.get(where)
        if other is not None and original in other.constants:
            return self.templates(other.constants[original], other, None, deep + 1)
        return [HOLE]

    def _given(self, function: Function, name: str, place: int, deep: int) -> list[str]:
        found: list[str] = []
        if function.name == "__init__":  # whoever makes one is looked at there
            return [HOLE]
        for module, call in self.callers.get(function.name, []):
            value = argument(call, name, place)
            if value is not None and not isinstance(value, ast.Starred):
                found += self.templates(value, module, module.around.get(call), deep + 1)
        return found or [HOLE]

    def _answered(self, call: ast.Call, deep: int) -> list[str]:
        name = called(call.func)
        found = []
        if picks(call) and isinstance(call.func, ast.Attribute):
            table = call.func.value
            assert isinstance(table, ast.Dict)
            for value in (*table.values, *call.args[1:]):
                found += [value.value] if isinstance(value, ast.Constant) else [HOLE]
        for module, function in self.functions.get(name, []):
            if isinstance(function.returns, ast.Name) and function.returns.id == "str":
                for value in outcomes(function):
                    found += self.templates(value, module, function, deep + 1)
        return found or [HOLE]

    def _picked(
        self, value: ast.Subscript, module: Module, inside: Function | None, deep: int
    ) -> list[str]:
        table = value.value
        if isinstance(table, ast.Name):
            found = list(assigned(inside, table.id)) if inside else []
            table = found[0] if found else module.constants.get(table.id, table)
        values: list[ast.expr] = []
        if isinstance(table, ast.Dict):
            values = table.values
        elif isinstance(table, ast.Tuple | ast.List):
            values = table.elts
        if not values:
            return [HOLE]
        return [t for v in values for t in self.templates(v, module, inside, deep + 1)]


def _products(parts: Iterable[list[str]]) -> list[str]:
    made = ["".join(p) for p in itertools.islice(itertools.product(*parts), MOST)]
    return [_one_hole(text) for text in made]


def _one_hole(text: str) -> str:
    while HOLE + HOLE in text:
        text = text.replace(HOLE + HOLE, HOLE)
    return text
