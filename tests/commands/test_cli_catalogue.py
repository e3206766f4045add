"""`counter catalogue`: what a file changes is shown, asked and dated on the command line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.commands.conftest import CommandLine
from tests.conftest import CATALOGUE, SETTINGS
from tests.lines import lines_of

DEARER = CATALOGUE.replace('price = "3.25"', 'price = "3.75"', 1)
DEAR = CATALOGUE.replace('price = "3.25"', 'price = "32.50"', 1)
GONE = CATALOGUE.replace("[products.soft]", "[products.silken]").replace(
    'product = "soft"', 'product = "silken"'
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "new.toml"


def test_looking_shows_each_line_and_writes_nothing(line: CommandLine, file: Path) -> None:
    file.write_text(DEARER, "utf-8")
    before = lines_of(line.folder, "catalogue")
    shown = line.done("catalogue", "load", str(file), "--look")
    assert shown == "portion Firm block: price 3.25 → 3.75\n"
    assert lines_of(line.folder, "catalogue") == before
    loaded = line.done("catalogue", "load", str(file))
    assert loaded.startswith(shown + "In use: ")
    assert line.done("catalogue", "load", str(file), "--look") == "Nothing changes.\n"


def test_a_price_ten_times_the_last_takes_a_word(line: CommandLine, file: Path) -> None:
    file.write_text(DEAR, "utf-8")
    made = line.run("catalogue", "load", str(file))
    assert (made.exit_code, made.stdout) == (1, "portion Firm block: price 3.25 → 32.50\n")
    assert made.stderr == (
        "Cannot put new.toml to use: Firm block costs $32.50 and not $3.25. If it is so, say so "
        "with a word why: add --sure price.firm-block='a word why'.\n"
    )
    assert "$3.25" in line.done("catalogue")
    line.done("catalogue", "load", str(file), "--sure", "price.firm-block=gold leaf")
    assert "$32.50" in line.done("catalogue")


def test_what_was_on_hand_is_sold_labelled_and_named_after_its_key_changed(
    line: CommandLine, file: Path
) -> None:
    file.write_text(GONE, "utf-8")
    assert "on-hand.soft" in line.run("catalogue", "load", str(file)).stderr
    line.done("catalogue", "load", str(file), "--sure", "on-hand.soft=renamed")
    assert "Soft Tofu" in line.done("shelf")
    assert "Soft block" in line.done("sell", "26328-02", "--card")
    line.done("labels", "26328-02", "-n", "2", "-o", str(file.with_suffix(".pdf")))
    assert "Soft Tofu" in line.done("close", "--cash", "150.00")


def test_a_catalogue_with_a_day_waits_is_named_and_taken_back(
    line: CommandLine, file: Path
) -> None:
    file.write_text(DEARER, "utf-8")
    out = line.done("catalogue", "load", str(file), "--from", "2026-11-25")
    assert "From 2026-11-25 on: " in out
    assert "Another catalogue waits for 2026-11-25." in line.done("catalogue")
    file.write_text(CATALOGUE, "utf-8")
    said = line.done("catalogue", "load", str(file))
    assert said.startswith(
        "Nothing changes.\nThe catalogue that waits for 2026-11-25 will take its place.\n"
    )
    line.clock.set("2026-11-25 09:00")
    assert "$3.75" in line.done("sell", "firm-block", "--card")
    assert "$3.25" in line.done("sell", "firm-block", "--card", "--at", "2026-11-24 17:00")
    file.write_text(DEAR, "utf-8")
    sure = "price.firm-block=gold leaf"
    line.done("catalogue", "load", str(file), "--from", "2026-11-27", "--sure", sure)
    line.done("catalogue", "take-back", "2026-11-27")
    assert "waits" not in line.done("catalogue")
    assert line.refused(1, "catalogue", "take-back", "2026-11-27") == (
        "Cannot take back the catalogue of 2026-11-27: there is no waiting catalogue '2026-11-27'."
    )


def test_a_slip_in_the_file_changes_nothing(line: CommandLine, file: Path) -> None:
    file.write_text(CATALOGUE.replace('["wheat"]', '["weat"]'), "utf-8")
    said = line.refused(2, "catalogue", "load", str(file))
    assert "'weat': the source is not known; use one of milk, egg, fish" in said


def test_a_late_note_is_booked_at_the_price_and_the_tax_of_its_own_moment(
    line: CommandLine, file: Path
) -> None:
    line.clock.set("2026-11-24 12:10")
    line.done("sell", "cup-small", "--card")
    line.clock.set("2026-11-24 13:00")
    settings = line.folder / "shop.toml"
    settings.write_text(settings.read_text("utf-8").replace('"0.086"', '"0.1"'), "utf-8")
    cup = '[portions.cup-small]\nproduct = "pudding"\nname = "Small cup"'
    assert cup in CATALOGUE
    head, tail = CATALOGUE.split(cup)
    file.write_text(head + cup + tail.replace('price = "3.50"', 'price = "4.00"', 1), "utf-8")
    assert "Small cup: price 3.50 → 4.00" in line.done("catalogue", "load", str(file))
    late = line.done("sell", "cup-small", "--card", "--at", "2026-11-24 12:20")
    assert re.search(r"tax prepared +\$0.30\n +Total +\$3.80", late)
    now = line.done("sell", "cup-small", "--price-only")
    assert re.search(r"tax prepared +\$0.40\n +Total +\$4.40", now)


def written(table: dict[str, object], above: str = "") -> Iterator[str]:
    for name, value in table.items():
        yield f"{above}{name}"
        if isinstance(value, dict):
            yield from written(value, f"{above}{name}.")


def test_every_key_that_a_person_may_write_is_told_with_what_it_means(line: CommandLine) -> None:
    told = line.done("keys")
    keys = {row.partition(" = ")[0] for row in told.splitlines() if "  # " in row}
    assert "products.KEY.keeps = a whole number; needed  # how many days it keeps." in told
    assert 'products.KEY.held = "cold" or "frozen" or "room"; cold where' in told
    assert 'cash.smallest_coin = money, as "3.50"; 0.01 where none is written  # Smallest' in told
    assert "blanks.KEY.keep_clear = a number" in told
    named = re.compile(r"\b(products|portions|toppings|ingredients|staff|classes|blanks)\.[\w-]+")
    free = {"fonts", "holding", "recipe", "usual", "allergens_none"}
    for text in (CATALOGUE, SETTINGS):
        for path in written(tomllib.loads(text)):
            if not free & set(path.split(".")[:-1]):
                told_as = named.sub(r"\1.KEY", path)
                assert told_as in keys or told_as.endswith("KEY"), path
