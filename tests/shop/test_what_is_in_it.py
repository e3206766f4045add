"""What is in it: from the lots on hand, for whoever asks at the counter.

Food Code 3-602.12(C) (2022, from memory): written notice of the major allergens in unpackaged food;
EU 1169/2011 Art. 44(1)(a). 21 USC 321(qq): nine sources; 1169/2011 Annex II: fourteen.
"""

from __future__ import annotations

from pathlib import Path

import pdfplumber
import pytest

from counter.trade.inside import Inside, cell, in_none, sources_of
from tests.conftest import CATALOGUE, DATED_CATALOGUE, SETTINGS, Maker, ShopInHand, kilos

FIRM = 'recipe = { soybeans = "1 kg", water = "7 l", gypsum = "30 g" }'
MAY = '\n[kitchen]\nmay_contain = ["wheat"]\n'
EU = SETTINGS.replace('market = "us"', 'market = "eu"').replace("en_US", "en_IE")
OPEN = """
[products.skin]
name = "Soy Skin"
second_name = "Nata de soya"
keeps = 2
date = "best-by"
recipe = { soybeans = "1 kg", water = "4 l" }
recipe_makes = "10"

[products.jelly]
name = "Ginger Jelly"
second_name = "Gelatina de jengibre"
keeps = 2
date = "best-by"
recipe = { ginger-syrup = "1 kg", water = "1 l" }
recipe_makes = "10"

[portions.skin]
product = "skin"
name = "Sheet of skin"
price = "2.00"

[portions.jelly]
product = "jelly"
name = "Piece of jelly"
price = "1.00"
"""


def found(hand: ShopInHand, key: str) -> list[Inside]:
    return [one for one in hand.shop.cards.what_is_in_it() if one.key == key]


def card(hand: ShopInHand, tmp_path: Path) -> str:
    path = hand.shop.cards.counter_card(tmp_path / "card.pdf", "a4")
    with pdfplumber.open(path) as pdf:
        return " ".join(" ".join((page.extract_text() or "").split()) for page in pdf.pages)


def test_it_is_told_from_the_lots_on_hand_and_not_from_the_recipe(make: Maker) -> None:
    hand = make(catalogue=CATALOGUE.replace(FIRM, FIRM + '\nmay_contain = ["sesame"]', 1) + MAY)
    assert [(o.lot, o.contains) for o in found(hand, "firm")] == [("", ("soy",))]
    first = hand.batch("firm")
    second = hand.batch("firm", ingredients={"sesame": kilos("0.2")})
    told = found(hand, "firm")
    assert [o.lot for o in told] == [first.lot, second.lot]
    assert [o.contains for o in told] == [("soy",), ("soy", "sesame")]
    # what is in it for certain is not said to be perhaps
    assert [o.may_contain for o in told] == [("sesame", "wheat"), ("wheat",)]
    assert told[0].day == first.mark.day
    assert told[1].ingredients == ("Water", "Soybeans", "Sesame Seeds", "Calcium Sulfate")
    hand.shop.waste.throw_away(second.lot, second.made, "broken")
    assert [o.lot for o in found(hand, "firm")] == [first.lot]


def test_what_came_in_with_older_stock_is_in_it(hand: ShopInHand) -> None:
    puffs = hand.batch("puffs", 14, boiled_minutes=None, cook_celsius=180, cook_minutes=5)
    mixed = hand.batch("firm", mixed=((puffs.lot, 2),))
    told = [o for o in found(hand, "firm") if o.lot == mixed.lot]
    assert set(told[0].contains) == {"soy", "wheat"}


def test_what_may_be_in_older_stock_may_be_in_what_it_went_into(
    make: Maker, tmp_path: Path
) -> None:
    # FDA on 21 USC 343(w), EU 1169/2011 Art. 36(3)(a): said on the pack, the card, and when asked.
    odd = '[products.puffs]\nmay_contain = ["peanut"]\n'
    text = CATALOGUE.replace("[products.puffs]\n", odd)
    hand = make(catalogue=text.replace('label = { net = "14 oz"', 'label = { blank = ""}\n#'))
    puffs = hand.batch("puffs", 14, boiled_minutes=None, cook_celsius=180, cook_minutes=5)
    lot = hand.batch("firm", mixed=((puffs.lot, 2),)).lot
    hand.clock.forward(minutes=1)
    smoked = hand.batch("smoked", 8, boiled_minutes=None, mixed=((lot, 8),)).lot
    told = {o.lot: o.may_contain for o in hand.shop.cards.what_is_in_it() if o.lot}
    assert told == {puffs.lot: ("peanut",), lot: ("peanut",), smoked: ("peanut",)}
    assert "May contain: peanuts." in card(hand, tmp_path)
    label = hand.shop.labels.label(smoked, "roll-100x150")
    assert "May contain: peanuts." in [s.text for s in label.statements]


def test_a_topping_is_told_and_one_that_nobody_knows_is_no_free_of(make: Maker) -> None:
    known = 'name = "Black sesame"\nprice = "0.75"\ningredient = "sesame"\n'
    hand = make(catalogue=CATALOGUE.replace(known, 'name = "Crumble"\n'))
    told = {o.name: o for o in hand.shop.cards.what_is_in_it() if o.topping}
    assert told["Ginger syrup"].contains == ()
    assert not told["Crumble"].known
    assert cell(told["Crumble"], "milk") == "?"
    assert cell(told["Ginger syrup"], "milk") == ""
    assert in_none([*told.values()], ["milk"]) == []


def test_what_somebody_said_is_not_in_it_stands_with_the_word_why(make: Maker) -> None:
    # 21 USC 321(qq)(2)(A)
    oil = '[ingredients.rapeseed-oil]\nname = "Peanut Oil"\n' \
          'allergens_none = { peanut = "highly refined" }\n'  # fmt: skip
    hand = make(catalogue=CATALOGUE.replace(
        '[ingredients.rapeseed-oil]\nname = "Canola Oil"\n', oil
    ))  # fmt: skip
    assert found(hand, "puffs")[0].none == {"peanut": "highly refined"}


def test_what_is_in_a_lot_is_not_said_to_be_in_none(make: Maker) -> None:
    shape = '[products.firm]\nallergens_none = { sesame = "a shape" }\n'
    text = CATALOGUE.replace("[products.firm]\n", shape)
    hand = make(catalogue=text.replace('name = "Firm Tofu"', 'name = "Sesame Tofu"'))
    hand.batch("firm")
    hand.batch("firm", ingredients={"sesame": kilos("0.2")})
    assert [o.none for o in found(hand, "firm")] == [{"sesame": "a shape"}, {}]


def test_the_sources_are_the_nine_or_those_of_annex_ii() -> None:
    assert len(sources_of("us")) == 9
    assert {"celery", "mustard", "lupin", "mollusc", "sulphites"} <= set(sources_of("eu"))


def test_sulfites_are_told_in_the_us_too(make: Maker) -> None:
    # 21 CFR 101.100(a)(4)
    hand = make(
        catalogue=CATALOGUE.replace('name = "Ginger"', 'allergens = ["sulphites"]\nname = "Ginger"')
    )
    assert sources_of("us", hand.shop.cards.what_is_in_it())[-1] == "sulphites"


# -- the counter card


@pytest.mark.parametrize(
    ("settings", "catalogue", "none", "second"),
    [
        (SETTINGS, CATALOGUE, "None of the nine allergens that the law names is an ingredient.",
         "Ninguno de los nueve alérgenos que nombra la ley es ingrediente."),
        (EU, DATED_CATALOGUE, "None of the fourteen allergens that the law names is an ingredient.",
         "Ninguno de los catorce alérgenos que nombra la ley es ingrediente."),
    ],
)  # fmt: skip
def test_the_card_lists_what_lies_unwrapped_and_says_where_there_are_none(
    make: Maker, tmp_path: Path, settings: str, catalogue: str, none: str, second: str
) -> None:
    hand = make(settings, catalogue + OPEN + MAY)
    hand.batch("skin", 10)
    said = card(hand, tmp_path)
    for name in ("Soy Skin", "Ginger Jelly", "Soft Tofu Pudding", "Ginger syrup", "Black sesame"):
        assert name in said
    assert "Firm Tofu" not in said  # it has its label
    # jelly and two syrups hold none of them; each says it in both languages
    assert said.count(none) == said.count(second) == 3
    jelly = said[said.index("Ginger Jelly") : said.index("Ginger Jelly") + 260]
    assert none in jelly
    assert "ay contain" in jelly  # May contain wheat: beside it, not in its place


def test_the_card_lists_a_lot_that_lies_there_by_what_went_into_it(
    make: Maker, tmp_path: Path
) -> None:
    hand = make(catalogue=CATALOGUE + OPEN)
    hand.batch("skin", 10)
    hand.batch("skin", 10, ingredients={"sesame": kilos("0.05")})
    said = card(hand, tmp_path)
    assert "Soy Skin 26328-01" in said
    assert "Soy Skin 26328-02" in said
    assert "Contains: soy, sesame." in said


@pytest.mark.parametrize("language", ["en", "de", "fr"])
@pytest.mark.parametrize("second", ["", "es", "vi", "fr", "de"])
def test_the_card_is_written_in_every_language_of_labels(
    make: Maker, tmp_path: Path, language: str, second: str
) -> None:
    told = EU.replace('second_language = "es"', f'second_language = "{second}"')
    told = told.replace("[labels]", f'[labels]\nlanguage = "{language}"')
    hand = make(told, DATED_CATALOGUE + OPEN + MAY)
    said = card(hand, tmp_path)
    word = {"en": "None of the fourteen", "de": "Keines der vierzehn", "fr": "Aucun des quatorze"}
    assert word[language] in said


def test_a_card_of_a_topping_that_nobody_knows_does_not_say_none(
    make: Maker, tmp_path: Path
) -> None:
    known = 'name = "Black sesame"\nprice = "0.75"\ningredient = "sesame"\n'
    hand = make(catalogue=CATALOGUE.replace(known, 'name = "Crumble"\n'))
    said = card(hand, tmp_path)
    assert "None of the nine" not in said[said.index("Crumble: ask us what is in it") :]
