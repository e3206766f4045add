"""``python -m tests.mutations N [--seed S] [--near]``: N random changes of the rules, one by one,
and which of them no test sees.

Each is made in a copy of the project. The tests that import its module run first, those of its
room, then all others but the long ones. A survivor wants a test, or a reader finds it equivalent.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from itertools import accumulate
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[1]
# Where the rules stand, and the tests of each room.
ROOMS = {
    "counter/trade": ("tests/trade", "tests/standards", "tests/shop", "tests/tricks"),
    "counter/plan": ("tests/planning", "tests/standards"),
    "labels": ("tests/labels", "tests/standards_labels", "tests/codes"),
    "labels/rules": ("tests/standards_labels", "tests/labels"),
}
# No rules are tried there, and they take minutes.
LONG = ("tests/crash", "tests/browser", "tests/bench", "tests/test_mutations.py")
LEFT_OUT = [f"--ignore={long}" for long in LONG]
NEAR_S, WIDE_S, TEST_S = 400, 1500, 60  # limits of one run of the tests, and of one test

PAIRS = ((ast.Lt, ast.LtE), (ast.Gt, ast.GtE), (ast.Eq, ast.NotEq), (ast.In, ast.NotIn),
         (ast.Is, ast.IsNot), (ast.Add, ast.Sub), (ast.Mult, ast.Div), (ast.Mod, ast.FloorDiv),
         (ast.BitOr, ast.BitAnd), (ast.And, ast.Or))  # fmt: skip
SWAPPED = dict(PAIRS) | {other: one for one, other in PAIRS}
ROUNDED = {"ROUND_HALF_UP": "ROUND_DOWN", "ROUND_DOWN": "ROUND_HALF_UP", "ROUND_FLOOR": "ROUND_UP",
           "ROUND_CEILING": "ROUND_DOWN", "ROUND_UP": "ROUND_DOWN", "ROUND_HALF_EVEN": "ROUND_UP",
           "half_up": "int", "ceil": "int", "floor": "round", "min": "max", "max": "min"}  # fmt: skip
ANY_ORDER = {"min", "max", "gcd", "zip", "isinstance"}  # turned round they say the same, or nothing


class Mutant(NamedTuple):
    """One change: the bytes ``start`` to ``end`` of ``file`` become ``new``."""

    file: str
    line: int
    kind: str
    start: int
    end: int
    old: str
    new: str

    def __str__(self) -> str:
        pairs = enumerate(zip(self.old, self.new, strict=False))
        at = max(0, next((i for i, (a, b) in pairs if a != b), 0) - 20)
        old, new = self.old[at : at + 70], self.new[at : at + 70]
        return f"{self.file}:{self.line} {self.kind}: {old!r} -> {new!r}"


Change = tuple[str, ast.AST, str]  # its kind, what is replaced, by which text


def other(node: ast.AST, **fields: object) -> str:
    """A node with other fields, as text."""
    return ast.unparse(type(node)(**{**vars(node), **fields}))


def operators(node: ast.AST) -> Iterator[Change]:
    """Another operator; a ``not`` that is gone."""
    match node:
        case ast.Compare(ops=[op]) if type(op) in SWAPPED:
            yield "operator", node, f"({other(node, ops=[SWAPPED[type(op)]()])})"
        case ast.BinOp(op=op) | ast.BoolOp(op=op) if type(op) in SWAPPED:
            yield "operator", node, f"({other(node, op=SWAPPED[type(op)]())})"
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield "operator", node, f"({ast.unparse(operand)})"


def constants(node: ast.AST) -> Iterator[Change]:
    """A number beside the right one, also in ``Decimal("…")``; the other truth; another rounding."""
    match node:
        case ast.Constant(value=bool(value)):
            yield "constant", node, str(not value)
        case ast.Constant(value=int(value)):
            yield "constant", node, str(value + 1)
            yield "constant", node, f"({value - 1})"
        case ast.Constant(value=float(value)):
            yield "constant", node, repr(value * 1.125)
        case ast.Call(func=ast.Name(id="Decimal"), args=[ast.Constant(value=str(value))]):
            beside = re.sub(r"[0-9](?=[^0-9]*$)", lambda d: str((int(d[0]) + 1) % 10), value)
            yield "constant", node, f"Decimal({beside!r})"
        case ast.Name(id=name, ctx=ast.Load()) if name in ROUNDED:
            yield "rounding", node, ROUNDED[name]


def orders(node: ast.AST) -> Iterator[Change]:
    """Two neighbours among the arguments of a call change places."""
    match node:
        case ast.Call(func=func, args=args) if ast.unparse(func) not in ANY_ORDER:
            for i in range(len(args) - 1):
                swapped = [*args[:i], args[i + 1], args[i], *args[i + 2 :]]
                if ast.unparse(args[i]) != ast.unparse(args[i + 1]):
                    yield "order", node, other(node, args=swapped)


def elements(node: ast.AST) -> Iterator[Change]:
    """One element of a row or a table is gone, or one condition of a comprehension."""
    match node:
        case ast.Tuple(elts=[_, _, *_]) | ast.List(elts=[_, _, *_]) if type(node.ctx) is ast.Load:
            for i in range(len(node.elts)):
                yield "element", node, other(node, elts=node.elts[:i] + node.elts[i + 1 :])
        case ast.Dict(keys=[_, _, *_] as keys, values=values):
            for i in range(len(keys)):
                less = {"keys": keys[:i] + keys[i + 1 :], "values": values[:i] + values[i + 1 :]}
                yield "element", node, other(node, **less)
        case ast.comprehension(ifs=[test, *_]):
            yield "element", test, "True"


def refusals(node: ast.AST) -> Iterator[Change]:
    """What is refused is let through, what is asked or returned early is passed over."""
    match node:
        case ast.Raise():
            yield "refusal", node, "pass"
        case ast.If(test=test, body=[*_, ast.Raise() | ast.Return()]):
            yield "refusal", test, "False"


KINDS = (operators, constants, orders, elements, refusals)


def code_in(node: ast.AST) -> Iterator[ast.AST]:
    """What runs: no annotations or options of a class; nor f-strings, of whose places no one tells."""
    yield node
    left_out = ("annotation", "returns", "decorator_list")
    left_out += ("keywords",) if isinstance(node, ast.ClassDef) else ()
    for value in (value for name, value in ast.iter_fields(node) if name not in left_out):
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr):
                yield from code_in(child)


def mutants_of(source: str, file: str) -> list[Mutant]:
    """All changes of one module that are still Python."""
    starts = [0, *accumulate(map(len, source.encode().splitlines(keepends=True)))]
    found = []
    for node in code_in(ast.parse(source)):
        for kind, what, new in (change for of in KINDS for change in of(node)):
            start = starts[what.lineno - 1] + what.col_offset
            end = starts[what.end_lineno - 1] + what.end_col_offset
            old = source.encode()[start:end].decode()
            if isinstance(what, ast.Tuple) and not old.startswith("("):
                continue  # within brackets of an index: a type, mostly
            found.append(Mutant(file, what.lineno, kind, start, end, old, new))
    return found


def chosen(many: int, chance: random.Random) -> list[Mutant]:
    """So many changes, each kind as often as the others, no two of one place."""
    by_kind: dict[str, list[Mutant]] = {}
    for path in (path for room in ROOMS for path in sorted((ROOT / room).glob("*.py"))):
        for mutant in mutants_of(path.read_text("utf-8"), path.relative_to(ROOT).as_posix()):
            by_kind.setdefault(mutant.kind, []).append(mutant)
    found: dict[tuple[str, int], Mutant] = {}
    while len(found) < many:
        mutant = chance.choice(by_kind[chance.choice([*by_kind])])
        found.setdefault((mutant.file, mutant.start), mutant)
    return list(found.values())


class Copy:
    """A copy of the project in which one change at a time is tried."""

    def __init__(self, place: Path) -> None:
        self._place, self._stamp = place, 0
        skip = shutil.ignore_patterns(".*", "__pycache__", "*.egg-info")
        shutil.copytree(ROOT, place, ignore=skip, dirs_exist_ok=True)

    def write(self, file: str, text: bytes) -> None:
        """The time is never the same twice: compiled code of another change is not taken for it."""
        self._stamp += 1
        (self._place / file).write_bytes(text)
        os.utime(self._place / file, (self._stamp, self._stamp))

    def fails(self, tests: Sequence[str], limit_s: float) -> str:
        """Run tests: the first that fails, or "" where all pass."""
        options = f"--timeout={TEST_S}", "-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=1"
        command = [sys.executable, "-m", "pytest", *options, *tests]
        where = {"cwd": self._place, "env": {**os.environ, "PYTHONPATH": str(self._place)}}
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=limit_s, **where)
        except subprocess.TimeoutExpired:
            return f"{limit_s:.0f} s were not enough"
        if done.returncode in (0, 5):  # 5: no tests there
            return ""
        told = re.search(
            r"^(?:FAILED|ERROR|ImportError while) (\S+)", done.stdout + done.stderr, re.M
        )
        assert told or done.returncode in (1, 2), done.stdout + done.stderr
        return told[1] if told else done.stdout[-300:]

    def killer(self, mutant: Mutant, rounds: Sequence[tuple[Sequence[str], float]]) -> str:
        """The first test that sees the change, or ""; afterwards the file is as it was."""
        source = (self._place / mutant.file).read_bytes()
        changed = source[: mutant.start] + mutant.new.encode() + source[mutant.end :]
        self.write(mutant.file, changed)
        try:
            return next((said for tests, s in rounds if (said := self.fails(tests, s))), "")
        finally:
            self.write(mutant.file, source)


def near(file: str) -> list[str]:
    """The module's own examples, the tests that import it, and those of its room."""
    package, _, name = file.removesuffix(".py").rpartition("/")
    package = package.replace("/", r"\.")
    imports = re.compile(rf"from {package}\.{name} |from {package} import .*\b{name}\b")
    tests = [str(path.relative_to(ROOT)) for path in sorted((ROOT / "tests").rglob("test_*.py"))]
    named = [one for one in tests if imports.search((ROOT / one).read_text("utf-8"))]
    named = [one for one in named if not one.startswith(LONG)]
    return [file, *named, *ROOMS[str(Path(file).parent)], "-n", "0"]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=__doc__)
    parser.add_argument("many", type=int, metavar="N")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--near", action="store_true", help="only the tests of its own room")
    asked = parser.parse_args()
    print(f"{asked.many} changes, seed {asked.seed}", flush=True)
    survived = []
    with tempfile.TemporaryDirectory(prefix="mutations-") as place:
        tried = Copy(Path(place))
        mutants = chosen(asked.many, random.Random(asked.seed))
        for mutant in mutants:
            wider = [] if asked.near else [(["tests", *LEFT_OUT], WIDE_S)]
            said = tried.killer(mutant, [(near(mutant.file), NEAR_S), *wider])
            print(f"{'killed  ' if said else 'SURVIVED'} {mutant}  {said}", flush=True)
            survived += [mutant] if not said else []
    print(f"killed {len(mutants) - len(survived)} of {len(mutants)}", *survived, sep="\n")


if __name__ == "__main__":
    main()
