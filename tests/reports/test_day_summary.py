"""The figures of a day against a second, plain reckoning from the lines of its book."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import NotFound, Refused
from counter.reports.flows import over_days
from counter.reports.summary import summarise_day
from counter.shop import Shop
from counter.trade.catalogue import Catalogue
from counter.trade.closing import Closing, LotDay
from counter.trade.refunds import Refund, taken_back
from counter.trade.sales import Discount, Sale
from labels.say import as_kept, from_kept
from tests.conftest import CATALOGUE, SETTINGS, Clock, Maker, ShopInHand, kilos
from tests.often import examples
from tests.reports.conftest import LAST
from tests.reports.plain import by, carried_into, draws_of, lines_of, rows_of

DAYS = [LAST - timedelta(days=n) for n in (0, 1, 3)]


@pytest.mark.parametrize("day", DAYS)
def test_money_is_that_of_the_lines_of_the_book(week: Shop, week_folder: Path, day: date) -> None:
    rows, found = rows_of(week_folder, day), week.reports.day_summary(day)
    sales, lines = rows["sales"], lines_of(rows)
    assert found.sales == len(sales)
    assert found.total == sum(s["total"] for s in sales)
    assert found.price == sum(n["price"] for n in lines)
    assert found.discounts == sum(n["discount"] for n in lines)
    assert {p.portion: p.quantity for p in found.portions} == by(lines, "portion", "quantity")
    assert {p.portion: p.net + p.discount for p in found.portions} == by(lines, "portion", "price")
    taxes = by([t for s in sales for t in s["taxes"]], "tax_class", "tax")
    assert {t.tax_class: t.tax for t in found.taxes} == taxes
    paid = by([p for s in sales for p in s["payments"]], "kind", "amount")
    assert {p.kind: p.amount for p in found.payments} == paid
    assert found.refunded == sum(r["amount"] + r["rounding"] for r in rows.get("refunds", []))
    hours = Counter(s["at"][11:13] for s in sales)
    assert {f"{h.hour:02}": h.sales for h in found.hours} == hours
    assert sum(h.total for h in found.hours) == found.total


@pytest.mark.parametrize("day", DAYS)
def test_lots_are_those_of_the_lines_of_the_book(week: Shop, week_folder: Path, day: date) -> None:
    rows, found = rows_of(week_folder, day), week.reports.day_summary(day)
    carried, sold = carried_into(week_folder, day), draws_of(rows)
    made = {b["lot"]: b["made"] for b in rows["batches"]}
    wasted = by(rows.get("waste", []), "lot", "amount")
    last = {b["lot"]: b for b in rows["batches"]}.values()  # its cooling is noted later
    used = by([m for b in last for m in b["mixed"]], "lot", "amount")
    counted = {c["lot"]: c["amount"] for c in rows.get("counts", [])}
    for lot in (figures.day for figures in found.lots):
        name = lot.lot
        assert lot.carried_in == carried.get(name, 0)
        assert (lot.made, lot.sold) == (made.get(name, 0), sold.get(name, 0))
        assert (sum(lot.wasted.values()), lot.used) == (wasted.get(name, 0), used.get(name, 0))
        if name in counted:
            assert lot.carried_out == counted[name]
        assert lot.balances
    named = {*made, *sold, *wasted, *used, *(k for k, n in carried.items() if n)}
    assert {figures.day.lot for figures in found.lots} >= named
    assert all(flow.balances for flow in found.flows)


def test_price_less_discounts_plus_tax_is_taken_and_what_is_paid(week: Shop) -> None:
    for day in DAYS:
        found = week.reports.day_summary(day)
        assert found.price - found.discounts == found.net
        assert found.net + found.added_tax == found.total
        assert found.total + found.rounding == found.paid
        assert sum(p.net for p in found.portions) == found.net
        cash = found.cash
        moved = cash.moved_in - cash.moved_out
        assert cash.expected == cash.start + cash.sales - cash.refunds + moved


def test_waste_has_its_cost_and_its_price(hand: ShopInHand) -> None:
    lot = hand.batch("firm", 48).lot
    hand.shop.waste.throw_away(lot, 4, "broken")
    [waste] = hand.shop.reports.day_summary(hand.shop.desk.today()).waste
    # A mould of 48 costs 48.00, a block 3.25.
    assert (waste.product, waste.reason, waste.amount) == ("firm", "broken", 4)
    assert (waste.cost, waste.price) == (400, 1300)


def test_a_cup_is_wasted_at_what_the_cups_sold_brought(hand: ShopInHand) -> None:
    batch, tub = hand.pudding()
    hand.sell("cup-large*2")
    hand.shop.waste.throw_away(batch.lot, 473, "tasting", tub=tub)
    [waste] = hand.shop.reports.day_summary(hand.shop.desk.today()).waste
    # Only large cups of 16 fl oz (473 ml) were sold, at 5.75.
    assert waste.price == 575


def test_yields_say_what_a_kilogram_of_beans_gave(hand: ShopInHand) -> None:
    hand.batch("firm", 48, ingredients={"soybeans": kilos("6")})
    hand.batch("soft", 30)
    firm, soft = hand.shop.reports.day_summary(hand.shop.desk.today()).yields
    # 48 blocks of 14 oz (396.893367 g) are 19051 g.
    assert (firm.weighs, firm.beans_g, firm.noted) == (19051, 6000, True)
    assert soft.noted is False
    assert firm.coagulants == {"gypsum": 180}


def test_discounts_refunds_and_stops_are_told_with_their_reasons(hand: ShopInHand) -> None:
    lot = hand.batch("firm", 48).lot
    sale = hand.sell("firm-block*4", discount=Discount(why="regular", amount=100))
    hand.shop.counter.refund(sale.number, "dropped", {1: 1}, restock=True)
    hand.shop.holds.hold(lot, True, "smells odd", by="Rosa")
    found = hand.shop.reports.day_summary(hand.shop.desk.today())
    assert [(d.sale, d.amount, d.why) for d in found.discounted] == [(sale.number, 100, "regular")]
    [refund] = found.refunds
    assert (refund.sale, refund.why, refund.restocked) == (sale.number, "dropped", True)
    assert [(h.lot, h.why) for h in found.holds] == [(lot, "smells odd")]
    assert found.lots[0].day.sold == 3


def test_tax_given_back_with_an_earlier_days_sale_keeps_its_class(hand: ShopInHand) -> None:
    hand.pudding()
    sale = hand.sell("cup-small*2")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")
    hand.pudding()
    hand.shop.counter.refund(sale.number, "sour")
    [tax] = hand.shop.reports.day_summary(hand.shop.desk.today()).taxes
    assert (tax.tax_class, tax.tax, tax.refunded) == ("prepared", 0, sale.taxes[0].tax)


def test_tubs_are_told_with_their_checks(week: Shop, week_folder: Path) -> None:
    rows, found = rows_of(week_folder, LAST), week.reports.day_summary(LAST)
    opened = {t["tub"]: t["level"] for t in rows["tubs"]}
    assert {t.tub: t.level for t in found.tubs if t.tub in opened} == opened
    checks = Counter(c["tub"] for c in rows.get("checks", []))
    assert {t.tub: len(t.checks) for t in found.tubs if t.checks} == checks
    ended = {e["tub"]: e["left"] for e in rows["ended"]}
    assert {t.tub: t.left for t in found.tubs if t.ended} == ended


def test_labels_stand_beside_what_was_made(folder_shop: ShopInHand) -> None:
    lot = folder_shop.batch("firm", 12).lot
    folder_shop.shop.labels.print_labels([(lot, None)])
    [figures] = folder_shop.shop.reports.day_summary(folder_shop.shop.desk.today()).lots
    assert (figures.day.made, figures.labels) == (12, 12)


def test_a_correction_shows_in_both_days(hand: ShopInHand) -> None:
    lot = hand.batch("firm", 48).lot
    first = hand.shop.desk.today()
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")
    hand.shop.closed_days.correct(first, "two more were found", lot=lot, amount=2)
    assert [c.lot for c in hand.shop.reports.day_summary(first).corrected] == [lot]
    assert [
        c.corrects for c in hand.shop.reports.day_summary(hand.shop.desk.today()).corrections
    ] == [first]


def test_a_day_without_a_book_has_no_figures(hand: ShopInHand) -> None:
    hand.batch()
    with pytest.raises(NotFound, match="there is no day book '2026-11-20'"):
        hand.shop.reports.day_summary(date(2026, 11, 20))


def test_names_and_costs_stay_those_of_the_day(hand: ShopInHand) -> None:
    lot = hand.batch("firm", 48).lot
    hand.shop.waste.throw_away(lot, 1, "broken")
    day = hand.shop.desk.today()
    hand.clock.set("2026-11-24 18:00")
    hand.shop.evening.close_day()
    before = hand.shop.reports.day_report(day)
    hand.clock.set("2026-11-25 09:00")
    dearer = CATALOGUE.replace('cost = "48.00"', 'cost = "96.00"').replace("Firm Tofu", "Hard Tofu")
    hand.shop.products.load_catalogue(dearer)
    assert hand.shop.reports.day_report(day) == before
    assert hand.shop.desk.catalogue.products["firm"].name == "Hard Tofu"


def test_an_old_closing_without_the_new_figures_still_reads(hand: ShopInHand) -> None:
    import msgspec

    hand.batch()
    closing = hand.shop.evening.close_day()
    plain = msgspec.to_builtins(closing, enc_hook=as_kept)
    for name in ("hours", "waste", "yields", "available"):
        del plain[name]
    old = msgspec.convert(plain, Closing, dec_hook=from_kept)
    assert old.hours == ()
    assert summarise_day(old, [], Catalogue()).wasted_cost == 0


# -- laws

ACTS = st.lists(
    st.tuples(
        st.sampled_from(["sell", "sell", "sell", "waste", "refund", "batch", "cup", "count"]),
        st.integers(1, 6),
        st.booleans(),
    ),
    max_size=14,
)


def play(hand: ShopInHand, acts: list[tuple[str, int, bool]]) -> None:
    """A random day; what is refused is not done."""
    firm = hand.batch("firm", 24).lot
    pudding, tub = hand.pudding()
    sales = []
    for act, n, flag in acts:
        hand.clock.forward(minutes=7)
        try:
            if act == "sell":
                off = Discount(why="kind", amount=n) if flag else None
                sales.append(
                    hand.sell(f"firm-block*{n}", cash=10000 if flag else None, discount=off)
                )
            elif act == "cup":
                sales.append(hand.sell(f"cup-small*{n}", f"firm-block*{n}"))
            elif act == "waste":
                hand.shop.waste.throw_away(firm, n, "broken" if flag else "date")
            elif act == "refund" and sales:
                hand.shop.counter.refund(sales[n % len(sales)].number, "sour", {1: 1}, restock=flag)
            elif act == "batch":
                hand.batch("soft", 10 * n)
            elif act == "count":
                hand.shop.evening.count(firm, n)
        except Refused:
            continue
    if acts and acts[0][2]:
        hand.shop.waste.throw_away(pudding.lot, 100, "tasting", tub=tub)


@examples(25)
@given(ACTS, ACTS)
def test_sums_hold_to_the_cent_and_to_the_piece_on_any_days(
    first: list[tuple[str, int, bool]], second: list[tuple[str, int, bool]]
) -> None:
    hand = ShopInHand(_shop(), Clock())
    hand.clock = hand.shop.desk.context.clock  # type: ignore[assignment]
    days = []
    for n, acts in enumerate((first, second)):
        hand.clock.set(f"2026-11-{24 + n} 08:00")
        play(hand, acts)
        hand.clock.set(f"2026-11-{24 + n} 18:00")
        closing = hand.shop.evening.close_day(cash=20000)
        days.append(closing.lots)
        found = hand.shop.reports.day_summary(closing.day)
        assert found.price - found.discounts == found.net
        assert found.net + found.added_tax == found.total == closing.total
        assert found.total + found.rounding == found.paid
        assert found.paid == sum(closing.payments.values())
        sales, refunds = (
            hand.shop.desk.recorded(Sale, closing.day),
            refunds_in(hand.shop, closing.day),
        )
        gone = taken_back({s.number: s for s in sales}, refunds)
        stayed = [s for s in sales if s.number not in gone]
        assert sum(h.total for h in found.hours) == found.takings.stayed
        assert found.takings.stayed == sum(s.total for s in stayed)
        drawn = sum(d.amount for s in stayed for line in s.lines for d in line.draws)
        assert sum(p.drawn for p in found.portions) == drawn
        came_back = sum(d.amount for r in refunds for p in r.lines for d in p.draws)
        assert drawn + came_back >= sum(f.sold for f in found.flows)
        assert all(flow.balances for flow in found.flows)
        wasted = sum(sum(n.day.wasted.values()) for n in found.lots)
        assert sum(w.amount for w in found.waste) == wasted
    assert all(flow.balances for flow in over_days(days))
    span = hand.shop.reports.span_summary("week")
    assert span.total == sum(d.total for d in span.days)
    assert all(p.flow.balances for p in span.products)


def refunds_in(shop: Shop, day: date) -> list[Refund]:
    found = (r for commit in shop.desk.records_of(day) for r in commit.get("refunds", ()))
    return [r for r in found if isinstance(r, Refund)]


def _shop() -> Shop:
    from counter.trade.settings import parse_settings

    shop = Shop.memory(parse_settings(SETTINGS), Clock())
    shop.products.load_catalogue(CATALOGUE)
    return shop


def test_days_that_do_not_follow_each_other_still_balance() -> None:
    def lot(carried: int, sold: int, out: int) -> LotDay:
        return LotDay(
            lot="26328-01",
            product="firm",
            unit="piece",
            carried_in=carried,
            made=0,
            sold=sold,
            used=0,
            wasted={},
            carried_out=out,
            variance=0,
        )

    # The day between is missing: 3 went out, 5 come in.
    [flow] = over_days([[lot(10, 7, 3)], [lot(5, 4, 1)]])
    assert (flow.carried_in, flow.sold, flow.carried_out) == (12, 11, 1)
    assert flow.balances


def test_the_same_over_memory_and_a_folder(make: Maker) -> None:
    hand = make()
    hand.batch("firm", 24)
    hand.sell("firm-block*2")
    found = hand.shop.reports.day_summary(hand.shop.desk.today())
    assert (found.sales, found.total, found.flows[0].sold) == (1, 650, 2)
