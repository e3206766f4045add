"""Payments that waited in a browser are booked as they were paid: by whom, when, at which price and
out of which lots. One whose day is closed goes into the open one, with both times."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from contextlib import suppress
from datetime import date, datetime, timedelta
from decimal import Decimal

import pdfplumber
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import CounterError, DaySealed, KeyTaken, NotSafe
from counter.languages import language
from counter.reports.flat import csv_of
from counter.shop import Shop
from counter.shop.desk import Desk
from counter.trade.payments import Tender
from counter.trade.sales import Kept, PaperSale, Sale, Slip, SlipItem
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, SETTINGS, ZONE, Clock, ShopInHand
from tests.often import examples

CARD = (Tender("card"),)


def at(text: str) -> datetime:
    return datetime.fromisoformat(f"2026-11-{text}").replace(tzinfo=ZONE)


def paid(
    shop: Shop, when: datetime, *items: SlipItem, key: str = "k1", by: str = "Ida",
    sent_by: str = "", shown: int | None = None, tenders: Sequence[Tender] = CARD,
) -> Sale:  # fmt: skip
    """Send a payment of ``when`` now."""
    kept = Kept(
        paid=when, day=shop.desk.day_of(when), booked=shop.desk.now(), sent_by=sent_by, shown=shown
    )
    slip = Slip(items or (SlipItem("firm-block"),), key=key)
    return shop.payments.sell_kept(slip, tenders, kept, by)


def noon(hand: ShopInHand) -> Shop:
    hand.batch("firm", 48)
    hand.batch("soft", 30)
    hand.clock.set("2026-11-24 12:00")
    return hand.shop


# -- its moment, its person


def test_a_payment_is_booked_at_its_moment_by_whoever_took_it(hand: ShopInHand) -> None:
    shop = noon(hand)
    sale = paid(shop, at("24 09:12"), by="Ida", sent_by="Rosa", shown=325)
    assert (sale.number, sale.at, sale.by) == ("2026-11-24/0001", at("24 09:12"), "Ida")
    assert sale.kept == Kept(
        paid=at("24 09:12"), day=date(2026, 11, 24), booked=at("24 12:00"), sent_by="Rosa"
    )
    assert not sale.moved
    (hour,) = shop.evening.close_day().hours
    assert hour.hour == 9


def test_one_that_waited_less_than_a_minute_bears_no_note(hand: ShopInHand) -> None:
    shop = noon(hand)
    sale = paid(shop, at("24 11:59:30"))
    assert (sale.at, sale.kept) == (at("24 11:59:30"), None)


def test_it_goes_into_the_book_of_its_day_while_that_is_open(hand: ShopInHand) -> None:
    shop = noon(hand)
    hand.clock.set("2026-11-25 07:00")
    sale = paid(shop, at("24 18:02"))
    assert (sale.number, sale.at) == ("2026-11-24/0001", at("24 18:02"))
    assert [s.number for s in shop.desk.recorded(Sale, date(2026, 11, 24))] == [sale.number]
    assert shop.desk.ledger().rows["26328-01"].carried_in == 47


# -- its prices, its lots


def test_it_has_the_prices_of_its_moment(hand: ShopInHand) -> None:
    shop = noon(hand)
    shop.products.load_catalogue(CATALOGUE.replace('price = "3.25"', 'price = "3.45"'))
    hand.clock.forward(minutes=1)
    assert hand.sell("firm-block").total == 345
    sale = paid(shop, at("24 09:12"), shown=325)
    assert (sale.total, sale.kept and sale.kept.shown) == (325, None)


def test_a_total_that_is_not_the_one_shown_is_noted(hand: ShopInHand) -> None:
    sale = paid(noon(hand), at("24 09:12"), shown=300)
    assert (sale.total, sale.kept and sale.kept.shown) == (325, 300)


def test_a_lot_stopped_after_it_was_paid_is_booked(hand: ShopInHand) -> None:
    """It is eaten, and a recall must find it."""
    shop = noon(hand)
    shop.holds.hold("26328-01", True, "a hair was found")
    hand.clock.forward(minutes=5)
    sale = paid(shop, at("24 09:12"))
    assert [d.lot for d in sale.lines[0].draws] == ["26328-01"]
    assert [s.sale for s in shop.closings.trace("26328-01").sales] == [sale.number]


def test_what_might_not_be_sold_when_it_was_paid_is_refused(hand: ShopInHand) -> None:
    shop = noon(hand)
    shop.holds.hold("26328-01", True, "a hair was found")
    hand.clock.forward(minutes=5)
    with pytest.raises(NotSafe, match="it is stopped: a hair was found"):
        paid(shop, hand.clock.moment)
    assert shop.desk.ledger().sales == {}


def test_a_cup_is_booked_out_of_the_tub_that_stood_there(hand: ShopInHand) -> None:
    """Cold pudding, 5 °C or below (Food Code 3-501.16(A)(2)); the tub is gone by now."""
    _, tub = hand.pudding()
    hand.clock.set("2026-11-24 08:00")
    hand.shop.tubs.check_tub(tub, Decimal(4))
    hand.clock.set("2026-11-24 10:00")
    hand.shop.tubs.end_tub(tub, 7000, False)
    hand.clock.set("2026-11-24 12:00")
    sale = paid(hand.shop, at("24 08:30"), SlipItem("cup-small"))
    assert sale.lines[0].draws[0].tub == tub


def test_a_lot_made_after_it_was_paid_is_not_what_was_sold(hand: ShopInHand) -> None:
    shop = noon(hand)
    hand.sell("firm-block*48")
    later = hand.batch("firm", 10)
    hand.clock.forward(minutes=1)
    sale = paid(shop, at("24 11:30"), key="k2")
    assert later.lot not in {d.lot for d in sale.lines[0].draws}
    assert shop.desk.ledger().rows["26328-01"].oversold


# -- its day is closed


def test_one_of_a_closed_day_goes_into_the_open_one_with_both_times(hand: ShopInHand) -> None:
    shop = noon(hand)
    hand.clock.set("2026-11-24 18:30")
    shop.evening.close_day(by="Rosa")
    hand.clock.set("2026-11-25 08:00")
    sale = paid(shop, at("24 18:02"), sent_by="Rosa", tenders=[Tender("cash", 500)])
    assert (sale.number, sale.at, sale.by) == ("2026-11-25/0001", at("25 08:00"), "Ida")
    assert sale.kept == Kept(
        paid=at("24 18:02"), day=date(2026, 11, 24), booked=at("25 08:00"), sent_by="Rosa"
    )
    assert (sale.moved, sale.paid_at) == (True, at("24 18:02"))
    assert hand.on_hand("26328-01") == 47
    closing = shop.evening.close_day()
    assert (closing.total, closing.cash.sales) == (325, 325)
    assert all(lot.balances for lot in closing.lots)


def test_one_of_a_closed_day_whose_lot_is_gone_is_booked_and_found_by_a_recall(
    hand: ShopInHand,
) -> None:
    shop = noon(hand)
    hand.clock.set("2026-11-24 18:30")
    shop.waste.throw_out("26328-01", 48, "broken")
    shop.evening.close_day()
    hand.clock.set("2026-11-30 08:00")
    hand.batch("firm", 20)
    sale = paid(shop, at("24 18:02"))
    assert [d.lot for d in sale.lines[0].draws] == ["26328-01"]
    assert hand.on_hand("26334-01") == 20
    closing = shop.evening.close_day()
    (row,) = (n for n in closing.lots if n.lot == "26328-01")
    # 24 November counts one too many thrown away, today lacks it: the two make none.
    assert (row.carried_in, row.sold, row.variance, row.balances) == (0, 1, -1, True)
    hand.clock.set("2026-12-01 08:00")
    trace = shop.closings.trace("26328-01")
    assert [(s.sale, s.at) for s in trace.sales] == [(sale.number, at("24 18:02"))]
    fresh = Shop(Desk(shop.desk.books, shop.desk.settings, hand.clock))
    assert fresh.counter.sale(sale.number) == sale
    assert fresh.audit.check().sound


def test_a_cup_of_a_closed_day_is_booked_though_its_tub_is_gone(folder_shop: ShopInHand) -> None:
    hand, shop = folder_shop, folder_shop.shop
    pudding, tub = hand.pudding()
    hand.clock.set("2026-11-24 08:00")
    shop.tubs.check_tub(tub, Decimal(4))
    hand.clock.set("2026-11-24 10:00")
    shop.waste.throw_out(pudding.lot, 16000, "broken")
    shop.evening.close_day()
    hand.clock.set("2026-11-27 08:00")
    sale = paid(shop, at("24 08:30"), SlipItem("cup-small"))
    assert sale.lines[0].draws[0].tub == tub
    closing = shop.evening.close_day()
    assert all(lot.balances for lot in closing.lots)
    assert shop.reports.day_summary(closing.day).kept
    assert shop.reports.day_report(closing.day)
    assert [s.sale for s in shop.closings.trace(pudding.lot).sales] == [sale.number]
    assert sale.number in {s.sale for s in shop.records.recall([pudding.lot]).sales}
    hand.clock.set("2026-11-28 08:00")
    shop.counter.shelf()
    hand.batch("firm", 3)
    assert shop.evening.close_day().cash.start == closing.cash.left


def test_it_waits_while_its_day_is_closed_and_no_other_is_open(hand: ShopInHand) -> None:
    shop = noon(hand)
    shop.evening.close_day()
    with pytest.raises(DaySealed):
        paid(shop, at("24 11:55"))
    hand.clock.set("2026-11-25 08:00")
    assert paid(shop, at("24 11:55")).number == "2026-11-25/0001"


def test_what_was_paid_on_another_day_is_not_put_back(hand: ShopInHand) -> None:
    shop = noon(hand)
    shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    sale = paid(shop, at("24 11:55"))
    with pytest.raises(Exception, match="it was sold on 2026-11-24, and what has left"):
        shop.counter.refund(sale.number, "sour", {1: 1}, restock=True)
    assert shop.counter.refund(sale.number, "sour", {1: 1}).amount == 325


def test_it_does_not_make_the_plan_believe_that_today_was_sold_out(hand: ShopInHand) -> None:
    shop = noon(hand)
    hand.sell("soft-block*30")
    shop.evening.close_day()
    hand.clock.set("2026-11-25 05:00")
    paid(shop, at("24 11:55"), SlipItem("soft-block"))
    assert "soft" not in shop.desk.ledger().sold_out_at


def test_report_figures_and_export_say_both_times(folder_shop: ShopInHand) -> None:
    shop = noon(folder_shop)
    shop.evening.close_day()
    folder_shop.clock.set("2026-11-25 08:00")
    sale = paid(shop, at("24 11:55"), sent_by="Rosa")
    shop.evening.close_day()
    day = date(2026, 11, 25)
    (kept,) = shop.reports.day_summary(day).kept
    assert (kept.sale, kept.day, kept.amount) == (sale.number, date(2026, 11, 24), 325)
    with pdfplumber.open(io.BytesIO(shop.reports.day_report(day))) as report:
        text = "\n".join(sheet.extract_text() for sheet in report.pages)
    assert "Paid before they were booked" in text
    assert (
        f"{sale.number} $3.25 Nov 24 11:55 AM Nov 25 8:00 AM Ida Rosa its own day was closed"
        in text
    )
    assert f"kept,{sale.number},amount,3.25" in csv_of(shop.reports.day_summary(day), 2).decode()
    stream = io.StringIO(newline="")
    shop.exports.export_to("sales", stream)
    (row,) = csv.DictReader(io.StringIO(stream.getvalue(), newline=""))
    assert (row["moment"], row["paid"], row["booked"], row["paid_day"], row["sent_by"]) == (
        "2026-11-25T08:00:00-08:00", "2026-11-24T11:55:00-08:00", "2026-11-25T08:00:00-08:00",
        "2026-11-24", "Rosa",
    )  # fmt: skip


# -- a time that nobody can believe


@pytest.mark.parametrize("days", [-32, -20000, 2, 20000], ids=lambda n: f"{n} days")
def test_a_time_nobody_can_believe_loses_no_payment(hand: ShopInHand, days: int) -> None:
    shop = noon(hand)
    when = hand.clock.moment + timedelta(days=days)
    sale = paid(shop, when)
    assert (sale.number, sale.at) == ("2026-11-24/0001", at("24 12:00"))
    assert sale.kept
    assert (sale.kept.paid, sale.kept.booked) == (when, at("24 12:00"))


def test_one_of_before_the_first_batch_is_booked_as_it_may_be_sold_now(hand: ShopInHand) -> None:
    """A clock that was put right while it waited makes a payment older than what it sold."""
    sale = paid(noon(hand), at("24 01:00"))
    assert [d.lot for d in sale.lines[0].draws] == ["26328-01"]


# -- a key stands for one payment


def test_a_payment_sent_twice_is_booked_once_whatever_happened_between(hand: ShopInHand) -> None:
    shop = noon(hand)
    first = paid(shop, at("24 09:12"))
    assert paid(shop, at("24 09:12")) == first
    shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    assert paid(shop, at("24 09:12")) == first
    assert shop.counter.sell(Slip((SlipItem("firm-block"),), key="k1"), CARD) == first
    hand.clock.set("2027-11-25 08:00")  # for ever
    assert paid(shop, at("24 09:12")) == first
    with pytest.raises(KeyTaken, match="was booked as sale 2026-11-24/0001"):
        shop.counter.sell(Slip((SlipItem("soft-block"),), key="k1"), CARD)


@pytest.mark.parametrize(
    ("slip", "tenders", "other"),
    [
        (Slip((SlipItem("soft-block"),)), CARD, "over 3.00 by card (1 x Soft block)"),
        (Slip((SlipItem("firm-block", 3),)), CARD, "over 9.00 by card (3 x Firm block)"),
        (Slip((SlipItem("firm-block", 2),), "here"), CARD, "over 6.50 by card (2 x Firm block)"),
        (Slip((SlipItem("firm-block", 2),)), [Tender("cash", 1000)],
         "over 6.50 in cash (2 x Firm block)"),
        (Slip((SlipItem("firm-block", 2),)), [Tender("card", 500), Tender("cash")],
         "over 6.50 by card and in cash (2 x Firm block)"),
        (Slip((SlipItem("eel"),)), CARD, "of something else"),
    ],
)  # fmt: skip
def test_the_same_key_with_another_content_is_refused_and_says_what_stands_there(
    hand: ShopInHand, slip: Slip, tenders: Sequence[Tender], other: str
) -> None:
    shop = noon(hand)
    hand.clock.set("2026-11-24 09:12")
    first = shop.counter.sell(Slip((SlipItem("firm-block", 2),), key="k1"), CARD)
    hand.clock.set("2026-11-24 12:00")
    again = Slip(slip.items, slip.where, slip.discount, "k1")
    for send in (
        lambda: shop.counter.sell(again, tenders),
        lambda: shop.payments.sell_kept(
            again, tenders,
            Kept(paid=at("24 11:00"), day=date(2026, 11, 24), booked=at("24 12:00")),
        ),
    ):  # fmt: skip
        with pytest.raises(KeyTaken) as refusal:
            send()
        assert str(refusal.value) == (
            "Cannot book the payment: its key k1 was booked as sale 2026-11-24/0001 over 6.50 by "
            f"card at 09:12 (2 x Firm block), and this one is {other}. Look at that sale; if this "
            "is another, book it with a key of its own."
        )
        assert refusal.value.sale == first.number
    assert list(shop.desk.ledger().sales) == [first.number]


def test_a_key_taken_is_said_whole_in_the_language_of_the_reader(hand: ShopInHand) -> None:
    shop = noon(hand)
    paid(shop, at("24 09:12"), SlipItem("firm-block", 2))
    with pytest.raises(KeyTaken) as refusal:
        shop.counter.sell(Slip((SlipItem("soft-block"),), key="k1"), CARD)
    assert language("es", "es_US").shown(refusal.value) == (
        "No se puede anotar el cobro: su clave k1 ya está anotada como venta 2026-11-24/0001 de "
        "6.50 con tarjeta a las 09:12 (2 x Firm block), y esta es de 3.00 con tarjeta (1 x Soft "
        "block). Mire esa venta; si esta es otra, anótela con una clave propia."
    )


def test_a_payment_that_is_not_booked_names_who_took_it_in_the_question(hand: ShopInHand) -> None:
    shop = noon(hand)
    shop.payments.forgo("k1", 650, at("24 09:12"), "it was a try", taker="Ida", by="Rosa")
    shop.payments.forgo("k2", 300, at("24 09:15"), "so was this", taker="Rosa", by="Rosa")
    first, second = shop.desk.ledger().answers
    assert (first.words, first.by) == ("it was a try", "Rosa")
    assert first.asked == "6.50 was taken at 2026-11-24 09:12 by Ida and will not be booked"
    assert second.asked == "3.00 was taken at 2026-11-24 09:15 and will not be booked"
    assert "Ida cobró 6.50" in language("es", "es_US").shown(first.asked)


def test_a_paper_list_with_the_key_of_another_is_refused(hand: ShopInHand) -> None:
    shop = noon(hand)
    nine = PaperSale(items=(SlipItem("firm-block"),), at=at("24 09:00"))
    ten = PaperSale(items=(SlipItem("firm-block"),), at=at("24 10:00"))
    soft = PaperSale(items=(SlipItem("soft-block"),), at=at("24 09:00"))
    made = shop.counter.sell_from_paper([nine, ten], "list-1")
    assert shop.counter.sell_from_paper([nine, ten], "list-1") == made
    for other in ([soft, ten], [ten, nine], [nine], [nine, ten, ten]):
        with pytest.raises(KeyTaken, match="was booked as sale 2026-11-24/000[12]"):
            shop.counter.sell_from_paper(other, "list-1")
    assert len(shop.desk.ledger().sales) == 2


# -- whatever comes in between

STEP = st.tuples(
    st.sampled_from(["firm-block", "cup-small", "kept", "stop", "throw", "end", "later", "close"]),
    st.integers(0, 200),
    st.integers(1, 3),
)


@examples(100)
@given(st.lists(STEP, min_size=3, max_size=20))
def test_whatever_comes_in_between_no_payment_is_lost_or_booked_twice_and_days_balance(
    steps: list[tuple[str, int, int]],
) -> None:
    """Paid while firm block was for sale (until the 28th, and not stopped): so much is booked, whether lots are stopped, thrown away
    or sold out by then, whether days are closed or open."""
    clock = Clock("2026-11-24 05:00")
    hand = ShopInHand(Shop.memory(parse_settings(SETTINGS), clock), clock)
    shop = hand.shop
    shop.products.load_catalogue(CATALOGUE)
    lot, tub = hand.batch("firm", 8).lot, hand.pudding()[1]
    clock.forward(minutes=30)
    begun = clock.moment
    sold: set[str] = set()
    taken: dict[str, datetime] = {}
    closings = []
    for n, (what, hours, many) in enumerate(steps):
        clock.forward(minutes=1)
        holds = shop.closings.trace(lot).holds
        when = max(begun, clock.moment - timedelta(hours=hours))
        could = when < at("29 00:00") and not (holds and holds[0].at <= when)
        if what == "kept" and could:
            taken[f"k{n}"] = when
            made = paid(shop, when, SlipItem("firm-block", many), key=f"k{n}")
            assert made.paid_at == when
            sold.add(made.number)
        with suppress(CounterError):
            if what in ("firm-block", "cup-small"):
                sold.add(hand.sell(f"{what}*{many}", key=f"s{n}").number)
            elif what == "stop":
                shop.holds.hold(lot, True, "a hair was found")
            elif what == "throw" and lot in shop.desk.standing().rows:
                shop.waste.throw_out(lot, hand.on_hand(lot), "broken")
            elif what == "end":
                shop.tubs.end_tub(tub, 10 * many, False)
            elif what == "close":
                closings.append(shop.evening.close_day())
                clock.forward(hours=24 + hours)
            elif what == "later":
                clock.forward(hours=hours / 3)
    assert {found.number for key in taken if (found := shop.counter.booked(key))} <= sold
    assert all(map(shop.counter.booked, taken))
    while shop.closings.open_days():
        closings.append(shop.evening.close_day(day=shop.closings.open_days()[0]))
    carried: dict[str, int] = {}
    for before, closing in zip([None, *closings], closings, strict=False):
        for row in closing.lots:
            assert row.balances
            assert row.carried_in == carried.get(row.lot, 0)
        assert before is None or closing.cash.start == before.cash.left
        carried = {c.lot.lot: c.amount for c in closing.carried}
    days = {c.day for c in closings}
    assert {s.number for day in days for s in shop.desk.recorded(Sale, day)} == sold
    assert {s.sale for s in shop.closings.trace(lot).sales} <= sold
    assert shop.audit.check().sound
