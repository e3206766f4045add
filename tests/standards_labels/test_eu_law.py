"""Market ``eu`` against Regulation (EU) 1169/2011 and the directives, and on the printed page."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels import DateMark, Ingredient, NetQuantity, Panel, blank_named, lay_out, write_pdf
from labels.allergens import eu_names, said_by_name
from labels.errors import BadValue, MissingFact
from labels.rules import Statement, statements
from labels.rules.eu import figure_height_mm
from tests.labels.paper import by_statement, glyph_height_mm
from tests.labels.shop import GYPSUM, SOYBEANS, WATER, firm_tofu, rectangle
from tests.often import examples


def said(key: str, language: str = "en", **changed: object) -> Statement:
    facts = firm_tofu(**{"second_name": "", **changed})
    [statement] = [s for s in statements(facts, "eu", language=language) if s.key == key]
    return statement


def in_bold(statement: Statement) -> list[str]:
    return [run.text for run in statement.runs if run.bold]


@pytest.mark.parametrize(
    ("nominal", "height"),
    # 76/211/EEC Annex I 3.1; 50 and 200 belong to the lower band (FPackV 38)
    [("5", 2), ("50", 2), ("50.1", 3), ("200", 3), ("200.1", 4), ("1000", 4), ("1000.1", 6)],
)
def test_figures_are_as_high_as_the_quantity_asks(nominal: str, height: int) -> None:
    assert figure_height_mm(Decimal(nominal)) == height


@pytest.mark.parametrize(
    ("panel", "least"),
    [
        (rectangle(100, 80), 1.2),  # 80 cm², Art. 13(2)
        (rectangle(100, 79.9), 0.9),  # under 80 cm², Art. 13(3)
        (Panel("cylinder", (Decimal(30), Decimal(200))), 0.9),  # the whole side: 60 cm²
        (None, 1.2),  # not known: the stricter
        (Panel("top", (Decimal(2000),)), 1.2),  # only a part of the pack is known
        (Panel("other", (Decimal(15900),)), 0.9),  # a flat bag: two faces of 79.5 cm²
        (Panel("other", (Decimal(16000),)), 1.2),
    ],
)
def test_the_x_height_holds_on_the_printed_page(
    panel: Panel | None, least: float, tmp_path: Path
) -> None:
    facts = firm_tofu(panel=panel)
    label = lay_out(facts, market="eu", blank=blank_named("roll-60x80"))
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    found = list(by_statement(tmp_path / "label.pdf", label))
    assert {s.least_mm for s in label.statements if s.glyph == "x" and s.present} == {least}
    for key, _, printed in found:
        assert min(glyph_height_mm(ink, "x") for ink in printed) >= least - 1e-3, key
    [net] = [printed for key, _, printed in found if key == "net-quantity"]
    figures = [glyph_height_mm(ink, "1") for ink in net if ink.character.isdigit()]
    assert min(figures) >= 4 - 1e-3  # 396 g, 76/211/EEC Annex I 3.1


def test_the_list_has_its_heading_and_its_allergens_stand_out() -> None:
    """Art. 18(1), 21(1)(b)."""
    statement = said("ingredients", finished=Decimal(20000))
    assert statement.text == "Ingredients: water, soybeans, calcium sulfate."
    assert in_bold(statement) == ["Ingredients: ", "soybeans"]
    assert said("contains").why_absent.startswith("the list itself emphasises them")
    plain = said("contains", ingredients=(WATER, GYPSUM))
    assert plain.why_absent == "none of the sources of Annex II is in it"


def test_an_allergen_its_name_does_not_say_is_named_behind_it() -> None:
    """Art. 21(1)(a): with a clear reference to the name of the substance."""
    seitan = Ingredient(name="seitan", grams=Decimal(5), allergens=("wheat",))
    statement = said("ingredients", ingredients=(SOYBEANS, seitan), finished=None)
    assert statement.text == "Ingredients: soybeans, seitan (wheat)."
    assert in_bold(statement) == ["Ingredients: ", "soybeans", "wheat"]


@pytest.mark.parametrize(
    ("finished", "listed"),
    [
        # Annex VII A 1: water is what the finished food weighs beyond the other 3,060 g
        (6000, "soybeans, water, calcium sulfate"),  # 2,940 g of it
        (9000, "water, soybeans, calcium sulfate"),  # 5,940 g
        (3200, "soybeans, calcium sulfate"),  # 140 g are 4.4 %: up to 5 % need not be listed
        (3222, "soybeans, water, calcium sulfate"),  # 162 g are 5.03 %
        (3000, "soybeans, calcium sulfate"),  # none is left
    ],
)
def test_added_water_is_reckoned_by_difference(finished: int, listed: str) -> None:
    statement = said("ingredients", finished=Decimal(finished))
    assert statement.text == f"Ingredients: {listed}."


@pytest.mark.parametrize(
    ("finished", "text"),
    [
        (9000, "soybeans (33 %)"),  # 33.3 %, rounded down: no more is promised than is there
        (59900, "soybeans (5 %)"),  # 5.008 %; whole from 5 % on, a tenth below it: common practice
        (60000, "soybeans (5 %)"),
        (60100, "soybeans (4.9 %)"),
        (3000, "soybeans (100 %)"),
        (2500, "soybeans (120 g / 100 g)"),  # Annex VIII 3(a): over 100 %, weight per 100 g
    ],
)
def test_the_quantity_of_an_emphasised_ingredient_is_stated(finished: int, text: str) -> None:
    beans = Ingredient(name="soybeans", grams=Decimal(3000), allergens=("soy",), quid=True)
    statement = said("ingredients", ingredients=(WATER, beans, GYPSUM), finished=Decimal(finished))
    assert text in statement.text


def test_an_emphasised_ingredient_without_a_weight_is_refused() -> None:
    """Art. 22: nobody can state the quantity of what was not weighed."""
    alone = Ingredient(name="soybeans", allergens=("soy",), quid=True)
    with pytest.raises(MissingFact) as refusal:
        said("ingredients", ingredients=(alone,), finished=Decimal(4000))
    assert str(refusal.value) == (
        "Cannot state the percentage of 'soybeans': a weight is missing. "
        "Give its weight and the finished weight."
    )
    inside = Ingredient(name="dressing", grams=Decimal(50), parts=(alone,))
    with pytest.raises(MissingFact, match="percentage of 'soybeans': a weight is missing"):
        said("ingredients", ingredients=(WATER, inside), finished=Decimal(4000))
    # Its own weight is known, and nothing that it could be a part of.
    ginger = Ingredient(name="ginger", grams=Decimal(10), quid=True)
    whole = Ingredient(name="syrup", parts=(ginger,))
    with pytest.raises(MissingFact, match="percentage of 'ginger': a weight is missing"):
        said("ingredients", ingredients=(whole,), finished=None)


def test_the_quantity_of_a_part_is_that_of_the_food_not_of_its_recipe() -> None:
    """Art. 22, Annex VIII 3: of the ingredient when it went in. A fifth of 500 g is 100 g."""
    parts = (
        Ingredient(name="ginger", grams=Decimal(2000), quid=True),
        Ingredient(name="sugar", grams=Decimal(8000)),
    )
    syrup = Ingredient(name="syrup", grams=Decimal(500), parts=parts)
    statement = said("ingredients", ingredients=(SOYBEANS, syrup), finished=Decimal(4000))
    assert "syrup (sugar, ginger (2.5 %))" in statement.text


def test_an_aid_is_listed_only_for_its_allergen() -> None:
    """Art. 20(b), 21: a processing aid is no ingredient, but what it carries is declared."""
    flour = Ingredient(name="wheat flour", grams=Decimal(1), allergens=("wheat",), aid=True)
    oil = Ingredient(name="rapeseed oil", grams=Decimal(1), aid=True)
    statement = said("ingredients", ingredients=(SOYBEANS, GYPSUM, flour, oil), finished=None)
    assert statement.text == "Ingredients: soybeans, calcium sulfate, wheat flour."


@pytest.mark.parametrize(
    ("key", "name", "listed"),
    [
        # Art. 21(1)(a): a clear reference to the name as Annex II lists it. Of nuts the annex
        # lists each kind; of fish, crustaceans and molluscs none.
        ("tree-nut:almond", "almonds", "almonds"),
        ("tree-nut:almond", "walnut paste", "walnut paste (almond)"),
        ("tree-nut:almond", "peanut sauce", "peanut sauce (almond)"),
        ("fish:cod", "cod", "cod (fish)"),
        ("fish:cod", "fish stock", "fish stock"),
        ("fish:cod", "shellfish stock", "shellfish stock (fish)"),
        ("crustacean:shrimp", "dried shrimp", "dried shrimp (crustaceans)"),
        ("mollusc", "oyster sauce", "oyster sauce (molluscs)"),
        # names that only sound like the source
        ("milk", "coconut milk powder", "coconut milk powder (milk)"),
        ("milk", "milk powder", "milk powder"),
        ("milk", "milkfish", "milkfish (milk)"),
        ("soy", "soy milk", "soy milk"),
        ("wheat", "buckwheat noodles", "buckwheat noodles (wheat)"),
        ("oats", "batter coating", "batter coating (oats)"),
        ("oats", "oat flakes", "oat flakes"),
        ("egg", "eggplant", "eggplant (egg)"),
        ("egg", "egg white", "egg white"),
    ],
)
def test_a_source_its_name_only_seems_to_say_is_named(key: str, name: str, listed: str) -> None:
    item = Ingredient(name=name, grams=Decimal(5), allergens=(key,))
    statement = said("ingredients", ingredients=(SOYBEANS, item), finished=None)
    assert statement.text == f"Ingredients: soybeans, {listed}."


@pytest.mark.parametrize(
    ("language", "name", "listed"),
    [("de", "Kokosmilch", "Kokosmilch (Milch)"), ("de", "Vollmilch", "Vollmilch"),
     ("de", "Milchsäure", "Milchsäure (Milch)"),
     ("fr", "lait de coco", "lait de coco (lait)"), ("fr", "lait entier", "lait entier")],
)  # fmt: skip
def test_so_it_is_in_the_other_languages(language: str, name: str, listed: str) -> None:
    item = Ingredient(name=name, grams=Decimal(5), allergens=("milk",))
    statement = said("ingredients", language, ingredients=(SOYBEANS, item), finished=None)
    assert statement.text.endswith(f"soybeans, {listed}.")


def test_an_aid_within_a_compound_is_listed_for_its_allergen() -> None:
    """Art. 9(1)(c), 20(b)."""
    flour = Ingredient(name="flour", allergens=("wheat",), aid=True)
    paste = Ingredient(
        name="paste", grams=Decimal(5), parts=(Ingredient(name="rice", grams=Decimal(1)), flour)
    )
    statement = said("ingredients", ingredients=(SOYBEANS, paste), finished=None)
    assert statement.text == "Ingredients: soybeans, paste (rice, flour (wheat))."


def test_water_that_carries_an_allergen_is_never_left_out() -> None:
    """Art. 9(1)(c), against the 5 % of Annex VII A 1."""
    whey = Ingredient(name="whey", grams=Decimal(9000), water=True, allergens=("milk",))
    statement = said("ingredients", ingredients=(SOYBEANS, whey), finished=Decimal(3000))
    assert "whey (milk)" in statement.text


_SOME_KEYS = ("soy", "milk", "wheat", "oats", "egg", "sulphites", "tree-nut:cashew", "fish:cod",
              "crustacean:prawn", "mollusc", "lupin", "celery")  # fmt: skip
_NAMES = ("paste", "coconut milk", "prawn oil", "cashew cream", "cod", "soy sauce", "egg tofu")
_PLAIN = st.builds(
    Ingredient, name=st.sampled_from(_NAMES), grams=st.integers(1, 99).map(Decimal),
    allergens=st.lists(st.sampled_from(_SOME_KEYS), max_size=3, unique=True).map(tuple),
    aid=st.booleans(), water=st.booleans(),
)  # fmt: skip
_NESTED = st.recursive(
    _PLAIN,
    lambda within: st.builds(
        Ingredient, name=st.sampled_from(_NAMES), grams=st.integers(1, 99).map(Decimal),
        parts=st.lists(within, min_size=1, max_size=3).map(tuple), aid=st.booleans(),
        allergens=st.lists(st.sampled_from(_SOME_KEYS), max_size=2, unique=True).map(tuple),
    ),
    max_leaves=6,
)  # fmt: skip


@examples(150)
@given(items=st.lists(_NESTED, min_size=1, max_size=4), finished=st.integers(1, 300))
def test_every_source_stands_out_in_the_list_however_deep_it_lies(
    items: list[Ingredient], finished: int
) -> None:
    """Art. 9(1)(c), 21(1)(b)."""
    facts = firm_tofu(second_name="", ingredients=(SOYBEANS, *items), finished=Decimal(finished))
    [statement] = [s for s in statements(facts, "eu") if s.key == "ingredients"]
    bold = " ".join(in_bold(statement))
    for key in facts.sources():
        [name] = eu_names([key], "en")
        assert name in bold or said_by_name(key, bold), key


def test_a_food_of_one_ingredient_that_its_name_says_has_no_list() -> None:
    """Art. 19(1)(e), 21(1)."""
    facts = {"name": "Soybeans", "ingredients": (SOYBEANS,), "finished": None}
    assert said("ingredients", **facts).why_absent.startswith("one ingredient")
    assert said("contains", **facts).why_absent.startswith("the name says them")


def test_whoever_names_one_source_names_all() -> None:
    """Art. 21(1): the name alone would do for sesame, but a part of a list misleads."""
    paste = Ingredient(name="paste", grams=Decimal(5), allergens=("sesame",))
    tiny = firm_tofu(
        name="Sesame Tofu",
        second_name="",
        ingredients=(SOYBEANS, paste),
        panel=rectangle(40, 24),
        finished=None,
    )
    [contains] = [s for s in statements(tiny, "eu") if s.key == "contains"]
    assert contains.text == "Contains soya, sesame."


def test_a_tiny_pack_says_only_name_allergens_quantity_and_date() -> None:
    """Art. 16(2): largest surface under 10 cm²."""
    tiny = firm_tofu(panel=rectangle(40, 24.9), lot="", symbols=(), second_name="")
    present = {s.key for s in statements(tiny, "eu") if s.present}
    assert present == {"name", "contains", "date", "net-quantity"}


@pytest.mark.parametrize(
    ("language", "kind", "text"),
    [
        # Annex X 1 and 2, in the words of each language version; day, month, year
        ("en", "best-by", "Best before 30 November 2026"),
        ("en", "use-by", "Use by 30 November 2026"),
        ("de", "best-by", "Mindestens haltbar bis 30. November 2026"),
        ("de", "use-by", "Zu verbrauchen bis 30. November 2026"),
        ("fr", "best-by", "À consommer de préférence avant le 30 novembre 2026"),
        ("fr", "use-by", "À consommer jusqu’au 30 novembre 2026"),
    ],
)
def test_a_date_has_the_words_of_the_regulation(language: str, kind: str, text: str) -> None:
    mark = DateMark(kind, date(2026, 11, 30))  # type: ignore[arg-type]
    assert said("date", language, date_mark=mark).text == text


def test_the_first_of_a_month_is_written_as_french_writes_it() -> None:
    """Common practice, no source: an ordinal for the first day alone."""
    mark = DateMark("use-by", date(2026, 12, 1))
    assert said("date", "fr", date_mark=mark).text == "À consommer jusqu’au 1er décembre 2026"


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "Drained net weight: 300 g"),
        ("de", "Abtropfgewicht: 300 g"),
        ("fr", "Poids net égoutté : 300 g"),
    ],
)
def test_a_block_in_water_shows_both_weights(language: str, text: str) -> None:
    """Annex IX 5: a solid food in a liquid also shows its drained weight."""
    net = NetQuantity(grams=Decimal(400), drained=Decimal(300))
    assert said("drained-weight", language, net=net).text == text
    assert "400 g" in said("net-quantity", language, net=net).text


@pytest.mark.parametrize(
    ("language", "one", "several"),
    [("en", "1 piece", "6 pieces"), ("de", "1 Stück", "6 Stück"), ("fr", "1 pièce", "6 pièces")],
)
def test_a_count_is_said_in_the_language_of_the_label(
    language: str, one: str, several: str
) -> None:
    """Art. 15(1)."""
    assert said("net-quantity", language, net=NetQuantity(count=1)).text == one
    net = NetQuantity(count=6, grams=Decimal(300))
    assert said("net-quantity", language, net=net).text == f"{several}, 300 g"


@pytest.mark.parametrize("kind", ["best-by", "use-by"])
@pytest.mark.parametrize("blank", ["roll-60x80", "roll-80x60", "roll-100x75"])
def test_the_storage_conditions_follow_the_date(kind: str, blank: str) -> None:
    """Annex X 1(b), 2(b): these particulars are followed by the storage conditions."""
    mark = DateMark(kind, date(2026, 11, 30))  # type: ignore[arg-type]
    label = lay_out(firm_tofu(date_mark=mark), market="eu", blank=blank_named(blank))
    order = list(dict.fromkeys(text.statement for text in label.texts))
    assert order[order.index("date") + 1] == "storage"
    date_edge, storage_edge = (
        min(text.x for text in label.texts if text.statement == key) for key in ("date", "storage")
    )
    assert date_edge == pytest.approx(storage_edge, abs=0.01)


@pytest.mark.parametrize(("amount", "present"), [("4.9", False), ("5", True), ("5.1", True)])
@pytest.mark.parametrize("unit", ["grams", "ml"])
def test_less_than_five_grams_or_millilitres_need_no_quantity(
    unit: str, amount: str, present: bool
) -> None:
    """Annex IX 1(c)."""
    net = NetQuantity(**{unit: Decimal(amount)})
    assert said("net-quantity", net=net).present is present


def test_the_e_mark_stands_right_behind_the_figures() -> None:
    """76/211/EEC Annex I 3.3: in the same field of vision as the nominal quantity."""
    net = NetQuantity(grams=Decimal(400), drained=Decimal(300))
    label = lay_out(firm_tofu(net=net, e_mark=True), market="eu", blank=blank_named("roll-100x75"))
    [figures] = [text for text in label.texts if text.text == "400 g"]
    [mark] = [text for text in label.texts if text.statement == "e-mark"]
    assert mark.y == pytest.approx(figures.y, abs=0.01)
    assert 0 < mark.x - (figures.x + figures.width) < figures.size


def test_a_date_mark_is_never_chosen_for_the_maker() -> None:
    """Art. 24: use by or best before follows from the food."""
    with pytest.raises(MissingFact, match="which of them the maker decides"):
        statements(firm_tofu(date_mark=None), "eu")


def test_a_use_by_date_comes_with_storage_conditions() -> None:
    """Annex X 2(b)."""
    mark = DateMark("use-by", date(2026, 11, 30))
    with pytest.raises(MissingFact, match="followed by the storage conditions"):
        statements(firm_tofu(date_mark=mark, storage=""), "eu")


def test_a_lot_is_preceded_by_the_letter_l() -> None:
    """Directive 2011/91/EU Art. 3."""
    assert said("lot").text == "L26328-01"
    assert said("lot", lot="L7").text == "L7"
    assert "day and month in clear" in said("lot", lot="").why_absent


def test_the_e_mark_stands_only_on_request_and_three_millimetres_high(tmp_path: Path) -> None:
    """76/211/EEC Annex I 3.3."""
    assert said("e-mark").why_absent == "not asked for"
    label = lay_out(firm_tofu(e_mark=True), market="eu", blank=blank_named("roll-100x60"))
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    [mark] = [c for key, _, c in by_statement(tmp_path / "label.pdf", label) if key == "e-mark"]
    assert glyph_height_mm(mark[0], "℮") >= 3 - 1e-3


@pytest.mark.parametrize("grams", [4, 10001])
def test_the_e_mark_is_refused_beyond_five_grams_and_ten_kilos(grams: int) -> None:
    with pytest.raises(BadValue, match="5 g to 10 kg"):
        statements(firm_tofu(e_mark=True, net=NetQuantity(grams=Decimal(grams))), "eu")


def test_a_label_without_a_quantity_is_refused() -> None:
    # EU 1169/2011 Art. 9(1)(e)
    do = "it is not known. Give a mass, a volume or a count"
    with pytest.raises(MissingFact, match=f"net quantity of 'Firm Tofu': {do}"):
        said("net-quantity", net=None)


def test_under_five_grams_no_quantity_is_asked_for() -> None:
    """Annex IX 1(c)."""
    assert "under 5 g" in said("net-quantity", net=NetQuantity(grams=Decimal(4))).why_absent


def test_the_postal_code_stands_before_the_town() -> None:
    text = "Millrace Tofu Works, 14 Sluice Street, 97099 Alder Ferry, OR · 555-0142"
    assert said("maker").text == text


def test_a_language_without_wordings_is_refused() -> None:
    with pytest.raises(MissingFact, match="there are no wordings in 'it'"):
        statements(firm_tofu(), "eu", language="it")
