"""A batch is entered under the number that stands on its packs; one that never was is voided.

That a lot on a pack names one batch and no other is what a recall stands on: Regulation (EC)
178/2002 Article 18, 21 CFR 1.1310 ff.; which numbers a shop gives is its own affair.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import Asked, BadInput, CounterError, NotSafe, Refused
from counter.shop import Shop
from counter.shop.production import BatchNote
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand
from tests.often import examples

LOT = "26328-01"


def test_a_batch_is_entered_under_the_number_on_its_packs(hand: ShopInHand) -> None:
    assert hand.batch("firm", 48, lot="26328-07").lot == "26328-07"
    assert hand.batch("firm", 48).lot == "26328-08"
    assert hand.batch("firm", 48, lot="26328-03").lot == "26328-03"
    assert hand.batch("firm", 48).lot == "26328-09"
    assert hand.shop.desk.batch("26328-07").made == 48


@pytest.mark.parametrize(("lot", "kind", "why"), [
    ("26328-01", Refused, "lot 26328-01 is logged already. Look at the number on the packs."),
    ("26327-01", BadInput, "lot 26327-01 is of 2026-11-23, and this is written into the day"),
    ("26329-01", BadInput, "lot 26329-01 is of 2026-11-25, and this is written into the day"),
    ("26328-00", BadInput, "'26328-00' is no lot code. Write it as 26328-07."),
    ("7", BadInput, "'7' is no lot code. Write it as 26328-07."),
])  # fmt: skip
def test_a_number_that_is_taken_or_of_another_day_is_refused(
    hand: ShopInHand, lot: str, kind: type[CounterError], why: str
) -> None:
    hand.batch("firm", 48)
    with pytest.raises(kind) as refusal:
        hand.batch("firm", 48, lot=lot)
    assert why in str(refusal.value)
    assert list(hand.shop.desk.ledger().batches) == [LOT]


def test_the_number_of_a_day_before_needs_that_day(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-25 09:00")
    at = hand.clock().replace(day=24)
    note = BatchNote(made=12, boiled_minutes=10, lot="26328-05")
    assert hand.shop.production.log_batch("firm", note, at).lot == "26328-05"


def test_a_number_stays_as_it_is_when_a_batch_is_corrected(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    with pytest.raises(Refused, match="the number stands on its packs"):
        hand.shop.amendments.amend_batch(LOT, BatchNote(made=40, lot="26328-02"), "typed wrong")


def test_a_batch_that_never_was_is_neither_on_hand_nor_waste(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.batch("firm", 24)
    made = hand.shop.amendments.void_batch(LOT, "logged twice", by="Rosa")
    assert (made.made, made.void, made.by, made.revision) == (0, "logged twice", "Rosa", 1)
    assert hand.on_hand(LOT) == 0
    with pytest.raises(NotSafe, match="it never was: logged twice"):
        hand.sell(LOT)
    with pytest.raises(NotSafe, match="it never was: logged twice"):
        hand.shop.labels.refuse_unsafe(made)
    assert hand.sell("firm-block*2").lines[0].draws[0].lot == "26328-02"
    assert hand.batch("firm", 4).lot == "26328-03"  # the number is not given again
    assert hand.shop.closings.trace(LOT).batch.void == "logged twice"
    closing = hand.shop.evening.close_day()
    row = next(n for n in closing.lots if n.lot == LOT)
    assert (row.made, row.wasted, row.variance, row.oversold) == (0, {}, 0, False)
    assert row.balances
    assert closing.batches == 2
    assert LOT not in {y.lot for y in closing.yields} | {c.lot.lot for c in closing.carried}
    hand.clock.set("2026-11-25 09:00")
    with pytest.raises(NotSafe, match="it never was: logged twice"):
        hand.sell(LOT)


@pytest.mark.parametrize("later", [False, True])
def test_what_was_counted_of_it_is_asked_about_and_is_none(hand: ShopInHand, later: bool) -> None:
    hand.batch("firm", 48)
    hand.sell("firm-block*2")
    if later:
        hand.shop.evening.close_day()
        hand.clock.set("2026-11-25 09:00")
    hand.shop.evening.count(LOT, 46)
    hand.clock.forward(minutes=5)
    with pytest.raises(Asked) as asked:
        hand.shop.amendments.void_batch(LOT, "logged twice")
    [question] = asked.value.questions
    assert question.text == (
        "46 of lot 26328-01 were counted, and of a batch that never was there is none"
    )
    assert hand.shop.desk.batch(LOT).void == ""
    hand.shop.desk.questions.given = {"counted": "those were of another lot"}
    hand.shop.amendments.void_batch(LOT, "logged twice")
    assert hand.shop.closings.trace(LOT).left == 0
    closing = hand.shop.evening.close_day()
    [row] = closing.lots
    assert (row.carried_out, row.balances, row.void) == (0, True, "logged twice")
    assert "those were of another lot" in [answer.words for answer in closing.answers]


def test_what_was_sold_of_it_is_left_to_be_explained(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.sell("firm-block*5")
    hand.shop.labels.print_labels([(LOT, 48)]) if hand.shop.desk.folder else None
    made = hand.shop.amendments.void_batch(LOT, "logged twice")
    if hand.shop.desk.folder:
        assert made.warnings == ("48 labels of it are printed: destroy them",)
    row = hand.shop.desk.ledger().rows[LOT]
    assert (row.on_hand, row.oversold) == (-5, True)
    (closed,) = hand.shop.evening.close_day().lots
    assert (closed.sold, closed.variance, closed.oversold, closed.balances) == (5, -5, True, True)


def test_what_went_into_it_is_on_hand_again(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.batch("smoked", 12, boiled_minutes=None, mixed=((LOT, 12),))
    assert hand.on_hand(LOT) == 36
    hand.shop.amendments.void_batch("26328-02", "was not smoked after all")
    assert hand.on_hand(LOT) == 48


@pytest.mark.parametrize("sold", [0, 5])
def test_on_a_later_day_the_stock_follows_by_corrections(hand: ShopInHand, sold: int) -> None:
    hand.batch("firm", 48)
    hand.batch("smoked", 12, boiled_minutes=None, mixed=((LOT, 12),))
    if sold:
        hand.sell(f"firm-block@{LOT}*{sold}")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")
    hand.shop.amendments.void_batch("26328-02", "was not smoked after all")
    hand.shop.amendments.void_batch(LOT, "logged twice")
    assert hand.on_hand("26328-02") == 0
    assert hand.on_hand(LOT) == -sold
    noted = hand.shop.closed_days.corrections_of(
        hand.shop.desk.day_of(hand.clock().replace(day=24))
    ).about
    assert [(c.lot, c.amount) for c in noted] == [("26328-02", -12), (LOT, 12), (LOT, -48)]
    assert len({c.number for c in noted}) == 3
    rows = {n.lot: n for n in hand.shop.evening.close_day().lots}
    assert all(n.balances for n in rows.values())
    assert (rows[LOT].carried_out, rows[LOT].oversold) == (0, sold > 0)
    assert (rows[LOT].carried_in, rows[LOT].corrected) == (36 - sold, -36)


def test_voiding_needs_a_reason_once_and_no_open_tub(hand: ShopInHand) -> None:
    hand.pudding()
    with pytest.raises(Refused, match="tub 26328-01/1 of it stands open. Take the tub away first"):
        hand.shop.amendments.void_batch(LOT, "logged twice")
    hand.shop.tubs.end_tub("26328-01/1", 8000, True)
    with pytest.raises(BadInput, match="'x' is no reason"):
        hand.shop.amendments.void_batch(LOT, " x ")
    hand.shop.amendments.void_batch(LOT, "logged twice")
    with pytest.raises(Refused, match="it is void already: logged twice"):
        hand.shop.amendments.void_batch(LOT, "logged twice")
    with pytest.raises(Refused, match="it never was: logged twice. Log the right batch anew"):
        hand.shop.amendments.amend_batch(LOT, BatchNote(made=40), "after all")


def test_a_void_batch_is_no_example_for_the_next(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.shop.desk.questions.given = {"made": "ten moulds"}
    hand.batch("firm", 480)
    hand.shop.amendments.void_batch("26328-02", "a slip of the pen")
    assert [b.lot for b in hand.shop.production.recent_batches("firm", 1)] == [LOT]


STEP = st.one_of(
    st.tuples(st.just("batch"), st.integers(1, 60)),
    st.tuples(st.just("smoke"), st.integers(1, 20)),
    st.tuples(st.just("void"), st.integers(0, 9)),
    st.tuples(st.just("sell"), st.integers(1, 9)),
    st.tuples(st.just("waste"), st.integers(0, 9)),
    st.tuples(st.just("count"), st.integers(0, 40)),
    st.tuples(st.just("close"), st.just(0)),
)


@examples(80, shared=True)
@given(st.lists(STEP, min_size=4, max_size=24))
def test_every_lot_balances_whatever_never_was(steps: list[tuple[str, int]]) -> None:
    clock = Clock("2026-11-24 06:00")
    hand = ShopInHand(Shop.memory(parse_settings(SETTINGS), clock), clock)
    hand.shop.products.load_catalogue(CATALOGUE)
    hand.batch(made=60)
    closings, carried = [], dict[str, int]()
    for what, n in [*steps, ("close", 0)]:
        lots = list(hand.shop.desk.ledger().rows)
        lot = lots[n % len(lots)] if lots else ""
        try:
            if what == "batch":
                hand.batch(made=n)
            elif what == "smoke":
                hand.batch("smoked", n, boiled_minutes=None, mixed=((lot, n),))
            elif what == "void":
                hand.shop.amendments.void_batch(lot, "never was")
            elif what == "sell":
                hand.sell(f"firm-block*{n}", cash=100000)
            elif what == "waste":
                hand.shop.waste.throw_away(lot, n, "broken")
            elif what == "count":
                hand.shop.evening.count(lot, n)
            else:
                closings.append(hand.shop.evening.close_day())
                clock.forward(hours=24)
        except CounterError:
            continue
    for closing in closings:
        for row in closing.lots:
            assert row.balances
            assert row.carried_in == carried.get(row.lot, 0)
        carried = {c.lot.lot: c.amount for c in closing.carried}
