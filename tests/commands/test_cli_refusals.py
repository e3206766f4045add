"""Bad input everywhere: one sentence, the exit status, and nothing written."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from shutil import copytree

import pytest

from tests.commands.conftest import CommandLine
from tests.conftest import CATALOGUE, SETTINGS
from tests.lines import spoil
from tests.needs import small_disk

BATCH = ("batch", "firm", "--made", "48", "--boiled", "10min")

# exit status, words, sentence
TABLE: list[tuple[int, tuple[str, ...], str]] = [
    # dates and times
    (2, ("log", "2026-02-30"), "Cannot read date '2026-02-30': there is no such day. Write it as 2026-11-24."),
    (2, ("day", "24.11.2026"), "Cannot read date '24.11.2026': there is no such day. Write it as 2026-11-24."),
    (2, ("close", "--day", "tomorrow"), "Cannot read date 'tomorrow': there is no such day. Write it as 2026-11-24."),
    (2, ("close", "--day", ""), "Cannot read date '': there is no such day. Write it as 2026-11-24."),
    (2, ("close", "--day", "2026-11-25"), "Cannot close day 2026-11-25: it has not come yet. Close today, or a day before."),
    (1, ("close", "--day", "2026-11-20"), "Cannot close day 2026-11-20: there is no day book '2026-11-20'. Did you mean 2026-11-24?"),
    (1, ("day", "9999-12-31"), "Cannot look up day 9999-12-31: there is no day book '9999-12-31'. Known are 2026-11-24."),
    (2, (*BATCH, "--at", "2026-11-24"), "Cannot read time '2026-11-24': it needs a day and a time. Write it as '2026-11-24 04:10'."),
    (2, (*BATCH, "--at", "2026-11-24 18:00"), "Cannot note it for 2026-11-24 18:00: it is only 2026-11-24 12:00. Write when it happened."),
    (2, (*BATCH, "--at", "12:06"), "Cannot note it for 2026-11-24 12:06: it is only 2026-11-24 12:00. Write when it happened."),
    (2, (*BATCH, "--at", "2026-10-20 08:00"), "Cannot note it for 2026-10-20 08:00: that is more than 31 days ago. Check the date."),
    (2, (*BATCH, "--at", "0001-01-01 00:00"), "Cannot note it for 0001-01-01 00:00: that is more than 31 days ago. Check the date."),
    (2, (*BATCH, "--at", "9999-12-31 23:59"), "Cannot read time '9999-12-31 23:59': no clock showed it. Check the year."),
    (2, (*BATCH, "--at", "2026-11-24 25:00"), "Cannot read time '25:00': it is no time of the day. Write 08:10 or 15:45."),
    (2, (*BATCH, "--at", "2026-03-08 02:30"), "Cannot read time '2026-03-08 02:30': the clocks jump over it that night. Write a time before or after the jump."),
    # money
    (2, ("sell", "firm-block", "--cash", "1.005"), "Cannot read cash amount '1.005': it has parts of the smallest coin. Write it as 20.00."),
    (2, ("sell", "firm-block", "--card", "twenty"), "Cannot read card amount 'twenty': it is not an amount. Write it as 20.00."),
    (1, ("sell", "firm-block*2", "--cash", "5"), "Cannot book a sale of 6.50: 5.00 in cash is 1.50 too little. Take the rest in cash or by card."),
    (1, ("sell", "firm-block", "--card", "4"), "Cannot book a sale of 3.25: the card would pay 0.75 too much. A card pays at most the rest."),
    (2, ("sell", "firm-block"), "Cannot book the sale: how it is paid is not said. Add --cash AMOUNT or --card, or --price-only."),
    (2, ("sell", "firm-block", "--card", "3.25:4111 1111 1111 1111"), "Cannot note card reference '4111…': it looks like a card number. Never write a card number down; note the terminal's reference."),
    (2, ("close", "--cash", "1.005"), "Cannot read cash '1.005': it has parts of the smallest coin. Write it as 20.00."),
    (2, ("close", "--cash", ""), "Cannot read cash '': it is not an amount. Write it as 20.00."),
    (2, ("close", "--cash", "100", "--coins", "20x4"), "Cannot close day 2026-11-24: the coins make 80.00. Count again."),
    (2, ("close", "--coins", "3x1"), "Cannot read coins '3x1': the shop takes no such coin. Write value x count, such as 20x10 0.25x12."),
    (2, ("drawer", "float", "100", "--coins", "20x4"), "Cannot book 100.00 float of the drawer: the coins make 80.00. Count again."),
    (1, ("drawer", "out", "1000", "--because", "bank"), "Cannot book 1000.00 out of the drawer: the drawer should hold only 150.00. Check the amount."),
    (2, ("drawer", "out", "10"), "Cannot book 10.00 out of the drawer: no reason is given. Say why, with --because."),
    # slips
    (2, ("sell",), "Cannot sell an empty slip: nothing is on it. Put something on it first."),
    (2, ("sell", "--cash", "20"), "Cannot sell an empty slip: nothing is on it. Put something on it first."),
    (1, ("sell", "firm-blok", "--cash"), "Cannot sell firm-blok: there is no portion 'firm-blok'. Did you mean firm-block or soft-block?"),
    (1, ("sell", "26328-07", "--cash"), "Cannot sell lot 26328-07: there is no lot '26328-07'. Did you mean 26328-03 or 26328-02 or 26328-01?"),
    (1, ("sell", "firm-block@26328-02", "--cash"), "Cannot sell lot 26328-02: it is Soft Tofu, not Firm block. Scan or name the right one."),
    (2, ("sell", "firm-block*0", "--cash"), "Cannot sell firm-block: 0 is no quantity. Expected is 1 to 999."),
    (2, ("batch", "soft", "--amend", "26328-01"), "Cannot correct lot 26328-01 as soft: it is firm. Write: counter batch firm --amend 26328-01."),
    (2, ("sell", "Soft Rock", "--cash"), "Cannot read item 'Soft Rock': it is not written as an item. Write it as firm-block*2, cup-small+ginger, pressed:0.35kg or scan its label."),
    (2, ("sell", "pressed:1stone", "--cash"), "Cannot read mass '1stone': the unit 'stone' is not known here. Write a number and one of g, kg, oz, lb."),
    (2, ("sell", "pressed", "--cash"), "Cannot sell pressed: it is sold by weight. Write how heavy it is, such as pressed:0.35lb."),
    (1, ("sell", "pressed:1lb", "--cash"), "Cannot sell pressed: no batch of it is logged that may be sold today. Log the batch first."),
    (1, ("sell", "cup-small+mango", "--cash"), "Cannot sell cup-small: there is no topping 'mango'. Known are ginger, brown, sesame."),
    (2, ("sell", "firm-block", "--cash", "--discount", "101%", "--because", "x"), "Cannot read discount '101%': it is no percentage. Write 10% or an amount such as 1.00."),
    (2, ("sell", "firm-block", "--cash", "--discount", "1.00"), "Cannot take a discount off: it has no reason. Say why, with --because."),
    # the production log
    (1, ("batch", "frim", "--made", "48"), "Cannot log a batch of 'frim': there is no product 'frim'. Did you mean firm?"),
    (2, ("batch", "firm"), "Cannot log a batch of firm: 0 made is no amount. Say how much came out, with --made."),
    (2, ("batch", "firm", "--made", "-4"), "Cannot log a batch of firm: -4 made is no amount. Say how much came out, with --made."),
    (2, ("batch", "firm", "--made", "8l"), "Cannot read amount '8l': this product is counted in pieces. Write a whole number such as 96."),
    (2, (*BATCH, "--brix", "-0.1"), "Cannot log a batch of firm: -0.1 °Brix is not possible for soy milk. Expected is 0 to 40, mostly 5 to 15."),
    (2, (*BATCH, "--brix", "41"), "Cannot log a batch of firm: 41 °Brix is not possible for soy milk. Expected is 0 to 40, mostly 5 to 15."),
    (2, (*BATCH, "--brix", "NaN"), "Cannot read °Brix 'NaN': it is not a number. Write it as 11.2."),
    (2, ("batch", "firm", "--made", "48", "--cook", "40C,10min"), "Cannot log a batch of firm: a cook at 40 °C is none: expected is 60 to 260 °C. Raw soy milk must be cooked before anybody eats it; the local food code decides."),
    (2, ("batch", "firm", "--made", "48", "--cook", "95"), "Cannot read cook '95': one of its two parts is missing. Write it as 95C,15min."),
    (2, (*BATCH, "--cook", "95C,15min"), "Cannot read the cook: it is given twice. Write --boiled or --cook."),
    (2, (*BATCH, "--cooked-at", "07:00", "--cooled", "06:00,09:00"), "Cannot log a batch of firm: the cooling time 06:00 is before the end of the cook, 07:00. Write first when 21 °C / 70 °F was reached, then 5 °C / 41 °F."),
    (2, (*BATCH, "--cooled", "11:30,08:10"), "Cannot log a batch of firm: 5 °C was reached at 08:10, before 21 °C at 11:30. Write first when 21 °C / 70 °F was reached, then 5 °C / 41 °F."),
    (2, (*BATCH, "--beans", "12stone"), "Cannot read mass '12stone': the unit 'stone' is not known here. Write a number and one of g, kg, oz, lb."),
    (2, (*BATCH, "--beans", "-12kg"), "Cannot read mass '-12kg': it is below zero. Write a number and one of g, kg, oz, lb."),
    (2, (*BATCH, "--coagulant", "salt 20g"), "Cannot log coagulant 'salt': it is no coagulant. Coagulants in the catalogue: gypsum, nigari."),
    (2, (*BATCH, "--with", "ginger=200ml"), "Cannot log a batch of firm: 200 ml of ginger is a volume, and its density is not known. Weigh it, or give its density in the catalogue."),
    (1, (*BATCH, "--with", "gingr=200g"), "Cannot log a batch of firm: there is no ingredient 'gingr'. Did you mean ginger?"),
    (2, (*BATCH, "--press", "75"), "Cannot read pressure '75': it is not a number with psi, kPa or bar. Write a number and psi, kPa or bar."),
    (1, ("batch", "smoked", "--made", "24"), "Cannot log a batch of smoked: it is made from food that is already cooked, and no lot is named. Name the lot it was made from, with --from LOT:AMOUNT."),
    (1, ("batch", "smoked", "--made", "24", "--from", "26328-11:20"), "Cannot use lot 26328-11: there is no lot '26328-11'. Did you mean 26328-01 or 26328-03 or 26328-02?"),
    (1, ("batch", "firm", "--amend", "26328-09"), "Cannot look up lot 26328-09: there is no lot '26328-09'. Did you mean 26328-03 or 26328-02 or 26328-01?"),
    # lots, tubs, waste, counts
    (1, ("trace", "26328-11"), "Cannot trace lot 26328-11: there is no lot '26328-11'. Did you mean 26328-01 or 26328-03 or 26328-02?"),
    (1, ("labels", "26328-11"), "Cannot look up lot 26328-11: there is no lot '26328-11'. Did you mean 26328-01 or 26328-03 or 26328-02?"),
    (2, ("stop", "26328-01"), "Cannot stop lot 26328-01: no reason is given. Say why, with --because."),
    (1, ("release", "26328-01", "--because", "x"), "Cannot release lot 26328-01: it is not stopped."),
    (2, ("tub", "open", "26328-03"), "Cannot open a tub of lot 26328-03: how it is held is not said. Add --hot, --cold or --by-time."),
    (1, ("tub", "open", "26328-01", "--cold"), "Cannot open a tub of lot 26328-01 cold: it is not sold from a tub. Name a lot of pudding."),
    (1, ("tub", "open", "26328-03", "--hot", "--temp", "50C"), "Cannot open tub 26328-03/2 hot: it measures 50 °C, allowed is 57 °C / 135 °F or above. Bring it to temperature or throw it away; the local food code decides."),
    (2, ("tub", "check", "26328-03/1", "warm"), "Cannot read temperature 'warm': it is not degrees with C or F. Write a number and C or F, such as 95C or 203F."),
    (1, ("tub", "check", "26328-03/7", "4C"), "Cannot check tub 26328-03/7: there is no tub '26328-03/7'. Did you mean 26328-03/1?"),
    (1, ("tub", "end", "26328-03/1", "--left", "90l"), "Cannot end tub 26328-03/1: 90000 ml left in it are more than the log has: only 16000 of it left. Measure it again, or throw away less."),
    (1, ("waste", "26328-01", "97", "--because", "broken"), "Cannot throw away 97 of lot 26328-01: the log has only 96 of it left. Count the lot first, with `counter count`, if more is really there."),
    (2, ("waste", "26328-01", "0", "--because", "broken"), "Cannot throw away 0 of lot 26328-01: 0 is no amount. Say how much is gone."),
    (2, ("waste", "26328-01", "1"), "Cannot note waste: it has no reason. Say why: date, broken, scooping, tasting, given, time, temperature, unmeasured, stopped, or in words."),
    (2, ("waste", "26328-01", "1.5", "--because", "broken"), "Cannot read amount '1.5': this product is counted in pieces. Write a whole number such as 96."),
    (1, ("count", "26328-01", "9", "26328-09", "3"), "Cannot count lot 26328-09: there is no lot '26328-09'. Did you mean 26328-03 or 26328-02 or 26328-01?"),
    (2, ("count", "26328-01", "9", "26328-02"), "Cannot read the counts: a lot has no amount. Write LOT AMOUNT LOT AMOUNT."),
    # sales of the past
    (2, ("refund", "17", "--because", "sour"), "Cannot look up sale 17: it is no sale number. Write it as 2026-11-24/0017."),
    (1, ("refund", "2026-11-24/0009", "--because", "sour"), "Cannot look up sale 2026-11-24/0009: there is no sale '2026-11-24/0009'."),
    (2, ("refund", "2026-11-24/0001"), "Cannot refund sale 2026-11-24/0001: no reason is given. Say why, with --because."),
    (2, ("close", "--reopen"), "Cannot reopen day 2026-11-24: no reason is given. Say why, with --because."),
    (1, ("close", "--reopen", "--because", "x"), "Cannot reopen day 2026-11-24: it is not closed. Only today can be reopened."),
    # files
    (1, ("catalogue", "load", "no-such.toml"), "Cannot load catalogue no-such.toml: there is no file 'no-such.toml'."),
    (2, ("catalogue", "load", "/"), "Cannot load catalogue /: the file is not readable text (IsADirectoryError). Save it as UTF-8 text."),
]  # fmt: skip


@pytest.mark.parametrize(
    ("status", "words", "sentence"),
    TABLE,
    ids=lambda v: " ".join(v) if isinstance(v, tuple) else "",
)
def test_bad_input_is_refused_in_one_sentence(
    line: CommandLine, status: int, words: tuple[str, ...], sentence: str
) -> None:
    assert line.refused(status, *words) == sentence


@pytest.mark.parametrize(
    "words",
    [
        ("sell", "firm-block", "--cash", "-1"),
        ("drawer", "float", "-1"),
        ("waste", "26328-01", "-3", "--because", "broken"),
        ("labels", "26328-01", "--count", "some"),
        ("sell", "firm-block", "--cahs", "5"),
        ("trace",),
        ("frobnicate",),
    ],
)
def test_wrong_usage_ends_with_two_and_writes_nothing(
    line: CommandLine, words: tuple[str, ...]
) -> None:
    before = line.files()
    result = line.run(*words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("Usage: ")
    assert line.files() == before


@pytest.mark.parametrize(
    ("there", "why"),
    [
        (lambda folder: folder.mkdir(), "there is no shop.toml in that folder"),
        (lambda folder: None, "there is no shop.toml in that folder"),
        (lambda folder: folder.write_text("x"), "there is no shop.toml in that folder"),
        (lambda folder: (folder.mkdir(), (folder / "shop.toml").write_bytes(b"\xff\xfe\x00")), "shop.toml cannot be read"),
    ],
    ids=["empty", "none", "a file", "not text"],
)  # fmt: skip
def test_a_shop_folder_that_is_none_is_refused(
    line: CommandLine, tmp_path: Path, there: object, why: str
) -> None:
    folder = tmp_path / "elsewhere"
    there(folder)  # type: ignore[operator]
    for words in (("shelf",), BATCH, ("close",), ("check",)):
        assert why in line.refused(1, *words, shop=folder)


def test_a_folder_name_no_system_takes_is_refused(line: CommandLine) -> None:
    assert "file name too long" in line.refused(1, "shelf", shop=Path("x" * 300))
    assert line.refused(1, "new", "/dev/null/shop") == (
        "Cannot make a shop in '/dev/null/shop': not a directory. "
        "Name a folder that can be written."
    )
    assert "not a directory" in line.refused(1, "new", str(line.folder / "shop.toml"))


def line_of(text: str, new: str) -> int:
    """The line on which what was put in begins."""
    return text[: text.index(new)].count("\n") + 1 if new else 0


# Settings: what is put in place of what, status 2, and part of the sentence with its line.
@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('currency = "USD"', 'currency = "DOL"', "'cash.currency' (line {line}): there is no currency 'DOL'"),
        ('timezone = "America/Los_Angeles"', 'timezone = "Mars/Olympus"', "(line {line}): there is no time zone 'Mars/Olympus'"),
        ('timezone = "America/Los_Angeles"', 'timezone = "America"', "(line {line}): there is no time zone 'America'"),
        ('day_starts = "03:00"', 'day_starts = "3 am"', "'shop.day_starts' (line {line}): '3 am': it is no time of the day"),
        ('language = "en_US"', 'language = "xx_YY"', "'shop.language' (line {line}): there is no language 'xx_YY'"),
        ('market = "us"', 'market = "uk"', "'shop.market' (line {line}): 'uk' is none of us, eu"),
        ('float = "150.00"', 'float = "1.005"', "'cash.float' (line {line}): '1.005': it has parts of the smallest coin"),
        ('smallest_coin = "0.05"', 'smallest_coin = "0"', "'cash.smallest_coin' (line {line}): a coin is worth more than nothing"),
        ('currency = "USD"', 'currency = "JPY"', "'cash.smallest_coin' (line "),
        ('here = "0.086"', 'here = "8.6"', "a rate is a part of one, such as 0.0825"),
        ('here = "0.086"', 'here = "NaN"', "a rate is a part of one, such as 0.0825"),
        ('here = "0.086"', "here = nan", "a rate is a part of one, such as 0.0825"),
        ('mode = "added"', 'mode = "added"\nvat = 19', "'tax.vat' (line 26): there is no key 'vat': there are mode, classes, changes"),
        ('mode = "added"', 'mode = "added', "(at line {line}, column"),
        ("[shop]", "[shop", "(at line {line}, column"),
        ("[shop]", "a = " + "[" * 3000 + "\n[shop]", "it is no settings text (RecursionError)"),
        ('name = "Millrace Tofu Works"', "", "'shop' (line 3): the key 'name' is missing"),
    ],
)  # fmt: skip
def test_a_slip_in_the_settings_names_the_entry_and_its_line(
    line: CommandLine, old: str, new: str, sentence: str
) -> None:
    assert old in SETTINGS
    text = SETTINGS.replace(old, new, 1)
    (line.folder / "shop.toml").write_text(text, "utf-8")
    said = line.refused(2, "shelf")
    assert said.startswith("Cannot read shop.toml: ")
    assert sentence.format(line=line_of(text, new)) in said


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('price = "3.25"\nbreaks', 'price = "-1"\nbreaks', "'portions.firm-block.price' (line {line}): '-1': it is below zero"),
        ('price = "3.25"\nbreaks', 'price = "1.005"\nbreaks', "'portions.firm-block.price' (line {line}): '1.005': it has parts of the smallest coin"),
        ("[ingredients.ginger]\n", '[ingredients.ginger]\nrecipe = { ginger-syrup = "1 g" }\n', "the recipe goes in a circle: ginger > ginger-syrup > ginger"),
        ("[ingredients.tofu]\n", '[ingredients.tofu]\nrecipe = { tofu = "1 g" }\n', "Cannot overwrite a value (at line"),
        ('name = "Salt"\n', 'name = "Salt"\nrecipe = { salt = "1 g" }\n', "the recipe goes in a circle: salt > salt"),
        ("keeps = 5\nmould", "keeps = 0\nmould", "'products.firm.keeps' (line {line}): a product keeps from 1 to 365 days"),
        ("keeps = 5\nmould", 'keeps = "five"\nmould', "(line {line}): expected is a whole number, not \"five\""),
        ("keeps = 5\nmould", "keep = 5\nmould", "'products.firm.keep' (line {line}): there is no key 'keep': there are name, unit, keeps, "),
        ('density = "0.92"', 'density = "-1"', "a density of -1 grams a millilitre is none"),
        ('density = "0.92"', 'density = "NaN"', "a density of NaN grams a millilitre is none"),
        ('brix = ["10", "13"], yield', 'brix = ["NaN", "13"], yield', "'NaN': it is not a number"),
        ('cook = { temperature = "165C", minutes = 4 }', 'cook = { temperature = "20C" }', "'products.puffs.cook.temperature' (line {line}): nothing is cooked at 20C: 60 to 260 °C"),
        ('cook = { temperature = "165C", minutes = 4 }', "cook = { minutes = 0 }", "a cook takes from 1 to 1440 minutes"),
        ('number = "9521234000013"', 'number = "9521234000014"', "'9521234000014' is no number of 8, 12 or 13 digits with a right check digit"),
        ('product = "firm"\n', 'product = "frim"\n', "'portions.firm-block.product' (line {line}): there is no product 'frim'"),
        ('tax = "prepared"', 'tax = "luxury"', "there is no tax class 'luxury'"),
        ('draws = "8 fl oz"', 'draws = "8 oz"', "the unit 'oz' is not known here"),
        ("[products.firm]", "[products.Firm]", "a key is of small letters, digits and hyphens"),
        ('mould = "48"', 'mould = "a few"', "'a few' is not a number of pieces"),
        ('last_day_price = "2.25"', 'last_day_price = "2.25', "(at line"),
        ('[ingredients.salt]\nname = "Salt"\nsecond_name = "Sal"\n', "[ingredients]\nsalt = 3\n", "'ingredients.salt' (line 26): expected is a table, not 3"),
        ('breaks = [{', 'breaks = [3, {', "'portions.firm-block.breaks[0]' (line {line}): expected is a table, not 3"),
        ("cook = false", "cook = true", "expected is a table, not true"),
        ('unit = "ml"', 'unit = ["ml"]', "'['ml']' is none of piece, ml, g"),
    ],
)  # fmt: skip
def test_a_slip_in_the_catalogue_names_the_entry_and_its_line(
    line: CommandLine, tmp_path: Path, old: str, new: str, sentence: str
) -> None:
    assert old in CATALOGUE
    file = tmp_path / "mine.toml"
    text = CATALOGUE.replace(old, new, 1)
    file.write_text(text, "utf-8")
    said = line.refused(2, "catalogue", "load", str(file))
    assert said.startswith("Cannot read mine.toml: ")
    assert sentence.format(line=line_of(text, new)) in said


@pytest.mark.parametrize(
    "content", [b"\xff\xfe\x00n\x00", bytes(range(256)), b"PK\x03\x04" + b"\x00" * 50]
)
def test_a_catalogue_that_is_no_text_is_refused(
    line: CommandLine, tmp_path: Path, content: bytes
) -> None:
    file = tmp_path / "mine.toml"
    file.write_bytes(content)
    assert line.refused(2, "catalogue", "load", str(file)).startswith("Cannot ")


@pytest.mark.skipif(os.name == "nt", reason="rights are set otherwise there")
def test_a_book_with_a_damaged_line_stops_writing_and_says_where(line: CommandLine) -> None:
    spoil(line.folder, "2026-11-24", '"made":96', '"made":99')
    for words in (BATCH, ("sell", "soft-block", "--cash"), ("close",), ("count", "26328-02", "3")):
        said = line.run(*words)
        assert said.exit_code == 1
        assert "line 1" in said.stderr
    for words in (("shelf",), ("day",), ("log",), ("trace", "26328-01"), ("catalogue",)):
        assert line.run(*words).exit_code in (0, 1)


def test_a_full_disk_is_named_as_one_once(tmp_path: Path, line: CommandLine) -> None:
    with small_disk(tmp_path / "small", "1m") as place:
        copytree(line.folder, place / "shop")
        full = CommandLine(place / "shop", line.clock)
        with suppress(OSError), (place / "fill").open("wb", buffering=0) as fill:
            while fill.write(bytes(4096)) == 4096:
                pass
        sold = full.run("sell", "firm-block", "--card")
        said = "Cannot open the books: the disk is full. Make room on the disk, then do it again.\n"
        assert (sold.exit_code, sold.stdout, sold.stderr) == (1, "", said)
        (place / "fill").unlink()
        full.done("sell", "firm-block", "--card")
