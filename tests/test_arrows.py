"""The rule of arrows: who may know whom, read from the imports themselves."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from functools import cached_property
from graphlib import TopologicalSorter
from importlib import import_module
from inspect import isclass
from io import StringIO
from pathlib import Path
from tokenize import NEWLINE, generate_tokens

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted(
    path
    for package in ("counter", "labels", "demo_shop")
    for path in (ROOT / package).rglob("*.py")
    if "__pycache__" not in path.parts
)


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


NAMES = {name_of(path): path for path in MODULES}

# Values in, values out.
PURE = ("counter.trade", "counter.plan", "counter.errors", "counter.present", "counter.languages")
# Where trade, books, labels and the clock meet.
JOINING = ("counter.shop",)
# Surfaces turn words into calls of Shop and answers into words.
SURFACES = ("counter.cli", "counter.__main__", "counter.commands", "counter.web")
HELD_BY_BOOKS = ("counter.books",)
REPORTS = ("counter.reports",)
DECODERS = ("counter.decoders",)  # what reads JSON, for all that read it
FILES_AND_CLOCKS = {
    "os", "pathlib", "io", "shutil", "tempfile", "time", "sched", "subprocess", "socket", "sqlite3",
    "tinydb", "filelock", "flask", "waitress", "click", "jinja2", "reportlab", "pypdfium2", "PIL",
    "barcode", "zxingcpp", "sys", "logging", "threading", "random", "secrets",
}  # fmt: skip
# What a pure module may use of the label package: values, measures and errors, nothing that draws.
# What the interpreter or click has loaded anyway.
CHEAP = {
    "__future__",
    "atexit",
    "click",
    "collections.abc",
    "gc",
    "importlib",
    "io",
    "pathlib",
    "sys",
    "typing",
}
DRAWING = {"labels.pdf", "labels.picture", "labels.fonts", "labels.layout", "labels.compose"}


def within(name: str, packages: tuple[str, ...]) -> bool:
    return any(name == p or name.startswith(f"{p}.") for p in packages)


def pure() -> list[str]:
    return [name for name in NAMES if within(name, PURE)]


def imports(path: Path, at_run_time: bool = True) -> Iterator[str]:
    """Modules a file imports, also inside functions. Imports for the type checker only do not
    count ``at_run_time``."""
    tree = ast.parse(path.read_text("utf-8"))
    typing_only = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if at_run_time and node in typing_only:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import"
            module = node.module or ""
            yield module
            yield from (f"{module}.{a.name}" for a in node.names if f"{module}.{a.name}" in NAMES)


def calls(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call):
            yield ast.unparse(node.func)


@pytest.mark.parametrize("name", [n for n in NAMES if n.startswith("labels")])
def test_labels_know_nothing_of_the_counter(name: str) -> None:
    known = set(imports(NAMES[name], at_run_time=False))
    assert not {m for m in known if within(m, ("counter", "demo_shop"))}


@pytest.mark.parametrize("name", pure())
def test_a_trade_module_knows_no_file_no_clock_no_screen(name: str) -> None:
    known = set(imports(NAMES[name]))
    assert not {m for m in known if m.split(".")[0] in FILES_AND_CLOCKS}
    assert not known & DRAWING
    assert not {m for m in known if within(m, SURFACES + HELD_BY_BOOKS + REPORTS + JOINING)}
    clock_or_file = {"open", "print", "input", "datetime.now", "datetime.today", "date.today"}
    assert not clock_or_file & set(calls(NAMES[name]))


@pytest.mark.parametrize("name", [n for n in NAMES if within(n, HELD_BY_BOOKS)])
def test_the_books_know_no_trade_beyond_its_errors(name: str) -> None:
    known = {m for m in imports(NAMES[name]) if m.startswith("counter")}
    assert {m for m in known if not within(m, HELD_BY_BOOKS)} <= {
        "counter.decoders",
        "counter.errors",
    }


def test_only_the_joining_modules_know_the_books() -> None:
    knowing = {
        n for n, path in NAMES.items() if any(within(m, HELD_BY_BOOKS) for m in imports(path))
    }
    assert not {n for n in knowing if not within(n, HELD_BY_BOOKS + JOINING)}


@pytest.mark.parametrize("name", [n for n in NAMES if within(n, ("counter.trade",))])
def test_the_trade_knows_no_plan(name: str) -> None:
    assert not {m for m in imports(NAMES[name]) if within(m, ("counter.plan",))}


def test_every_module_has_a_folder_that_says_what_it_may_know() -> None:
    folders = PURE + JOINING + SURFACES + HELD_BY_BOOKS + REPORTS + DECODERS
    counter = {n for n in NAMES if within(n, ("counter",))}
    assert {n for n in counter if not within(n, folders)} == {"counter"}


@pytest.mark.parametrize("name", [n for n in NAMES if within(n, SURFACES)])
def test_a_surface_comes_in_by_the_one_door(name: str) -> None:
    doors = {f"counter.shop{door}" for door in ("", ".logo", ".mending", ".restoring", ".staffing")}
    records = {"counter.shop.labels"}  # for LabelRun only
    known = {m for m in imports(NAMES[name]) if m in NAMES}
    assert not {m for m in known if within(m, JOINING)} - doors - records
    assert not known & {"counter.trade.ledger", "counter.trade.picking"}
    assert not {m for m in known if within(m, HELD_BY_BOOKS)}


@pytest.mark.parametrize("name", [n for n in NAMES if within(n, ("counter", "labels"))])
def test_nothing_the_shop_runs_on_knows_the_invented_shop(name: str) -> None:
    if name == "counter.commands.morning":  # `counter demo` makes it
        return
    assert not any(within(m, ("demo_shop", "tests")) for m in imports(NAMES[name]))


@pytest.mark.parametrize("name", ["counter.cli"])
def test_the_command_line_loads_only_click_at_the_start(name: str) -> None:
    tree = ast.parse(NAMES[name].read_text("utf-8"))
    top = [n for n in tree.body if isinstance(n, ast.Import | ast.ImportFrom)]
    modules = {n.module or "" for n in top if isinstance(n, ast.ImportFrom)} | {
        alias.name for n in top if isinstance(n, ast.Import) for alias in n.names
    }
    assert modules <= CHEAP


@pytest.mark.parametrize("name", NAMES)
def test_a_module_stays_under_five_hundred_lines(name: str) -> None:
    assert len(NAMES[name].read_text("utf-8").splitlines()) <= 500


def test_there_is_something_to_hold() -> None:
    assert len(pure()) >= 40


def test_no_module_knows_itself_over_others() -> None:
    graph = {n: {m for m in top_imports(p) if m in NAMES} - {n} for n, p in NAMES.items()}
    assert len([*TopologicalSorter(graph).static_order()]) == len(NAMES)  # CycleError names it


def top_imports(path: Path) -> set[str]:
    """The modules that are loaded with this one."""
    tree = ast.parse(path.read_text("utf-8"))
    nodes = [n for n in tree.body if isinstance(n, ast.Import | ast.ImportFrom)]
    plain = {alias.name for n in nodes if isinstance(n, ast.Import) for alias in n.names}
    named = [n for n in nodes if isinstance(n, ast.ImportFrom)]
    within = {f"{n.module}.{alias.name}" for n in named for alias in n.names}
    return plain | within | {n.module or "" for n in named}


def public_names(made: type) -> set[str]:
    """What a class of ours offers: methods and properties, those it inherits from ours included."""
    ours = (b for b in made.__mro__ if b.__module__.split(".")[0] in ("counter", "labels"))
    found = {name: value for base in ours for name, value in vars(base).items()}
    offered = (property, cached_property, classmethod, staticmethod)
    return {
        name
        for name, value in found.items()
        if not name.startswith("_") and (callable(value) or isinstance(value, offered))
    }


@pytest.mark.parametrize("name", [n for n in NAMES if within(n, ("counter", "labels"))])
def test_no_public_class_offers_more_than_thirty_things(name: str) -> None:
    if name.endswith("__main__"):  # importing it runs it
        return
    module = import_module(name)
    classes = [c for c in vars(module).values() if isclass(c) and c.__module__ == name]
    large = {c.__name__: len(public_names(c)) for c in classes if not c.__name__.startswith("_")}
    assert {n: count for n, count in large.items() if count > 30} == {}


@pytest.mark.parametrize("name", [n for n in NAMES if within(n, ("counter", "labels"))])
def test_no_function_has_more_than_forty_lines(name: str) -> None:
    """Lines as the language counts them: a call that is laid out over many is one."""
    text = NAMES[name].read_text("utf-8")
    ends = [t.start[0] for t in generate_tokens(StringIO(text).readline) if t.type == NEWLINE]
    functions = (f for f in ast.walk(ast.parse(text)) if isinstance(f, ast.FunctionDef))
    lines = {f.name: sum(f.lineno <= n <= (f.end_lineno or 0) for n in ends) for f in functions}
    assert {n: count for n, count in lines.items() if count > 40} == {}


def test_no_name_of_a_class_is_given_three_times() -> None:
    trees = {n: ast.parse(p.read_text("utf-8")) for n, p in NAMES.items()}
    named = [
        (node.name.lstrip("_"), name)
        for name, tree in trees.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
    ]
    counts = Counter(name for name, _ in named)
    assert [pair for pair in named if counts[pair[0]] > 2] == []
