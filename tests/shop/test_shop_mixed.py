"""Older stock that goes into a batch brings its ingredients and allergens along.

All ingredients of a food are named, and every source of an allergen: 21 CFR 101.4(a), 21 USC
343(w); Regulation (EU) 1169/2011 Art. 9(1)(b) and (c).
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from counter.shop.facts import card_of, contents_of
from counter.shop.production import BatchNote
from labels.facts import Ingredient
from labels.units import parse_measure
from tests.conftest import CATALOGUE, DATED_CATALOGUE, SETTINGS, Maker, ShopInHand

EU = SETTINGS.replace('market = "us"', 'market = "eu"').replace(
    'language = "en_US"', 'language = "en_GB"'
)


def said(hand: ShopInHand, lot: str) -> dict[str, str]:
    return {s.key: s.text for s in hand.shop.cards.explain_label(lot)}


def all_names(found: tuple[Ingredient, ...]) -> set[str]:
    return {item.name for item in found} | {
        name for item in found for name in all_names(item.parts)
    }


def test_an_allergen_that_older_stock_brings_stands_on_the_label(folder_shop: ShopInHand) -> None:
    puffs = folder_shop.batch("puffs", 40)
    mixed = folder_shop.batch("firm", 48, mixed=((puffs.lot, 4),))
    plain = folder_shop.batch("firm", 48)
    text = said(folder_shop, mixed.lot)
    assert text["contains"] == "Contains: soy, wheat."
    assert "Fried Tofu Puffs (" in text["ingredients"]
    assert "Wheat Flour" in text["ingredients"]
    assert said(folder_shop, plain.lot)["contains"] == "Contains: soy."


def test_the_maker_is_told_which_allergen_came_in(hand: ShopInHand) -> None:
    puffs = hand.batch("puffs", 40)
    mixed = hand.batch("firm", 48, mixed=((puffs.lot, 4),))
    told = f"lot {puffs.lot} brings wheat into it: the label names it as an allergen"
    assert told in mixed.warnings
    note = BatchNote(made=48, boiled_minutes=10, mixed=((puffs.lot, 4),))
    assert told in hand.shop.production.preview_batch("firm", note).batch.warnings
    assert not [w for w in hand.batch("firm", 48).warnings if "brings" in w]


def test_it_is_told_too_when_the_lot_is_named_only_in_a_correction(hand: ShopInHand) -> None:
    puffs = hand.batch("puffs", 40)
    firm = hand.batch("firm", 48)
    note = BatchNote(mixed=((puffs.lot, 4),))
    amended = hand.shop.amendments.amend_batch(firm.lot, note, "crumbs went in")
    assert any("brings wheat" in warning for warning in amended.warnings)
    assert said(hand, firm.lot)["contains"] == "Contains: soy, wheat."


def test_it_goes_on_through_every_generation(hand: ShopInHand) -> None:
    puffs = hand.batch("puffs", 40)
    firm = hand.batch("firm", 48, mixed=((puffs.lot, 4),))
    smoked = hand.batch("smoked", 24, boiled_minutes=None, mixed=((firm.lot, 24),))
    assert said(hand, smoked.lot)["contains"] == "Contains: soy, wheat."


def test_stock_that_the_recipe_names_already_is_not_named_twice(hand: ShopInHand) -> None:
    firm = hand.batch("firm", 48)
    smoked = hand.batch("smoked", 24, boiled_minutes=None, mixed=((firm.lot, 24),))
    older = hand.batch("firm", 48, mixed=((firm.lot, 4),))
    assert said(hand, smoked.lot)["ingredients"].count("Soybeans") == 1
    assert said(hand, older.lot)["ingredients"] == said(hand, firm.lot)["ingredients"]


def test_what_was_left_out_but_came_in_with_older_stock_is_not_called_lost(
    hand: ShopInHand,
) -> None:
    puffs = hand.batch("puffs", 40)
    none = parse_measure("0 g")
    again = hand.batch("puffs", 40, mixed=((puffs.lot, 4),), ingredients={"wheat-flour": none})
    assert "Wheat Flour was left out: the label does not name it" in again.warnings
    assert said(hand, again.lot)["contains"] == said(hand, puffs.lot)["contains"]


def test_two_lots_that_each_hold_the_other_are_told_without_end(hand: ShopInHand) -> None:
    puffs = hand.batch("puffs", 40)
    firm = hand.batch("firm", 48, mixed=((puffs.lot, 4),))
    hand.shop.amendments.amend_batch(
        puffs.lot, BatchNote(mixed=((firm.lot, 2),)), "the other way round"
    )
    catalogue, batch_of = hand.shop.desk.catalogue, hand.shop.desk.batch
    for lot in (firm.lot, puffs.lot):
        found = contents_of(hand.shop.desk.batch(lot), catalogue, batch_of)
        assert {"Soybeans", "Wheat Flour"} <= all_names(found)


@pytest.mark.parametrize("tubs", [1, 2])
def test_the_counter_card_speaks_of_every_tub_that_is_open(make: Maker, tubs: int) -> None:
    puffs_may = '[products.puffs]\nmay_contain = ["peanut"]\n'
    hand = make(catalogue=CATALOGUE.replace("[products.puffs]\n", puffs_may, 1))
    puffs = hand.batch("puffs", 40)
    plain, _ = hand.pudding()
    if tubs == 2:
        other = hand.batch("pudding", 16000, mixed=((puffs.lot, 2),))
        hand.shop.tubs.open_tub(other.lot, "time", 8000, Decimal(4))
    lots = {t.lot for t in hand.shop.desk.ledger().open_tubs()}
    batches = {"pudding": [hand.shop.desk.batch(lot) for lot in sorted(lots)]}
    foods = [
        f for f in card_of(batches, hand.shop.desk.catalogue, hand.shop.desk.batch)
        if f.name.startswith("Soft Tofu Pudding")
    ]  # fmt: skip
    if tubs == 1:
        assert [f.name for f in foods] == ["Soft Tofu Pudding"]
    else:
        assert [f.name for f in foods] == [
            f"Soft Tofu Pudding {plain.lot}", f"Soft Tofu Pudding {other.lot}",
        ]  # fmt: skip
        assert "wheat" not in allergens(foods[0].ingredients)
        assert "wheat" in allergens(foods[1].ingredients)
        assert [f.may_contain for f in foods] == [(), ("peanut",)]


def test_of_what_is_scooped_the_open_tubs_alone_are_told(hand: ShopInHand) -> None:
    plain, _ = hand.pudding()
    hand.batch("pudding", 16000, mixed=((hand.batch("puffs", 40).lot, 2),))  # its tub is shut
    told = [one.lot for one in hand.shop.cards.what_is_in_it() if one.key == "pudding"]
    assert told == [plain.lot]


def allergens(found: tuple[Ingredient, ...]) -> set[str]:
    return {key for item in found for key in item.all_allergens()}


def test_an_eu_label_emphasises_what_older_stock_brings(make: Maker) -> None:
    hand = make(EU, DATED_CATALOGUE)
    puffs = hand.batch("puffs", 40)
    firm = hand.batch("firm", 48, mixed=((puffs.lot, 4),))
    [statement] = [s for s in hand.shop.cards.explain_label(firm.lot) if s.key == "ingredients"]
    assert "Wheat" in statement.text or "wheat" in statement.text


def test_an_allergen_that_stands_on_a_compound_alone_is_brought_along_too(make: Maker) -> None:
    text = CATALOGUE.replace(
        "[ingredients.soy-sauce]", '[ingredients.soy-sauce]\nallergens = ["sesame"]', 1
    )
    hand = make(SETTINGS, text)
    spiced = hand.batch("spiced", 24)
    sauce = parse_measure("30 g")
    hand.shop.desk.questions.given = {"amount.soybeans": "a trial"}
    plain = dict.fromkeys(("soybeans", "wheat", "five-spice", "salt", "nigari"), sauce)
    firm = hand.batch("firm", 48, mixed=((spiced.lot, 2),), ingredients=plain)
    assert "sesame" in said(hand, firm.lot)["contains"]
