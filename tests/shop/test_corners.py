"""Where a shop's day goes wrong at the seams: late notes, ended tubs, counts, retries, money."""

import re
from datetime import date, datetime
from decimal import Decimal
from types import SimpleNamespace

import pytest

from counter.errors import BadInput, NotFound, NotSafe, Refused
from counter.shop.production import BatchNote
from counter.trade.lookback import Found, find_in_day
from counter.trade.money import make_change
from counter.trade.payments import Tender
from counter.trade.sales import Discount, Slip, SlipItem
from counter.trade.settings import Settings, parse_settings
from counter.trade.tubs import Tub, TubCheck
from counter.trade.units import parse_clock, parse_moment
from tests.conftest import CATALOGUE, DATED_CATALOGUE, SETTINGS, ZONE, Clock, Maker, ShopInHand


def at(text: str) -> datetime:
    return Clock(text).moment


# -- late notes into an earlier day that is still open


def test_a_late_note_that_empties_a_lot_does_not_break_the_day_after(hand: ShopInHand) -> None:
    # It keeps two days: on the third, nothing but throwing it away is left to do.
    batch = hand.batch("pulp", 10)
    hand.clock.set("2026-11-26 08:00")
    hand.shop.waste.throw_away(batch.lot, 4, "date")
    for day in ("2026-11-25 10:00", "2026-11-24 10:00"):
        hand.shop.counter.sell(Slip((SlipItem("pulp", 5),)), [Tender("card")], at(day))
    assert hand.on_hand(batch.lot) == -4
    for closed in (24, 25, 26):
        closing = hand.shop.evening.close_day(day=date(2026, 11, closed))
        assert all(lot.balances for lot in closing.lots)


def test_a_late_note_that_ends_a_tub_does_not_break_the_day_after(hand: ShopInHand) -> None:
    _, tub = hand.pudding(8000)
    hand.clock.set("2026-11-25 08:00")
    hand.shop.desk.questions.given = {
        "late": "from the list on the fridge",
        "left": "all of it was spilled",
    }
    hand.shop.tubs.check_tub(tub, Decimal(4), at("2026-11-25 04:00"))
    hand.clock.set("2026-11-25 04:30")
    hand.sell("cup-small")
    hand.shop.tubs.end_tub(tub, 0, False, at("2026-11-24 20:00"))
    assert hand.shop.desk.ledger().open_tubs() == []
    closing = hand.shop.evening.close_day(day=date(2026, 11, 24))
    assert all(lot.balances for lot in closing.lots)
    assert hand.shop.counter.shelf().products


def test_cooling_times_noted_the_day_after_are_those_of_the_day_made(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-24 05:10")
    batch = hand.batch(cook_ended=parse_clock("05:00"))
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")
    hand.shop.desk.questions.given = {"late": "read off the chart of the recorder"}
    cooled = (parse_clock("06:10"), parse_clock("10:00"))
    made = hand.shop.amendments.amend_batch(
        batch.lot, BatchNote(cooled=cooled), "read off the chart"
    )
    assert made.cooling is not None
    assert made.cooling.to_21.date() == date(2026, 11, 24)
    assert hand.shop.desk.ledger().rows[batch.lot].lot.stopped == ""


def test_how_many_came_out_of_smoking_is_corrected_without_naming_the_lot_again(
    hand: ShopInHand,
) -> None:
    firm = hand.batch("firm", 48)
    smoked = hand.batch("smoked", 24, boiled_minutes=None, mixed=((firm.lot, 20),))
    made = hand.shop.amendments.amend_batch(smoked.lot, BatchNote(made=22), "two fell apart")
    assert (made.made, made.mixed) == (22, smoked.mixed)
    assert hand.on_hand(firm.lot) == 28


def test_a_batch_is_not_made_from_itself(hand: ShopInHand) -> None:
    firm = hand.batch("firm", 48)
    with pytest.raises(BadInput, match="it cannot go into itself"):
        hand.shop.amendments.amend_batch(firm.lot, BatchNote(mixed=((firm.lot, 3),)), "a slip")


def test_a_time_the_clocks_jump_over_is_no_time(hand: ShopInHand) -> None:
    # Summer time begins on 2026-03-08 at 02:00 in the United States: 15 USC 260a.
    with pytest.raises(BadInput) as refusal:
        parse_moment("2026-03-08 02:30", ZONE)
    assert str(refusal.value) == (
        "Cannot read time '2026-03-08 02:30': the clocks jump over it that night. "
        "Write a time before or after the jump."
    )


# -- tubs


def test_a_tub_opened_the_day_after_gets_a_name_of_its_own(hand: ShopInHand) -> None:
    batch, first = hand.pudding(24000)
    hand.shop.tubs.end_tub(first, 8000, True)
    second = hand.shop.tubs.open_tub(batch.lot, "cold", 8000, Decimal(4))
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 04:20")
    third = hand.shop.tubs.open_tub(batch.lot, "time", 5000, Decimal(4))
    assert [first, second.tub, third.tub] == [f"{batch.lot}/{n}" for n in (1, 2, 3)]
    assert hand.shop.desk.ledger().tubs[second.tub].level == 8000


def test_a_scooping_loss_found_at_closing_is_not_booked_again_when_the_tub_ends(
    hand: ShopInHand,
) -> None:
    batch, tub = hand.pudding(8000)
    hand.sell("cup-small*4")
    hand.shop.evening.count(batch.lot, 6900)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 04:20")
    hand.shop.tubs.check_tub(tub, Decimal(4))
    assert hand.shop.desk.ledger().tubs[tub].level == 6900
    assert hand.shop.tubs.end_tub(tub, 6900, True) == []
    assert hand.on_hand(batch.lot) == 6900


def test_an_empty_tub_nobody_took_away_does_not_haunt_the_shelf(hand: ShopInHand) -> None:
    batch, _ = hand.pudding(8000)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 17:00")
    hand.shop.evening.count(batch.lot, 0)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-26 08:00")
    shelf = hand.shop.counter.shelf()
    assert [tub for product in shelf.products for tub in product.tubs] == []


def test_pudding_thrown_away_past_the_tub_does_not_haunt_the_shelf(hand: ShopInHand) -> None:
    batch, _ = hand.pudding(8000)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 17:00")
    hand.shop.waste.throw_away(batch.lot, 8000, "tasting")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-26 08:00")
    assert hand.shop.counter.shelf().products


def test_a_good_check_noted_for_before_a_failed_one_does_not_clear_it(hand: ShopInHand) -> None:
    _, tub = hand.pudding(8000)
    hand.clock.set("2026-11-24 07:00")
    hand.shop.tubs.check_tub(tub, Decimal(12))
    hand.shop.tubs.check_tub(tub, Decimal(4), at("2026-11-24 06:30"))
    with pytest.raises(NotSafe, match="measured 12 °C"):
        hand.sell("cup-small")
    hand.shop.tubs.check_tub(tub, Decimal(4))
    assert hand.sell("cup-small").total == 380


def test_an_earlier_check_noted_late_takes_no_time_off_a_later_one() -> None:
    tub = Tub(
        tub="L/1",
        lot="L",
        product="pudding",
        mode="cold",
        opened=at("2026-11-24 08:00"),
        level=8000,
        good_at=at("2026-11-24 08:00"),
    )
    noted = [
        TubCheck(tub="L/1", celsius=Decimal(4), at=at(f"2026-11-24 {clock}"))
        for clock in ("11:00", "09:00")
    ]
    assert tub.measured(noted).good_at == at("2026-11-24 11:00")


def test_waste_out_of_a_tub_is_of_the_lot_in_that_tub(hand: ShopInHand) -> None:
    firm = hand.batch()
    _, tub = hand.pudding()
    with pytest.raises(Refused, match="holds lot 26328-02"):
        hand.shop.waste.throw_away(firm.lot, 1, "broken", tub=tub)


def test_more_than_the_log_has_is_not_thrown_away_with_a_tub(hand: ShopInHand) -> None:
    batch, tub = hand.pudding(8000)
    with pytest.raises(Refused, match="the log has: only 8000 of it left"):
        hand.shop.tubs.end_tub(tub, 80000, False)
    hand.shop.tubs.end_tub(tub, 8000, False)
    assert hand.on_hand(batch.lot) == 0


# -- counts


def test_what_is_sold_after_the_count_is_not_counted_as_found(hand: ShopInHand) -> None:
    batch = hand.batch(made=20)
    hand.clock.set("2026-11-24 17:50")
    hand.shop.evening.count(batch.lot, 19)
    hand.clock.set("2026-11-24 17:58")
    hand.sell("firm-block*2")
    closing = hand.shop.evening.close_day()
    lot = closing.lots[0]
    assert (lot.carried_out, lot.variance, lot.balances) == (17, 1, True)


def test_a_sale_noted_late_for_before_the_count_is_a_sale_and_no_find(hand: ShopInHand) -> None:
    batch = hand.batch(made=20)
    hand.clock.set("2026-11-24 17:50")
    hand.shop.evening.count(batch.lot, 18)
    hand.shop.counter.sell(
        Slip((SlipItem("firm-block", 2),)), [Tender("card")], at("2026-11-24 16:00")
    )
    lot = hand.shop.evening.close_day().lots[0]
    assert (lot.carried_out, lot.variance) == (18, 0)


def test_a_tub_thrown_away_at_closing_is_not_carried_because_it_was_counted(
    hand: ShopInHand,
) -> None:
    batch, _ = hand.pudding(8000, "time")
    hand.shop.evening.count(batch.lot, 8000)
    hand.clock.set("2026-11-24 18:00")
    closing = hand.shop.evening.close_day()
    assert (closing.lots[0].wasted, closing.lots[0].carried_out) == ({"time": 8000}, 0)


def test_counting_more_than_the_log_has_lets_it_be_thrown_away(hand: ShopInHand) -> None:
    batch = hand.batch(made=3)
    hand.shop.desk.questions.given = {
        f"{what}.{batch.lot}": "two were not logged" for what in ("count", "waste")
    }
    hand.shop.evening.count(batch.lot, 5)
    hand.shop.waste.throw_away(batch.lot, 4, "broken")
    with pytest.raises(Refused, match="only 1 of it left"):
        hand.shop.waste.throw_away(batch.lot, 2, "broken")
    lot = hand.shop.evening.close_day().lots[0]
    assert (lot.wasted, lot.carried_out, lot.variance) == ({"broken": 4}, 1, -2)


def test_counts_of_several_lots_are_written_all_or_none(hand: ShopInHand) -> None:
    one, two = hand.batch(), hand.batch("soft", 30)
    with pytest.raises(BadInput, match="-3 is no count"):
        hand.shop.evening.count_lots([(one.lot, 5), (two.lot, -3)])
    assert hand.shop.desk.ledger().counts == {}
    hand.shop.evening.count_lots([(one.lot, 5), (two.lot, 3)])
    assert {k: c.amount for k, c in hand.shop.desk.ledger().counts.items()} == {
        one.lot: 5,
        two.lot: 3,
    }


# -- sales and refunds


def test_a_sale_sent_again_after_the_day_was_closed_answers_the_same(hand: ShopInHand) -> None:
    hand.batch()
    first = hand.sell("firm-block*2", cash=1000, key="tablet-1/78")
    hand.shop.evening.close_day()
    assert hand.sell("firm-block*2", cash=1000, key="tablet-1/78") == first
    assert (
        hand.shop.counter.change_coins(first) is None
        or sum(v * n for v, n in (hand.shop.counter.change_coins(first) or {}).items())
        == first.change
    )


def test_a_refund_is_never_before_its_sale(hand: ShopInHand) -> None:
    hand.batch()
    hand.clock.set("2026-11-25 09:00")
    sale = hand.sell("firm-block")
    with pytest.raises(BadInput, match="it was sold only at 2026-11-25 09:00"):
        hand.shop.counter.refund(sale.number, "sour", at=at("2026-11-24 18:00"))
    hand.shop.counter.refund(sale.number, "sour")
    with pytest.raises(Refused, match="nothing of it is left to refund"):
        hand.shop.counter.refund(sale.number, "sour")


def test_cash_refunds_in_parts_give_back_what_the_cash_sale_took(hand: ShopInHand) -> None:
    # Three at 3.00 less 0.09: 8.91 in all, paid as 8.90; each third, 2.97, rounds down to 2.95.
    hand.batch("soft", 30)
    sale = hand.sell("soft-block*3", cash=900, discount=Discount(why="kind", amount=9))
    paid = sum(p.amount for p in sale.payments)
    back = [hand.shop.counter.refund(sale.number, "sour", {1: 1}) for _ in range(3)]
    assert sum(r.amount + r.rounding for r in back) == paid
    assert all((r.amount + r.rounding) % 5 == 0 for r in back)


def test_coins_for_the_change_are_those_the_drawer_had_for_it(hand: ShopInHand) -> None:
    hand.batch("soft", 30)
    hand.shop.desk.questions.given = {"drawer": "a till of its own"}
    hand.shop.evening.move_cash("float", 700, coins={"500": 1, "100": 2})
    sale = hand.sell("soft-block", cash=1000)
    assert sale.change == 700
    assert hand.shop.counter.change_coins(sale) == {500: 1, 100: 2}
    dear = hand.sell("soft-block", cash=1000)
    assert hand.shop.counter.change_coins(dear) is None  # two tens are all that is in it


def test_an_amount_no_drawer_holds_is_answered_at_once() -> None:
    values = (10000, 5000, 2000, 1000, 500, 100, 25, 10, 5)
    assert make_change(900_000_003, dict.fromkeys(values, 999)) is None
    assert make_change(18_690_003, dict.fromkeys(values, 999)) is None
    whole = sum(v * 999 for v in values)
    assert make_change(whole, dict.fromkeys(values, 999)) == dict.fromkeys(values, 999)
    assert make_change(whole - 10, dict.fromkeys(values, 999)) is not None


def test_a_payment_below_nothing_is_refused(hand: ShopInHand) -> None:
    hand.batch()
    slip = Slip((SlipItem("firm-block", 1),))
    for tenders in ([Tender("card", -500), Tender("cash", 1000)], [Tender("cash", -1)]):
        with pytest.raises(BadInput, match="is below zero"):
            hand.shop.counter.sell(slip, tenders)


def test_a_tax_class_the_shop_no_longer_has_stops_the_sale(make: Maker) -> None:
    hand = make()
    hand.pudding()
    changed = make_settings_without_prepared()
    hand.shop.desk.settings = changed  # as when the shop is opened with another shop.toml
    with pytest.raises(Refused) as refusal:
        hand.sell("cup-small")
    assert str(refusal.value) == (
        "Cannot sell cup-small: shop.toml has no tax class 'prepared'. "
        "Add it there, or change the portion in the catalogue."
    )


def make_settings_without_prepared() -> Settings:
    return parse_settings(SETTINGS.replace("[tax.classes.prepared]", "[tax.classes.other]"))


def test_old_blocks_are_never_dearer_than_fresh_ones(make: Maker) -> None:
    hand = make(catalogue=CATALOGUE.replace('last_day_price = "2.25"', 'last_day_price = "3.20"'))
    hand.batch()
    assert hand.sell("firm-block*3").total == 900
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-28 08:00")  # the last day of 26328-01
    assert hand.sell("firm-block").total == 320
    assert hand.sell("firm-block*3").total == 900


# -- the catalogue changes under the stock


def test_stock_of_a_product_that_left_the_catalogue_is_shown_and_can_be_thrown_away(
    hand: ShopInHand,
) -> None:
    batch = hand.batch()
    hand.batch("soft", 30)
    without = CATALOGUE.replace("[products.firm]", "[products.firm-old]").replace(
        'product = "firm"', 'product = "firm-old"'
    )
    hand.shop.desk.questions.given = {"on-hand.firm": "a new recipe has the name"}
    hand.shop.products.load_catalogue(without)
    shelf = hand.shop.counter.shelf()
    assert batch.lot in {lot.lot for p in shelf.products for lot in p.lots}
    assert hand.sell(batch.lot).total == 325
    hand.shop.waste.throw_away(batch.lot, 47, "other", "no longer made")
    assert hand.shop.evening.close_day().lots[0].balances


def test_stock_in_pieces_is_not_sold_as_grams(hand: ShopInHand) -> None:
    batch = hand.batch("pulp", 10)
    head, tail = CATALOGUE.split("[products.pulp]")
    block, rest = tail.split("[portions", 1)[0], "[portions" + tail.split("[portions", 1)[1]
    block = (
        block.replace("keeps = 2", 'unit = "g"\nkeeps = 2')
        .replace('mould = "10"', 'mould = "4 kg"')
        .replace('recipe_makes = "4"', 'recipe_makes = "2 kg"')
    )
    text = f"{head}[products.pulp]{block}{rest}".replace(
        'name = "Pulp, 1 lb"\nprice = "1.50"', 'name = "Pulp, 1 lb"\nprice = "1.50"\nper = "lb"'
    )
    said = "sold by weight from now on"
    hand.shop.desk.questions.given = {"on-hand.pulp": said, "price.pulp": said}
    hand.shop.products.load_catalogue(text)
    for item in ("pulp:0.4kg", f"pulp@{batch.lot}:0.4kg"):
        with pytest.raises(Refused, match="counted in piece"):
            hand.sell(item)
    assert hand.on_hand(batch.lot) == 10


def test_a_portion_of_several_pieces_draws_over_lots_and_gives_back_all(hand: ShopInHand) -> None:
    text = CATALOGUE.replace(
        "[portions.firm-block]",
        '[portions.half-dozen]\nproduct = "firm"\nname = "Six"\ndraws = "6"\nprice = "17.00"\n\n'
        "[portions.firm-block]",
    )
    hand.shop.products.load_catalogue(text)
    one, two = hand.batch(made=4), hand.batch(made=10)
    sale = hand.sell("half-dozen*2")
    assert [(d.lot, d.amount) for d in sale.lines[0].draws] == [(one.lot, 4), (two.lot, 8)]
    assert sale.total == 3400
    hand.shop.counter.refund(sale.number, "keyed twice", {1: 1}, restock=True)
    hand.shop.counter.refund(sale.number, "keyed twice", restock=True)
    assert (hand.on_hand(one.lot), hand.on_hand(two.lot)) == (4, 10)


# -- closing


def test_the_first_day_opened_again_starts_with_its_float(hand: ShopInHand) -> None:
    hand.batch()
    hand.sell("firm-block", cash=325)
    hand.shop.evening.close_day(cash=15325)
    hand.shop.evening.reopen_day("forgot a sale")
    assert hand.shop.desk.ledger().drawer.expected == 15325
    assert hand.shop.evening.close_day(cash=15325).cash.variance == 0


def test_a_lot_stopped_long_after_it_sold_out_shows_the_stop_in_its_trace(hand: ShopInHand) -> None:
    batch = hand.batch(made=2)
    hand.sell("firm-block*2")
    hand.shop.evening.close_day()
    for day in range(25, 31):
        hand.clock.set(f"2026-11-{day} 09:00")
        hand.batch("milk", 12)
        hand.shop.evening.close_day()
    hand.clock.set("2026-12-07 09:00")
    hand.shop.holds.hold(batch.lot, True, "customer reports a stone", by="Rosa")
    with pytest.raises(Refused, match="already stopped"):
        hand.shop.holds.hold(batch.lot, True, "customer reports a stone", by="Teo")
    hand.shop.evening.close_day()
    hand.clock.set("2026-12-09 09:00")
    assert [h.why for h in hand.shop.closings.trace(batch.lot).holds] == [
        "customer reports a stone"
    ]


def test_a_lot_stopped_between_pricing_and_paying_is_not_sold(folder_shop: ShopInHand) -> None:
    hand = folder_shop
    batch = hand.batch()
    slip = Slip((SlipItem("firm-block", 1),))
    assert hand.shop.counter.price(slip).total == 325
    assert hand.shop.desk.folder is not None
    other = type(hand.shop).open(hand.shop.desk.folder, hand.clock)
    other.holds.hold(batch.lot, True, "to be looked at", by="Rosa")
    with pytest.raises(NotSafe, match="it is stopped"):
        hand.shop.counter.sell(slip, [Tender("card")])


# -- other markets, and extremes

EURO = (
    SETTINGS.replace('market = "us"', 'market = "eu"')
    .replace('language = "en_US"', 'language = "de_DE"')
    .replace("America/Los_Angeles", "Europe/Berlin")
    .replace('currency = "USD"', 'currency = "EUR"')
    .replace('mode = "added"', 'mode = "included"')
    .replace('here = "0.086"\naway = "0.086"', 'here = "0.19"\naway = "0.07"')
)
YEN = (
    SETTINGS.replace('currency = "USD"', 'currency = "JPY"')
    .replace('smallest_coin = "0.05"', 'smallest_coin = "1"')
    .replace('float = "150.00"', 'float = "15000"')
    .replace(
        'coins = ["100", "50", "20", "10", "5", "1", "0.25", "0.10", "0.05"]',
        'coins = ["10000", "5000", "1000", "500", "100", "50", "10", "5", "1"]',
    )
)


def test_in_euro_the_tax_is_in_the_price_and_depends_on_where_it_is_eaten(make: Maker) -> None:
    hand = make(EURO, DATED_CATALOGUE)
    hand.pudding()
    away = hand.sell("cup-small", cash=350)
    here = hand.sell("cup-small", cash=350, where="here")
    # 350 x 7 / 107 = 22.9 and 350 x 19 / 119 = 55.9: arithmetic.
    assert [(s.total, s.taxes[0].tax) for s in (away, here)] == [(350, 23), (350, 56)]
    closing = hand.shop.evening.close_day(cash=15700)
    assert (closing.total, closing.taxes, closing.cash.variance) == (700, {"prepared": 79}, 0)


def test_a_currency_without_cents_has_none_anywhere(make: Maker) -> None:
    def yen(text: str) -> str:
        return re.sub(r'(price|cost) = "([0-9]+)\.([0-9]{2})"', r'\1 = "\2\3"', text)

    hand = make(YEN, yen(CATALOGUE))
    hand.batch()
    sale = hand.sell("firm-block*2", cash=1000)
    assert (sale.total, sale.change) == (650, 350)
    assert hand.shop.counter.change_coins(sale) == {100: 3, 50: 1}
    assert hand.shop.evening.close_day(cash=15650).cash.variance == 0


def test_a_whole_discount_makes_a_sale_of_nothing_that_still_draws(hand: ShopInHand) -> None:
    batch = hand.batch()
    sale = hand.shop.counter.sell(
        Slip(
            (SlipItem("firm-block", 3),), discount=Discount(why="opening day", percent=Decimal(100))
        ),
        [],
    )
    assert (sale.total, sale.payments, sale.discount) == (0, (), 900)
    assert hand.on_hand(batch.lot) == 45
    assert hand.shop.counter.refund(sale.number, "keyed twice", restock=True).amount == 0


def test_the_largest_quantities_are_priced_and_paid(hand: ShopInHand) -> None:
    hand.shop.desk.questions.given = {"made": "a feast"}
    batch = hand.batch(made=999)
    sale = hand.sell("firm-block*999", cash=1_000_000)
    assert (sale.total, hand.on_hand(batch.lot)) == (333 * 900, 0)
    with pytest.raises(BadInput, match="1000 is no quantity"):
        hand.sell("firm-block*1000")


def test_names_in_any_writing_come_back_as_they_were(hand: ShopInHand) -> None:
    name = "豆腐 Žižka 'çà' \U0001f961 שלום"
    text = CATALOGUE.replace('name = "Firm Tofu"', f'name = "{name}"')
    hand.shop.products.load_catalogue(text)
    batch = hand.shop.production.log_batch(
        "firm", BatchNote(made=3, boiled_minutes=10, notes=name), by=name
    )
    hand.shop.waste.throw_away(batch.lot, 1, "other", name, by=name)
    trace = hand.shop.closings.trace(batch.lot)
    assert (trace.batch.by, trace.batch.notes, trace.waste[0].words) == (name, name, name)
    assert hand.shop.counter.shelf().products[0].name == name


def test_an_unknown_lot_names_those_that_are_near(hand: ShopInHand) -> None:
    hand.batch()
    with pytest.raises(NotFound, match=r"Did you mean 26328-01\?"):
        hand.shop.waste.throw_away("26328-10", 1, "broken")


# -- order and rounding at the closing


def test_lots_are_counted_by_product_and_date_not_by_number(hand: ShopInHand) -> None:
    hand.batch("soft")
    hand.batch("firm")
    hand.shop.products.load_catalogue(CATALOGUE.replace("keeps = 5", "keeps = 3", 1))
    hand.batch("firm")
    assert [(one.product, one.lot) for one in hand.shop.evening.to_count()] == [
        ("firm", "26328-03"), ("firm", "26328-02"), ("soft", "26328-01"),
    ]  # fmt: skip


def test_a_cup_that_no_tub_holds_whole_comes_from_the_fullest(hand: ShopInHand) -> None:
    lot = hand.batch("pudding", 16000).lot
    for level in (300, 500, 400):
        hand.shop.tubs.open_tub(lot, "cold", level, Decimal(4))
    [line] = hand.sell("cup-large*2").lines
    assert [draw.tub for draw in line.draws] == [f"{lot}/2"]


@pytest.mark.parametrize(
    ("wasted", "cost", "price"),
    # a millilitre costs 0.175 and brings 1.3435 cents
    [(1001, 175, 1345), (1005, 176, 1350)],
)
def test_waste_is_rounded_half_up_to_the_cent(
    hand: ShopInHand, wasted: int, cost: int, price: int
) -> None:
    lot = hand.batch("pudding", 16000).lot
    hand.shop.waste.throw_away(lot, wasted, "broken")
    [waste] = hand.shop.evening.close_day().waste
    assert (waste.cost, waste.price) == (cost, price)


# -- what is looked up


@pytest.mark.parametrize(
    ("table", "what", "text"),
    [
        ("batches", "lot", "notes"), ("holds", "lot", "why"), ("waste", "lot", "words"),
        ("sales", "number", "why"), ("refunds", "sale", "why"), ("drawer", "kind", "why"),
    ],
)  # fmt: skip
def test_a_word_is_found_in_the_notes_of_each_kind_of_record(
    table: str, what: str, text: str
) -> None:
    record = SimpleNamespace(**{what: "A7", text: "a Screw in it"})
    day = date(2026, 11, 24)
    found = find_in_day("screw", day, [{table: [record], "counts": [record]}])
    assert found == [Found(day, table, "A7", "a Screw in it")]


def test_a_shop_of_the_united_states_has_its_notes_and_coins() -> None:
    # The notes and coins in use, from memory; a half dollar and a two-dollar note are rare.
    plain = re.sub(r"^coins = .*\n", "", SETTINGS, flags=re.MULTILINE)
    values = [100_00, 50_00, 20_00, 10_00, 5_00, 1_00, 25, 10, 5, 1]
    assert [*parse_settings(plain).cash.coins] == values
