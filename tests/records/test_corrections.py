"""A sealed day is corrected by a record in the open one; the books balance all the same."""

from __future__ import annotations

import io
from datetime import date, time
from decimal import Decimal

import pdfplumber
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import BadInput, CounterError, NotFound, Refused
from counter.shop import Shop
from counter.trade.corrections import Correction
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, SETTINGS, Clock, Maker, ShopInHand
from tests.often import examples

TUESDAY, WEDNESDAY, THURSDAY = (date(2026, 11, n) for n in (24, 25, 26))
LOT = "26328-01"


def text_of(data: bytes) -> str:
    with pdfplumber.open(io.BytesIO(data)) as document:
        return " ".join(" ".join(page.extract_text().split()) for page in document.pages)


@pytest.fixture
def hand(make: Maker) -> ShopInHand:
    """Tuesday is closed: 48 firm blocks made, 5 sold, so 43 go over. It is Wednesday."""
    hand = make()
    hand.batch()
    hand.clock.set("2026-11-24 09:00")
    hand.sell("firm-block*5", cash=10000)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")
    return hand


@pytest.mark.parametrize("amount", [3, -3, -43])
def test_todays_stock_follows_and_shows_as_variance(hand: ShopInHand, amount: int) -> None:
    made = hand.shop.closed_days.correct(TUESDAY, "a tray was not counted", lot=LOT, amount=amount)
    assert made.on_shelf
    assert hand.on_hand(LOT) == 43 + amount
    (row,) = hand.shop.evening.close_day().lots
    assert (row.carried_in, row.carried_out, row.variance) == (43, 43 + amount, -amount)
    assert row.corrected == amount
    assert row.balances


def test_a_sealed_book_is_not_touched(hand: ShopInHand) -> None:
    before = hand.shop.desk.books.head(str(TUESDAY)), hand.shop.closings.of(TUESDAY)
    hand.shop.closed_days.correct(TUESDAY, "a tray was not counted", lot=LOT, amount=3)
    assert (hand.shop.desk.books.head(str(TUESDAY)), hand.shop.closings.of(TUESDAY)) == before
    assert hand.shop.audit.check().sound


def test_what_was_counted_today_stays_what_was_counted(hand: ShopInHand) -> None:
    hand.shop.desk.questions.given = {f"count.{LOT}": "counted twice"}
    hand.shop.evening.count(LOT, 46)
    hand.shop.closed_days.correct(TUESDAY, "three more were made", lot=LOT, amount=3)
    (row,) = hand.shop.evening.close_day().lots
    assert (row.carried_out, row.variance) == (46, -3)
    assert row.balances


def test_a_correction_is_shown_with_both_days_before_and_after_closing(hand: ShopInHand) -> None:
    made = hand.shop.closed_days.correct(TUESDAY, "five dollars lay under the tray", cash=500)
    for _ in range(2):
        assert hand.shop.closed_days.corrections_of(TUESDAY).about == (made,)
        assert hand.shop.closed_days.corrections_of(TUESDAY).written == ()
        assert hand.shop.closed_days.corrections_of(WEDNESDAY).written == (made,)
        assert hand.shop.closed_days.corrections_of(WEDNESDAY).about == ()
        if hand.shop.desk.sealed_until() == TUESDAY:
            assert hand.shop.evening.close_day().corrections == (made,)
    hand.clock.set("2026-11-26 09:00")
    later = hand.shop.closed_days.correct(TUESDAY, "and one more", cash=100)
    assert hand.shop.closed_days.corrections_of(TUESDAY).about == (made, later)
    assert (later.number, later.day) == ("2026-11-26/C01", THURSDAY)


def test_money_that_left_the_drawer_corrects_the_drawer_never_the_sales(hand: ShopInHand) -> None:
    before = hand.shop.desk.ledger().drawer.expected
    made = hand.shop.closed_days.correct(TUESDAY, "paid the ice man", cash=-2000)
    assert (made.what, made.taken, made.in_drawer) == ("cash", 0, -2000)
    assert hand.shop.desk.ledger().drawer.expected == before
    week = hand.shop.reports.span_summary("week")
    assert (week.corrected_money, week.corrected_drawer) == (0, -2000)
    assert week.missing_in_all == week.missing + week.start_missing - 2000
    with pytest.raises(BadInput, match="what was taken changes only with the sale"):
        hand.shop.closed_days.correct(TUESDAY, "paid the ice man", money=-2000)
    hand.shop.closed_days.correct(TUESDAY, "a block more", sale="2026-11-24/0001", money=325)
    assert hand.shop.reports.span_summary("week").corrected_money == 325


def test_cash_of_an_older_record_is_the_drawers_too(hand: ShopInHand) -> None:
    old = Correction(
        number="2026-11-25/C01",
        corrects=TUESDAY,
        what="cash",
        text="the ice man",
        at=hand.clock(),
        money=-2000,
    )
    assert (old.taken, old.in_drawer) == (0, -2000)


def test_a_sale_that_nobody_entered_is_a_correction_of_its_day(hand: ShopInHand) -> None:
    item = hand.shop.counter.read_item("firm-block*2")
    made = hand.shop.closed_days.forgotten_sale(TUESDAY, item, "cash", "on the slip", time(9, 30))
    assert (made.what, made.taken, made.in_drawer, made.tax) == ("sale", 650, 650, 0)
    assert (made.lot, made.amount, made.on_shelf) == (LOT, -2, True)
    assert made.happened == hand.clock().replace(day=24, hour=9, minute=30)
    assert hand.on_hand(LOT) == 41
    assert hand.shop.reports.span_summary("week").corrected_money == 650
    (row,) = hand.shop.evening.close_day().lots
    assert row.balances
    by_card = hand.shop.closed_days.forgotten_sale
    hand.clock.set("2026-11-26 09:00")
    assert by_card(TUESDAY, item, "card", "on the slip").in_drawer == 0


def test_what_a_count_has_shown_as_missing_is_not_taken_off_again(hand: ShopInHand) -> None:
    hand.shop.evening.count(LOT, 41)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-26 09:00")
    item = hand.shop.counter.read_item(f"firm-block@{LOT}*2")
    made = hand.shop.closed_days.forgotten_sale(WEDNESDAY, item, "cash", "on the slip")
    assert (made.amount, made.on_shelf) == (-2, False)
    assert hand.on_hand(LOT) == 41


def test_a_temperature_that_nobody_noted_is_a_correction_of_its_day(hand: ShopInHand) -> None:
    made = hand.shop.closed_days.forgotten_temperature(
        TUESDAY, "fridge", Decimal(9), "found on the door", time(14, 0)
    )
    assert made.reading is not None
    assert (made.what, made.reading.place, made.reading.ok) == ("temperature", "fridge", False)
    with pytest.raises(NotFound, match="there is no place 'cellar'"):
        hand.shop.closed_days.forgotten_temperature(
            TUESDAY, "cellar", Decimal(9), "why", time(14, 0)
        )


def test_the_lot_of_a_forgotten_sale_must_be_known(hand: ShopInHand) -> None:
    hand.batch("firm", 12)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-26 09:00")
    sell = hand.shop.closed_days.forgotten_sale
    with pytest.raises(BadInput, match="lots 26328-01, 26329-01 were there. Name the one it was"):
        sell(WEDNESDAY, hand.shop.counter.read_item("firm-block"), "cash", "on the slip")
    with pytest.raises(Refused, match="no lot of Soft block was there that day"):
        sell(TUESDAY, hand.shop.counter.read_item("soft-block"), "cash", "on the slip")
    named = hand.shop.counter.read_item("firm-block@26329-01")
    with pytest.raises(NotFound, match="there is no lot '26329-01'"):
        sell(TUESDAY, named, "cash", "on the slip")
    assert sell(WEDNESDAY, named, "cash", "on the slip").lot == "26329-01"


def test_both_days_show_a_correction_on_paper_and_in_the_span(hand: ShopInHand) -> None:
    item = hand.shop.counter.read_item("firm-block*2")
    hand.shop.closed_days.correct(TUESDAY, "paid the ice man", cash=-2000)
    hand.shop.closed_days.forgotten_sale(TUESDAY, item, "cash", "on the slip", time(9, 30))
    hand.shop.closed_days.forgotten_temperature(
        TUESDAY, "fridge", Decimal(4), "on the door", time(14, 0)
    )
    hand.shop.evening.close_day(cash=15000)
    tuesday, wednesday = (text_of(hand.shop.reports.day_report(d)) for d in (TUESDAY, WEDNESDAY))
    week = text_of(hand.shop.reports.span_report(hand.shop.reports.span_summary("week")))
    for text in (tuesday, wednesday, week):
        assert "cash drawer −$20.00 paid the ice man" in text
        assert "sold 2 x Firm block, at 09:30, -2," in text
        assert "fridge 39.2 °F, at 14:00" in text
    for text in (tuesday, week):
        assert "Left, as corrected $22." in text
    assert "Corrected since, expected −$13.50" in week


def test_each_kind_of_correction_says_what_it_is(hand: ShopInHand) -> None:
    sale = hand.shop.closed_days.correct(
        TUESDAY, "four were given, not five", sale="2026-11-24/0001", lot=LOT, amount=1
    )
    waste = hand.shop.closed_days.correct(TUESDAY, "it was tasted, not broken", lot=LOT, waste=True)
    lot = hand.shop.closed_days.correct(TUESDAY, "one broken under the press", lot=LOT, amount=-1)
    other = hand.shop.closed_days.correct(TUESDAY, "Ida was at the counter, not Teo")
    assert [c.what for c in (sale, waste, lot, other)] == ["sale", "waste", "lot", "other"]
    assert hand.on_hand(LOT) == 43
    assert not waste.on_shelf


def test_a_lot_that_is_gone_is_corrected_on_paper_only(hand: ShopInHand) -> None:
    hand.shop.waste.throw_away(LOT, 43, "broken")
    hand.shop.evening.close_day()
    hand.clock.set("2026-12-02 09:00")
    hand.shop.evening.move_cash("float", 15000)
    hand.shop.evening.close_day()
    hand.clock.set("2026-12-03 09:00")
    assert LOT not in hand.shop.desk.ledger().rows
    made = hand.shop.closed_days.correct(WEDNESDAY, "40, not 43", lot=LOT, amount=3)
    assert not made.on_shelf
    assert LOT not in hand.shop.desk.ledger().rows


def test_refusals_say_what_to_do(hand: ShopInHand) -> None:
    shop = hand.shop
    cases: list[tuple[type[CounterError], str, dict[str, object]]] = [
        (BadInput, "no reason is given. Say what was wrong, with --because", {"why": " "}),
        (BadInput, "an amount needs the lot it is of. Name it, with --lot", {"amount": 3}),
        (BadInput, "no lot is named", {"waste": True}),
        (BadInput, "what was taken changes only with the sale it was taken in", {"money": 3}),
        (BadInput, "it is far too much", {"lot": LOT, "amount": 10**8}),
        (Refused, "the log has only 43 of lot 26328-01 left", {"lot": LOT, "amount": -44}),
        (NotFound, "there is no lot of 2026-11-24 '26328-02'. Did you mean 26328-01",
         {"lot": "26328-02"}),
        (NotFound, "there is no sale '2026-11-24/0009'", {"sale": "2026-11-24/0009"}),
        (BadInput, "it is no sale number", {"sale": "17"}),
    ]  # fmt: skip
    for kind, why, given_ in cases:
        with pytest.raises(kind) as refusal:
            shop.closed_days.correct(TUESDAY, **{"why": "because", **given_})  # type: ignore[arg-type]
        assert why in str(refusal.value)
    assert shop.closed_days.corrections_of(TUESDAY).about == ()


def test_an_open_day_is_not_corrected_but_written_in(hand: ShopInHand) -> None:
    hand.sell("firm-block", cash=1000)
    with pytest.raises(Refused, match="it is still open. Note it in that day itself, with --at"):
        hand.shop.closed_days.correct(WEDNESDAY, "because")
    with pytest.raises(NotFound, match="there is no day book '2026-11-20'"):
        hand.shop.closed_days.correct(date(2026, 11, 20), "because")


STEP = st.one_of(
    st.tuples(st.just("correct"), st.integers(-30, 30)),
    st.tuples(st.just("sell"), st.integers(1, 8)),
    st.tuples(st.just("waste"), st.integers(1, 8)),
    st.tuples(st.just("count"), st.integers(0, 60)),
    st.tuples(st.just("close"), st.just(0)),
)


@examples(60, shared=True)
@given(st.lists(STEP, min_size=3, max_size=20))
def test_every_lot_balances_over_days_with_corrections(steps: list[tuple[str, int]]) -> None:
    clock = Clock("2026-11-24 06:00")
    hand = ShopInHand(Shop.memory(parse_settings(SETTINGS), clock), clock)
    hand.shop.products.load_catalogue(CATALOGUE)
    hand.batch(made=60)
    closings = [hand.shop.evening.close_day()]
    clock.forward(hours=24)
    for what, n in [*steps, ("close", 0)]:
        try:
            if what == "correct":
                hand.shop.closed_days.correct(closings[-1].day, "found later", lot=LOT, amount=n)
            elif what == "sell":
                hand.sell(f"firm-block*{n}", cash=100000)
            elif what == "waste":
                hand.shop.waste.throw_away(LOT, n, "broken")
            elif what == "count":
                hand.shop.evening.count(LOT, n)
            else:
                closings.append(hand.shop.evening.close_day())
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
