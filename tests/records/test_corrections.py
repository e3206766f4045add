"""A sealed day is corrected by a record in the open one; the books balance all the same."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from counter.errors import BadInput, CounterError, NotFound, Refused
from counter.shop import Shop
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, SETTINGS, Clock, Maker, ShopInHand

TUESDAY, WEDNESDAY, THURSDAY = (date(2026, 11, n) for n in (24, 25, 26))
LOT = "26328-01"


@pytest.fixture
def hand(make: Maker) -> ShopInHand:
    """Tuesday is closed: 48 firm blocks made, 5 sold, so 43 go over. It is Wednesday."""
    hand = make()
    hand.batch()
    hand.clock.set("2026-11-24 09:00")
    hand.sell("firm-block*5", cash=10000)
    hand.shop.close_day()
    hand.clock.set("2026-11-25 09:00")
    return hand


@pytest.mark.parametrize("amount", [3, -3, -43])
def test_todays_stock_follows_and_shows_as_variance(hand: ShopInHand, amount: int) -> None:
    made = hand.shop.correct(TUESDAY, "a tray was not counted", lot=LOT, amount=amount)
    assert made.on_shelf
    assert hand.on_hand(LOT) == 43 + amount
    (row,) = hand.shop.close_day().lots
    assert (row.carried_in, row.carried_out, row.variance) == (43, 43 + amount, -amount)
    assert row.corrected == amount
    assert row.balances


def test_a_sealed_book_is_not_touched(hand: ShopInHand) -> None:
    before = hand.shop.books.day(TUESDAY).last_link, hand.shop.closing(TUESDAY)
    hand.shop.correct(TUESDAY, "a tray was not counted", lot=LOT, amount=3)
    assert (hand.shop.books.day(TUESDAY).last_link, hand.shop.closing(TUESDAY)) == before
    assert hand.shop.books.check().sound


def test_what_was_counted_today_stays_what_was_counted(hand: ShopInHand) -> None:
    hand.shop.count(LOT, 46)
    hand.shop.correct(TUESDAY, "three more were made", lot=LOT, amount=3)
    (row,) = hand.shop.close_day().lots
    assert (row.carried_out, row.variance) == (46, -3)
    assert row.balances


def test_a_correction_is_shown_with_both_days_before_and_after_closing(hand: ShopInHand) -> None:
    made = hand.shop.correct(TUESDAY, "five dollars lay under the tray", money=500)
    for _ in range(2):
        assert hand.shop.corrections_of(TUESDAY).about == (made,)
        assert hand.shop.corrections_of(TUESDAY).written == ()
        assert hand.shop.corrections_of(WEDNESDAY).written == (made,)
        assert hand.shop.corrections_of(WEDNESDAY).about == ()
        if hand.shop.sealed_until() == TUESDAY:
            assert hand.shop.close_day().corrections == (made,)
    hand.clock.set("2026-11-26 09:00")
    later = hand.shop.correct(TUESDAY, "and one more", money=100)
    assert hand.shop.corrections_of(TUESDAY).about == (made, later)
    assert (later.number, later.day) == ("2026-11-26/C01", THURSDAY)


def test_money_corrected_moves_nothing_in_the_drawer(hand: ShopInHand) -> None:
    before = hand.shop.ledger().drawer.expected
    made = hand.shop.correct(TUESDAY, "under the tray", money=-500)
    assert (made.what, made.money) == ("cash", -500)
    assert hand.shop.ledger().drawer.expected == before


def test_each_kind_of_correction_says_what_it_is(hand: ShopInHand) -> None:
    sale = hand.shop.correct(
        TUESDAY, "four were given, not five", sale="2026-11-24/0001", lot=LOT, amount=1
    )
    waste = hand.shop.correct(TUESDAY, "it was tasted, not broken", lot=LOT, waste=True)
    lot = hand.shop.correct(TUESDAY, "one broken under the press", lot=LOT, amount=-1)
    other = hand.shop.correct(TUESDAY, "Ida was at the counter, not Teo")
    assert [c.what for c in (sale, waste, lot, other)] == ["sale", "waste", "lot", "other"]
    assert hand.on_hand(LOT) == 43
    assert not waste.on_shelf


def test_a_lot_that_is_gone_is_corrected_on_paper_only(hand: ShopInHand) -> None:
    hand.shop.throw_away(LOT, 43, "broken")
    hand.shop.close_day()
    hand.clock.set("2026-12-02 09:00")
    hand.shop.move_cash("float", 15000)
    hand.shop.close_day()
    hand.clock.set("2026-12-03 09:00")
    assert LOT not in hand.shop.ledger().rows
    made = hand.shop.correct(WEDNESDAY, "40, not 43", lot=LOT, amount=3)
    assert not made.on_shelf
    assert LOT not in hand.shop.ledger().rows


def test_refusals_say_what_to_do(hand: ShopInHand) -> None:
    shop = hand.shop
    cases: list[tuple[type[CounterError], str, dict[str, object]]] = [
        (BadInput, "no reason is given. Say what was wrong, with --because", {"why": " "}),
        (BadInput, "an amount needs the lot it is of. Name it, with --lot", {"amount": 3}),
        (BadInput, "no lot is named", {"waste": True}),
        (BadInput, "it is far too much", {"lot": LOT, "amount": 10**8}),
        (Refused, "the log has only 43 of lot 26328-01 left", {"lot": LOT, "amount": -44}),
        (NotFound, "there is no lot of 2026-11-24 '26328-02'. Did you mean 26328-01",
         {"lot": "26328-02"}),
        (NotFound, "there is no sale '2026-11-24/0009'", {"sale": "2026-11-24/0009"}),
        (BadInput, "it is no sale number", {"sale": "17"}),
    ]  # fmt: skip
    for kind, why, given_ in cases:
        with pytest.raises(kind) as refusal:
            shop.correct(TUESDAY, **{"why": "because", **given_})  # type: ignore[arg-type]
        assert why in str(refusal.value)
    assert shop.corrections_of(TUESDAY).about == ()


def test_an_open_day_is_not_corrected_but_written_in(hand: ShopInHand) -> None:
    hand.sell("firm-block", cash=1000)
    with pytest.raises(Refused, match="it is still open. Note it in that day itself, with --at"):
        hand.shop.correct(WEDNESDAY, "because")
    with pytest.raises(NotFound, match="there is no day book '2026-11-20'"):
        hand.shop.correct(date(2026, 11, 20), "because")


STEP = st.one_of(
    st.tuples(st.just("correct"), st.integers(-30, 30)),
    st.tuples(st.just("sell"), st.integers(1, 8)),
    st.tuples(st.just("waste"), st.integers(1, 8)),
    st.tuples(st.just("count"), st.integers(0, 60)),
    st.tuples(st.just("close"), st.just(0)),
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEP, min_size=3, max_size=20))
def test_every_lot_balances_over_days_with_corrections(steps: list[tuple[str, int]]) -> None:
    clock = Clock("2026-11-24 06:00")
    hand = ShopInHand(Shop.memory(parse_settings(SETTINGS), clock), clock)
    hand.shop.load_catalogue(CATALOGUE)
    hand.batch(made=60)
    closings = [hand.shop.close_day()]
    clock.forward(hours=24)
    for what, n in [*steps, ("close", 0)]:
        try:
            if what == "correct":
                hand.shop.correct(closings[-1].day, "found later", lot=LOT, amount=n)
            elif what == "sell":
                hand.sell(f"firm-block*{n}", cash=100000)
            elif what == "waste":
                hand.shop.throw_away(LOT, n, "broken")
            elif what == "count":
                hand.shop.count(LOT, n)
            else:
                closings.append(hand.shop.close_day())
                clock.forward(hours=20)
        except CounterError:
            continue
    carried = 0
    for closing in closings:
        for row in closing.lots:
            assert row.balances
            assert row.carried_in == carried
            carried = row.carried_out
        written = [c for c in closing.corrections if c.on_shelf and c.lot == LOT]
        assert sum(r.corrected for r in closing.lots) == sum(c.amount for c in written)
