"""What is asked before a label is believed: claims, names kept for milk, percentages, categories.

Sources beside each case; the words of claims are from memory.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from msgspec.structs import replace

from labels.doubts import doubts
from labels.facts import Facts, Ingredient, NetQuantity
from tests.labels.shop import firm_tofu


def keys(facts: Facts, market: str = "us", filled: int | None = None) -> list[str]:
    return [d.key for d in doubts(facts, market, None if filled is None else Decimal(filled))]


CLAIMS = [
    # 7 CFR 205.301; Regulation (EU) 2018/848 Art. 30
    ("Organic Firm Tofu", ["organic"]), ("Bio-Tofu", ["organic"]), ("Tofu ecológico", ["organic"]),
    ("Tofu biologique", ["organic"]),
    # 21 CFR 101.91; Regulation (EU) 828/2014: "no gluten", "without gluten" as well
    ("Gluten-Free Tofu", ["gluten-free"]), ("Tofu sin gluten", ["gluten-free"]),
    ("Tofu glutenfrei", ["gluten-free"]), ("Tofu without gluten", ["gluten-free"]),
    # 21 CFR 101.60 to 101.62: "free" of a nutrient; 1924/2006 Annex
    ("Sugar free soy drink", ["free"]), ("Zuckerfreie Sojadrink, ohne Zucker", ["free"]),
    # 21 CFR 101.54: high, good source; 101.56: light; 1924/2006 Annex
    ("High protein tofu", ["nutrient"]), ("Tofu, low in fat", ["nutrient"]),
    ("Light Tofu", ["nutrient"]), ("Tofu, a good source of calcium", ["nutrient"]),
    ("Tofu alto en proteínas", ["nutrient"]), ("Proteinreicher Tofu, reich an Eiweiß", ["nutrient"]),
    # 21 CFR 101.14; 1924/2006 Art. 10
    ("Heart tofu", ["health"]), ("Healthy tofu", ["health"]), ("Gesunder Tofu", ["health"]),
    # in every language of labels
    ("Öko-Tofu", ["organic"]), ("有机豆腐", ["organic"]), ("Đậu hũ hữu cơ", ["organic"]),
    ("无麸质豆腐", ["gluten-free"]), ("Đậu hũ không chứa gluten", ["gluten-free"]),
    ("Dairyfree tofu", ["free"]), ("Laktosefreier Tofu", ["free"]), ("0 % fat tofu", ["free"]),
    ("无糖豆浆", ["free"]), ("Sữa đậu nành không đường", ["free"]), ("高蛋白豆腐", ["nutrient"]),
    ("Protein-rich tofu", ["nutrient"]), ("Fettarmer Tofu", ["nutrient"]),
    ("Tofu con alto contenido de proteína", ["nutrient"]), ("Đậu hũ giàu đạm", ["nutrient"]),
    ("健康豆腐", ["health"]), ("Tốt cho sức khỏe", ["health"]),
    # no claims
    ("Firm Tofu", []), ("Five-Spice Tofu", []), ("Smoked Tofu", []), ("Vegan Tofu", []),
    ("Fresh Soft Tofu", []), ("Tofu cinco especias", []), ("Pudín de tofu", []),
    ("Österreichischer Tofu", []), ("Sweetened Soy Milk", []), ("Free-range tofu", []),
]  # fmt: skip


@pytest.mark.parametrize(("name", "found"), CLAIMS)
def test_a_claim_is_asked_about(name: str, found: list[str]) -> None:
    assert keys(firm_tofu(name=name, second_name="")) == found
    assert keys(firm_tofu(second_name=name)) == found
    assert keys(firm_tofu(handling=name)) == found
    assert keys(firm_tofu(storage=f"{name}. Keep cold")) == found


def test_a_claim_is_told_with_the_words_and_the_law_of_the_market() -> None:
    facts = firm_tofu(name="Organic Gluten-Free Tofu")
    us, eu = doubts(facts, "us"), doubts(facts, "eu")
    assert [d.text for d in us] == [
        "the label claims 'organic': what proves it", "the label claims 'gluten-free': what proves it",
    ]  # fmt: skip
    assert [d.clause for d in us] == ["7 CFR 205.301, 205.303", "21 CFR 101.91"]
    assert eu[1].clause == "Regulation (EU) 828/2014"


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        # 1308/2013 Annex VII part III, C-422/16: also with "soy", "tofu", "vegan" added
        ("Soy Milk", True), ("Tofu cheese", True), ("Vegan butter", True), ("Sojamilch", True),
        ("leche de soya", True), ("lait de soja", True), ("latte di soia", True), ("sojamelk", True),
        # 2010/791/EU, from memory
        ("Coconut milk", False), ("Peanut butter", False), ("lait d’amande", False),
        ("Kokosmilch", False), ("cocoa butter", False), ("butter beans", False),
        # not reserved
        ("Soy drink", False), ("Tofu pudding", False), ("Bean curd", False), ("Butternut", False),
    ],
)  # fmt: skip
def test_a_word_kept_for_milk_is_asked_about_in_the_eu(name: str, asked: bool) -> None:
    facts = firm_tofu(name=name, second_name="")
    assert ("dairy" in keys(facts, "eu")) is asked
    assert "dairy" not in keys(facts, "us")


def test_food_that_is_made_of_milk_may_say_so() -> None:
    milk = Ingredient(name="milk", grams=Decimal(20), allergens=("milk",))
    facts = firm_tofu(name="Milk pudding")
    assert "dairy" in keys(facts, "eu")
    assert "dairy" not in keys(replace(facts, ingredients=(*facts.ingredients, milk)), "eu")


SESAME = Ingredient(name="sesame seeds", grams=Decimal(200), allergens=("sesame",))


def test_an_ingredient_in_the_name_without_its_percentage_is_asked_about_in_the_eu() -> None:
    # EU 1169/2011 Art. 22(1)(a), Annex VIII
    facts = firm_tofu(name="Sesame Tofu", second_name="")
    facts = replace(facts, ingredients=(*facts.ingredients, SESAME))
    assert "percent.sesame-seeds" in keys(facts, "eu")
    assert "percent.sesame-seeds" not in keys(facts, "us")
    told = replace(facts, ingredients=(*facts.ingredients[:-1], replace(SESAME, quid=True)))
    assert not any(k.startswith("percent") for k in keys(told, "eu"))
    assert "percent.soybeans" in keys(firm_tofu(name="Soy drink"), "eu")
    assert not any(k.startswith("percent") for k in keys(firm_tofu(second_name=""), "eu"))


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        # Annex VII part C, Art. 18(4): category, then name or number
        ("Calcium Sulfate", True), ("magnesium chloride", True), ("E 516", True), ("nigari", True),
        ("glucono-delta-lactone", True), ("Zitronensäure", True), ("sulfato de calcio", True),
        ("firming agent: calcium sulphate", False), ("Festigungsmittel Calciumsulfat", False),
        ("affermissant: E 516", False), ("Säureregulator: E 575", False),
        ("endurecedor (sulfato de calcio)", False), ("acidity regulator (E 575)", False),
        ("salt", False), ("soybeans", False),
    ],
)  # fmt: skip
def test_an_additive_without_its_category_is_asked_about_in_the_eu(name: str, asked: bool) -> None:
    extra = Ingredient(name=name, grams=Decimal(5))
    facts = firm_tofu(ingredients=(*firm_tofu().ingredients[:2], extra))
    assert any(k.startswith("additive") for k in keys(facts, "eu")) is asked
    assert keys(facts, "us") == []


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        # Annex VII part A 8, 9: at once followed by the plant
        ("vegetable oil", True), ("Oil", True), ("Pflanzenöl", True), ("huile végétale", True),
        ("aceite vegetal", True), ("olio vegetale", True), ("plantaardige olie", True),
        ("rapeseed oil", False), ("Rapsöl", False), ("aceite de girasol", False), ("olives", False),
    ],
)  # fmt: skip
def test_an_oil_without_its_plant_is_asked_about_in_the_eu(name: str, asked: bool) -> None:
    extra = Ingredient(name=name, grams=Decimal(50))
    facts = firm_tofu(ingredients=(*firm_tofu().ingredients[:2], extra))
    assert any(k.startswith("oil") for k in keys(facts, "eu")) is asked
    plant = replace(extra, parts=(Ingredient(name="rapeseed", grams=Decimal(50)),))
    assert not any(k.startswith("oil") for k in keys(replace(facts, ingredients=(plant,)), "eu"))


def test_packs_that_hold_more_than_went_in_or_far_less_are_asked_about() -> None:
    # 21 USC 343(e)(2): an accurate statement of the quantity. A tenth: common practice, no source.
    facts = firm_tofu(net=NetQuantity.of("400 g"))  # of 12,060 g that went in
    assert keys(facts, filled=6000) == []
    assert keys(facts, filled=12061) == ["net"]
    assert keys(facts, filled=1206) == []
    assert keys(facts, filled=1205) == ["net"]
    assert keys(facts) == []
    more = doubts(facts, "us", Decimal(40000))[0]
    assert more.text == "all packs hold 40000 g by their net quantity, and 12060 g went in"
    assert more.basis == "400 more than went in"
