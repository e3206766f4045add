"""What a name says, on the command line: allergens asked for before a catalogue is used."""

from __future__ import annotations

from pathlib import Path

from tests.commands.conftest import CommandLine
from tests.conftest import CATALOGUE

SESAME_OIL = '[ingredients.oil]\nname = "Sesame Oil"\n'


def test_a_catalogue_with_a_name_that_says_an_allergen_is_not_loaded(
    empty: CommandLine, tmp_path: Path
) -> None:
    file = tmp_path / "next.toml"
    file.write_text(CATALOGUE + SESAME_OIL, "utf-8")
    said = empty.refused(2, "catalogue", "load", str(file))
    assert "the name 'Sesame Oil' says sesame: put it under allergens of what is in it" in said
    file.write_text(CATALOGUE + SESAME_OIL + 'allergens = ["sesame"]\n', "utf-8")
    assert "In use" in empty.done("catalogue", "load", str(file))
