"""What a shop's label says is true of the food: how it is held, its languages, its dates."""

from __future__ import annotations

import pytest

from counter.errors import BadInput
from counter.trade.settings import parse_settings
from labels.errors import BadValue, MissingFact
from tests.conftest import CATALOGUE, DATED_CATALOGUE, SETTINGS, Maker
from tests.shop.test_shop_labels import EU

LOT = "26328-01"
FIRM = 'second_name = "Tofu firme"\n'
OWN_WORDS = SETTINGS.replace("[labels]\n", '[labels]\nstorage = "Keep refrigerated"\n')


CHEST = '\n[holding]\nfridge = "cold"\nchest = "freezer"\n'


def said(
    make: Maker, settings: str = SETTINGS, catalogue: str = CATALOGUE, frozen: bool = True
) -> dict[str, str]:
    hand = make(settings + CHEST, catalogue)
    hand.batch("firm", 48)
    if frozen and hand.shop.desk.catalogue.products["firm"].held == "frozen":
        hand.shop.records.move_lot(LOT, "chest")
    return {s.key: s.text for s in hand.shop.labels.label(LOT).statements if s.present}


def held(how: str, more: str = "") -> str:
    told = CATALOGUE.replace(FIRM, f'{FIRM}held = "{how}"\n')
    return told.replace('label = { net = "14 oz"', f'label = {{ {more}net = "14 oz"')


@pytest.mark.parametrize(
    ("settings", "how", "text"),
    [
        # Food Code 3-501.16(A)(2), 3-501.11. The shop's own words are for what is held cold.
        (SETTINGS, "cold", "Keep refrigerated at 41 °F (5 °C) or below."),
        (OWN_WORDS, "cold", "Keep refrigerated"),
        (SETTINGS, "frozen", "Keep frozen at 0 °F (−18 °C) or below."),
        (OWN_WORDS, "frozen", "Keep frozen at 0 °F (−18 °C) or below."),
        (SETTINGS, "room", None),
        (OWN_WORDS, "room", None),
    ],
)
def test_storage_words_follow_how_the_product_is_held(
    make: Maker, settings: str, how: str, text: str | None
) -> None:
    found = said(make, settings, held(how))
    assert found.get("storage") == text
    assert ("frig" in found.get("second-storage", "")) is (how == "cold" and settings == SETTINGS)


def test_what_is_held_frozen_says_so_once_it_is_noted_frozen(make: Maker) -> None:
    own = held("frozen", 'storage = "Keep in the chest", ')
    assert said(make, SETTINGS, own, frozen=False)["storage"].startswith("Keep refrigerated")


@pytest.mark.parametrize("how", ["cold", "frozen"])
def test_a_hyphen_leaves_the_storage_words_out_where_the_law_allows(make: Maker, how: str) -> None:
    assert "storage" not in said(make, SETTINGS, held(how, 'storage = "-", '))


def test_the_shops_hyphen_leaves_them_out_for_all(make: Maker) -> None:
    none = SETTINGS.replace("[labels]\n", '[labels]\nstorage = "-"\n')
    assert "storage" not in said(make, none, held("frozen"))


def test_in_the_eu_a_use_by_date_keeps_its_storage_words(make: Maker) -> None:
    """EU 1169/2011 Annex X 2(b)."""
    dated = DATED_CATALOGUE.replace('date = "best-by"', 'date = "use-by"')
    dated = dated.replace('label = { net = "14 oz"', 'label = { storage = "-", net = "14 oz"')
    with pytest.raises(MissingFact, match="followed by the storage conditions"):
        said(make, EU, dated)


@pytest.mark.parametrize(
    ("market", "language", "own", "found"),
    [
        # 21 CFR 101.15(c)(1): a shop that is run in Spanish still labels in English
        ("us", "es_US", "", "en"), ("us", "en_US", "en", "en"),
        ("eu", "de_DE", "", "de"), ("eu", "de_DE", "fr", "fr"),
    ],
)  # fmt: skip
def test_the_language_of_labels_is_a_setting_of_its_own(
    make: Maker, market: str, language: str, own: str, found: str
) -> None:
    settings = SETTINGS.replace('market = "us"', f'market = "{market}"')
    settings = settings.replace('language = "en_US"', f'language = "{language}"')
    settings = settings.replace("[labels]\n", f'[labels]\nlanguage = "{own}"\n')
    hand = make(settings, DATED_CATALOGUE)
    hand.batch("firm", 48)
    assert hand.shop.desk.settings.label_language == hand.shop.labels.label(LOT).language == found


@pytest.mark.parametrize(
    ("market", "own", "known"), [("us", "es", "en"), ("eu", "zh", "en, de, fr")]
)
def test_a_language_no_label_is_written_in_is_refused_when_it_is_read(
    make: Maker, market: str, own: str, known: str
) -> None:
    settings = SETTINGS.replace('market = "us"', f'market = "{market}"')
    settings = settings.replace("[labels]\n", f'[labels]\nlanguage = "{own}"\n')
    with pytest.raises(BadInput) as refusal:
        make(settings)
    assert f"labels of market {market} are written in {known}." in str(refusal.value)
    assert "'labels.language' (line " in str(refusal.value)


def test_a_second_name_with_an_ingredient_that_has_none_is_refused(make: Maker) -> None:
    """21 CFR 101.15(c)(2)."""
    sentence = (
        "Cannot print the second name 'Tofu firme' of 'Firm Tofu': half a language does not stand "
        "(21 CFR 101.15(c)(2)), and these have no name in it: Soybeans. Give their second names, "
        "or take that of the product away."
    )
    with pytest.raises(MissingFact) as refusal:
        said(make, SETTINGS, CATALOGUE.replace('second_name = "Soya"\n', ""))
    assert str(refusal.value) == sentence


def test_a_product_without_a_second_name_is_labelled_in_english_alone(make: Maker) -> None:
    found = said(make, SETTINGS, CATALOGUE.replace(FIRM, ""))
    assert not [key for key in found if key.startswith("second")]
    assert found["net-quantity"] == "NET WT 14 OZ (396 g)"


def test_sulphites_of_the_catalogue_stand_in_the_us_list(make: Maker) -> None:
    """21 CFR 101.100(a)(4), 130.9."""
    salted = CATALOGUE.replace(
        'second_name = "Sulfato de calcio"\n',
        'second_name = "Sulfato de calcio"\nallergens = ["sulphites"]\n',
    )
    found = said(make, SETTINGS, salted)
    assert "Calcium Sulfate (sulfiting agents)" in found["ingredients"]
    assert found["contains"] == "Contains: soy."


def test_only_a_beverage_may_have_short_date_words_on_a_large_pack(make: Maker) -> None:
    """California Food and Agricultural Code 82001."""
    from counter.shop.facts import facts_of
    from labels.rules.us import may_be_short

    bottled = CATALOGUE.replace(
        'label = { net = "32 fl oz"', 'label = { beverage = true, net = "32 fl oz"'
    )
    hand = make(SETTINGS, bottled)
    shop = hand.shop
    short = {}
    for product in ("firm", "milk"):
        batch = hand.batch(product, 12)
        facts = facts_of(
            batch,
            shop.desk.catalogue.product(product),
            shop.desk.catalogue,
            shop.desk.settings,
            shop.desk.batch,
        )
        short[product] = may_be_short(facts)
    assert short == {"firm": False, "milk": True}


def test_what_may_get_into_a_product_stands_on_its_label_in_both_languages(make: Maker) -> None:
    """The product's and the kitchen's; FDA: voluntary, never in place of "Contains"."""
    text = CATALOGUE.replace(FIRM, f'{FIRM}may_contain = ["peanut"]\n')
    found = said(make, SETTINGS, text + '\n[kitchen]\nmay_contain = ["tree-nut:cashew", "soy"]\n')
    assert found["contains"] == "Contains: soy."
    assert found["may-contain"] == "May contain: peanuts, tree nuts (cashew)."
    assert found["second-may-contain"] == (
        "Puede contener: cacahuates, nueces de árbol (anacardos)."
    )


def test_what_nobody_sees_comes_into_no_catalogue_and_no_settings(make: Maker) -> None:
    text = CATALOGUE.replace('name = "Firm Tofu"', 'name = "Fi\u200brm\u00a0To\u00adfu\u202e"')
    settings = SETTINGS.replace("Millrace", "Mill\u2060race\ufeff")
    hand = make(settings, text)
    assert hand.shop.desk.catalogue.product("firm").name == "Firm Tofu"
    assert hand.shop.desk.settings.shop.name == "Millrace Tofu Works"
    with pytest.raises(BadInput, match=r"the key 'gro<200B>cery' holds a character that cannot be"):
        parse_settings(SETTINGS.replace("[tax.classes.grocery]", '[tax.classes."gro\u200bcery"]'))


def test_recipes_a_thousand_deep_are_one_sentence(make: Maker) -> None:
    hand = make()
    for up in (1, -1):  # the deepest first, and last
        chain = [
            f'[ingredients.s{n}]\nname = "S{n}"\nrecipe = {{ s{n + 1} = "1 g", gypsum = "1 g" }}\n'
            for n in range(1000)
        ]
        last = '[ingredients.s1000]\nname = "Last"\n'
        text = CATALOGUE + "\n".join([*chain, last][::up])
        with pytest.raises(BadInput, match=r"holds recipes, one in another, more than 20 deep"):
            hand.shop.products.load_catalogue(text)


def test_recipes_that_double_sixteen_times_are_one_sentence(make: Maker) -> None:
    doubled = "".join(
        f'[ingredients.{a}{n}]\nname = "X"\nsecond_name = "X"\n'
        + (f'recipe = {{ a{n + 1} = "1 kg", b{n + 1} = "1 kg" }}\n' if n < 16 else "")
        for n in range(17) for a in "ab"
    )  # fmt: skip
    hand = make(catalogue=CATALOGUE.replace('gypsum = "30 g" }', 'a0 = "30 g" }', 1) + doubled)
    lot = hand.batch("firm").lot
    with pytest.raises(BadValue, match="list 'X': more than 500 ingredients lie in it"):
        hand.shop.labels.label(lot)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        # 21 CFR 101.4(a), 21 USC 343(w): of 0 g the label names nothing, and no allergen
        ('wheat-flour = "60 g"', 'wheat-flour = "0 g"', "recipe.wheat-flour'.*'0 g' is nothing"),
        ('wheat = "150 g"', 'wheat = "0 kg"', "recipe.wheat'.*'0 kg' is nothing"),
        # 21 CFR 101.3(a), 101.7(a)
        ('name = "Firm Tofu"', 'name = "\u200b\u202e"', "firm.name'.*there is nothing to read in it"),
        ('name = "Firm block"', 'name = " "', "firm-block.name'.*there is nothing to read in it"),
        ('net = "14 oz"', 'net = "0 oz"', "label.net'.*it is not above zero"),
    ],
)  # fmt: skip
def test_what_is_nothing_is_refused_when_the_catalogue_is_read(
    make: Maker, old: str, new: str, said: str
) -> None:
    hand = make()
    with pytest.raises(BadInput, match=said):
        hand.shop.products.load_catalogue(CATALOGUE.replace(old, new, 1))


def test_a_key_of_fifteen_thousand_parts_is_one_sentence(make: Maker) -> None:
    """tomllib takes 1.5 GiB for it."""
    hand = make()
    with pytest.raises(BadInput, match=r"a key has more than 50 parts \(at line 1\)"):
        hand.shop.products.load_catalogue("a." * 15_000 + "a = 1\n")


def test_a_net_quantity_of_thirty_digits_is_one_sentence(make: Maker) -> None:
    hand = make()
    with pytest.raises(BadInput, match="no such amount is weighed or measured"):
        hand.shop.products.load_catalogue(
            CATALOGUE.replace('net = "14 oz"', f'net = "{"9" * 30} oz"')
        )


@pytest.mark.parametrize("blank", [" ", "\u00a0", "\u200b"])
def test_a_second_name_of_spaces_says_nothing(make: Maker, blank: str) -> None:
    # 21 CFR 101.15(c)(2): what is in it stands in that language
    with pytest.raises(MissingFact, match="these have no name in it: Calcium Sulfate"):
        said(make, SETTINGS, CATALOGUE.replace('"Sulfato de calcio"', f'"{blank}"'))


@pytest.mark.parametrize("blank", [" ", "\u00a0", "\u200b"])
def test_a_product_with_a_second_name_of_spaces_has_none(make: Maker, blank: str) -> None:
    found = said(make, SETTINGS, CATALOGUE.replace('"Tofu firme"', f'"{blank}"'))
    assert not {"second-name", "second-ingredients"} & set(found)
