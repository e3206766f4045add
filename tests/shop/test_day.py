"""The shop's day through Shop: what must be refused is, what must not stop the counter does not."""

from datetime import date, timedelta
from decimal import Decimal

import msgspec
import pytest

from counter.books import Books
from counter.books.lines import Entry
from counter.errors import BadInput, DaySealed, NotFound, NotSafe, Refused
from counter.shop.production import BatchNote
from counter.trade.closing import Closing
from counter.trade.payments import Tender
from counter.trade.production import lot_day
from counter.trade.sales import Discount, Slip, SlipItem
from tests.conftest import CATALOGUE, SETTINGS, Clock, Maker, ShopInHand, kilos

# -- production


def test_a_batch_answers_with_lot_date_and_reason(hand: ShopInHand) -> None:
    batch = hand.batch(ingredients={"soybeans": kilos("6")}, brix=Decimal("11.2"))
    assert batch.lot == "26328-01"
    assert batch.mark.day == date(2026, 11, 28)
    assert batch.mark.reason == "keeps 5 days, the day made is day 1"
    assert {p.ingredient: p.grams for p in batch.ingredients} == {
        "soybeans": 6000, "water": 42000, "gypsum": 180,
    }  # fmt: skip
    assert hand.batch("soft", 30).lot == "26328-02"


def test_work_before_three_belongs_to_the_day_before(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-25 02:30")
    assert lot_day(hand.batch().lot) == date(2026, 11, 24)
    hand.clock.set("2026-11-25 03:00")
    assert lot_day(hand.batch().lot) == date(2026, 11, 25)


def test_block_and_pudding_of_the_same_milk_name_the_same_ingredients(hand: ShopInHand) -> None:
    # Common practice, no source: the same soy milk and coagulant make block and pudding.
    block, pudding = hand.batch("firm"), hand.batch("pudding", 8000)
    names = [{p.ingredient for p in b.ingredients} for b in (block, pudding)]
    assert names[0] == names[1] == {"soybeans", "water", "gypsum"}


def test_without_a_cook_a_lot_is_neither_sold_nor_labelled(hand: ShopInHand) -> None:
    batch = hand.batch(boiled_minutes=None)
    assert "not for sale yet: no cook is recorded" in batch.told[0]
    for act in (lambda: hand.sell(batch.lot), lambda: hand.shop.labels.label(batch.lot)):
        with pytest.raises(
            NotSafe, match="no cook is recorded, and raw soy milk is not for eating"
        ):
            act()
    hand.shop.amendments.amend_batch(
        batch.lot, BatchNote(boiled_minutes=10), "was boiled, not written down"
    )
    assert hand.sell(batch.lot).lines[0].draws[0].lot == batch.lot


def test_a_batch_cooled_too_slowly_is_stopped_and_can_be_released(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-24 12:00")
    times = {"cook_ended": _t("05:00"), "cooled": (_t("08:10"), _t("11:30"))}
    batch = hand.batch(**times)
    with pytest.raises(NotSafe) as refusal:
        hand.sell("firm-block")
    assert str(refusal.value) == (
        "Cannot sell lot 26328-01: it is stopped: cooled too slowly: it took 3 h 10 min to reach "
        "21 °C / 70 °F, allowed are 2 h. Put it aside until it is released."
    )
    hand.shop.holds.hold(batch.lot, False, "thermometer was wrong, see note", by="Rosa")
    assert hand.sell("firm-block").total == 325
    with pytest.raises(Refused, match="it is not stopped"):
        hand.shop.holds.hold(batch.lot, False, "again", by="Rosa")


def test_cooling_times_may_come_later_and_are_judged_then(hand: ShopInHand) -> None:
    batch = hand.batch(cook_ended=_t("04:00"))
    hand.clock.set("2026-11-24 11:20")
    hand.shop.amendments.amend_batch(
        batch.lot, BatchNote(cooled=(_t("05:30"), _t("11:00"))), "cooling read"
    )
    assert "6 h in all" in hand.shop.desk.ledger().rows[batch.lot].lot.stopped
    assert hand.shop.desk.batch(batch.lot).revision == 1


def test_a_smoked_batch_takes_its_firm_lot_along(hand: ShopInHand) -> None:
    firm = hand.batch("firm", 48)
    smoked = hand.batch("smoked", 24, boiled_minutes=None, mixed=((firm.lot, 20),))
    assert smoked.mark.day == firm.mark.day
    assert smoked.mark.reason == f"lot {firm.lot} went into it and keeps only so long"
    assert hand.on_hand(firm.lot) == 28
    assert hand.shop.closings.trace(firm.lot).went_into == (smoked.lot,)
    with pytest.raises(Refused, match="no lot is named"):
        hand.batch("smoked", 24, boiled_minutes=None)


@pytest.mark.parametrize(
    ("note", "sentence"),
    [
        ({"brix": Decimal(-1)}, "-1 °Brix is not possible"),
        ({"brix": Decimal(41)}, "41 °Brix is not possible"),
        ({"made": 0}, "0 made is no amount"),
        ({"boiled_minutes": None, "cook_celsius": Decimal(40), "cook_minutes": 10}, "a cook at 40 °C is none"),
        ({"boiled_minutes": None, "cook_celsius": Decimal(95)}, "needs its temperature and its minutes"),
        ({"ingredients": {"soybean": kilos("6")}}, "there is no ingredient 'soybean'. Did you mean soybeans"),
    ],
)  # fmt: skip
def test_a_batch_that_cannot_be_is_refused_and_nothing_is_written(
    hand: ShopInHand, note: dict[str, object], sentence: str
) -> None:
    with pytest.raises((BadInput, NotFound), match=sentence.replace("(", r"\(")):
        hand.batch(**note)  # type: ignore[arg-type]
    assert hand.shop.desk.books.days() == []


# -- selling


def test_oldest_first_when_tapped_its_own_lot_when_scanned(hand: ShopInHand) -> None:
    old = hand.batch(made=2)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 04:10")
    new = hand.batch(made=10)
    sale = hand.sell("firm-block*3")
    assert [(d.lot, d.amount) for d in sale.lines[0].draws] == [(old.lot, 2), (new.lot, 1)]
    assert sale.total == 900
    assert hand.sell(new.lot).lines[0].draws[0].lot == new.lot
    assert hand.sell("9521234000013").lines[0].portion == "firm-block"


def test_the_counter_never_stops_for_bookkeeping(hand: ShopInHand) -> None:
    batch = hand.batch(made=1)
    hand.sell("firm-block*3")
    assert hand.on_hand(batch.lot) == -2
    closing = hand.shop.evening.close_day()
    lot = closing.lots[0]
    assert (lot.oversold, lot.variance, lot.carried_out, lot.balances) == (True, -2, 0, True)


def test_past_its_date_a_lot_is_refused_scanned_or_tapped(hand: ShopInHand) -> None:
    batch = hand.batch()
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-29 08:00")
    for item in ("firm-block", batch.lot):
        with pytest.raises(NotSafe) as refusal:
            hand.sell(item)
        assert str(refusal.value) == (
            "Cannot sell lot 26328-01: its best-by date 2026-11-28 has passed. "
            "Throw it away under Waste."
        )
    assert [lot.lot for lot in hand.shop.counter.shelf().throw_away] == [batch.lot]


def test_an_old_label_scanned_long_after_is_refused_for_its_date(hand: ShopInHand) -> None:
    batch = hand.batch()
    hand.shop.evening.close_day()
    hand.clock.set("2027-01-15 08:00")
    with pytest.raises(NotSafe, match="its last date 2026-11-30 has passed"):
        hand.sell(batch.lot)


def test_an_item_may_be_called_by_its_name(hand: ShopInHand) -> None:
    hand.batch()
    assert hand.sell("firm Block*2").total == 650


@pytest.mark.parametrize(
    ("day", "there"),
    [("2026-11-28", 78), ("2026-11-29", 78), ("2026-11-30", 78), ("2026-12-01", 30)],
)
def test_what_is_left_was_there_to_be_sold_up_to_its_last_day(
    make: Maker, day: str, there: int
) -> None:
    """Best by 2026-11-28; the seventh day is the last: FDA Food Code 3-501.17(A)."""
    hand = make(SETTINGS.replace('past_best_by = "refuse"', 'past_best_by = "warn"'))
    hand.batch("firm", 48)
    hand.shop.evening.close_day()
    hand.clock.set(f"{day} 08:00")
    hand.batch("firm", 30)
    assert hand.shop.evening.close_day().available == {"firm": there}


def test_a_shop_that_warns_sells_past_best_by_at_the_last_day_price(make: Maker) -> None:
    hand = make(SETTINGS.replace('past_best_by = "refuse"', 'past_best_by = "warn"'))
    hand.batch()
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-29 08:00")
    assert hand.sell("firm-block").total == 225
    hand.shop.evening.close_day()
    hand.clock.set("2026-12-01 08:00")  # day 8: FDA Food Code 3-501.18
    with pytest.raises(NotSafe, match="its last date 2026-11-30 has passed"):
        hand.sell("firm-block")


def test_a_sale_sent_twice_is_booked_once_and_answered_the_same(hand: ShopInHand) -> None:
    hand.batch()
    first = hand.sell("firm-block*2", key="tablet-1/77")
    assert hand.sell("firm-block*2", key="tablet-1/77") == first
    assert len(hand.shop.desk.ledger().sales) == 1
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    assert hand.sell("firm-block*2", key="tablet-1/77") == first


def test_sale_numbers_have_no_gaps(hand: ShopInHand) -> None:
    hand.batch()
    numbers = []
    for item in ("firm-block", "nothing-such", "firm-block"):
        try:
            numbers.append(hand.sell(item).number)
        except NotFound:
            continue
    assert numbers == ["2026-11-24/0001", "2026-11-24/0002"]


def test_a_price_change_keeps_the_old_price_on_the_old_sales(hand: ShopInHand) -> None:
    hand.batch()
    before = hand.sell("firm-block")
    hand.shop.products.load_catalogue(
        CATALOGUE.replace('price = "3.25"\nbreaks', 'price = "3.75"\nbreaks', 1)
    )
    assert hand.sell("firm-block").total == 375
    assert hand.shop.counter.sale(before.number).total == 325


def test_cups_come_out_of_an_open_tub_only(hand: ShopInHand) -> None:
    batch = hand.batch("pudding", 16000)
    with pytest.raises(Refused) as refusal:
        hand.sell("cup-small")
    assert str(refusal.value) == (
        "Cannot sell cup-small: no tub of Soft Tofu Pudding is open. "
        "Open one with `counter tub open LOT`."
    )
    tub = hand.shop.tubs.open_tub(batch.lot, "cold", 8000, Decimal(4))
    sale = hand.sell("cup-small+ginger*2")
    assert sale.lines[0].draws[0] == msgspec.convert(
        {"lot": batch.lot, "amount": 474, "tub": tub.tub, "how": "named"},
        type(sale.lines[0].draws[0]),
    )
    assert hand.shop.desk.ledger().tubs[tub.tub].level == 7526


def test_a_tub_past_its_time_sells_nothing_and_closing_throws_it_away(hand: ShopInHand) -> None:
    batch, tub = hand.pudding(8000, "time")
    hand.sell("cup-small")
    hand.clock.forward(hours=4)
    with pytest.raises(NotSafe, match="has been out for 4 hours, since 04:10"):
        hand.sell("cup-small")
    assert hand.shop.counter.shelf().products[5].tubs[0].minutes == 0
    closing = hand.shop.evening.close_day()
    row = next(n for n in closing.lots if n.lot == batch.lot)
    assert row.wasted == {"time": 8000 - 237}
    assert hand.shop.desk.ledger is not None
    assert tub not in {t.tub for t in closing.tubs}


def test_pudding_scooped_too_deep_shows_as_scooping_loss(hand: ShopInHand) -> None:
    # Common practice, no source: pudding scooped too deep gives off water.
    batch, _ = hand.pudding(8000)
    hand.sell("cup-small*4")
    hand.shop.evening.count(batch.lot, 6900)
    closing = hand.shop.evening.close_day()
    row = closing.lots[0]
    assert row.wasted == {"scooping": 8000 - 4 * 237 - 6900}
    assert (row.variance, row.balances) == (0, True)


def test_more_pudding_than_was_logged_is_no_scooping_loss(hand: ShopInHand) -> None:
    batch, _ = hand.pudding(8000)
    hand.sell("cup-small*4")
    hand.shop.evening.count(batch.lot, 7100)
    row = hand.shop.evening.close_day().lots[0]
    assert (row.wasted, row.variance, row.balances) == ({}, 8000 - 4 * 237 - 7100, True)


def test_a_cold_tub_is_put_back_a_hot_one_is_not(hand: ShopInHand) -> None:
    _, cold = hand.pudding()
    gone = hand.shop.tubs.end_tub(cold, 7900, True)
    assert [(w.reason, w.amount) for w in gone] == [("scooping", 100)]
    _, hot = hand.pudding(mode="hot")
    with pytest.raises(NotSafe, match="only a cold tub is put back"):
        hand.shop.tubs.end_tub(hot, 7900, True)
    hand.shop.tubs.end_tub(hot, 7900, False)
    with pytest.raises(Refused, match="it was taken away at 04:10"):
        hand.shop.tubs.end_tub(hot, 0, False)


def test_what_is_sold_by_weight_is_priced_and_drawn_by_weight(hand: ShopInHand) -> None:
    batch = hand.batch("pressed", 4000)
    assert hand.sell("pressed:6oz").total == 334
    assert hand.on_hand(batch.lot) == 4000 - 170


def test_several_payments_in_one_sale_and_change_out_of_the_drawer(hand: ShopInHand) -> None:
    hand.batch()
    hand.shop.evening.move_cash("float", 15000, coins={"2000": 5, "500": 8, "100": 8, "25": 8})
    slip = Slip((SlipItem("firm-block", 4),))
    sale = hand.shop.counter.sell(slip, [Tender("card", 500, "T1"), Tender("cash", 1000)])
    assert [p.amount for p in sale.payments] == [500, 725]
    assert sale.change == 275
    assert hand.shop.counter.change_coins(sale) == {100: 2, 25: 3}
    assert hand.shop.desk.ledger().drawer.expected == 15725


def test_a_refund_gives_back_what_was_paid_and_never_twice(hand: ShopInHand) -> None:
    batch = hand.batch()
    sale = hand.sell("firm-block*3", cash=1000)
    back = hand.shop.counter.refund(sale.number, "sour", {1: 1})
    assert (back.amount, back.kind) == (300, "cash")
    assert hand.on_hand(batch.lot) == 45
    rest = hand.shop.counter.refund(sale.number, "keyed twice", restock=True)
    assert back.amount + rest.amount == sale.total
    assert hand.on_hand(batch.lot) == 47
    with pytest.raises(Refused, match="nothing of it is left to refund"):
        hand.shop.counter.refund(sale.number, "again")
    with pytest.raises(NotFound, match="there is no sale '2026-11-24/0009'"):
        hand.shop.counter.refund("2026-11-24/0009", "none")
    with pytest.raises(BadInput, match="it is no sale number"):
        hand.shop.counter.refund("17", "none")


def test_a_refund_days_later_finds_its_sale(hand: ShopInHand) -> None:
    hand.batch()
    sale = hand.sell("firm-block*2")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-26 09:00")
    assert hand.shop.counter.refund(sale.number, "sour", {1: 1}).amount == 325
    assert hand.shop.counter.refund(sale.number, "sour").amount == 325


def test_a_discount_needs_a_reason_and_shows(hand: ShopInHand) -> None:
    hand.batch()
    sale = hand.sell("firm-block", discount=Discount(why="neighbour", percent=Decimal(10)))
    assert (sale.total, sale.discount, sale.why) == (292, 33, "neighbour")


# -- stops, waste, closing


def test_a_stopped_lot_is_refused_everywhere(hand: ShopInHand) -> None:
    batch = hand.batch()
    hand.shop.holds.hold(batch.lot, True, "foreign body", by="Rosa")
    acts = (
        lambda: hand.sell("firm-block"),
        lambda: hand.sell(batch.lot),
        lambda: hand.shop.labels.label(batch.lot),
        lambda: hand.batch("smoked", 24, boiled_minutes=None, mixed=((batch.lot, 9),)),
    )
    for act in acts:
        with pytest.raises(NotSafe, match="it is stopped: foreign body"):
            act()
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")
    with pytest.raises(NotSafe, match="it is stopped: foreign body"):
        hand.sell("firm-block")


def test_more_than_the_log_has_is_not_thrown_away(hand: ShopInHand) -> None:
    batch = hand.batch(made=3)
    with pytest.raises(Refused) as refusal:
        hand.shop.waste.throw_away(batch.lot, 4, "broken")
    assert str(refusal.value) == (
        "Cannot throw away 4 of lot 26328-01: the log has only 3 of it left. "
        "Count the lot first, with `counter count`, if more is really there."
    )


def test_a_closed_day_is_sealed_and_can_be_reopened_today_only(hand: ShopInHand) -> None:
    batch = hand.batch()
    hand.sell("firm-block")
    first = hand.shop.evening.close_day(cash=15000)
    with pytest.raises(DaySealed):
        hand.sell("firm-block")
    hand.shop.evening.reopen_day("forgot a sale", by="Rosa")
    hand.sell("firm-block")
    second = hand.shop.evening.close_day(cash=15000)
    assert (first.sales, second.sales) == (1, 2)
    kinds = [type(r).__name__ for r in hand.shop.closings.all_between(date.min, date.max)]
    assert kinds == ["Closing", "Reopening", "Closing"]
    assert hand.shop.closings.of(date(2026, 11, 24)) == second
    hand.clock.set("2026-11-25 09:00")
    with pytest.raises(Refused, match="it is not closed"):
        hand.shop.evening.reopen_day("too late")
    assert hand.on_hand(batch.lot) == 46
    with pytest.raises(DaySealed, match="days up to 2026-11-24 are closed"):
        hand.shop.waste.throw_away(batch.lot, 1, "broken", at=Clock("2026-11-24 10:00").moment)


def test_days_are_closed_in_order_and_a_forgotten_one_can_be_closed_later(hand: ShopInHand) -> None:
    batch = hand.batch(made=10)
    hand.clock.set("2026-11-25 08:00")
    hand.sell("firm-block")
    with pytest.raises(Refused, match="day 2026-11-24 before it is still open. Close it first"):
        hand.shop.evening.close_day()
    hand.shop.evening.count(batch.lot, 9, at=Clock("2026-11-24 18:00").moment)
    late = hand.shop.evening.close_day(day=date(2026, 11, 24))
    assert (late.lots[0].carried_out, late.lots[0].variance) == (9, 1)
    assert hand.on_hand(batch.lot) == 8


def test_the_drawer_adds_up_and_the_float_stays(hand: ShopInHand) -> None:
    hand.batch()
    hand.sell("firm-block", cash=500)
    hand.shop.evening.move_cash("out", 2000, "ice")
    closing = hand.shop.evening.close_day(cash=13300)
    assert (closing.cash.start, closing.cash.expected, closing.cash.variance) == (15000, 13325, 25)
    assert closing.cash.left == 13300
    hand.clock.set("2026-11-25 09:00")
    assert hand.shop.desk.ledger().drawer.expected == 13300


def test_notes_from_paper_stand_beside_the_time_of_entry(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-24 09:00")
    at = Clock("2026-11-24 04:10").moment
    hand.shop.production.log_batch("firm", BatchNote(made=10, boiled_minutes=10), at, "Teo")
    entry = hand.shop.desk.books.entries("2026-11-24")[0]
    batch = entry.records["batches"][0]
    assert (batch.at.hour, batch.by, entry.entered.hour) == (4, "Teo", 9)
    with pytest.raises(BadInput, match="it is only 2026-11-24 09:00"):
        hand.shop.production.log_batch("firm", BatchNote(made=1), Clock("2026-11-24 18:00").moment)
    with pytest.raises(BadInput, match="that is more than 31 days ago"):
        hand.shop.production.log_batch("firm", BatchNote(made=1), Clock("2006-11-24 18:00").moment)


def test_what_another_program_books_while_a_day_is_folded_counts_once(
    folder_shop: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand = folder_shop
    assert hand.shop.desk.folder is not None
    other = ShopInHand(type(hand.shop).open(hand.shop.desk.folder, hand.clock), hand.clock)
    batch, read, meanwhile = hand.batch(), Books.entries, ["firm-block"]

    def entries(books: Books, book: str, after: int = 0) -> list[Entry]:
        if books is other.shop.desk.books and meanwhile:
            hand.sell(meanwhile.pop())
        return read(books, book, after)

    monkeypatch.setattr(Books, "entries", entries)
    assert other.on_hand(batch.lot) == 48  # as it stood when it was looked at
    assert other.on_hand(batch.lot) == hand.on_hand(batch.lot) == 47


def test_another_process_sees_what_was_written(folder_shop: ShopInHand) -> None:
    hand = folder_shop
    assert hand.shop.desk.folder is not None
    other = ShopInHand(type(hand.shop).open(hand.shop.desk.folder, hand.clock), hand.clock)
    batch = hand.batch()
    assert other.sell("firm-block").number == "2026-11-24/0001"
    assert hand.sell("firm-block").number == "2026-11-24/0002"
    assert hand.on_hand(batch.lot) == other.on_hand(batch.lot) == 46
    other.shop.evening.close_day()
    with pytest.raises(DaySealed):
        hand.sell("firm-block")


def test_a_lot_is_traced_over_its_days(hand: ShopInHand) -> None:
    batch = hand.batch(made=20, codes={"soybeans": "B-1207"})
    sale = hand.sell("firm-block*2")
    hand.shop.waste.throw_away(batch.lot, 1, "broken")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-26 09:00")
    hand.sell("firm-block*3")
    trace = hand.shop.closings.trace(batch.lot)
    assert (trace.sold, trace.left) == (5, 14)
    assert trace.sales[0].sale == sale.number
    assert trace.batch.codes == {"soybeans": "B-1207"}
    assert [d.sold for d in trace.days] == [2]
    with pytest.raises(NotFound, match="there is no lot '26328-09'. Did you mean 26328-01"):
        hand.shop.closings.trace("26328-09")
    with pytest.raises(NotFound, match="there is no lot 'x'"):
        hand.shop.closings.trace("x")


def test_summer_time_ends_in_the_night_of_a_trading_day(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-01 01:30")
    late = hand.batch()
    hand.clock.forward(hours=1)  # 01:30 again
    assert hand.clock.moment.hour == 1
    second = hand.batch()
    assert [lot_day(late.lot), lot_day(second.lot)] == [date(2026, 10, 31)] * 2
    assert second.at.timestamp() - late.at.timestamp() == 3600


def test_a_year_of_quiet_days_carries_a_lot_no_further_than_its_date(hand: ShopInHand) -> None:
    batch = hand.batch(made=5)
    for day in range(24, 31):
        hand.clock.set(f"2026-11-{day} 18:00")
        if day == 24:
            hand.shop.evening.close_day()
            continue
        for lot in hand.shop.counter.shelf().throw_away:
            hand.shop.waste.throw_away(lot.lot, lot.amount, "date")
        if date(2026, 11, day) in hand.shop.desk.books.days():
            closing = hand.shop.evening.close_day()
            assert isinstance(closing, Closing)
    assert batch.lot not in {c.lot.lot for c in closing.carried if c.amount}
    assert hand.shop.closings.trace(batch.lot).waste[0].amount == 5
    assert hand.clock.moment - timedelta(days=6) == Clock("2026-11-24 18:00").moment


def _t(text: str) -> object:
    from counter.trade.units import parse_clock

    return parse_clock(text)
