"""The command line speaks the shop's language: a whole day of it, and not an English word."""

from __future__ import annotations

import re
from contextlib import chdir
from pathlib import Path

import pytest
from click.testing import Result

from tests.commands.conftest import COLD, CommandLine, closed
from tests.conftest import Clock, Filled, nothing

DAY = [
    ("24 11:00", "temperature fridge 4C"),
    ("24 12:00", "catalogue"),
    ("24 12:00", "shelf"),
    (
        "24 12:00",
        "batch firm --made 96 --beans 12kg --brix 12 --press 60psi,25min " + " ".join(COLD),
    ),
    ("24 12:00", "batch soft --made 60"),
    ("24 12:00", "batch pressed --made 4000g --boiled 10min --cooked-at 11:50"),
    (
        "24 12:00",
        "batch pudding --made 16l --passed-57 11:00 --code coagulant=C-1 " + " ".join(COLD),
    ),
    ("24 12:00", "log"),
    ("24 12:00", "labels 26328-01 --explain"),
    ("24 12:00", "labels 26328-01 -n 3 --sure 26328-01.count=test"),
    ("24 12:00", "labels 26328-01 -n 3"),
    ("24 12:00", "labels 26328-02"),
    ("24 12:00", "labels"),
    ("24 12:05", "tub open 26328-04 --cold --holds 8l --temp 4C"),
    ("24 12:05", "tub open 26328-04"),
    ("24 12:05", "tub check 26328-04/1 4C"),
    ("24 12:05", "tub"),
    ("24 12:10", "shelf"),
    ("24 12:10", "allergens"),
    ("24 12:10", "drawer float 120"),
    ("24 12:10", "drawer out 20 --because gas"),
    ("24 12:10", "drawer"),
    ("24 12:10", "sell firm-block*3 --cash 20"),
    ("24 12:10", "sell cup-small+ginger --card"),
    ("24 12:10", "sell firm-block --price-only"),
    ("24 12:10", "sell frim --cash"),
    ("24 12:10", "sell firm-block --cash 0.10"),
    ("24 12:10", "sell firm-block*2 firm-block --each"),
    ("24 12:10", "sell soft-block@26328-02 --cash"),
    ("24 12:10", "scan 26328-01"),
    ("24 12:15", "refund 2026-11-24/0001 --line 1x1 --because cold --cash"),
    ("24 12:15", "waste 26328-01 2 --because broken"),
    ("24 12:15", "waste 26328-01 999 --because broken"),
    ("24 12:15", "move 26328-01 display"),
    ("24 12:15", "temperature fridge 9C"),
    ("24 12:15", "temperature T1 0.2C --calibration ice"),
    ("24 12:15", "temperature"),
    ("24 12:15", "shelf"),
    ("24 12:20", "stop 26328-01 --because test --by Ida"),
    ("24 12:20", "shelf"),
    ("24 12:20", "sell firm-block@26328-01 --cash"),
    ("24 12:20", "release 26328-01 --because test --by Ida"),
    ("24 12:20", "void 26328-02 --because test"),
    ("24 17:00", "shelf"),
    ("24 17:00", "tub end 26328-04/1 --left 300ml"),
    ("24 17:05", "tub end 26328-04/1 --left 300ml --sure left=test"),
    ("24 17:05", "count 26328-01 80"),
    ("24 17:05", "count 26328-01 test"),
    ("24 17:05", "plan"),
    ("24 17:10", "close --cash 100 --preview"),
    ("24 17:10", "close --cash 100"),
    ("24 17:10", "close --cash 100"),
    ("24 17:10", "week"),
    ("24 17:10", "day --pdf day.pdf"),
    ("24 17:10", "trace 26328-01 26328-04"),
    ("24 17:10", "recall 26328-01 --drill"),
    ("24 17:10", "check"),
    ("24 17:10", "backup --to copies --no-wheels"),
    ("24 17:10", "backup --list --to copies"),
    ("25 09:00", "correct 2026-11-24 --lot 26328-01 --amount -1 --because test"),
    ("25 09:00", "correct 2026-11-24 --sold firm-block --because test"),
    ("25 09:00", "day"),
    ("25 09:00", "export all -o out"),
    ("25 09:00", "plan 2026-11-25"),
    ("25 09:00", "plan --backtest"),
]


def words_of(text: str) -> set[str]:
    return set(re.findall(r"[^\W\d_]{2,}", text.lower()))


# What people typed or chose, what stands on labels, names of laws, units.
OWN = re.compile(
    r"--\S+( \w+=)?|`[^`]*`|counter [a-z]+ ?(check)?|/\S+|\S+\.(pdf|csv|zip)"
    r"|coagulant: C-1|so it is, said the test"
    r"|(?<=\): )(Firm|Tofu|Ingredi|Cont|Keep|Mant|Mill|BEST|Lot|NET).*"
    r"|(?<=\()(\d|ISO|California|Uniform|none).*(?=\):)|Food Code"
    r"|(\b|°)(kg|mm|min|ml|kPa|lb|bytes|Brix|GS1|code128)\b"
)
# What both languages write alike.
ALIKE = {
    "es_US": words_of("inspector local no nov plan principal total"),
    "de_DE": words_of(
        "computer in module nov november plan portion rest scanner so thermometer was"
    ),
}


def own_words(line: CommandLine) -> set[str]:
    """Names and keys of the catalogue, places, and what was typed over the day."""
    shop = line.shop()
    made = shop.desk.catalogue
    things = (made.products, made.portions, made.toppings, made.ingredients)
    named = " ".join(f"{key} {thing.name}" for table in things for key, thing in table.items())
    shop.desk.books.close()
    return words_of(named) | words_of("display fridge frim test gas prepared Ida TEMP")


def speaks(line: CommandLine, locale: str) -> None:
    settings = line.folder / "shop.toml"
    settings.write_text(settings.read_text("utf-8").replace('"en_US"', f'"{locale}"'), "utf-8")


def a_day(line: CommandLine, locale: str) -> list[Result]:
    """What a shop of a locale is told over a day."""
    speaks(line, locale)
    (line.folder.parent / "copies").mkdir()
    told = []
    with chdir(line.folder.parent):
        for clock, typed in DAY:
            line.clock.set(f"2026-11-{clock}")
            told.append(line.run(*typed.split()))
    return told


@pytest.mark.parametrize("locale", ALIKE)
def test_a_day_of_a_shop_has_no_english_word(
    tmp_path: Path, clock: Clock, filled: Filled, locale: str
) -> None:
    folders = (tmp_path / "english" / "shop", tmp_path / "other" / "shop")
    shops = [CommandLine(closed(filled(folder, nothing)), clock) for folder in folders]
    english, other = (a_day(shop, to) for shop, to in zip(shops, ("en_US", locale), strict=True))
    own, kept = own_words(shops[0]) | ALIKE[locale], {}
    for (_, typed), en, told in zip(DAY, english, other, strict=True):
        assert told.exit_code == en.exit_code, (typed, told.output)
        texts = [OWN.sub("", one.stdout + one.stderr) for one in (en, told)]
        if left := words_of(texts[0]) & words_of(texts[1]) - own:
            kept[typed] = left
    assert kept == {}


def test_a_shop_that_cannot_be_opened_says_so_in_its_language(empty: CommandLine) -> None:
    speaks(empty, "es_US")
    (empty.folder / "books.sqlite").write_bytes(b"no books" * 1000)
    for words in (["shelf"], ["mend", "--no-copy"]):
        told = empty.run(*words)
        assert (told.exit_code, told.stderr[:12]) == (1, "No se puede ")


def test_a_copy_is_put_back_in_the_language_of_its_shop(empty: CommandLine, tmp_path: Path) -> None:
    speaks(empty, "es_US")
    (tmp_path / "stick").mkdir()
    empty.done("backup", "--to", str(tmp_path / "stick"), "--no-wheels")
    (copy,) = (tmp_path / "stick").glob("*.zip")
    assert "libros" in empty.done("restore", str(copy), str(tmp_path / "again"))
    assert empty.done("mend", "--no-copy") == "Los libros están completos; no se cambió nada.\n"


def test_a_folder_that_is_no_shop_is_refused_in_english(empty: CommandLine, tmp_path: Path) -> None:
    told = empty.run("shelf", shop=tmp_path / "nowhere")
    assert told.stderr.startswith("Cannot ")
