"""The copies of a shop named on the command line."""

from __future__ import annotations

import json
from pathlib import Path

from tests.commands.conftest import CommandLine


def test_the_copies_on_a_stick_are_named_and_none_is_made(
    line: CommandLine, tmp_path: Path
) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    assert line.done("backup", "--list", "--to", str(stick)) == "No copy is there.\n"
    line.done("backup", "--to", str(stick))
    [copy] = stick.iterdir()
    said = line.done("backup", "--list", "--to", str(stick))
    assert copy.name in said
    assert f"{copy.stat().st_size} bytes" in said
    [told] = json.loads(line.done("backup", "--list", "--json", "--to", str(stick)))
    assert (told["name"], told["size"]) == (copy.name, copy.stat().st_size)
    assert list(stick.iterdir()) == [copy]
