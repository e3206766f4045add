"""Before the first label of a product a person says what the program cannot know.

The answer is kept with who and when, and asked for again when what it rests on changes.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from counter.errors import Asked
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, DATED_CATALOGUE, SETTINGS, Maker, ShopInHand

ORGANIC = CATALOGUE.replace('name = "Firm Tofu"', 'name = "Organic Firm Tofu"')
EU = SETTINGS.replace('market = "us"', 'market = "eu"').replace("en_US", "en_IE")


def printed(hand: ShopInHand, lot: str, place: Path, by: str = "") -> int:
    name = f"{len(list(place.glob('*.pdf')))}.pdf"
    run = hand.shop.labels.print_labels([(lot, 1)], place / name, blank="roll-100x150", by=by)
    return run.labels


def test_a_claim_is_asked_about_once_and_the_answer_kept(make: Maker, tmp_path: Path) -> None:
    # 7 CFR 205.301
    hand = make(catalogue=ORGANIC)
    lot = hand.batch("firm").lot
    with pytest.raises(Asked) as caught:
        printed(hand, lot, tmp_path)
    assert str(caught.value) == (
        "Cannot print labels of Organic Firm Tofu: the label claims 'organic': what proves it. If "
        "it is so, say so with a word why."
    )
    assert not list(tmp_path.glob("*.pdf"))
    assert hand.shop.products.printed_of(lot) == []
    hand.shop.desk.questions.given = {"label.firm.organic": "certificate 7 of the county"}
    assert printed(hand, lot, tmp_path, by="Rosa") == 1
    kept = hand.shop.desk.questions.confirmed()["label.firm.organic"]
    assert (kept.words, kept.by) == ("certificate 7 of the county", "Rosa")
    assert kept.at == hand.clock.moment
    hand.shop.desk.questions.given = {}
    assert printed(hand, hand.batch("firm").lot, tmp_path) == 1


def test_it_is_asked_again_when_the_name_changes(make: Maker, tmp_path: Path) -> None:
    hand = make(catalogue=ORGANIC)
    lot = hand.batch("firm").lot
    hand.shop.desk.questions.given = {"label.firm.organic": "certificate 7"}
    printed(hand, lot, tmp_path)
    hand.clock.forward(minutes=1)
    hand.shop.desk.questions.given = {}
    hand.shop.products.load_catalogue(
        ORGANIC.replace("Organic Firm Tofu", "100 % Organic Firm Tofu")
    )
    with pytest.raises(Asked, match="claims 'organic'"):
        printed(hand, lot, tmp_path)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('gypsum = "30 g" }', 'gypsum = "30 g", soy-sauce = "9 g" }'),
        ('name = "Calcium Sulfate"', 'allergens = ["wheat"]\nname = "Calcium Sulfate"'),
    ],
)
def test_a_claim_is_asked_about_again_when_something_else_is_in_it(
    make: Maker, tmp_path: Path, old: str, new: str
) -> None:
    # 21 CFR 101.91: gluten-free speaks of the food as it is made now
    claim = CATALOGUE.replace('name = "Firm Tofu"', 'name = "Gluten-Free Tofu"')
    claim = claim.replace('second_name = "Tofu firme"', "")
    hand = make(catalogue=claim)
    hand.shop.desk.questions.given = {"label.firm.gluten-free": "measured, report 7"}
    printed(hand, hand.batch("firm").lot, tmp_path)
    hand.shop.desk.questions.given = {}
    hand.clock.forward(minutes=1)
    dearer = claim.replace('price = "3.25"', 'price = "3.30"')
    hand.shop.products.load_catalogue(dearer)
    (tmp_path / "x.pdf").unlink(missing_ok=True)
    assert printed(hand, hand.batch("firm").lot, tmp_path) == 1  # its price proves nothing
    hand.clock.forward(minutes=1)
    changed = dearer.replace(old, new, 1)
    hand.shop.desk.questions.given = {
        q.about: "so it is" for q in hand.shop.products.look_at_catalogue(changed).questions
    }
    hand.shop.products.load_catalogue(changed)
    hand.shop.desk.questions.given = {}
    (tmp_path / "x.pdf").unlink(missing_ok=True)
    with pytest.raises(Asked, match="claims 'gluten-free'"):
        printed(hand, hand.batch("firm").lot, tmp_path)
    assert not (tmp_path / "x.pdf").exists()


def test_a_preview_asks_nothing(make: Maker) -> None:
    hand = make(catalogue=ORGANIC)
    lot = hand.batch("firm").lot
    assert hand.shop.labels.preview_labels([(lot, 1)], "roll-100x150").labels == 1
    assert hand.shop.desk.questions.confirmed() == {}


def test_explain_says_question_clause_and_answer(make: Maker, tmp_path: Path) -> None:
    hand = make(catalogue=ORGANIC)
    lot = hand.batch("firm").lot
    row = hand.shop.cards.explain_label(lot, "roll-100x150")[-1]
    assert (row.key, row.clause) == ("question", "7 CFR 205.301, 205.303")
    assert row.text == "the label claims 'organic': what proves it"
    assert row.answer == "nobody has said so: it is asked before the first label is printed"
    hand.shop.desk.questions.given = {"label.firm.organic": "certificate 7"}
    printed(hand, lot, tmp_path, by="Rosa")
    answer = hand.shop.cards.explain_label(lot, "roll-100x150")[-1].answer
    assert answer == "certificate 7 (Rosa, 2026-11-24 04:10)"


def test_explain_says_what_is_in_no_list(make: Maker) -> None:
    aid = CATALOGUE.replace('name = "Calcium Sulfate"', 'processing_aid = true\nname = "Gypsum"')
    hand = make(catalogue=aid)
    lot = hand.batch("spiced", 24).lot
    amended = hand.shop.cards.explain_label(hand.batch("firm").lot, "roll-100x150")
    assert [r.why_absent for r in amended if "Gypsum" in r.why_absent] == [
        "Gypsum is a processing aid"
    ]
    from tests.conftest import kilos

    lot = hand.batch("puffs", 14, ingredients={"wheat-flour": kilos("0")}, boiled_minutes=None,
                     cook_celsius=180, cook_minutes=5).lot  # fmt: skip
    rows = hand.shop.cards.explain_label(lot, "roll-100x150")
    assert "by the log no Wheat Flour went into this batch" in [r.why_absent for r in rows]


SULFITE = '[ingredients.dip]\nname = "Sodium Metabisulfite"\nsecond_name = "Metabisulfito"\n' \
          'processing_aid = true\nallergens = ["sulphites"]\n'  # fmt: skip
FOAM = '[ingredients.foam]\nname = "Antifoam"\nsecond_name = "Nada"\nprocessing_aid = true\n'


def test_explain_calls_left_out_what_is_in_a_compound_and_not_what_is_listed(make: Maker) -> None:
    # 21 CFR 101.100(a)(3)(ii), (4): an aid is not listed, unless it leaves sulfites.
    text = CATALOGUE.replace("[ingredients.ginger]\n", f"{SULFITE}{FOAM}[ingredients.ginger]\n")
    text = text.replace('wheat = "150 g", salt', 'wheat = "150 g", foam = "2 g", salt')
    text = text.replace('nigari = "24 g", soy-sauce', 'nigari = "24 g", dip = "1 g", soy-sauce')
    rows = make(catalogue=text)
    lot = rows.batch("spiced", 24).lot
    found = rows.shop.cards.explain_label(lot, "roll-100x150")
    left = [r.why_absent for r in found if r.key == "ingredients" and r.why_absent]
    assert left == ["Antifoam is a processing aid"]
    assert "Sodium Metabisulfite" in next(r.text for r in found if r.key == "ingredients")


def test_explain_says_that_a_little_added_water_is_in_no_list(make: Maker) -> None:
    # EU 1169/2011 Annex VII A 1(b): up to 5 % of the finished food.
    hand = make(EU, DATED_CATALOGUE.replace('net = "14 oz"', 'net = "2.7 oz"'))
    found = hand.shop.cards.explain_label(hand.batch("firm").lot, "roll-100x150")
    left = [(r.why_absent, r.clause) for r in found if r.key == "ingredients" and r.why_absent]
    assert left == [("Water is at most 5 % of the finished food", "EU 1169/2011 Annex VII A 1(b)")]


def test_packs_that_hold_more_than_went_in_are_asked_about(make: Maker, tmp_path: Path) -> None:
    hand = make(catalogue=CATALOGUE.replace('net = "14 oz"', 'net = "9 lb"'))
    with pytest.raises(Asked, match=r"hold 195952 g by their net quantity, and 48180 g went in"):
        printed(hand, hand.batch("firm").lot, tmp_path)


def test_an_eu_label_is_asked_for_category_name_kept_for_milk_and_percentage(
    make: Maker, tmp_path: Path
) -> None:
    # EU 1169/2011 Annex VII part C, Art. 22; 1308/2013 Annex VII part III
    hand = make(EU, DATED_CATALOGUE.replace('name = "Canola Oil"', 'name = "Vegetable Oil"'))
    expected = {
        "firm": ["label.firm.additive.calcium-sulfate"],
        "milk": ["label.milk.dairy", "label.milk.percent.soybeans"],
        "spiced": [
            "label.spiced.percent.spices", "label.spiced.additive.magnesium-chloride",
        ],
        "puffs": ["label.puffs.additive.calcium-sulfate", "label.puffs.oil.vegetable-oil"],
    }  # fmt: skip
    for product, abouts in expected.items():
        lot = hand.batch(product, 24).lot
        asked = [q.about for q in hand.shop.labels.label_questions([lot])]
        assert asked == abouts, product
    lot = hand.batch("firm").lot
    with pytest.raises(Asked, match="the additive 'Calcium Sulfate' has no category before it"):
        printed(hand, lot, tmp_path)


@pytest.mark.parametrize(
    ("market", "keeps", "study", "asked"),
    [
        ("eu", 11, "", True),
        ("eu", 10, "", False),
        ("eu", 11, "study 3", False),
        ("us", 7, "", False),
    ],
)
def test_long_keeping_without_a_study_is_asked_about_in_the_eu(
    make: Maker, market: str, keeps: int, study: str, asked: bool
) -> None:
    more = f'keeps = {keeps}\nstudy = "{study}"' if study else f"keeps = {keeps}"
    text = (DATED_CATALOGUE if market == "eu" else CATALOGUE).replace("keeps = 5", more)
    hand = make(SETTINGS, text)
    if market == "eu":  # loaded before such a catalogue was refused
        hand.shop.desk.settings = parse_settings(EU)
    abouts = [q.about for q in hand.shop.labels.label_questions([hand.batch("firm").lot])]
    assert ("label.firm.keeps" in abouts) is asked
