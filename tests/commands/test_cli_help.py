"""``counter --help`` reads like a day and loads nothing it does not need."""

from __future__ import annotations

import re
import subprocess
import sys
from importlib import import_module
from importlib.metadata import entry_points

import click
import pytest
from click.testing import CliRunner

from counter.cli import DAY, main
from tests.commands.conftest import COMMANDS, CommandLine


def test_help_lists_the_commands_in_the_order_of_the_day() -> None:
    said = CliRunner().invoke(main, ["--help"]).stdout
    listed = re.findall(r"^  ([a-z]+)  +[A-Z]", said, re.MULTILINE)
    assert listed == [name for names in DAY.values() for name in names]
    assert [*DAY] == re.findall(r"^([A-Z][A-Za-z ]+):$", said, re.MULTILINE)[1:]
    assert "Exit status: 0 done, 1 refused by a rule, 2 wrong usage." in said


def test_every_command_of_the_day_is_there_and_says_what_it_does() -> None:
    asked = (
        "new demo catalogue batch log labels shelf tub sell refund waste count drawer close day "
        "trace stop release check"
    )
    assert set(asked.split()) <= set(COMMANDS)
    assert all(command.get_short_help_str() for command in COMMANDS.values())


def test_no_command_is_missing_in_the_day() -> None:
    modules = {module for names in DAY.values() for module in names.values()}
    found = [vars(import_module(f"counter.commands.{module}")) for module in modules]
    groups = [c for c in COMMANDS.values() if isinstance(c, click.Group)]
    within = [c for group in groups for c in group.commands.values()]
    there = [c for names in found for c in names.values() if isinstance(c, click.Command)]
    assert not [c.name for c in there if c not in [*COMMANDS.values(), *within, main]]


PROBE = (
    "import sys; from counter.cli import main\n"
    "try: main(sys.argv[1:])\n"
    "except SystemExit: pass\n"
    "print('LOADED', *sys.modules, file=sys.stderr)"
)
# What draws, serves, plans, seals or speaks to other computers, and what brings half of it along.
HEAVY = {
    "asyncio", "babel", "barcode", "cryptography", "email", "filelock", "flask", "fractions",
    "holidays", "http", "multiprocessing", "PIL", "pypdfium2", "reportlab", "segno", "statistics",
    "tomlkit", "waitress", "werkzeug", "xml", "zipfile", "zxingcpp",
    "counter.plan", "counter.reports", "counter.web", "counter.shop.sticks", "counter.shop.sealing",
    "labels.layout", "labels.pdf", "labels.rules", "labels.symbols",
}  # fmt: skip


def loaded(*words: str) -> set[str]:
    """The modules that a process of its own has loaded when it has run a command."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE, *words], capture_output=True, text=True, check=True
    )
    said, _, names = done.stderr.rpartition("LOADED ")
    assert "Cannot" not in said
    return set(names.split())


@pytest.mark.parametrize("words", [["--help"], ["sell", "--help"], ["--version"]])
def test_help_loads_neither_paper_nor_web_nor_database(words: list[str]) -> None:
    books = {"counter.shop", "labels.errors", "msgspec", "sqlite3", "tinydb"}
    version = {"email", "zipfile"} if words == ["--version"] else set()  # of what is installed
    assert not loaded(*words) & (HEAVY - version | books)


def test_help_of_a_command_loads_no_other_command() -> None:
    assert not loaded("shelf", "--help") & {f"counter.commands.{m}" for m in ("morning", "evening")}


def test_the_shelf_loads_only_what_it_shows(line: CommandLine) -> None:
    found = loaded("--shop", str(line.folder), "shelf")
    assert {"counter.shop", "counter.trade.shelf"} <= found
    assert not found & HEAVY


def test_the_command_is_installed_under_its_name() -> None:
    (script,) = entry_points(group="console_scripts", name="counter")
    assert script.value == "counter.cli:main"


@pytest.mark.parametrize("words", [[], ["nonsense"], ["sell", "--nonsense"], ["batch"]])
def test_wrong_usage_ends_with_two_and_says_how(words: list[str]) -> None:
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "Usage:" in result.output
