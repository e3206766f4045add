"""``python -m labels``: facts in, a file out, and the same sentences as everywhere."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from PIL import Image

from labels.__main__ import main

FACTS = """
name = "Firm Tofu"
net = "14 oz"
lot = "26328-01"
date_mark = { kind = "best-by", day = 2026-11-30 }
panel = { shape = "rectangle", mm = [110, 75] }
symbols = [{ kind = "code128", data = "26328-01" }]
[maker]
name = "Millrace Tofu Works"
street = "14 Sluice Street"
city = "Alder Ferry"
state = "OR"
zip = "97099"
[[ingredients]]
name = "water"
grams = 9000
[[ingredients]]
name = "soybeans"
grams = 3000
allergens = ["soy"]
"""


@pytest.fixture
def facts(tmp_path: Path) -> Path:
    path = tmp_path / "tofu.toml"
    path.write_text(FACTS, "utf-8")
    return path


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def test_labels_are_written_from_a_file_of_facts(facts: Path, tmp_path: Path) -> None:
    out, dots = tmp_path / "out.pdf", tmp_path / "out.png"
    result = run(facts, "-o", out, "-n", 3, "--png", dots)
    assert result.output == f"{out}: labels 3, pages 3.\n"
    with Image.open(dots) as picture:
        assert picture.size == (480, 640)


def test_a_sheet_begins_where_labels_are_left(facts: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.pdf"
    result = run(facts, "-o", out, "-n", 4, "--blank", "sheet-a4-2x4-99.1x67.7",
                 "--start", 5, "--used", "6,7")  # fmt: skip
    assert result.output == f"{out}: labels 4, pages 2.\n"


def test_explain_says_which_rule_asks_for_what(facts: Path) -> None:
    result = run(facts, "--explain")
    assert (
        "net-quantity: NET WT 14 OZ (396 g) [21 CFR 101.7(e), (f), (i); least 3.17 mm on 'o', "
        in (result.output)
    )
    assert "packed: absent, no packing date is given." in result.output


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        # 21 USC 343(w); EU 1169/2011 Art. 9(1)(c)
        ('allergens = ["soy"]', "", "'Firm Tofu' says soy"),
        ('"Firm Tofu"', '"Sesame Tofu"', "'Sesame Tofu' says sesame"),
        ('"water"', '"dressing"\nparts = [{ name = "Peanut Oil" }]', "'Peanut Oil' says peanut"),
        ('"water"', '"dressing"\nsecond = "salsa de maní"', "'salsa de maní' says peanut"),
    ],
)
def test_no_name_says_an_allergen_that_no_fact_names(
    facts: Path, tmp_path: Path, old: str, new: str, said: str
) -> None:
    facts.write_text(FACTS.replace(old, new, 1), "utf-8")
    out = tmp_path / "out.pdf"
    for words in ((), ("--card",), ("--market", "eu")):
        result = run(facts, "-o", out, *words)
        assert result.exit_code == 1
        assert f"the name {said}, and nothing in it names that. Put it under" in result.output
        assert not out.exists()


def test_somebody_may_say_that_an_allergen_in_a_name_is_not_in_it(
    facts: Path, tmp_path: Path
) -> None:
    # 21 USC 321(qq)(2)(A): highly refined oil
    oil = '[[ingredients]]\nname = "Peanut Oil"\ngrams = 9\nallergens_none = ["peanut"]\n'
    facts.write_text(FACTS + oil, "utf-8")
    assert run(facts, "-o", tmp_path / "out.pdf").exit_code == 0
    assert "Contains: soy. [" in run(facts, "--explain").output


def test_a_card_and_a_test_page_are_written(facts: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.pdf"
    assert run(facts, "--card", "-o", out).output == f"{out}: 1 page.\n"
    assert run("--scale-check", "-o", out).output == f"{out}: the line is 50 mm long.\n"


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--blank", "roll-40x25"], "Cannot fit the label of 'Firm Tofu' on roll-40x25: "),
        (["--market", "eu", "--language", "it"], "Cannot write an EU label in 'it': "),
        (["--blank", "roll"], "Cannot use blank 'roll': it is not known."),
        (["--used", "x"], "Positions are numbers with commas between, not 'x'."),
    ],
)
def test_what_is_refused_is_said_in_a_sentence(
    words: list[str], sentence: str, facts: Path, tmp_path: Path
) -> None:
    result = run(facts, "-o", tmp_path / "out.pdf", *words)
    assert result.exit_code in (1, 2)
    assert sentence in result.output
    assert not (tmp_path / "out.pdf").exists()


def test_without_facts_or_output_the_command_says_what_it_needs(facts: Path) -> None:
    assert "Name the file with the facts." in run().output
    assert "Say with -o which PDF to write." in run(facts).output


def test_the_module_runs_as_a_program(facts: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.pdf"
    words = [sys.executable, "-m", "labels", str(facts), "-o", str(out)]
    assert subprocess.run(words, check=True, capture_output=True).stdout
    assert out.read_bytes().startswith(b"%PDF")
