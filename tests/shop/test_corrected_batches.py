"""A correction of a batch is worth what it says: whatever was noted, sold or printed before it."""

from __future__ import annotations

from datetime import datetime, time
from decimal import Decimal

import pytest

from counter.errors import BadInput, NotSafe, Refused
from counter.trade.batch_note import BatchNote
from labels.units import Measure
from tests.conftest import CATALOGUE, SETTINGS, ZONE, Maker, ShopInHand, kilos

NOTHING = Measure(Decimal(0), "g")
SESAME = {"sesame": kilos("0.2")}
SHORT = "its cook of 1 min is shorter than 95 °C for 5 min"


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZONE)


def stopped(hand: ShopInHand, lot: str) -> str:
    return hand.shop.desk.ledger().rows[lot].lot.stopped


def contains(hand: ShopInHand, lot: str) -> str:
    said = {s.key: s.text for s in hand.shop.labels.label(lot).statements}
    return said["contains"]


def left_out_of(catalogue: str, table: str) -> str:
    """A catalogue without one of its tables."""
    start, found, rest = catalogue.partition(f"[{table}]\n")
    assert found
    return start + "[" + rest.partition("\n[")[2]


# -- in the order of the days


def test_a_correction_of_a_day_before_the_newest_one_is_refused(hand: ShopInHand) -> None:
    made = hand.batch("firm")
    hand.clock.set("2026-11-25 09:00")
    hand.shop.amendments.amend_batch(made.lot, BatchNote(brix=Decimal(11)), "misread")
    raw, before = BatchNote(boiled_minutes=1), moment("2026-11-24 12:00")
    with pytest.raises(Refused, match="noted already in the book of 2026-11-25"):
        hand.shop.amendments.amend_batch(made.lot, raw, "only a minute", at=before)
    hand.shop.amendments.amend_batch(made.lot, raw, "only a minute")
    with pytest.raises(NotSafe, match="raw soy milk"):
        hand.sell("firm-block", cash=400)


def test_a_stop_noted_for_a_day_before_holds_over_a_later_release(hand: ShopInHand) -> None:
    made = hand.batch("firm")
    hand.clock.set("2026-11-25 09:00")
    hand.shop.holds.hold(made.lot, True, "glass")
    hand.shop.holds.hold(made.lot, False, "looked at")
    hand.shop.holds.hold(made.lot, True, "glass again", at=moment("2026-11-24 17:00"))
    assert stopped(hand, made.lot) == "glass again"


def test_nothing_is_noted_of_a_lot_for_a_day_before_it_was_made(hand: ShopInHand) -> None:
    hand.batch("soft", 5)
    hand.clock.set("2026-11-25 03:30")
    made, before = hand.batch("firm"), moment("2026-11-25 02:50")  # still the day before
    with pytest.raises(Refused, match=f"lot {made.lot} was made on 2026-11-25"):
        hand.shop.amendments.amend_batch(
            made.lot, BatchNote(boiled_minutes=1), "a minute", at=before
        )


def test_a_lot_made_on_a_later_day_is_stopped_by_a_note_for_a_day_before(hand: ShopInHand) -> None:
    firm = hand.batch("firm")
    hand.clock.set("2026-11-25 05:00")
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((firm.lot, 10),))
    raw = BatchNote(boiled_minutes=1)
    hand.shop.amendments.amend_batch(firm.lot, raw, "a minute", at=moment("2026-11-24 12:00"))
    assert stopped(hand, smoked.lot) == f"lot {firm.lot} went into it: {SHORT}"


# -- what was made from it


def test_lots_made_from_a_raw_one_are_stopped_generation_after_generation(hand: ShopInHand) -> None:
    firm = hand.batch("firm")
    soft = hand.batch("soft", 20, mixed=((firm.lot, 4),))
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((soft.lot, 10),))
    other = hand.batch("smoked", 10, boiled_minutes=None, mixed=((hand.batch().lot, 10),))
    hand.shop.desk.questions.given = {"cook": "the burner went out"}
    short = hand.shop.amendments.amend_batch(firm.lot, BatchNote(boiled_minutes=1), "only a minute")
    why = f"lot {firm.lot} went into it: {SHORT}"
    assert [stopped(hand, b.lot) for b in (soft, smoked, other)] == [why, why, ""]
    assert f"lot {smoked.lot} was made from it and is stopped too" in short.warnings
    with pytest.raises(NotSafe, match=f"lot {firm.lot} went into it"):
        hand.shop.labels.label(smoked.lot)


def test_lots_made_from_one_that_cooled_too_slowly_are_stopped_with_it(hand: ShopInHand) -> None:
    firm = hand.batch("firm", cook_ended=time(3, 30))
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((firm.lot, 10),))
    hand.clock.set("2026-11-24 07:00")
    hand.shop.amendments.note_cooling(firm.lot, "21", None)
    assert stopped(hand, smoked.lot) == (
        f"lot {firm.lot} went into it: it took 3 h 30 min to reach 21 °C / 70 °F, allowed are 2 h"
    )


def test_lots_that_keep_longer_than_what_is_in_them_are_stopped(hand: ShopInHand) -> None:
    # FDA Food Code 3-501.17(D): food mixed from several takes the earliest date.
    old = hand.batch("firm")
    hand.clock.set("2026-11-27 05:00")
    new = hand.batch("firm")
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((new.lot, 10),))
    hand.shop.amendments.amend_batch(
        new.lot, BatchNote(mixed=((old.lot, 3),)), "old blocks went in"
    )
    assert stopped(hand, smoked.lot) == f"lot {new.lot} went into it and keeps only to 2026-11-28"
    assert stopped(hand, new.lot) == ""


def test_a_correction_that_makes_nothing_worse_stops_nothing(hand: ShopInHand) -> None:
    firm = hand.batch("firm")
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((firm.lot, 10),))
    hand.shop.amendments.amend_batch(
        firm.lot, BatchNote(brix=Decimal(11), boiled_minutes=12), "misread"
    )
    assert (stopped(hand, firm.lot), stopped(hand, smoked.lot)) == ("", "")


# -- reasons


def test_a_further_reason_to_stop_is_kept_beside_the_first(hand: ShopInHand) -> None:
    made = hand.batch("firm", cook_ended=time(4, 0))
    hand.shop.holds.hold(made.lot, True, "label wrong")
    with pytest.raises(Refused, match="already stopped: label wrong"):
        hand.shop.holds.hold(made.lot, True, "label wrong")
    hand.shop.holds.hold(made.lot, True, "the beans are recalled")
    hand.clock.set("2026-11-24 09:00")
    hand.shop.amendments.note_cooling(made.lot, "21", None)
    assert stopped(hand, made.lot) == (
        "label wrong; the beans are recalled; cooled too slowly: it took 5 h 00 min to reach "
        "21 °C / 70 °F, allowed are 2 h"
    )
    hand.shop.holds.hold(made.lot, False, "all three looked at", by="Rosa")
    assert stopped(hand, made.lot) == ""


# -- the cook and the cooling


def test_the_end_of_the_cook_noted_alone_is_that_of_the_cook_that_is_known(
    hand: ShopInHand,
) -> None:
    hand.clock.set("2026-11-24 09:40")
    hand.shop.desk.questions.given = {"cooked": "the slip is in the kitchen"}
    made = hand.batch("firm", cooled=(time(8, 30), time(9, 30)))
    noted = hand.shop.amendments.amend_batch(
        made.lot, BatchNote(cook_ended=time(5, 0)), "found the slip"
    )
    assert noted.cook is not None
    assert (noted.cook.minutes, noted.cook.ended) == (10, moment("2026-11-24 05:00"))
    assert "it took 3 h 30 min to reach 21 °C" in stopped(hand, made.lot)
    with pytest.raises(BadInput, match="is before the end of the cook"):
        hand.shop.amendments.amend_batch(made.lot, BatchNote(cook_ended=time(9, 0)), "another slip")


def test_the_end_of_a_cook_of_which_nothing_else_is_known_is_refused(hand: ShopInHand) -> None:
    made = hand.batch("firm", boiled_minutes=None)
    with pytest.raises(BadInput, match="but not how long it was"):
        hand.shop.amendments.amend_batch(
            made.lot, BatchNote(cook_ended=time(4, 0)), "found the slip"
        )


def test_the_date_counts_from_the_day_of_the_cook(hand: ShopInHand) -> None:
    # Food Code 3-501.17(A): the day of preparation is day 1.
    hand.shop.desk.questions.given = {"late": "from the paper of the night"}
    today = hand.batch("firm", cook_ended=time(4, 0))
    before = hand.batch("firm", cook_ended=time(22, 30), cooled=(time(23, 0), time(1, 30)))
    assert (str(today.mark.day), str(before.mark.day)) == ("2026-11-28", "2026-11-27")
    late = hand.shop.amendments.amend_batch(
        today.lot, BatchNote(cook_ended=time(22, 30)), "of last night"
    )
    assert late.mark == before.mark


def test_a_lot_that_began_to_cool_and_is_not_cold_in_time_is_not_sold(hand: ShopInHand) -> None:
    # Food Code 3-501.14(A): to 41 °F (5 °C) within 6 hours in all.
    made = hand.batch("firm", cook_ended=time(4, 0))
    hand.clock.set("2026-11-24 05:00")
    hand.shop.amendments.note_cooling(made.lot, "21", None)
    hand.clock.set("2026-11-24 10:00")
    hand.sell(f"{made.lot}", cash=400)
    hand.clock.set("2026-11-24 10:01")
    for tried in (lambda: hand.sell(made.lot, cash=400), lambda: hand.shop.labels.label(made.lot)):
        with pytest.raises(NotSafe) as refusal:
            tried()
        assert refusal.value.why == "5 °C / 41 °F is not noted, and was due by 10:00"
        assert refusal.value.do.startswith("Note when it was reached")
    hand.shop.amendments.note_cooling(made.lot, "5", time(9, 40))
    hand.sell(f"{made.lot}", cash=400)


def test_a_lot_that_was_never_noted_cold_is_refused_on_later_days(hand: ShopInHand) -> None:
    made = hand.batch("firm", cooled=None)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-26 09:00")
    lots = {lot.lot: lot for p in hand.shop.counter.shelf().products for lot in p.lots}
    assert lots[made.lot].refusal == "5 °C / 41 °F is not noted, and was due by 10:10"


# -- what is in it


def test_an_ingredient_that_left_the_catalogue_stays_on_the_label(hand: ShopInHand) -> None:
    made = hand.batch("firm", ingredients=SESAME)
    said = contains(hand, made.lot)
    without = left_out_of(left_out_of(CATALOGUE, "toppings.sesame"), "ingredients.sesame")
    without = without.replace(', "sesame"]', "]")
    hand.clock.forward(minutes=1)
    hand.shop.products.load_catalogue(without)
    assert "sesame" not in hand.shop.desk.catalogue.ingredients
    assert contains(hand, made.lot) == said == "Contains: soy, sesame."


OLD_SAUCE = (
    'recipe = { water = "500 g", soybeans = "250 g", wheat = "150 g", salt = "140 g" }',
    'recipe = { water = "500 g", soybeans = "400 g", salt = "140 g" }\n'
    'allergens_none = { wheat = "brewed of soybeans alone" }',
)


def test_what_an_ingredient_is_made_of_follows_the_day_of_the_batch(hand: ShopInHand) -> None:
    before = hand.batch("spiced", 24)
    hand.clock.forward(minutes=1)
    hand.shop.desk.questions.given = {"allergen.soy-sauce": "a sauce without wheat"}
    hand.shop.products.load_catalogue(CATALOGUE.replace(*OLD_SAUCE))
    hand.clock.forward(minutes=1)
    after = hand.batch("spiced", 24)
    assert contains(hand, before.lot) == "Contains: soy, wheat."
    assert contains(hand, after.lot) == "Contains: soy."
    mixed = hand.batch("spiced", 24, mixed=((before.lot, 2),))
    assert contains(hand, mixed.lot) == "Contains: soy, wheat."


def test_an_allergen_that_was_missing_in_the_catalogue_is_named_for_lots_made_before(
    hand: ShopInHand,
) -> None:
    hand.clock.forward(minutes=-2)
    hand.shop.desk.questions.given = {"allergen.soy-sauce": "a sauce without wheat"}
    hand.shop.products.load_catalogue(CATALOGUE.replace(*OLD_SAUCE))
    hand.clock.forward(minutes=1)
    made = hand.batch("spiced", 24)
    hand.clock.forward(minutes=1)
    hand.shop.products.load_catalogue(CATALOGUE)
    assert contains(hand, made.lot) == "Contains: soy, wheat."


def test_an_ingredient_of_no_catalogue_is_refused(hand: ShopInHand) -> None:
    from counter.shop.facts import ingredients_of
    from counter.trade.catalogue import Part

    with pytest.raises(Refused, match="no catalogue since then says what it is"):
        ingredients_of([Part("quark", Decimal(5))], hand.shop.desk.catalogue)


def test_one_corrected_weight_leaves_the_rest_as_it_went_in(hand: ShopInHand) -> None:
    made = hand.batch("spiced", 24)
    hand.clock.forward(minutes=1)
    hand.shop.desk.questions.given = {"recipe.spiced": "without the sauce"}
    hand.shop.products.load_catalogue(CATALOGUE.replace('soy-sauce = "300 g", ', ""))
    grams = Measure(Decimal(40), "g")
    spiced = hand.shop.amendments.amend_batch(
        made.lot, BatchNote(ingredients={"five-spice": grams}), "read"
    )
    before = {p.ingredient: p.grams for p in made.ingredients}
    assert {p.ingredient: p.grams for p in spiced.ingredients} == {**before, "five-spice": 40}
    beans = before["soybeans"] * 2
    double = BatchNote(ingredients={"soybeans": Measure(beans, "g")})
    parts = hand.shop.amendments.amend_batch(made.lot, double, "read").ingredients
    assert {p.ingredient: p.grams for p in parts} == {
        **{key: grams * 2 for key, grams in before.items()}, "five-spice": 40,
    }  # fmt: skip


def test_the_least_part_of_a_recipe_is_on_the_label_of_the_smallest_batch(make: Maker) -> None:
    text = 'gypsum = "30 g" }\nrecipe_makes = "8"'
    assert text in CATALOGUE
    hand = make(catalogue=CATALOGUE.replace(text, text.replace(" }", ', sesame = "0.3 g" }'), 1))
    made = hand.batch("firm", 1)
    assert made.ingredients[-1].grams == Decimal("0.1")
    assert contains(hand, made.lot) == "Contains: soy, sesame."


def test_an_allergen_taken_back_is_said(hand: ShopInHand) -> None:
    made = hand.batch("firm", ingredients=SESAME)
    back = hand.shop.amendments.amend_batch(
        made.lot, BatchNote(ingredients={"sesame": NOTHING}), "a slip"
    )
    assert back.warnings == (
        "the label does not name sesame as an allergen any more. Make sure that none went in",
    )


def test_older_stock_noted_by_mistake_is_taken_back_with_0(hand: ShopInHand) -> None:
    puffs, firm = hand.batch("puffs", 40), hand.batch("firm")
    soft = hand.batch("soft", 10, mixed=((puffs.lot, 5), (firm.lot, 2)))
    taken = hand.shop.amendments.amend_batch(
        soft.lot, BatchNote(mixed=((puffs.lot, 0),)), "not these"
    )
    assert [m.lot for m in taken.mixed] == [firm.lot]
    assert (hand.on_hand(puffs.lot), hand.on_hand(firm.lot)) == (40, 46)
    with pytest.raises(BadInput, match=f"0 of lot {puffs.lot} is nothing"):
        hand.shop.amendments.amend_batch(soft.lot, BatchNote(mixed=((puffs.lot, 0),)), "again")
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((firm.lot, 10),))
    with pytest.raises(Refused, match="no lot is named"):
        hand.shop.amendments.amend_batch(smoked.lot, BatchNote(mixed=((firm.lot, 0),)), "none")


def test_a_lot_whose_product_left_the_catalogue_is_corrected_all_the_same(hand: ShopInHand) -> None:
    made = hand.batch("pulp", 10)
    hand.clock.forward(minutes=1)
    catalogue = left_out_of(left_out_of(CATALOGUE, "products.pulp"), "portions.pulp")
    hand.shop.desk.questions.given = {"on-hand.pulp": "given away from now on"}
    hand.shop.products.load_catalogue(catalogue)
    assert "pulp" not in hand.shop.desk.catalogue.products
    assert (
        hand.shop.amendments.amend_batch(made.lot, BatchNote(boiled_minutes=1), "a minute").raw
        == SHORT
    )


# -- the last day of sale


@pytest.mark.parametrize(("product", "last"), [("pulp", "2026-11-30"), ("spiced", "2026-12-03")])
def test_a_shop_that_sells_past_the_quality_date_stops_at_the_last_day(
    make: Maker, product: str, last: str
) -> None:
    # Food Code 3-501.17(A): 7 days, the day made is day 1; spiced has a study for 10.
    hand = make(SETTINGS.replace('past_best_by = "refuse"', 'past_best_by = "warn"'))
    made = hand.batch(product, 10)
    assert str(made.mark.limit) == last
    hand.clock.set("2026-12-04 10:00")
    with pytest.raises(NotSafe, match=f"its last date {last} has passed"):
        hand.sell(made.lot, cash=900)


def test_the_card_says_to_ask_about_a_topping_of_which_nothing_is_known(hand: ShopInHand) -> None:
    from counter.shop.facts import card_of

    known = 'name = "Black sesame"\nprice = "0.75"\ningredient = "sesame"\n'
    assert known in CATALOGUE
    word = "another topping"
    hand.shop.desk.questions.given = {"topping.sesame.allergen": word, "topping.sesame": word}
    hand.shop.products.load_catalogue(CATALOGUE.replace(known, 'name = "Crumble"\n'))
    foods = card_of({}, hand.shop.desk.catalogue, hand.shop.desk.batch)
    assert foods[-1].name == "Crumble: ask us what is in it"


def test_a_trace_forgets_what_a_correction_took_out_again(hand: ShopInHand) -> None:
    first, second = hand.batch("firm"), hand.batch("firm")
    soft = hand.batch("soft", 10, mixed=((first.lot, 5),))
    assert hand.shop.closings.trace(first.lot).went_into == (soft.lot,)
    hand.shop.amendments.amend_batch(soft.lot, BatchNote(mixed=((second.lot, 5),)), "the other lot")
    found = [hand.shop.closings.trace(b.lot) for b in (first, second)]
    assert [(t.used, t.went_into) for t in found] == [(0, ()), (5, (soft.lot,))]
    assert [one.lot for one in hand.shop.records.recall([first.lot]).reached] == [first.lot]
