"""``counter --help`` reads like a day and loads nothing it does not need."""

from __future__ import annotations

import re
import subprocess
import sys
from importlib.metadata import entry_points

import pytest
from click.testing import CliRunner

from counter.cli import DAY, main


def test_help_lists_the_commands_in_the_order_of_the_day() -> None:
    said = CliRunner().invoke(main, ["--help"]).stdout
    listed = re.findall(r"^  ([a-z]+)  +[A-Z]", said, re.MULTILINE)
    wanted = [name for _, names in DAY for name in names if name in main.commands]
    assert listed == wanted
    assert [title for title, _ in DAY] == re.findall(r"^([A-Z][A-Za-z ]+):$", said, re.MULTILINE)[
        1:
    ]
    assert "Exit status: 0 done, 1 refused by a rule, 2 wrong usage." in said


def test_every_command_of_the_day_is_there_and_says_what_it_does() -> None:
    asked = (
        "new demo catalogue batch log labels shelf tub sell refund waste count drawer close day "
        "trace stop release check"
    )
    assert set(asked.split()) <= set(main.commands)
    assert all(command.get_short_help_str() for command in main.commands.values())


def test_no_command_is_missing_in_the_day() -> None:
    assert set(main.commands) <= {name for _, names in DAY for name in names}


@pytest.mark.parametrize("words", [["--help"], ["sell", "--help"], ["--version"]])
def test_help_loads_neither_paper_nor_web_nor_database(words: list[str]) -> None:
    probe = (
        "import sys; from counter.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit: pass\n"
        "heavy = {'reportlab', 'flask', 'tinydb', 'barcode', 'PIL', 'pypdfium2', 'zxingcpp', "
        "'babel', 'msgspec', 'filelock', 'waitress'}\n"
        "print('LOADED', sorted(heavy & {m.split('.')[0] for m in sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", probe, *words], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "LOADED []"


def test_the_command_is_installed_under_its_name() -> None:
    (script,) = entry_points(group="console_scripts", name="counter")
    assert script.value == "counter.cli:main"


@pytest.mark.parametrize("words", [[], ["nonsense"], ["sell", "--nonsense"], ["batch"]])
def test_wrong_usage_ends_with_two_and_says_how(words: list[str]) -> None:
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "Usage:" in result.output
