"""Facts that cannot be true cannot be made, and TOML says them as plainly."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from labels import DateMark, Facts, Ingredient, Maker, NetQuantity, Panel
from labels.errors import BadValue, LabelError
from labels.facts_file import read_facts


@pytest.mark.parametrize(
    ("give", "sentence"),
    [
        (lambda: Facts(name=" "), "Cannot name a product ' ': there is nothing to read in it."),
        (lambda: Maker(name=""), "Cannot name a maker '': there is nothing to read in it."),
        (
            lambda: Ingredient(name="salt", grams=Decimal(-1)),
            "Cannot weigh ingredient 'salt' at -1 g: it is not a weight of zero or more.",
        ),
        (
            lambda: Ingredient(name="salt", grams=Decimal("NaN")),
            "Cannot weigh ingredient 'salt' at NaN g: it is not a weight of zero or more.",
        ),
        (
            lambda: Ingredient(name="paste", allergens=("tree-nut",)),
            "Cannot note allergen 'tree-nut' of ingredient 'paste': the law asks for the kind. "
            "Write tree-nut: and the kind, such as tree-nut:almond, fish:cod, crustacean:shrimp.",
        ),
        (
            lambda: Ingredient(name="paste", allergens=("soy:black",)),
            "Cannot note allergen 'soy:black' of ingredient 'paste': 'soy' has no kinds. "
            "Write soy.",
        ),
        (
            lambda: NetQuantity(),
            "Cannot state the net quantity: no mass, volume or count is given.",
        ),
        (
            lambda: NetQuantity(grams=Decimal(1), ml=Decimal(1)),
            "Cannot state the net quantity: both a mass and a volume are given.",
        ),
        (
            lambda: NetQuantity(grams=Decimal(0)),
            "Cannot state the net quantity 0: it is not above zero.",
        ),
        (
            lambda: NetQuantity(grams=Decimal(300), drained=Decimal(400)),
            "Cannot state the drained weight 400 g: it is not part of a larger net weight.",
        ),
        (
            lambda: Panel("cylinder", (Decimal(1),)),
            "Cannot measure a cylinder panel by 1 numbers: it takes 2: height, circumference.",
        ),
        (
            lambda: Panel("rectangle", (Decimal(1), Decimal(0))),
            "Cannot measure the panel's height as 0: it is not above zero.",
        ),
    ],
)
def test_a_fact_that_cannot_be_is_refused(give: Callable[[], object], sentence: str) -> None:
    with pytest.raises(BadValue) as refusal:
        give()
    assert str(refusal.value) == sentence


def test_an_unknown_allergen_source_names_those_there_are() -> None:
    with pytest.raises(BadValue, match=r"the source is not known\. Use one of milk, egg, fish,"):
        Ingredient(name="paste", allergens=("gluten",))


@pytest.mark.parametrize(
    "give",
    [
        lambda: NetQuantity.of("9" * 30 + " g"),
        lambda: NetQuantity(grams=Decimal("1e400")),
        lambda: NetQuantity(count=10**30),
        lambda: Ingredient(name="salt", grams=Decimal("1e400")),
    ],
)
def test_an_amount_of_thirty_digits_is_one_sentence(give: Callable[[], object]) -> None:
    with pytest.raises(BadValue, match=r"no such amount is weighed or measured") as refusal:
        give()
    assert len(str(refusal.value)) < 200


def test_a_number_without_end_is_shown_by_its_beginning() -> None:
    with pytest.raises(BadValue) as refusal:
        NetQuantity.of("9" * 5000 + " g")
    assert len(str(refusal.value)) < 200


def within(depth: int) -> Ingredient:
    item = Ingredient(name="syrup", grams=Decimal(1))
    for _ in range(depth):
        item = Ingredient(name="syrup", grams=Decimal(1), parts=(item,))
    return item


def test_ingredients_a_thousand_deep_are_one_sentence() -> None:
    assert within(20).all_allergens() == ()
    with pytest.raises(BadValue, match=r"^Cannot list 'syrup': .* more than 20 deep\. Write its"):
        within(1000)


def test_what_nobody_sees_is_not_in_the_facts_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "tofu.toml"
    path.write_text('\ufeffname = "Fi\u200brm\u00a0Tofu\u202e"\nlot = "A\\u00ad1"', "utf-8")
    [facts] = read_facts(path)
    assert (facts.name, facts.lot) == ("Firm Tofu", "A1")


FILE = """
name = "Firm Tofu"
net = "14 oz"
lot = "26328-01"
date_mark = { kind = "best-by", day = 2026-11-30 }
panel = { shape = "rectangle", mm = [110, 75.5] }
symbols = [{ kind = "code128", data = "26328-01" }, { kind = "gs1-128", data = "(10)A(01)09521234000013" }]
maker = { name = "Millrace Tofu Works", city = "Alder Ferry" }
[[ingredients]]
name = "soybeans"
grams = 3000.25
allergens = ["soy"]
"""


def test_facts_are_read_from_toml(tmp_path: Path) -> None:
    path = tmp_path / "tofu.toml"
    path.write_text(FILE, "utf-8")
    [facts] = read_facts(path)
    assert facts.net == NetQuantity.of("14 oz")
    assert facts.date_mark == DateMark("best-by", date(2026, 11, 30))
    assert facts.panel == Panel("rectangle", (Decimal(110), Decimal("75.5")))
    assert facts.ingredients[0].grams == Decimal("3000.25")
    assert [symbol.data for symbol in facts.symbols] == ["26328-01", "010952123400001310A"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("name = ", "it is no TOML"),
        ('nmae = "Tofu"', "contains unknown field `nmae`"),
        ('name = "Tofu"\nnet = "14 stone"', "the unit 'stone' is not known"),
        ('name = "Tofu"\nlot = 5', "expected `str`, got `int`"),
        ('name = "Tofu"\nsymbols = [{ kind = "code39", data = "1" }]', "kind 'code39'"),
        ('name = "Tofu"\nsymbols = [{ kind = "ean-13", data = "9521234000014" }]', "check|digit"),
        ('name = "Tofu"\n[[ingredients]]\nname = "x"\nallergens = ["gluten"]', "not known"),
        ('name = "Tofu"\nsymbols = 5', "symbols"),
        ('name = "Tofu"\nsymbols = ["26328-01"]', "symbols"),
        ("food = [5]", "food"),
        ("a." * 30_000 + "a = 1", r"a key has more than 50 parts \(at line 1\)"),
        ('name = "Tofu"\nparts = ' + "[" * 5000 + "]" * 5000, "lie in one another without end"),
        ('"na\u200bme" = "Tofu"', "the key 'na<200B>me' holds a character that cannot be seen"),
    ],
)
def test_a_mistake_in_the_file_is_named(text: str, why: str, tmp_path: Path) -> None:
    path = tmp_path / "tofu.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(LabelError, match=why) as refusal:
        read_facts(path)
    assert str(refusal.value).startswith("Cannot ")


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadValue) as refusal:
        read_facts(tmp_path / "none.toml")
    assert str(refusal.value) == ("Cannot read the facts in none.toml: no such file or directory.")
