"""A name that says an allergen asks for it: when a catalogue is loaded, and when a batch is logged.

21 USC 343(w)(1): the label names every major allergen that is in the food. 21 USC 321(qq)(2):
highly refined oil is excluded, which only a person can say. EU 1169/2011 Art. 9(1)(c), Annex II.
"""

from __future__ import annotations

import random
from pathlib import Path

import pdfplumber
import pytest
from msgspec import structs

from counter.errors import BadInput, Refused
from counter.shop import Shop
from counter.shop.facts import facts_of
from counter.trade.batch_note import BatchNote
from counter.trade.catalogue import Catalogue
from counter.trade.catalogue_file import parse_catalogue, write_catalogue
from counter.trade.settings import parse_settings
from labels.errors import MissingFact
from labels.rules import statements
from tests.conftest import CATALOGUE, SETTINGS, Clock, Maker, ShopInHand, kilos
from tests.often import often

ODD = '[ingredients.odd]\nname = "{name}"\nsecond_name = "{second}"\n{more}\n'
FIRM = 'recipe = { soybeans = "1 kg", water = "7 l", gypsum = "30 g" }'
WITH_ODD = FIRM.replace(" }", ', odd = "20 g" }')


def with_odd(name: str, more: str = "", second: str = "Raro") -> str:
    """The catalogue with one ingredient more, which goes into the firm tofu."""
    text = CATALOGUE.replace(
        "[products.firm]", ODD.format(name=name, more=more, second=second) + "[products.firm]"
    )
    assert FIRM in text
    return text.replace(FIRM, WITH_ODD, 1)


def read(text: str, market: str = "us") -> Catalogue:
    return parse_catalogue(text, 2, {"grocery", "prepared"}, market=market)  # type: ignore[arg-type]


def test_an_ingredient_whose_name_says_an_allergen_is_refused_until_it_names_it() -> None:
    text = with_odd("Sesame Oil")
    line = text.splitlines().index("[ingredients.odd]") + 1
    with pytest.raises(BadInput) as caught:
        read(text)
    assert str(caught.value) == (
        f"Cannot read catalogue.toml: 'ingredients.odd' (line {line}): the name 'Sesame Oil' says sesame: put it "
        "under allergens of what is in it, or say in allergens_none why not. Mend it and try again."
    )
    made = read(with_odd("Sesame Oil", 'allergens = ["sesame"]'))
    assert made.allergens_of("odd") == ("sesame",)


def test_the_second_name_says_it_too() -> None:
    with pytest.raises(BadInput, match="'Salsa de cacahuate' says peanut"):
        read(with_odd("House sauce", second="Salsa de cacahuate"))


def test_a_word_why_says_that_it_is_not_in_there_and_is_kept() -> None:
    # 21 USC 321(qq)(2)(A): highly refined oil and what is made of it.
    why = 'allergens_none = { peanut = "highly refined, 21 USC 321(qq)" }'
    made = read(with_odd("Refined peanut oil", why))
    assert made.ingredients["odd"].allergens_none == {"peanut": "highly refined, 21 USC 321(qq)"}
    assert read(write_catalogue(made, 2)) == made


@pytest.mark.parametrize(
    ("none", "why"),
    [
        ('{ peanuts = "refined" }', "'peanuts' is none of the sources"),
        ('{ peanut = " " }', "say in a word why no peanut is in it"),
        ('{ wheat = "none" }', "'Refined peanut oil' says peanut"),
    ],
)
def test_a_word_why_must_be_one_and_of_that_source(none: str, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        read(with_odd("Refined peanut oil", f"allergens_none = {none}"))


def test_the_parts_of_a_recipe_count() -> None:
    # "Soy Sauce" says wheat and soy; its recipe of soybeans and wheat brings both.
    assert set(read(CATALOGUE).allergens_of("soy-sauce")) == {"soy", "wheat"}
    with pytest.raises(BadInput, match="'Soy Sauce' says wheat"):
        read(CATALOGUE.replace('soybeans = "250 g", wheat = "150 g"', 'soybeans = "400 g"'))


def test_a_product_is_asked_for_what_its_own_name_says() -> None:
    named = CATALOGUE.replace('name = "Firm Tofu"', 'name = "Sesame Tofu"')
    with pytest.raises(BadInput, match="'products.firm'.*'Sesame Tofu' says sesame"):
        read(named)
    with_it = named.replace(FIRM, FIRM.replace(" }", ', sesame = "50 g" }'), 1)
    assert read(with_it).products["firm"].name == "Sesame Tofu"
    by_hand = named.replace(FIRM, FIRM + '\nallergens_none = { sesame = "a mould, no seed" }', 1)
    assert read(by_hand).products["firm"].allergens_none == {"sesame": "a mould, no seed"}


def test_a_topping_is_asked_for_what_its_name_says() -> None:
    with pytest.raises(BadInput, match="'toppings.sesame'.*'Black sesame' says sesame"):
        read(CATALOGUE.replace('ingredient = "sesame"\n', ""))


def test_what_is_left_out_of_a_batch_takes_no_allergen_off_a_label_that_names_it(
    make: Maker,
) -> None:
    named = CATALOGUE.replace('name = "Firm Tofu"', 'name = "Sesame Tofu"')
    hand = make(catalogue=named.replace(FIRM, FIRM.replace(" }", ', sesame = "50 g" }'), 1))
    assert hand.batch("firm").lot == "26328-01"
    with pytest.raises(
        Refused, match="Cannot log a batch of firm: the name 'Sesame Tofu' says sesame"
    ):
        hand.batch("firm", ingredients={"sesame": kilos("0")})


def test_a_batch_of_which_nothing_is_noted_is_logged_and_not_labelled(make: Maker) -> None:
    bare = CATALOGUE.replace(FIRM + '\nrecipe_makes = "8"', "", 1)
    assert bare != CATALOGUE
    hand = make(catalogue=bare)
    lot = hand.batch("firm").lot
    with pytest.raises(MissingFact, match="list the ingredients of 'Firm Tofu': none are given"):
        hand.shop.labels.label(lot)


def old_shop(make: Maker) -> ShopInHand:
    """A shop whose catalogue came into use before names were looked at."""
    hand = make(catalogue=with_odd("Odd"))
    old = hand.shop.desk.catalogue
    odd = structs.replace(old.ingredients["odd"], name="Sesame Oil")
    kept = structs.replace(old, ingredients={**old.ingredients, "odd": odd})
    hand.shop.desk.books.commit("catalogue", {"catalogues": [kept]}, hand.shop.desk.now())
    return hand


def test_an_old_catalogue_logs_no_batch_and_no_card_until_it_is_mended(make: Maker) -> None:
    hand = old_shop(make)
    with pytest.raises(Refused) as caught:
        hand.batch("firm")
    assert str(caught.value) == (
        "Cannot log a batch of firm: the name 'Sesame Oil' says sesame: put it under allergens of what is "
        "in it, or say in allergens_none why not. Load the catalogue with that."
    )
    with pytest.raises(Refused, match="log a batch of soft: the name 'Sesame Oil' says sesame"):
        hand.batch("soft", ingredients={"odd": kilos("0.01")})
    with pytest.raises(Refused, match="write a counter card: the name 'Sesame Oil' says sesame"):
        hand.shop.cards.counter_card(Path("never.pdf"))


def test_no_correction_brings_in_what_an_old_catalogue_does_not_name(make: Maker) -> None:
    # 21 USC 343(w); EU 1169/2011 Art. 9(1)(c): the log of a batch says it, corrected or not.
    hand = make(catalogue=with_odd("Odd"))
    batch = hand.batch("soft")
    old = hand.shop.desk.catalogue
    odd = structs.replace(old.ingredients["odd"], name="Sesame Oil")
    kept = structs.replace(old, ingredients={**old.ingredients, "odd": odd})
    hand.shop.desk.books.commit("catalogue", {"catalogues": [kept]}, hand.shop.desk.now())
    note = BatchNote(ingredients={"odd": kilos("0.01")})
    said = f"correct lot {batch.lot}: the name 'Sesame Oil' says sesame"
    with pytest.raises(Refused, match=said):
        hand.shop.amendments.preview_amended(batch.lot, note)
    with pytest.raises(Refused, match=said):
        hand.shop.amendments.amend_batch(batch.lot, note, "it went in")
    assert hand.shop.desk.batch(batch.lot) == batch
    # what changes nothing of what is in it is noted all the same
    assert hand.shop.amendments.amend_batch(batch.lot, BatchNote(notes="x"), "a word").notes == "x"


def test_what_gives_a_product_its_name_is_not_taken_out_by_a_correction(make: Maker) -> None:
    text = CATALOGUE.replace('name = "Smoked Tofu"', 'name = "Sesame Tofu"')
    text = text.replace('salt = "3 g" }', 'salt = "3 g", sesame = "9 g" }')
    hand = make(catalogue=text)
    firm = hand.batch("firm")
    lot = hand.batch("smoked", 8, boiled_minutes=None, mixed=((firm.lot, 8),)).lot
    with pytest.raises(Refused, match="the name 'Sesame Tofu' says sesame"):
        hand.shop.amendments.amend_batch(
            lot, BatchNote(ingredients={"sesame": kilos("0")}), "none there"
        )


def test_a_batch_of_before_is_not_labelled_until_the_catalogue_is_mended(make: Maker) -> None:
    hand = make(catalogue=with_odd("Odd"))
    lot = hand.batch("firm").lot
    hand.clock.forward(minutes=1)
    hand.shop.products.load_catalogue(with_odd("Sesame Oil", 'allergens_none = { sesame = "why" }'))
    hand.shop.labels.label(lot)
    hand.clock.forward(minutes=1)
    old = hand.shop.desk.catalogue
    odd = structs.replace(old.ingredients["odd"], allergens_none={})
    kept = structs.replace(old, ingredients={**old.ingredients, "odd": odd})
    hand.shop.desk.books.commit("catalogue", {"catalogues": [kept]}, hand.shop.desk.now())
    with pytest.raises(Refused, match=f"label lot {lot}: the name 'Sesame Oil' says sesame"):
        hand.shop.labels.label(lot)
    hand.clock.forward(minutes=1)
    hand.shop.products.load_catalogue(with_odd("Sesame Oil", 'allergens = ["sesame"]'))
    said = {s.key: s.text for s in hand.shop.labels.label(lot).statements}
    assert said["contains"] == "Contains: soy, sesame."


def test_what_may_get_in_names_known_sources_and_comes_back_from_the_file() -> None:
    text = CATALOGUE.replace(FIRM, FIRM + '\nmay_contain = ["sesame"]', 1)
    made = read(text + '\n[kitchen]\nmay_contain = ["wheat", "tree-nut:almond"]\n')
    assert made.may_contain_of("firm") == ("sesame", "wheat", "tree-nut:almond")
    assert made.may_contain_of("soft") == ("wheat", "tree-nut:almond")
    assert read(write_catalogue(made, 2)) == made
    with pytest.raises(BadInput, match="'kitchen.may_contain'.*'nuts': the source is not known"):
        read(CATALOGUE + '\n[kitchen]\nmay_contain = ["nuts"]\n')
    with pytest.raises(BadInput, match="'kitchen.may_contain'.*the law asks for the kind"):
        read(CATALOGUE + '\n[kitchen]\nmay_contain = ["fish"]\n')


# -- five hundred catalogues

# What a cook knows of a food by its name: its own table, that shares nothing with the program's.
ALLERGENS = {
    "sesame oil": "sesame", "tahini": "sesame", "aceite de ajonjolí": "sesame", "Sesamöl": "sesame",
    "huile de sésame": "sesame", "olio di sesamo": "sesame", "sesamolie": "sesame",
    "wheat flour": "wheat", "seitan": "wheat", "harina de trigo": "wheat", "Weizenmehl": "wheat",
    "farine de blé": "wheat", "farina di frumento": "wheat", "tarwebloem": "wheat",
    "peanut sauce": "peanut", "salsa de maní": "peanut", "Erdnusssauce": "peanut",
    "sauce aux arachides": "peanut", "salsa di arachidi": "peanut", "pindasaus": "peanut",
    "miso": "soy", "okara": "soy", "habas de soja": "soy", "Sojabohnen": "soy",
    "graines de soja": "soy", "semi di soia": "soy", "sojabonen": "soy",
    "fish sauce": "fish:cod", "salsa de pescado": "fish:cod", "Fischsauce": "fish:cod",
    "sauce de poisson": "fish:cod", "colla di pesce": "fish:cod", "vissaus": "fish:cod",
    "skim milk": "milk", "leche desnatada": "milk", "Magermilch": "milk", "lait écrémé": "milk",
    "latte scremato": "milk", "magere melk": "milk",
    "egg yolk": "egg", "yema de huevo": "egg", "Eigelb": "egg", "jaune d’œuf": "egg",
    "tuorlo d'uovo": "egg", "eierdooier van eieren": "egg",
    "dried shrimp": "crustacean:shrimp", "camarón seco": "crustacean:shrimp",
    "Garnelen": "crustacean:shrimp", "crevettes": "crustacean:shrimp",
    "gamberetti": "crustacean:shrimp", "garnalen": "crustacean:shrimp",
    "almond paste": "tree-nut:almond", "pasta de almendra": "tree-nut:almond",
    "Mandelmus": "tree-nut:almond", "purée d’amandes": "tree-nut:almond",
    "crema di mandorle": "tree-nut:almond", "amandelpasta": "tree-nut:almond",
}  # fmt: skip
ORDINARY = (
    "fine", "roasted", "dark", "of the house", "No 3", "tostado", "fino", "geröstet", "bio", "grillé",
    "moulu", "tostato", "macinato", "gebrand", "extra",
)  # fmt: skip
HARMLESS = ("salt", "sal", "Zucker", "sucre", "pepe nero", "gember", "chili", "kombu", "eggplant")


class Made:
    """A catalogue out of chance: what goes into the firm tofu, by key."""

    def __init__(self, seed: int) -> None:
        chance = random.Random(seed)
        self.names: dict[str, str] = {}
        self.said: dict[str, str] = {}  # what the name says
        self.declared: dict[str, str] = {}
        self.by_hand: dict[str, str] = {}
        for n in range(chance.randint(1, 4)):
            key = f"odd-{n}"
            word = chance.choice([*ALLERGENS] if chance.random() < 0.75 else HARMLESS)
            words = [word, chance.choice(ORDINARY)]
            chance.shuffle(words)
            name = " ".join(words)
            self.names[key] = chance.choice((name, name.upper(), name.title()))
            if source := ALLERGENS.get(word):
                self.said[key] = source
                how = chance.choices(("declared", "by hand", "forgotten"), (6, 2, 1))[0]
                if how == "declared":
                    self.declared[key] = source
                elif how == "by hand":
                    self.by_hand[key] = source.partition(":")[0]

    @property
    def forgotten(self) -> bool:
        return any(k not in self.declared and k not in self.by_hand for k in self.said)

    @property
    def text(self) -> str:
        tables = []
        for key, name in self.names.items():
            lines = [
                f"[ingredients.{key}]", f'name = "{name}"', 'second_name = "Raro"',
            ]  # fmt: skip
            if key in self.declared:
                lines.append(f'allergens = ["{self.declared[key]}"]')
            if key in self.by_hand:
                lines.append(f'allergens_none = {{ {self.by_hand[key]} = "made without" }}')
            tables.append("\n".join(lines) + "\n")
        odd = "".join(f', {key} = "20 g"' for key in self.names)
        text = CATALOGUE.replace("[products.firm]", "\n".join(tables) + "\n[products.firm]")
        return text.replace(FIRM, FIRM.replace(" }", f"{odd} }}"), 1)


US_WORDS = {"crustacean": "crustacean shellfish", "tree-nut": "tree nuts", "peanut": "peanuts"}


def words_of(source: str) -> list[str]:
    """What stands on the label for a source: 21 USC 321(qq), the kind by 343(w)(2)."""
    name, _, kind = source.partition(":")
    return [US_WORDS.get(name, name), *([kind] if kind else [])]


def memory_shop() -> ShopInHand:
    clock = Clock()
    return ShopInHand(Shop.memory(parse_settings(SETTINGS), clock), clock)


def test_of_500_catalogues_none_gives_a_label_without_what_its_names_say(tmp_path: Path) -> None:
    refused, printed, many = 0, 0, often(500)
    for seed in range(many):
        made, hand = Made(seed), memory_shop()
        if made.forgotten:
            with pytest.raises(BadInput, match=" says "):
                hand.shop.products.load_catalogue(made.text)
            refused += 1
            continue
        hand.shop.products.load_catalogue(made.text)
        batch, catalogue = hand.batch("firm"), hand.shop.desk.catalogue
        facts = facts_of(
            batch,
            catalogue.products["firm"],
            catalogue,
            hand.shop.desk.settings,
            hand.shop.desk.batch,
        )
        contains = next(s.text for s in statements(facts, "us") if s.key == "contains")
        for source in ["soy", *made.declared.values()]:
            for word in words_of(source):
                assert word in contains, (seed, made.names)
        if printed < 12:  # the finished page of some, read by another library
            file = tmp_path / f"{seed}.pdf"
            hand.shop.labels.print_labels([(batch.lot, 1)], file, blank="roll-100x150")
            with pdfplumber.open(file) as pdf:
                page = " ".join((pdf.pages[0].extract_text() or "").split())
            assert all(w in page for s in made.declared.values() for w in words_of(s))
            printed += 1
    assert refused > many // 8
    assert printed == 12
