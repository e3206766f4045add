"""A batch that the trading day turns over while it cools; what was left out of a batch; a
correction seen before it is written; lots made from a stopped one."""

from __future__ import annotations

from decimal import Decimal

import pytest

from counter.errors import BadInput, Refused
from counter.trade.batch_note import BatchNote, read_note
from counter.trade.production import Batch
from counter.trade.units import parse_clock
from labels.units import Measure
from tests.conftest import ShopInHand, kilos

NOTHING = Measure(Decimal(0), "g")


def note(hand: ShopInHand, **texts: object) -> BatchNote:
    return read_note(texts, "piece", hand.shop.desk.catalogue, str)


# -- the turn of the day


@pytest.fixture
def late(hand: ShopInHand) -> Batch:
    """Firm tofu of the night, cooked until 01:30; it is 01:40, and the day turns at 03:00."""
    hand.clock.set("2026-11-25 01:40")
    return hand.batch("firm", cook_ended=parse_clock("01:30"))


def test_a_batch_is_noted_as_cooled_when_the_day_has_turned(hand: ShopInHand, late: Batch) -> None:
    assert late.lot == "26328-01"
    hand.clock.set("2026-11-25 03:20")
    assert hand.shop.production.cooling_of_before() == [late]
    warm = hand.shop.amendments.note_cooling(late.lot, "21", None, "Teo")
    assert warm.cooling is not None
    assert (f"{warm.cooling.to_21:%d %H:%M}", warm.uncooled) == ("25 03:20", True)
    hand.clock.set("2026-11-25 05:45")
    cold = hand.shop.amendments.note_cooling(late.lot, "5", parse_clock("05:40"))
    assert cold.cooling is not None
    assert cold.cooling.to_5 is not None
    assert f"{cold.cooling.to_5:%d %H:%M}" == "25 05:40"
    assert hand.shop.production.cooling_of_before() == []
    assert not hand.shop.desk.ledger().rows[late.lot].lot.stopped


def test_the_cooling_of_the_night_can_be_written_as_a_correction(
    hand: ShopInHand, late: Batch
) -> None:
    hand.clock.set("2026-11-25 06:00")
    made = hand.shop.amendments.amend_batch(late.lot, note(hand, cooled="03:20,05:40"), "read")
    assert made.cooling is not None
    assert made.cooling.to_5 is not None
    assert [f"{m:%d %H:%M}" for m in (made.cooling.to_21, made.cooling.to_5)] == [
        "25 03:20", "25 05:40",
    ]  # fmt: skip


def test_a_batch_that_cooled_too_slowly_over_the_turn_is_stopped(
    hand: ShopInHand, late: Batch
) -> None:
    hand.clock.set("2026-11-25 03:31")
    hand.shop.amendments.note_cooling(late.lot, "21", None)
    assert hand.shop.desk.ledger().rows[late.lot].lot.stopped == (
        "cooled too slowly: it took 2 h 01 min to reach 21 °C / 70 °F, allowed are 2 h"
    )


def test_a_batch_logged_behind_the_turn_was_cooked_before_it(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-25 03:40")
    made = hand.batch("firm", cook_ended=parse_clock("02:20"),
                      cooled=(parse_clock("02:50"), parse_clock("03:30")))  # fmt: skip
    assert made.lot == "26329-01"
    assert made.cook is not None
    assert made.cooling is not None
    assert [f"{m:%d %H:%M}" for m in (made.cook.ended, made.cooling.to_21, made.cooling.to_5) if m
            ] == ["25 02:20", "25 02:50", "25 03:30"]  # fmt: skip
    assert made.warnings == ()


def test_without_the_end_of_the_cook_the_night_is_that_of_the_batch(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-25 01:40")
    made = hand.batch("firm", cooled=None)
    hand.clock.set("2026-11-25 03:30")
    done = hand.shop.amendments.note_cooling(made.lot, "21", parse_clock("03:20"))
    assert done.cooling is not None
    assert f"{done.cooling.to_21:%d %H:%M}" == "25 03:20"


def test_a_slip_of_the_pen_is_refused_and_does_not_become_the_day_after(hand: ShopInHand) -> None:
    made = hand.batch("firm", cook_ended=parse_clock("04:00"))
    hand.clock.set("2026-11-24 05:00")
    with pytest.raises(BadInput, match="the cooling time 03:50 is before the end of the cook"):
        hand.shop.amendments.note_cooling(made.lot, "21", parse_clock("03:50"))
    hand.clock.set("2026-11-26 05:00")
    with pytest.raises(BadInput, match="the cooling time 03:50 is before the end of the cook"):
        hand.shop.amendments.amend_batch(made.lot, note(hand, cooled="03:50"), "read")


def test_now_is_not_noted_of_a_batch_of_long_ago(hand: ShopInHand) -> None:
    made = hand.batch("firm", cooled=None)
    hand.clock.set("2026-11-24 23:00")  # still its day, though 19 hours later
    assert hand.shop.production.cools_still(made)
    hand.clock.set("2026-11-25 04:10")
    assert not hand.shop.production.cools_still(made)
    assert hand.shop.production.cooling_of_before() == []
    with pytest.raises(Refused, match="it was made on 2026-11-24. Write the times under Correct"):
        hand.shop.amendments.note_cooling(made.lot, "21", None)


# -- left out


def names_on(hand: ShopInHand, lot: str) -> str:
    rows = {row.key: row for row in hand.shop.cards.explain_label(lot)}
    allergens = rows["contains"].text if "contains" in rows else ""
    return f"{rows['ingredients'].text} {allergens}"


def test_what_was_left_out_is_not_on_the_label_of_this_batch_alone(hand: ShopInHand) -> None:
    cook = {"boiled_minutes": None, "cook_celsius": Decimal(170), "cook_minutes": 5}
    usual = hand.batch("puffs", 40, **cook)
    without = hand.batch("puffs", 40, ingredients={"wheat-flour": NOTHING}, **cook)
    assert "wheat" in names_on(hand, usual.lot).casefold()
    assert "wheat" not in names_on(hand, without.lot).casefold()
    assert "soy" in names_on(hand, without.lot).casefold()
    assert without.warnings == (
        "Wheat Flour was left out: the label does not name it, nor wheat as an allergen. "
        "Make sure that none went in",
    )
    assert "wheat" in names_on(hand, hand.batch("puffs", 40, **cook).lot).casefold()


@pytest.mark.parametrize("text", ["0", "0g", "0 kg", "0.0 lb"])
def test_0_is_written_in_any_unit_or_none(hand: ShopInHand, text: str) -> None:
    noted = note(hand, made="48", boiled="10", extra=[f"gypsum={text}"])
    made = hand.shop.production.log_batch("firm", noted)
    assert {p.ingredient: p.grams for p in made.ingredients}["gypsum"] == 0
    assert "gypsum" not in names_on(hand, made.lot)


def test_the_beans_cannot_be_left_out(hand: ShopInHand) -> None:
    with pytest.raises(BadInput, match="0 g of soybeans is nothing, and Firm Tofu is made of it"):
        hand.batch("firm", ingredients={"soybeans": NOTHING})


def test_what_was_left_out_stays_so_in_a_correction_until_it_is_put_in(hand: ShopInHand) -> None:
    made = hand.batch("firm", ingredients={"gypsum": NOTHING})
    again = hand.shop.amendments.amend_batch(
        made.lot, BatchNote(ingredients={"soybeans": kilos("6")}), "read"
    )
    assert again.warnings[-1] == "Calcium Sulfate was left out: the label does not name it"
    put = hand.shop.amendments.amend_batch(
        made.lot, BatchNote(ingredients={"gypsum": kilos("0.18")}), "wrong"
    )
    assert put.warnings == ()
    assert {p.ingredient: p.grams for p in put.ingredients}["gypsum"] == 180


def test_what_was_noted_by_mistake_is_taken_back_with_0(hand: ShopInHand) -> None:
    made = hand.batch("firm", ingredients={"salt": kilos("0.1")})
    back = hand.shop.amendments.amend_batch(
        made.lot, BatchNote(ingredients={"salt": NOTHING}), "not salted"
    )
    assert "salt" not in {p.ingredient for p in back.ingredients}
    with pytest.raises(BadInput, match="the recipe has none to leave out"):
        hand.shop.amendments.amend_batch(
            made.lot, BatchNote(ingredients={"salt": NOTHING}), "again"
        )


# -- a correction before it is written


@pytest.mark.parametrize("change", [
    {"brix": "9.1"}, {"made": "40"}, {"extra": ["gypsum=0"]}, {"cooled": "04:30,05:00"},
    {"boiled": "2"}, {"notes": "foamy"},
])  # fmt: skip
def test_a_preview_of_a_correction_is_what_is_written_then(
    hand: ShopInHand, change: dict[str, object]
) -> None:
    made = hand.batch("firm", cook_ended=parse_clock("04:05"))
    hand.clock.set("2026-11-24 05:00")
    shown = hand.shop.amendments.preview_amended(made.lot, note(hand, **change), "Teo").batch
    assert hand.shop.desk.batch(made.lot) == made
    written = hand.shop.amendments.amend_batch(made.lot, note(hand, **change), "", by="Teo")
    assert written == shown


def test_a_preview_says_what_would_refuse_or_stop_the_correction(hand: ShopInHand) -> None:
    made = hand.batch("firm", cook_ended=parse_clock("04:05"))
    hand.clock.set("2026-11-24 09:00")
    slow = hand.shop.amendments.preview_amended(made.lot, note(hand, cooled="08:30"))
    slowly = "cooled too slowly: it took 4 h 25 min to reach 21 °C / 70 °F, allowed are 2 h"
    assert slow.stopped == slowly
    hand.clock.set("2026-11-25 09:00")
    with pytest.raises(Refused, match="Cannot change how much lot 26328-01 made"):
        hand.shop.amendments.preview_amended(made.lot, note(hand, made="40"))


# -- what was made from a stopped lot


def test_the_lots_made_from_a_stopped_one_are_stopped_with_it(hand: ShopInHand) -> None:
    firm = hand.batch("firm", 48)
    smoked = hand.batch("smoked", 24, mixed=((firm.lot, 10),))
    spiced = hand.batch("spiced", 24, mixed=((smoked.lot, 5),))
    other = hand.batch("soft", 24)
    holds = hand.shop.holds.stop([firm.lot], "sour", by="Ida")
    assert [hold.lot for hold in holds] == [firm.lot, smoked.lot, spiced.lot]
    assert hand.shop.records.unstopped(firm.lot) == hand.shop.records.unstopped(other.lot) == []
    hand.shop.holds.hold(smoked.lot, False, "made before the milk turned", by="Rosa")
    assert [one.lot for one in hand.shop.records.unstopped(firm.lot)] == [smoked.lot]
