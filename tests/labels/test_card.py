"""The counter card: every food whole, its allergens named, none broken over two pages."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pdfplumber
import pytest

from labels import Facts, Ingredient
from labels.card import CARD_PAPERS, card_statements, write_card
from labels.errors import BadValue, DoesNotFit, MissingFact, NotWritten
from labels.fonts import MM
from tests.labels.shop import GYPSUM, SOYBEANS, WATER, firm_tofu


def pudding(name: str = "Soft Pudding", **changed: object) -> Facts:
    told = {"name": name, "net": None, "panel": None, "maker": None, "date_mark": None, "lot": ""}
    return firm_tofu(**{**told, "symbols": (), **changed})


def pages(path: Path) -> list[str]:
    with pdfplumber.open(path) as pdf:
        return ["".join(char["text"] for char in page.chars) for page in pdf.pages]


def test_each_food_has_its_name_ingredients_and_allergens(tmp_path: Path) -> None:
    """Food Code 3-602.12(C): a written notice of the major allergens in unpackaged food."""
    foods = [pudding(), pudding("Ginger Syrup", second_name="")]
    assert write_card(tmp_path / "card.pdf", foods, market="us") == 1
    [text] = pages(tmp_path / "card.pdf")
    for wording in ("Soft Pudding", "Tofu firme", "Ginger Syrup", "Contains: soy."):
        assert wording in text
    assert text.count("Ingredients: water, soybeans, calcium sulfate.") == 2


@pytest.mark.parametrize("paper", ["a6", "a5", "a4", "letter"])
def test_a_card_is_made_on_each_paper_in_its_size(paper: str, tmp_path: Path) -> None:
    assert paper in CARD_PAPERS
    assert write_card(tmp_path / "card.pdf", [pudding()], market="us", paper=paper) == 1
    with pdfplumber.open(tmp_path / "card.pdf") as pdf:
        [page] = pdf.pages
        assert (page.width / MM, page.height / MM) == pytest.approx(CARD_PAPERS[paper], abs=0.1)


@pytest.mark.parametrize(
    ("language", "heading", "contains"),
    [
        ("en", "Ingredients and allergens", "Contains soya."),
        ("de", "Zutaten und Allergene", "Enthält Soja."),
        ("fr", "Ingrédients et allergènes", "Contient soja."),
    ],
)
def test_in_the_eu_the_sources_are_named_in_the_language(
    language: str, heading: str, contains: str, tmp_path: Path
) -> None:
    """Regulation (EU) 1169/2011 Art. 44(1)(a)."""
    write_card(tmp_path / "card.pdf", [pudding()], market="eu", language=language)
    [text] = pages(tmp_path / "card.pdf")
    assert heading in text
    assert contains in text


def test_a_food_is_not_broken_over_two_pages(tmp_path: Path) -> None:
    foods = [pudding(f"Pudding {number}") for number in range(12)]
    count = write_card(tmp_path / "card.pdf", foods, market="us", paper="a6")
    texts = pages(tmp_path / "card.pdf")
    assert len(texts) == count > 1
    for food in foods:
        [page] = [text for text in texts if f"{food.name}Tofu" in text]
        assert page.count("Contains: soy.") == page.count("Pudding ")


def test_a_food_longer_than_a_page_is_refused(tmp_path: Path) -> None:
    spices = [
        GYPSUM.__class__(name=f"spice number {n}", second="especia", grams=n) for n in range(1, 200)
    ]  # type: ignore[arg-type]
    food = pudding(ingredients=(WATER, SOYBEANS, *spices))
    with pytest.raises(DoesNotFit, match=r"mm of height are missing\. Use a larger paper\."):
        write_card(tmp_path / "card.pdf", [food], market="us", paper="a6")
    assert not list(tmp_path.iterdir())


def test_a_card_without_food_or_paper_or_rules_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "card.pdf"
    with pytest.raises(BadValue, match="there is no food on it"):
        write_card(path, [], market="us")
    with pytest.raises(BadValue, match=r"it is not known\. Use a6, a5"):
        write_card(path, [pudding()], market="us", paper="b5")
    with pytest.raises(BadValue, match="there are no rules for it"):
        write_card(path, [pudding()], market="house")
    with pytest.raises(MissingFact, match="none are given"):
        write_card(path, [pudding(ingredients=())], market="us")
    with pytest.raises(NotWritten):
        write_card(tmp_path / "none" / "card.pdf", [pudding()], market="us")


@pytest.mark.parametrize(
    ("market", "grams", "none"),
    [
        ("us", "100", "None of the nine allergens that the law names is an ingredient."),
        ("eu", "100", "None of the fourteen allergens that the law names is an ingredient."),
        ("us", "0", ""),  # of what has no weight nothing is known
    ],
)
def test_where_nothing_of_the_law_is_in_it_the_card_says_so_before_the_second_language(
    market: str, grams: str, none: str
) -> None:
    sugar = Ingredient(name="sugar", second="azúcar", grams=Decimal(grams))
    syrup = pudding("Syrup", second_name="Almíbar", ingredients=(sugar,), finished=None)
    texts = [s.text for s in card_statements(syrup, market) if s.key == "contains-none"]
    assert texts[:1] == [none] * bool(none)
    assert len(texts) == 2 * bool(none)  # and again in the second language


def test_a_food_with_an_allergen_is_never_said_to_have_none() -> None:
    for market in ("us", "eu"):
        assert "contains-none" not in {s.key for s in card_statements(pudding(), market)}
