"""Storage words, second languages, sulfites, what may be in it, short dates: each true."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from msgspec.structs import replace

from labels import Blank, DateMark, Ingredient, NetQuantity, blank_named, lay_out
from labels.allergens import KIND_NAMES, LANGUAGES, SOURCES, eu_names, kind_named, us_names
from labels.errors import BadValue, DoesNotFit, MissingFact
from labels.rules import statements
from labels.rules.us import SMALL_ITEM, may_be_short
from labels.words import WORDS
from tests.labels.shop import GYPSUM, MAKER, SOYBEANS, WATER, firm_tofu, rectangle

MONDAY = date(2026, 11, 30)
USE_BY = DateMark("use-by", MONDAY)
APRICOTS = Ingredient(
    name="dried apricots", second="orejones", grams=Decimal(50), allergens=("sulphites",)
)
NUTS = Ingredient(name="paste", second="pasta", grams=Decimal(50), allergens=("tree-nut:almond",))
EVERY_KIND = [f"{source}:{row[0]}" for source, rows in KIND_NAMES.items() for row in rows]


def said(market: str, language: str = "en", **changed: Any) -> dict[str, str]:
    """What a label says, by statement; what it does not say is not there."""
    facts = firm_tofu(**changed)
    return {s.key: s.text for s in statements(facts, market, language=language) if s.present}


# -- storage words follow how it is held


@pytest.mark.parametrize(
    ("market", "language", "held", "text"),
    [
        # Food Code 3-501.16(A)(2), 3-501.11; the wordings are common practice, no source
        ("us", "en", "cold", "Keep refrigerated at 41 °F (5 °C) or below."),
        ("us", "en", "frozen", "Keep frozen at 0 °F (−18 °C) or below."),
        # EU 1169/2011 Art. 25
        ("eu", "en", "cold", "Keep refrigerated at 5 °C or below."),
        ("eu", "en", "frozen", "Keep frozen at −18 °C or below."),
        ("eu", "de", "frozen", "Tiefgekühlt bei höchstens −18 °C lagern."),
        ("eu", "fr", "frozen", "À conserver congelé, à −18 °C au maximum."),
    ],
)
def test_storage_words_follow_how_it_is_held(
    market: str, language: str, held: str, text: str
) -> None:
    assert said(market, language, held=held)["storage"] == text


@pytest.mark.parametrize("language", WORDS)
@pytest.mark.parametrize("market", ["us", "eu"])
def test_a_second_language_says_frozen_too_and_never_refrigerated(
    market: str, language: str
) -> None:
    words = WORDS[language]
    cold, frozen = (
        said(market, second_language=language, held=held)["second-storage"]
        for held in ("cold", "frozen")
    )
    assert cold.startswith(words.storage.partition("{")[0])
    assert frozen.startswith(words.frozen.partition("{")[0])
    assert "−18 °C" in frozen
    assert "−18" not in cold


@pytest.mark.parametrize("market", ["us", "eu"])
def test_what_is_kept_at_room_temperature_asks_for_no_refrigerator(market: str) -> None:
    assert "storage" not in said(market, held="room")
    assert said(market, held="room", storage="Keep dry.")["storage"] == "Keep dry."


def test_storage_words_may_be_left_out_where_no_law_asks_for_them() -> None:
    assert "storage" not in said("us", storage="", date_mark=USE_BY)
    assert "storage" not in said("eu", storage="", held="room")


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        # EU 1169/2011 Annex X 2(b); Art. 25(1) (from memory)
        ({"held": "room", "date_mark": USE_BY}, "a use-by date is followed by the storage"),
        ({"held": "cold"}, r"what keeps only cold or frozen says so \(EU 1169/2011 Art. 25\(1\)\)"),
        ({"held": "frozen"}, "what keeps only cold or frozen says so"),
    ],
)
def test_in_the_eu_storage_words_that_must_stand_are_not_left_out(
    changed: dict[str, Any], why: str
) -> None:
    with pytest.raises(MissingFact, match=rf"{why}.*Give storage words\.$"):
        said("eu", storage="", **changed)


@pytest.mark.parametrize(
    ("market", "language", "text"),
    [
        ("us", "en", "Frozen on Nov 30, 2026"),
        ("eu", "en", "Frozen on 30 November 2026"),  # Annex X 3; de and en from memory
        ("eu", "de", "Eingefroren am 30. November 2026"),
        ("eu", "fr", "Produit congelé le 30 novembre 2026"),
        ("house", "en", "Frozen on Nov 30, 2026"),
    ],
)
def test_the_day_of_freezing_stands_on_what_is_frozen(
    market: str, language: str, text: str
) -> None:
    assert said(market, language, held="frozen", frozen_on=MONDAY)["frozen"] == text
    label = lay_out(
        firm_tofu(held="frozen", frozen_on=MONDAY), market=market, language=language,
        blank=blank_named("roll-100x100"),
    )  # fmt: skip
    assert "frozen" in {placed.statement for placed in label.texts}


@pytest.mark.parametrize(
    ("language", "name"),
    [("en", "Firm Tofu, defrosted"), ("de", "Firm Tofu, aufgetaut"),
     ("fr", "Firm Tofu, décongelé")],
)  # fmt: skip
def test_in_the_eu_what_was_frozen_and_is_sold_thawed_says_so_in_its_name(
    language: str, name: str
) -> None:
    """EU 1169/2011 Annex VI A 2 (from memory)."""
    found = said("eu", language, thawed=True)
    assert (found["name"], found["second-name"]) == (name, "Tofu firme, descongelado")
    with pytest.raises(BadValue, match=r"^Cannot label 'Firm Tofu' as thawed: it is held frozen"):
        firm_tofu(thawed=True, held="frozen")


# -- sulfites


def test_sulfites_are_named_in_the_us_list_and_are_none_of_the_nine() -> None:
    """21 CFR 101.100(a)(4), 130.9 (collective name from memory); 21 USC 321(qq)."""
    found = said("us", ingredients=(WATER, SOYBEANS, APRICOTS))
    assert found["ingredients"].endswith("soybeans, dried apricots (sulfiting agents).")
    assert found["second-ingredients"].endswith("soya, orejones (agentes sulfitantes).")
    assert found["contains"] == "Contains: soy."


@pytest.mark.parametrize("name", ["sodium metabisulfite", "sulphites", "Sulfur dioxide"])
def test_a_name_that_says_the_sulfite_is_not_said_twice(name: str) -> None:
    item = Ingredient(name=name, second="sulfito", grams=Decimal(1), allergens=("sulphites",))
    found = said("us", ingredients=(WATER, SOYBEANS, item))
    assert found["ingredients"].endswith(f"soybeans, {name}.")


def test_a_processing_aid_that_leaves_sulfites_is_listed() -> None:
    """21 CFR 101.100(a)(4): 10 mg/kg are no insignificant level."""
    aid = Ingredient(
        name="bleach", second="lejía", grams=Decimal(1), allergens=("sulphites",), aid=True
    )
    soaked = Ingredient(name="starch", second="almidón", grams=Decimal(9), parts=(
        Ingredient(name="potato", second="papa", grams=Decimal(8)), aid,
    ))  # fmt: skip
    found = said("us", ingredients=(WATER, SOYBEANS, aid, soaked))
    assert "starch (potato, bleach (sulfiting agents))" in found["ingredients"]
    assert found["ingredients"].endswith(", bleach (sulfiting agents).")


def test_one_ingredient_with_sulfites_has_its_list() -> None:
    fruit = said("us", second_name="", ingredients=(APRICOTS,))
    assert fruit["ingredients"] == "Ingredients: dried apricots (sulfiting agents)."


def test_dispersed_sulfites_belong_to_a_part() -> None:
    sauce = Ingredient(name="sauce", grams=Decimal(9), allergens=("sulphites",), parts=(WATER,))
    with pytest.raises(MissingFact, match="which of its parts brings the sulphites is not known"):
        said("us", second_name="", ingredients=(SOYBEANS, sauce), disperse=True)


# -- may contain


@pytest.mark.parametrize(
    ("market", "language", "text"),
    [
        ("us", "en", "May contain: sesame, tree nuts (almond)."),
        ("eu", "en", "May contain sesame, almond."),  # Art. 36: no wording prescribed
        ("eu", "de", "Kann Spuren enthalten: Sesam, Mandeln."),
        ("eu", "fr", "Peut contenir des traces de : sésame, amandes."),
    ],
)
def test_what_may_be_in_it_stands_beside_what_is(market: str, language: str, text: str) -> None:
    facts = {"may_contain": ("soy", "sesame", "tree-nut:almond")}  # soy is in it for certain
    found = said(market, language, **facts)
    assert found["may-contain"] == text
    assert found["second-may-contain"].startswith("Puede contener: sésamo, ")
    assert "soy" in found["ingredients"] or "soya" in found["ingredients"]
    label = lay_out(
        firm_tofu(**facts), market=market, language=language, blank=blank_named("roll-100x100")
    )
    assert label.size_of("may-contain") >= label.size_of("ingredients")
    order = list(dict.fromkeys(placed.statement for placed in label.texts))
    assert order[order.index("may-contain") - 1] == ("contains" if market == "us" else
                                                     "ingredients")  # fmt: skip


def test_what_is_in_it_is_not_said_to_be_perhaps_in_it() -> None:
    assert "may-contain" not in said("us", may_contain=("soy",))
    with pytest.raises(BadValue, match="the source is not known"):
        firm_tofu(may_contain=("gluten",))


def test_in_the_us_a_source_the_nine_leave_out_may_be_warned_of() -> None:
    assert said("us", may_contain=("celery",))["may-contain"] == "May contain: celery."


# -- no half language


@pytest.mark.parametrize("market", ["us", "eu"])
@pytest.mark.parametrize(
    ("changed", "lacking"),
    [
        ({"ingredients": (WATER, replace(SOYBEANS, second=""), replace(GYPSUM, second=""))},
         "soybeans, calcium sulfate"),
        ({"ingredients": (WATER, SOYBEANS, Ingredient(
            name="sauce", second="salsa", grams=Decimal(1),
            parts=(Ingredient(name="salt", grams=Decimal(1)),)))}, "salt"),
        ({"ingredients": (WATER, replace(SOYBEANS, allergens=("tree-nut:areca",)))},
         "tree-nut:areca"),
        ({"may_contain": ("tree-nut:areca",)}, "tree-nut:areca"),
    ],
)  # fmt: skip
def test_a_second_name_stands_only_with_everything_in_its_language(
    market: str, changed: dict[str, Any], lacking: str
) -> None:
    """21 CFR 101.15(c)(2); in the EU our own reading of 1169/2011 Art. 7(1), 15(3)."""
    with pytest.raises(MissingFact) as refusal:
        said(market, **changed)
    named = str(refusal.value).partition("no name in it: ")[2].partition(". Give")[0]
    assert sorted(named.split(", ")) == sorted(lacking.split(", "))
    assert str(refusal.value).startswith("Cannot print the second name 'Tofu firme' of 'Firm Tofu'")
    alone = said(market, second_name="", **changed)
    assert not [key for key in alone if key.startswith("second")]


def test_many_that_have_no_name_are_not_all_told() -> None:
    items = [Ingredient(name=f"spice {n}", grams=Decimal(n)) for n in range(1, 40)]
    with pytest.raises(MissingFact, match=r"spice 32, …\. Give"):
        said("us", ingredients=items)


def test_tofu_is_the_common_name_and_no_second_language() -> None:
    """FDA CPG 562.400; that it holds for tofu is our own reading."""
    beans = replace(SOYBEANS, second="")
    found = said("us", second_name="Tofu", ingredients=(WATER, beans))
    assert [key for key in found if key.startswith("second")] == ["second-name"]


def test_a_second_language_without_wordings_is_refused() -> None:
    with pytest.raises(MissingFact, match=r"there are no wordings in 'tlh'\. Use one of es, zh,"):
        said("us", second_language="tlh")


@pytest.mark.parametrize(
    ("net", "language", "text"),
    [
        ("14 oz", "es", "NET WT / PESO NETO 14 OZ (396 g)"),
        ("32 fl oz", "es", "NET / CONT. NETO 32 FL OZ (1 QT) 946 mL"),
        ("14 oz", "zh", "NET WT / 净重 14 OZ (396 g)"),
        ("14 oz", "vi", "NET WT / KHỐI LƯỢNG TỊNH 14 OZ (396 g)"),
        ("14 oz", "fr", "NET WT / POIDS NET 14 OZ (396 g)"),
    ],
)
def test_the_us_net_quantity_stands_in_both_languages(net: str, language: str, text: str) -> None:
    """21 CFR 101.15(c)(2)."""
    found = said("us", second_language=language, net=NetQuantity.of(net))
    assert found["net-quantity"] == text
    assert " / " not in said("us", second_name="", net=NetQuantity.of(net))["net-quantity"]


def test_a_count_stands_in_both_languages_or_not_at_all() -> None:
    counted = said("us", net=NetQuantity(count=6, grams=Decimal(300)))["net-quantity"]
    assert counted == "6 pieces / piezas, NET WT / PESO NETO 10.5 OZ (300 g)"
    assert said("us", net=NetQuantity(count=1))["net-quantity"] == (
        "NET / CONT. NETO 1 piece / pieza"
    )
    with pytest.raises(MissingFact, match="in which language 'six blocks' stands is not known"):
        said("us", net=NetQuantity(count=6, count_text="six blocks"))


def test_the_eu_second_list_emphasises_its_allergens_too() -> None:
    """EU 1169/2011 Art. 15(3), 21(1)(b)."""
    facts = firm_tofu(ingredients=(WATER, SOYBEANS, NUTS), finished=Decimal(20000))
    [second] = [s for s in statements(facts, "eu", language="de") if s.key == "second-ingredients"]
    assert second.text == "Ingredientes: agua, soya, pasta (almendras)."
    assert [run.text for run in second.runs if run.bold] == [
        "Ingredientes: ", "soya", "almendras",
    ]  # fmt: skip


def test_an_eu_food_without_a_list_names_its_sources_in_both_languages() -> None:
    beans = {"name": "Soybeans", "ingredients": (SOYBEANS,), "finished": None}
    found = said("eu", second_name="Frijoles", **beans)
    assert found["second-contains"] == "Contiene: soya."
    assert "second-contains" not in said("eu", second_name="Frijol de soya", **beans)


def test_a_second_language_comes_before_nothing_that_the_law_asks_for() -> None:
    """The storage words of the second language give way before the label is refused."""
    roomy, tight = (
        lay_out(firm_tofu(), market="us", blank=Blank(name="b", width=80, height=h, dpi=300))
        for h in (90, 69)
    )
    absent = {s.key: s.why_absent for s in tight.statements}
    assert "second-storage" in {placed.statement for placed in roomy.texts}
    assert absent["second-storage"] == "there is no room for it, and no law asks for it"


@pytest.mark.parametrize("key", [*EVERY_KIND, *(k for k in SOURCES if k not in KIND_NAMES)])
def test_every_source_and_kind_has_a_name_in_every_label_language(key: str) -> None:
    """21 USC 343(w)(2); EU 1169/2011 Annex II (nuts one by one)."""
    assert set(LANGUAGES) >= {*WORDS}
    for language in LANGUAGES:
        assert all(us_names([key], language)) and all(eu_names([key], language))  # noqa: PT018
        if ":" in key:
            named = kind_named(key, language)
            assert named
            source = key.partition(":")[0]
            assert kind_named(f"{source}:{named}", "en") in (key.partition(":")[2], "prawn")


def test_a_kind_is_named_in_the_language_of_the_label_not_in_that_of_its_key() -> None:
    """EU 1169/2011 Annex II 8."""
    listed = said("eu", "de", ingredients=(WATER, SOYBEANS, NUTS))["ingredients"]
    assert listed.endswith("paste (Mandeln).")


# -- short date wordings


def test_the_short_words_stand_only_on_a_small_item_or_for_the_quality_of_a_beverage() -> None:
    """California Food and Agricultural Code 82001. Where an item is too small is not said there:
    five square inches are the shop's own reading."""
    small, large = rectangle(100, 25), rectangle(110, 75)
    assert small.area_in2 <= SMALL_ITEM < large.area_in2
    best_by = firm_tofu().date_mark
    cases = [
        (small, best_by, False, True), (small, USE_BY, False, True),
        (large, best_by, False, False), (large, USE_BY, False, False),
        (large, best_by, True, True), (large, USE_BY, True, False),
    ]  # fmt: skip
    for panel, mark, beverage, short in cases:
        facts = firm_tofu(panel=panel, date_mark=mark, beverage=beverage)
        assert may_be_short(facts) is short, (panel, mark, beverage)
        [found] = [s for s in statements(facts, "us", small=True) if s.key == "date"]
        assert (found.text[:3] in ("BB ", "UB ")) is short
    assert not may_be_short(firm_tofu(panel=None))


@pytest.mark.parametrize("kind", ["best-by", "use-by"])
def test_a_small_blank_on_a_large_pack_is_refused_with_the_size_that_would_do(kind: str) -> None:
    """82001: the item is to be too small, not the label somebody chose."""
    listed = replace(MAKER, street="", in_directory=True, phone="")
    facts = firm_tofu(
        second_name="", second_language="", panel=rectangle(80, 65), maker=listed,
        date_mark=DateMark(kind, MONDAY), storage="",  # type: ignore[arg-type]
    )  # fmt: skip
    height = 43 if kind == "best-by" else 42
    blank = Blank(name="tight", width=63.5, height=height, dpi=300)
    with pytest.raises(DoesNotFit, match=r"Use a blank of \d+(\.\d+)? x \d+ mm or larger"):
        lay_out(facts, market="us", blank=blank)
    beverage = replace(facts, beverage=True)
    if kind == "best-by":
        label = lay_out(beverage, market="us", blank=blank)
        assert "BB Nov 30, 2026" in [s.text for s in label.statements]
    else:
        with pytest.raises(DoesNotFit):
            lay_out(beverage, market="us", blank=blank)
