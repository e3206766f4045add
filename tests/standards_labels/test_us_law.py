"""Market ``us`` against the figures of the law, and measured on the printed page."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from labels import (
    Blank,
    DateMark,
    Ingredient,
    NetQuantity,
    Panel,
    RandomWeight,
    blank_named,
    lay_out,
    write_pdf,
)
from labels.errors import BadValue, MissingFact
from labels.quantity import us_quantity, us_volume, us_weight
from labels.rules import Statement, statements
from labels.rules.us import bottom_rule_binds, net_height_inches
from labels.units import GRAMS, MILLILITRES
from tests.labels.paper import by_statement, glyph_height_mm
from tests.labels.shop import GYPSUM, MAKER, SOYBEANS, WATER, firm_tofu, rectangle

INCH = Decimal("25.4")


def said(key: str, **changed: object) -> Statement:
    facts = firm_tofu(**{"second_name": "", **changed})
    [statement] = [s for s in statements(facts, "us") if s.key == key]
    return statement


def square_inches(area: str) -> Panel:
    """A panel one inch high and so many inches wide."""
    return Panel("rectangle", (Decimal(area) * INCH, INCH))


@pytest.mark.parametrize(
    ("panel", "height"),
    [
        (square_inches("5"), 1 / 16),  # 21 CFR 101.7(i): a bound belongs to the lower band
        (square_inches("5.01"), 1 / 8),
        (square_inches("25"), 1 / 8),
        (square_inches("25.01"), 3 / 16),
        (square_inches("100"), 3 / 16),
        (square_inches("100.01"), 1 / 4),
        (square_inches("400"), 1 / 4),
        (square_inches("400.01"), 1 / 2),
        # FDA Food Labeling Guide, chapter III (figures from memory): 8 x 6 in; a cylinder 2 in
        # high and 12 in around is 0.4 x 24 = 9.6 square inches
        (Panel("rectangle", (8 * INCH, 6 * INCH)), 3 / 16),
        (Panel("cylinder", (2 * INCH, 12 * INCH)), 1 / 8),
        # 21 CFR 101.1(c): 40 % of 60 square inches is 24; the whole of an obvious top of 26
        (Panel("other", (60 * INCH**2,)), 1 / 8),
        (Panel("top", (26 * INCH**2,)), 3 / 16),
        # common practice for a cup: the mean of 10 and 8 in around, 3 in high: 10.8
        (Panel("tapered", (3 * INCH, 10 * INCH, 8 * INCH)), 1 / 8),
    ],
)
def test_the_net_quantity_is_as_high_as_the_panel_asks(panel: Panel, height: float) -> None:
    assert net_height_inches(panel) == height


@pytest.mark.parametrize(
    ("panel", "blank"),
    [
        (square_inches("5"), "roll-60x80"),
        (square_inches("25"), "roll-60x80"),
        (square_inches("100"), "roll-100x100"),
        (square_inches("400"), "roll-105x148"),
        (square_inches("401"), "crate"),
    ],
)
def test_the_height_of_the_net_quantity_holds_on_the_printed_page(
    panel: Panel, blank: str, tmp_path: Path
) -> None:
    """21 CFR 101.7(i), (h)(2): measured on the outline of the lower-case o."""
    crate = Blank(name="crate", width=300, height=200, dpi=300)
    paper = crate if blank == "crate" else blank_named(blank)
    label = lay_out(firm_tofu(panel=panel), market="us", blank=paper)
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    [net] = [
        c for key, _, c in by_statement(tmp_path / "label.pdf", label) if key == "net-quantity"
    ]
    least = min(glyph_height_mm(ink, "o") for ink in net)
    assert least >= net_height_inches(panel) * 25.4 - 1e-3


def test_all_other_text_is_a_sixteenth_of_an_inch_on_the_printed_page(tmp_path: Path) -> None:
    """21 CFR 101.2(c); the FDA Food Labeling Guide, chapter IV, measures the o. 1.5875 mm."""
    label = lay_out(firm_tofu(), market="us", blank=blank_named("roll-60x80"))
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    asked = {s.key for s in label.statements if s.present and not s.optional}
    assert asked >= {"name", "ingredients", "contains", "maker", "date", "net-quantity"}
    for key, _, printed in by_statement(tmp_path / "label.pdf", label):
        if key in asked:
            assert min(glyph_height_mm(ink, "o") for ink in printed) >= 1.5875 - 1e-3, key


def test_the_bottom_thirty_percent_does_not_bind_up_to_five_square_inches() -> None:
    """21 CFR 101.7(f)."""
    assert not bottom_rule_binds(square_inches("5"))
    assert bottom_rule_binds(square_inches("5.01"))


@pytest.mark.parametrize(
    ("ounces", "text"),
    [
        # Never more than is there (NIST Handbook 130): 14 oz are 396.89 g, 16 oz 453.59 g
        ("14", "NET WT 14 OZ (396 g)"),
        ("16", "NET WT 16 OZ (1 LB) 453 g"),
        ("24", "NET WT 24 OZ (1 LB 8 OZ) 680 g"),
        ("8.5", "NET WT 8.5 OZ (240 g)"),
        # from 1 lb in both, from 4 lb in pounds alone, 21 CFR 101.7(j)(1)
        ("15.99", "NET WT 15.99 OZ (453 g)"),
        ("63", "NET WT 63 OZ (3 LB 15 OZ) 1.78 kg"),
        ("64", "NET WT 4 LB (1.81 kg)"),
        ("80", "NET WT 5 LB (2.26 kg)"),
        ("160.5", "NET WT 10 LB 0.5 OZ (4.55 kg)"),
    ],
)
def test_a_weight_stands_in_two_systems_and_never_overstates(ounces: str, text: str) -> None:
    assert us_weight(Decimal(ounces) * GRAMS["oz"]) == text


def test_a_food_of_one_ingredient_has_no_list_and_says_why() -> None:
    alone = said("ingredients", name="Soybeans", ingredients=(SOYBEANS,))
    assert (alone.text, alone.clause) == ("", "21 CFR 101.4(a)")
    assert "21 USC 343(i)(2)" in alone.why_absent


def test_a_volume_of_half_a_litre_reads_as_in_the_printed_example() -> None:
    """FDA Food Labeling Guide, chapter III Q3: 500 ml (1 pt 0.9 fl oz)."""
    assert us_quantity(NetQuantity(ml=Decimal(500))) == "NET 16.9 FL OZ (1 PT 0.9 FL OZ) 500 mL"


@pytest.mark.parametrize(
    ("ounces", "text"),
    [
        ("15.9", "NET 15.9 FL OZ (470 mL)"),
        ("16", "NET 16 FL OZ (1 PT) 473 mL"),  # a pint is 16
        ("32", "NET 32 FL OZ (1 QT) 946 mL"),  # a quart 32
        ("48", "NET 48 FL OZ (1 QT 1 PT) 1.41 L"),
        ("127", "NET 127 FL OZ (3 QT 1 PT 15 FL OZ) 3.75 L"),
        ("128", "NET 1 GAL (3.78 L)"),  # a gallon 128 (NIST Handbook 44, appendix C)
        ("176", "NET 1 GAL 1 QT 1 PT (5.2 L)"),
        ("263", "NET 2 GAL 7 FL OZ (7.77 L)"),
    ],
)
def test_a_volume_stands_in_the_largest_whole_units(ounces: str, text: str) -> None:
    """21 CFR 101.7(j)(2), 15 USC 1453(a)(3)(A)(i): from 1 pt in both, from 1 gal in these alone."""
    assert us_volume(Decimal(ounces) * MILLILITRES["fl oz"]) == text


def test_four_litres_are_a_gallon_and_seven_fluid_ounces() -> None:
    """128 fl oz a gallon; 4 l are 135.26 fl oz, cut to three digits."""
    assert us_quantity(NetQuantity(ml=Decimal(4000))) == "NET 1 GAL 7 FL OZ (4 L)"


def test_water_that_is_poured_away_is_not_counted() -> None:
    """FDA Food Labeling Guide, chapter III Q8 (from memory): drained weight."""
    net = NetQuantity(grams=Decimal(500), drained=Decimal(400))
    assert us_quantity(net) == "NET WT 14.1 OZ (400 g)"


@pytest.mark.parametrize("percent", ["2", "1.5", "1.0", "0.5"])
def test_a_percentage_clause_has_one_of_four_thresholds(percent: str) -> None:
    """21 CFR 101.4(a)(2)."""
    assert said("ingredients", percent_clause=Decimal(percent)).present


@pytest.mark.parametrize("percent", ["3", "0.1", "1.75"])
def test_another_threshold_is_refused(percent: str) -> None:
    with pytest.raises(BadValue, match=r"^Cannot use a clause of .*Use 2, 1.5, 1 or 0.5\.$"):
        said("ingredients", percent_clause=Decimal(percent))


def test_no_ingredient_of_the_clause_exceeds_its_threshold() -> None:
    """21 CFR 101.4(a)(2): 60 g in 6,000 g are exactly 1 %."""
    text = "Ingredients: water, soybeans. Contains 1% or less of: calcium sulfate."
    assert said("ingredients", percent_clause=Decimal(1)).text == text
    assert said("ingredients", percent_clause=Decimal("1.0")).text == text
    text = "Ingredients: water, soybeans, calcium sulfate."
    assert said("ingredients", percent_clause=Decimal("0.5")).text == text


def test_ingredients_descend_by_weight_with_compounds_in_brackets() -> None:
    """21 CFR 101.4(a)(1), (b)(2)(i)."""
    sauce = Ingredient(
        name="soy sauce",
        grams=Decimal(200),
        parts=(
            Ingredient(name="salt", grams=Decimal(10)),
            Ingredient(name="water", grams=Decimal(70)),
            Ingredient(name="wheat", grams=Decimal(20), allergens=("wheat",)),
        ),
    )
    spent = Ingredient(name="defoamer", grams=Decimal(1), aid=True)
    statement = said("ingredients", ingredients=(GYPSUM, sauce, SOYBEANS, WATER, spent))
    listed = "water, soybeans, soy sauce (water, wheat, salt), calcium sulfate"
    assert statement.text == f"Ingredients: {listed}."


def test_the_contains_line_names_all_nine_sources_and_kinds() -> None:
    """21 USC 321(qq), 343(w)(2): the nut and the species are named."""
    keys = ("milk", "egg", "fish:cod", "crustacean:shrimp", "tree-nut:almond",
            "tree-nut:cashew", "wheat", "peanut", "soy", "sesame")  # fmt: skip
    everything = Ingredient(name="everything", grams=Decimal(5), allergens=keys)
    text = said("contains", ingredients=(WATER, everything)).text
    assert text == (
        "Contains: milk, egg, fish (cod), crustacean shellfish (shrimp), "
        "tree nuts (almond, cashew), wheat, peanuts, soy, sesame."
    )


def test_the_allergen_of_a_processing_aid_is_declared_although_it_is_not_listed() -> None:
    """21 USC 343(w)(4): incidental additives are not exempt."""
    aid = Ingredient(name="release flour", grams=Decimal(2), allergens=("wheat",), aid=True)
    assert said("contains", ingredients=(WATER, SOYBEANS, aid)).text == "Contains: soy, wheat."
    assert "flour" not in said("ingredients", ingredients=(WATER, SOYBEANS, aid)).text


def test_the_contains_line_is_as_large_as_the_list_and_next_to_it() -> None:
    """21 USC 343(w)(1)(A)."""
    label = lay_out(firm_tofu(), market="us", blank=blank_named("roll-60x80"))
    assert label.size_of("contains") == label.size_of("ingredients")
    order = list(dict.fromkeys(text.statement for text in label.texts))
    assert order.index("contains") == order.index("ingredients") + 1


@pytest.mark.parametrize("blank", ["roll-60x80", "roll-100x75", "roll-105x148"])
def test_nothing_unasked_stands_between_ingredients_allergens_and_maker(blank: str) -> None:
    """21 CFR 101.2(e): in one place without other intervening material."""
    facts = firm_tofu(handling="Once open, keep in fresh water.")
    label = lay_out(facts, market="us", blank=blank_named(blank))
    order = list(dict.fromkeys(text.statement for text in label.texts))
    at = order.index("ingredients")
    asked = ["ingredients", "contains", "second-ingredients", "second-contains", "maker"]
    assert order[at : at + 5] == asked
    assert "storage" in order


def test_the_kind_of_a_source_is_named_in_the_second_language_too() -> None:
    """21 USC 343(w)(2), 21 CFR 101.15(c)(2)."""
    nuts = Ingredient(
        name="nut paste", second="pasta", grams=Decimal(9),
        allergens=("tree-nut:almond", "tree-nut:cashew"),
    )  # fmt: skip
    text = said("second-contains", second_name="Tofu", ingredients=(WATER, SOYBEANS, nuts)).text
    assert text == "Contiene: soya, nueces de árbol (almendras, anacardos)."


@pytest.mark.parametrize(("kind", "words"), [("best-by", "BEST if Used by"), ("use-by", "USE by")])
def test_a_date_has_the_words_of_california(kind: str, words: str) -> None:
    """California Food and Agricultural Code 82001, for food made from 2026-07-01."""
    mark = DateMark(kind, date(2026, 11, 30))  # type: ignore[arg-type]
    assert said("date", date_mark=mark).text == f"{words} Nov 30, 2026"


def test_the_short_date_words_stand_only_where_the_long_ones_find_no_room() -> None:
    """82001: BB and UB only if the item is too small."""
    listed = replace(MAKER, street="", in_directory=True, phone="")
    small = firm_tofu(second_name="", second_language="", panel=square_inches("4.9"), maker=listed)
    roomy = lay_out(small, market="us", blank=blank_named("roll-60x80"))
    assert "BEST if Used by" in " ".join(s.text for s in roomy.statements)
    tight = lay_out(small, market="us", blank=blank_named("sheet-a4-3x7-63.5x38.1"))
    assert [s.text for s in tight.statements if s.key == "date"] == ["BB Nov 30, 2026"]


def test_a_packing_date_needs_a_date_mark_beside_it() -> None:
    with pytest.raises(MissingFact, match=r"^Cannot print 'Packed on .*Give the date mark\.$"):
        said("packed", packed=date(2026, 11, 24), date_mark=None)


@pytest.mark.parametrize(
    ("maker", "refusal"),
    [
        # 21 CFR 101.5(c), (d)
        (None, "none is given"),
        ({"street": ""}, "the street of Millrace Tofu Works is missing"),
        ({"zip": ""}, "the zip of Millrace Tofu Works is missing"),
        ({"city": ""}, "the city of Millrace Tofu Works is missing"),
    ],
)
def test_the_firm_is_named_with_its_place(maker: dict[str, str] | None, refusal: str) -> None:
    with pytest.raises(MissingFact, match=refusal):
        said("maker", maker=replace(MAKER, **maker) if maker else None)


def test_a_street_in_the_directory_may_be_left_out_and_another_maker_is_named_as_such() -> None:
    """21 CFR 101.5(c), (d)."""
    listed = replace(MAKER, street="", in_directory=True, phrase="Distributed by", phone="")
    assert said("maker", maker=listed).text == (
        "Distributed by Millrace Tofu Works, Alder Ferry, OR 97099"
    )


def test_a_random_weight_shows_its_price_and_pounds_with_two_decimals() -> None:
    """15 USC 1453(a)(3)(A)(ii); Uniform Weights and Measures Law (Arkansas Code 4-18-320)."""
    price = RandomWeight(unit_price="$4.99", total_price="$4.34")
    net = NetQuantity(grams=Decimal(397), random=price)
    assert said("net-quantity", net=net).text == "NET WT 0.87 LB (397 g)"
    assert said("price", net=net).text == "$4.99/lb · Total $4.34"
    label = lay_out(firm_tofu(net=net), market="us", blank=blank_named("roll-100x75"))
    by_key = [text for text in label.texts if text.statement == "price"]
    [total] = [text for text in by_key if text.text.strip() == "$4.34"]
    [before] = [text for text in by_key if text.text.strip().endswith("Total")]
    assert total.y == before.y


@pytest.mark.parametrize(
    ("missing", "why"),
    [
        ({"net": None}, "it is not known"),
        ({"panel": None}, "its letter height follows from the principal display panel"),
        ({"ingredients": ()}, "none are given"),
        ({"ingredients": (WATER, Ingredient(name="salt"))}, "the weight of 'salt' is not known"),
    ],
)
def test_what_the_law_asks_for_and_is_not_known_is_named(
    missing: dict[str, object], why: str
) -> None:
    with pytest.raises(MissingFact, match=why):
        statements(firm_tofu(**missing), "us")


def test_a_label_in_another_language_alone_is_refused() -> None:
    """21 CFR 101.15(c)(1)."""
    with pytest.raises(MissingFact, match="21 CFR 101.15"):
        statements(firm_tofu(), "us", language="es")


def test_a_rectangle_is_measured_by_its_sides() -> None:
    assert rectangle(127, 25.4).area_in2 == 5


@pytest.mark.parametrize("grams", ["453", "396.9", "1", "28.35", "113.398", "999.9", "2000"])
def test_neither_unit_ever_overstates(grams: str) -> None:
    """NIST Handbook 130, UPLR: "In no case shall rounded net contents ... overstate"."""
    said_text = us_weight(Decimal(grams))
    ounces = re.search(r"([0-9.]+) OZ", said_text)
    pounds = re.search(r"WT ([0-9]+) LB(?: ([0-9.]+) OZ)? \(", said_text)
    metric = re.search(r"([0-9.]+) (k?g)\b", said_text)
    assert metric
    stated = Decimal(metric[1]) * (1000 if metric[2] == "kg" else 1)
    assert Decimal(grams) * Decimal("0.98") < stated <= Decimal(grams)
    if pounds:
        total = 16 * Decimal(pounds[1]) + Decimal(pounds[2] or 0)
    else:
        assert ounces
        total = Decimal(ounces[1])
    lost = Decimal(grams) - total * GRAMS["oz"]
    # three digits, and never more than two decimals (21 CFR 101.7(d))
    assert -Decimal("1e-4") <= lost < max(Decimal(grams) / 100, GRAMS["oz"] / 100)


def test_less_than_a_hundredth_of_an_ounce_is_refused() -> None:
    with pytest.raises(BadValue, match="less than a hundredth of an ounce"):
        us_weight(Decimal("0.2"))
