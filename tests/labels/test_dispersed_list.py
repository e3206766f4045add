"""Compounds spread through the US list, in place of brackets: 21 CFR 101.4(b)(2)(ii)."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest
from hypothesis import given
from msgspec.structs import replace

from labels import Facts, Ingredient
from labels.errors import BadValue, MissingFact
from labels.rules import statements
from labels.rules.listing import disperse
from tests.labels.shop import FOODS, GYPSUM, SOYBEANS, WATER, firm_tofu
from tests.often import examples


def part(name: str, grams: str, *allergens: str, **more: object) -> Ingredient:
    return Ingredient(name=name, grams=Decimal(grams), allergens=allergens, **more)  # type: ignore[arg-type]


SOY_SAUCE = Ingredient(
    name="soy sauce", grams=Decimal(1000), second="salsa de soya",
    parts=(
        part("water", "50", second="agua", water=True),
        part("Soybeans", "25", "soy", second="soya"),
        part("wheat", "15", "wheat", second="trigo"),
        part("salt", "10", second="sal"),
    ),
)  # fmt: skip
FOOD = firm_tofu(ingredients=(WATER, SOYBEANS, GYPSUM, SOY_SAUCE), finished=None, disperse=True)


def said(key: str, **changed: object) -> str:
    found = statements(replace(FOOD, **changed), "us")
    return next(s for s in found if s.key == key).text


def test_components_stand_by_their_weight_without_the_compound() -> None:
    # water 9000 + 500, soybeans 3000 + 250, wheat 150, salt 100, gypsum 60
    assert said("ingredients") == "Ingredients: water, soybeans, wheat, salt, calcium sulfate."
    brackets = said("ingredients", disperse=False)
    assert "soy sauce (water, Soybeans, wheat, salt)" in brackets


def test_the_second_language_is_spread_alike() -> None:
    assert said("second-ingredients") == "Ingredientes: agua, soya, trigo, sal, sulfato de calcio."


def test_allergens_of_the_components_are_all_declared() -> None:
    assert said("contains") == "Contains: soy, wheat."


def test_the_percent_clause_counts_components() -> None:
    assert said("ingredients", percent_clause=Decimal(2)) == (
        "Ingredients: water, soybeans. Contains 2% or less of: wheat, salt, calcium sulfate."
    )


def test_the_clause_of_the_law_is_named() -> None:
    found = {s.key: s.clause for s in statements(FOOD, "us")}
    assert found["ingredients"] == "21 CFR 101.4(a), (b)(2)(ii)"


def test_compounds_in_compounds_and_processing_aids_are_taken_apart() -> None:
    inner = part("paste", "40", parts=(part("beans", "3", "soy"), part("salt", "1")))
    outer = part(
        "sauce", "100", parts=(inner, part("salt", "60"), part("steam aid", "9", aid=True))
    )
    spread = disperse([outer, part("salt", "7")])
    assert {i.name: i.grams for i in spread} == {"beans": Decimal(30), "salt": Decimal(77)}


@pytest.mark.parametrize(
    ("compound", "missing"),
    [
        (part("sauce", "0", parts=(part("a", "1"), part("b", "1"))), "sauce"),
        (part("sauce", "5", parts=(part("a", "0"),)), "a"),
    ],
)
def test_a_weight_that_is_missing_is_asked_for(compound: Ingredient, missing: str) -> None:
    with pytest.raises(MissingFact) as refusal:
        disperse([compound])
    assert str(refusal.value) == (
        f"Cannot spread 'sauce' through the ingredient list: the weight of '{missing}' is not "
        "known. Give its grams, or list the parts in brackets."
    )


def test_the_eu_names_the_compound() -> None:
    with pytest.raises(BadValue, match=r"a compound ingredient is named, with its own behind it"):
        statements(FOOD, "eu")


def leaves(items: tuple[Ingredient, ...]) -> Iterator[Ingredient]:
    for item in items:
        yield from leaves(item.parts) if item.parts else (item,)


@given(FOODS)
@examples(60)
def test_spreading_loses_no_gram_no_name_and_no_allergen(food: Facts) -> None:
    spread = disperse(food.ingredients)
    whole = sum((i.grams for i in food.ingredients), Decimal(0))
    assert abs(sum((i.grams for i in spread), Decimal(0)) - whole) < Decimal("0.000001")
    names = {i.name.casefold() for i in leaves(food.ingredients)}
    assert {i.name.casefold() for i in spread} == names
    assert len(spread) == len(names)
    kept = {key for i in spread for key in i.allergens}
    assert kept == {key for i in leaves(food.ingredients) for key in i.allergens}
