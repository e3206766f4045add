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


def test_a_new_shop_sells_once_its_name_is_written_and_its_recipes_are_confirmed(
    empty: CommandLine, tmp_path: Path
) -> None:
    folder = tmp_path / "own"
    empty.done("new", str(folder))
    own = CommandLine(folder, empty.clock)
    own.done("batch", "firm", "--made", "8", "--boiled", "10min")
    assert "in the example: name, street, city, zip" in own.refused(
        1, "sell", "firm-block", "--card"
    )
    text = (folder / "shop.toml").read_text("utf-8")
    for old, new in (("Your shop's name", "Weir"), ("1 Example Street", "3 Weir Lane"),
                     ("Your town", "Alder Ferry"), ("00000", "98799")):  # fmt: skip
        text = text.replace(old, new)
    (folder / "shop.toml").write_text(text, "utf-8")
    assert "nobody has confirmed them" in own.refused(1, "labels", "26328-01")
    asked = own.refused(1, "catalogue", "confirm")
    assert asked.endswith("add --sure recipes='a word why'.")
    own.done("catalogue", "confirm", "--sure", "recipes=our own", "--by", "Ana")
    assert "26328-01" in own.done("labels", "26328-01", "-n", "1")


def test_a_claim_is_asked_about_before_the_first_label(empty: CommandLine, tmp_path: Path) -> None:
    # 7 CFR 205.301
    file = tmp_path / "next.toml"
    file.write_text(CATALOGUE.replace('name = "Firm Tofu"', 'name = "Organic Tofu"'), "utf-8")
    empty.done("catalogue", "load", str(file))
    empty.done("batch", "firm", "--made", "8", "--boiled", "10min")
    said = empty.refused(1, "labels", "26328-01", "-n", "1")
    assert "the label claims 'organic': what proves it" in said
    assert said.endswith("add --sure label.firm.organic='a word why'.")
    assert "nobody has said so" in empty.done("labels", "26328-01", "--explain")
    sure = ("--sure", "label.firm.organic=certificate 7", "--by", "Ana")
    assert "1 label on 1 page" in empty.done("labels", "26328-01", "-n", "1", *sure)
    assert "1 label on 1 page" in empty.done("labels", "26328-01", "-n", "1")
    explained = empty.done("labels", "26328-01", "--explain")
    assert "question (7 CFR 205.301, 205.303): the label claims 'organic'" in explained
    assert "certificate 7 (Ana, 2026-11-24 12:00)" in explained


def test_allergens_is_a_matrix_of_what_is_on_hand(line: CommandLine, tmp_path: Path) -> None:
    file = tmp_path / "next.toml"
    file.write_text(CATALOGUE + '\n[kitchen]\nmay_contain = ["wheat"]\n', "utf-8")
    line.clock.forward(minutes=1)
    line.done("catalogue", "load", str(file))
    rows = [row.split() for row in line.done("allergens").splitlines()]
    assert rows[0] == ["wheat", "soy", "sesame"]
    assert ["Firm", "Tofu", "26328-01", "may", "yes", "-"] in rows
    assert ["Fried", "Tofu", "Puffs", "recipe", "yes", "yes", "-"] in rows
    assert ["Black", "sesame", "topping", "may", "-", "yes"] in rows
    assert rows[-1][:4] == ["In", "none", "of", "it:"]
    assert "peanut" in " ".join(rows[-1])
    assert '"may_contain"' in line.done("allergens", "--json")


def test_a_correction_is_looked_at_for_names_as_the_batch_was(
    empty: CommandLine, tmp_path: Path
) -> None:
    # 21 USC 343(w); EU 1169/2011 Art. 9(1)(c)
    file = tmp_path / "next.toml"
    text = CATALOGUE.replace('name = "Firm Tofu"', 'name = "Sesame Tofu"')
    file.write_text(
        text.replace('gypsum = "30 g" }', 'gypsum = "30 g", sesame = "9 g" }', 1), "utf-8"
    )
    empty.done("catalogue", "load", str(file))
    empty.done("batch", "firm", "--made", "8", "--boiled", "10min")
    none = ("--amend", "26328-01", "--with", "sesame=0g", "--because", "none went in")
    said = empty.refused(1, "batch", "firm", *none)
    assert said.startswith("Cannot correct lot 26328-01: the name 'Sesame Tofu' says sesame")


def test_what_nobody_sees_comes_into_no_book_from_the_command_line(empty: CommandLine) -> None:
    words = ("--boiled", "10min", "--notes", "a\u202eb\u200bc", "--by", "Te\u200bo")
    empty.done("batch", "firm", "--made", "8", *words)
    empty.done("stop", "26328-01", "--because", "to\u00ado\u00a0old", "--by", "Te\ufeffo")
    batch = empty.shop().desk.batch("26328-01")
    assert (batch.notes, batch.by) == ("abc", "Teo")
    assert empty.shop().desk.ledger().held("26328-01") == "too old"
