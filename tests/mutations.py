"""``python -m tests.mutations N [--seed S] [--most SECONDS]``: N random changes of the rules, one by one,
and which of them no test sees.

First all tests but the long ones run once, to see which of them execute which line; that is kept in
the system's temporary folder until the program has another commit. Each change is made in a copy of
the project and tried by the tests that execute its line, those that import its module first, the
fast ones first. A survivor wants a test; or it is equivalent, and ``equivalent.txt`` says why.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
from bisect import bisect
from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Sequence
from functools import cache, cached_property
from itertools import accumulate
from math import inf
from pathlib import Path
from typing import Any, NamedTuple

import coverage
import pytest

ROOT = Path(__file__).parents[1]
ROOMS = "counter/trade", "counter/plan", "labels", "labels/rules"  # where the rules stand
PROGRAM = "counter", "labels", "demo_shop"
# No rules are tried there, and they take minutes.
LONG = ("tests/crash", "tests/browser", "tests/bench", "tests/test_mutations.py")
EQUIVALENT = ROOT / "tests/equivalent.txt"  # one change a line, and why no test can see it
FIRST_S = 5  # that many seconds of tests run first: most changes go no further
TEST_S = 300  # limit of one test by the clock on the wall; of a run see ``Copy.fails``

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
    within: str  # its line of code

    def __str__(self) -> str:
        return f"{self.line:4} {self.change}"

    @property
    def change(self) -> str:
        """The change in words, without its line, which other changes of the file move."""
        pairs = enumerate(zip(self.old, self.new, strict=False))
        at = max(0, next((i for i, (a, b) in pairs if a != b), 0) - 20)
        old, new = self.old[at : at + 70], self.new[at : at + 70]
        return f"{self.file} {self.kind}: {old!r} -> {new!r} in {self.within!r}"


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
            within = source.splitlines()[what.lineno - 1].strip()
            found.append(Mutant(file, what.lineno, kind, start, end, old, new, within))
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


# --- As a plugin of the runs: ``-p tests.mutations`` ---


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Only the tests that are wanted, in their order; and those that are new since the record."""
    if listed := os.environ.get("TESTS_WANTED"):
        wanted = json.loads(Path(listed).read_text("utf-8"))
        items[:] = [item for item in items if wanted.get(item.nodeid, 0) >= 0]
        items.sort(key=lambda item: wanted.get(item.nodeid, 0))


def pytest_collectstart(collector: pytest.Collector) -> None:
    """What runs when a file of tests is imported counts for all of its tests."""
    if isinstance(collector, pytest.Module) and (measured := coverage.Coverage.current()):
        measured.switch_context(f"{collector.nodeid}|collect")


def pytest_runtest_setup() -> None:
    """Nothing is remembered of the test before: what it executed, the next one executes too."""
    if "TESTS_WANTED" not in os.environ:
        for remembering in caches(len(sys.modules)):
            remembering.cache_clear()


@cache
def caches(modules: int) -> list[Any]:
    """The functions of the program that remember, of so many modules that are imported."""
    ours = [module for name, module in sys.modules.items() if name.startswith(PROGRAM)]
    values = [value for module in ours for value in vars(module).values()]
    return [value for value in values if type(value) is type(caches)]


# --- Which tests execute what ---


class Record:
    """What a run of all tests told: the tests of each line, their seconds, those that fail anyway."""

    def __init__(self, folder: Path) -> None:
        told = (folder / "told").read_text("utf-8")
        self.failing = {*re.findall(r"^(?:FAILED|ERROR) (.+?)(?: - .*)?$", told, re.M)}
        self.seconds: defaultdict[str, float] = defaultdict(float)
        made: defaultdict[str, float] = defaultdict(float)  # what a file makes for all of its tests
        for seconds, when, test in re.findall(r"^ *([\d.]+)s (\w+) +(.+)$", told, re.M):
            if when == "setup" and float(seconds) > 1:
                made[test.split("::")[0]] += float(seconds)
            else:
                self.seconds[test] += float(seconds)
        self._data = coverage.CoverageData(str(folder / "lines"))
        self._data.read()
        runs = (context.rpartition("|") for context in self._data.measured_contexts())
        self.tests = {test for test, _, when in runs if when == "run"} - self.failing
        for test in self.tests:
            self.seconds[test] += made[test.split("::")[0]]
        self._lines = cache(self._lines_of)

    def _lines_of(self, file: str) -> dict[int, list[str]]:
        return self._data.contexts_by_lineno(file)

    def executing(self, file: str, lines: Collection[int]) -> set[str]:
        """The tests that execute one of the lines, also in what is made once for many of them."""
        found, shared = set(), set()
        told = self._lines(file)
        for context in {context for line in lines for context in told.get(line, ())}:
            test, _, when = context.rpartition("|")
            found.add(test)
            if when != "run":
                shared.add(test if when == "collect" else test.rpartition("/")[0] + "/")
        return {t for t in self.tests if t in found or t.startswith(tuple(shared))}

    def tests_of(self, mutant: Mutant) -> list[str]:
        """The tests that can see a change: importers of its module first, the fast ones first."""
        tree = ast.parse((ROOT / mutant.file).read_text("utf-8"))
        around = [
            node for node in ast.walk(tree) if isinstance(node, ast.stmt)
            and node.lineno <= mutant.line <= (node.end_lineno or 0)
        ]  # fmt: skip
        inmost, functions = around[-1], [node for node in around if isinstance(node, FUNCTIONS)]
        compound = hasattr(inmost, "body") or hasattr(inmost, "cases")
        last = mutant.line if compound else inmost.end_lineno or 0
        found = self.executing(mutant.file, range(inmost.lineno, last + 1))
        if not functions or self._at_import(mutant.file, range(inmost.lineno, last + 1)):
            found |= self.reading(bound(around[0]))
        elif mutant.line < functions[-1].body[0].lineno:
            found |= self.executing(mutant.file, body_of(functions[-1]))
        near, package = importers(mutant.file), importers(str(Path(mutant.file).parent))

        def order(test: str) -> tuple[object, ...]:
            file = test.split("::")[0]
            far = 0 if file in near else 1 if file in package else 2
            return far, self.seconds[test], test

        return sorted(found, key=order)

    def _at_import(self, file: str, lines: Collection[int]) -> bool:
        told = self._lines(file)
        return any(not c or c.endswith("|collect") for line in lines for c in told.get(line, ()))

    def reading(self, names: set[str]) -> set[str]:
        """The tests that execute a function which says one of the names, or what is made of them."""
        early = [(n, said) for f, n, said in self._functions if self._at_import(f, body_of(n))]
        many = -1
        while many < len(names):
            many = len(names)
            for statement, said in [*self._top, *early]:
                names |= bound(statement) if said & names else set()
        functions = [(file, node) for file, node, said in self._functions if said & names]
        return set().union(*(self.executing(file, body_of(node)) for file, node in functions))

    @cached_property
    def _trees(self) -> dict[str, ast.Module]:
        files = [path for room in PROGRAM for path in (ROOT / room).rglob("*.py")]
        return {
            path.relative_to(ROOT).as_posix(): ast.parse(path.read_text("utf-8")) for path in files
        }

    @cached_property
    def _top(self) -> list[tuple[ast.stmt, set[str]]]:
        """What runs when the program is imported, and the names that it says."""
        top = [node for tree in self._trees.values() for node in tree.body]
        return [(node, said_by(node, FUNCTIONS)) for node in top if not isinstance(node, FUNCTIONS)]

    @cached_property
    def _functions(self) -> list[tuple[str, Function, set[str]]]:
        """All functions of the program, and the names that they say; a method its class's too."""
        return [
            (file, node, said_by(node) | (bound(top) if isinstance(top, ast.ClassDef) else set()))
            for file, tree in self._trees.items() for top in tree.body
            for node in ast.walk(top) if isinstance(node, FUNCTIONS)
        ]  # fmt: skip


Function = ast.FunctionDef | ast.AsyncFunctionDef
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


def body_of(function: Function) -> range:
    return range(function.body[0].lineno, (function.end_lineno or 0) + 1)


def bound(statement: ast.stmt) -> set[str]:
    """The names that a statement gives."""
    if isinstance(statement, (ast.ClassDef, *FUNCTIONS)):
        return {statement.name}
    stored = (node for node in ast.walk(statement) if isinstance(node, ast.Name))
    names = {node.id for node in stored if isinstance(node.ctx, ast.Store)}
    aliases = (node for node in ast.walk(statement) if isinstance(node, ast.alias))
    return names | {node.asname or node.name for node in aliases}


def said_by(node: ast.AST, without: tuple[type, ...] = ()) -> set[str]:
    """The names that code says, as variables, attributes or what is imported."""
    names = set()
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, without):
            names |= said_by(child, without)
    match node:
        case ast.Name(id=name) | ast.Attribute(attr=name) | ast.alias(name=name):
            names.add(name)
    return names


@cache
def importers(file: str) -> set[str]:
    """The own examples of a module or package, and the tests that import it or of it."""
    package, _, name = file.removesuffix(".py").rpartition("/")
    package = package.replace("/", r"\.")
    said = (
        rf"from {package}\.{name}[ .]|from {package} import .*\b{name}\b|import {package}\.{name}\b"
    )
    imports = re.compile(said if package else rf"from {name}[ .]|import {name}\b")
    tests = [path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py")]
    return {file, *(one for one in tests if imports.search((ROOT / one).read_text("utf-8")))}


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

    def run(
        self, *options: str, cpu_s: int = 0, **environ: str
    ) -> subprocess.CompletedProcess[str]:
        """The tests with these options; ``cpu_s`` is the computing time they may take."""
        usual = f"--timeout={TEST_S}", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=1"
        command = [sys.executable, "-m", "pytest", "-p", "tests.mutations", *usual, *options]
        limits: dict[str, Any] = {}
        if cpu_s:
            limit = lambda: resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s))  # noqa: E731
            limits["preexec_fn"] = limit
        env = {**os.environ, "PYTHONPATH": str(self._place), **environ}
        return subprocess.run(
            command, capture_output=True, text=True, cwd=self._place, env=env, check=False, **limits
        )

    def record(self, folder: Path, *options: str) -> Record:
        """What a run of the tests told, kept in a folder; made where nothing is kept there."""
        if not (folder / "told").exists():
            folder.mkdir(exist_ok=True)
            measured = "--durations=0", "--cov-context=test", "--cov-report="
            packages = [f"--cov={package}" for package in PROGRAM]
            done = self.run(*measured, *packages, *options, COVERAGE_FILE=str(folder / "lines"))
            (folder / "told").write_text(done.stdout, "utf-8")
        return Record(folder)

    def fails(self, tests: Sequence[str], record: Record) -> str:
        """Run tests: the first that fails, or "" where all pass.

        A loop without end is stopped by its computing time, which other work on the machine does
        not lengthen: half a minute to begin, and four times what the tests took.
        """
        if not tests:
            return ""
        place = {test: i for i, test in enumerate(tests)}
        listed = self._place / "wanted.json"
        known = record.tests | record.failing
        listed.write_text(json.dumps({test: place.get(test, -1) for test in known}), "utf-8")
        files = dict.fromkeys(test.split("::")[0] for test in tests)
        cpu_s = 30 + int(4 * sum(record.seconds[test] for test in tests))
        done = self.run("-x", "-n0", *files, cpu_s=cpu_s, TESTS_WANTED=str(listed))
        if done.returncode == 0:
            return ""
        if done.returncode < 0:
            return f"{cpu_s} s were not enough"
        said = done.stdout + done.stderr
        told = re.search(r"^(?:FAILED|ERROR|ImportError while) (\S+)", said, re.M)
        assert told or done.returncode in (1, 2), said
        return told[1] if told else said[-300:]

    def killer(self, mutant: Mutant, record: Record, most_s: float = inf) -> str:
        """The first test that sees the change, or ""; afterwards the file is as it was.

        Of the tests, which come as ``tests_of`` orders them, those run that take ``most_s`` seconds.
        """
        tests = record.tests_of(mutant)
        spent = [*accumulate(record.seconds[test] for test in tests)]
        first, last = bisect(spent, FIRST_S), bisect(spent, most_s)
        source = (self._place / mutant.file).read_bytes()
        changed = source[: mutant.start] + mutant.new.encode() + source[mutant.end :]
        self.write(mutant.file, changed)
        try:
            return self.fails(tests[:first], record) or self.fails(tests[first:last], record)
        finally:
            self.write(mutant.file, source)


def kept() -> Path:
    """The folder for what is told of this state of the program, which must be that of a commit."""

    def git(*words: str) -> str:
        done = subprocess.run(
            ["git", *words, "--", *PROGRAM], capture_output=True, text=True, cwd=ROOT, check=True
        )
        return done.stdout.strip()

    if changed := git("status", "--porcelain"):
        sys.exit(f"Cannot try random changes: the program is changed itself. Commit it:\n{changed}")
    return Path(tempfile.gettempdir()) / f"mutations-{git('log', '-1', '--format=%h')}"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=__doc__)
    parser.add_argument("many", type=int, metavar="N")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--most", type=float, default=inf, metavar="SECONDS",
                        help="of the tests of a change as many as take so long")  # fmt: skip
    asked = parser.parse_args()
    print(f"{asked.many} changes, seed {asked.seed}", flush=True)
    reasons = dict(line.split("  # ") for line in EQUIVALENT.read_text("utf-8").splitlines())
    verdicts: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="mutations-") as place:
        tried = Copy(Path(place))
        record = tried.record(kept(), *(f"--ignore={long}" for long in LONG))
        print("these fail without any change:", *sorted(record.failing), sep="\n", flush=True)
        for mutant in chosen(asked.many, random.Random(asked.seed)):
            said = reasons.get(mutant.change, "")
            verdict = "equivalent" if said else "killed"
            if not said and not (said := tried.killer(mutant, record, asked.most)):
                verdict = "LIVED"
            verdicts[verdict] += 1
            print(f"{verdict:10} {mutant}  {said}", flush=True)
    print(*(f"{many} {verdict}" for verdict, many in verdicts.items()), sep=", ")


if __name__ == "__main__":
    main()
