"""What comes back over the counter, and what a number without a lot may stand for."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from counter.errors import NotSafe, Refused
from counter.trade.payments import Tender
from counter.trade.sales import Slip, SlipItem
from labels.units import Measure
from tests.conftest import ShopInHand

FIRM = "9521234000013"  # the item number of a firm block in the invented catalogue


# -- put back on the shelf


def test_a_block_of_today_goes_back_on_the_shelf(hand: ShopInHand) -> None:
    batch = hand.batch(made=10)
    sale = hand.sell("firm-block*2")
    hand.clock.set("2026-11-24 23:50")
    hand.shop.counter.refund(sale.number, "keyed twice", {1: 1}, restock=True)
    assert hand.on_hand(batch.lot) == 9


def test_what_was_sold_on_another_day_is_not_put_back(hand: ShopInHand) -> None:
    batch = hand.batch(made=10)
    sale = hand.sell("firm-block*2")
    hand.clock.set("2026-11-25 08:00")
    with pytest.raises(Refused) as refused:
        hand.shop.counter.refund(sale.number, "brought back", restock=True)
    assert str(refused.value) == (
        f"Cannot refund sale {sale.number}: it was sold on 2026-11-24, and what has left is not "
        "sold again. Refund it without putting it back."
    )
    assert hand.shop.counter.refund(sale.number, "brought back").amount == sale.total
    assert hand.on_hand(batch.lot) == 8


def test_nothing_is_put_back_into_a_tub(hand: ShopInHand) -> None:
    hand.batch(made=10)
    _, tub = hand.pudding(8000)
    sale = hand.sell("firm-block", "cup-small*2")
    for lines in (None, {2: 1}):
        with pytest.raises(Refused) as refused:
            hand.shop.counter.refund(sale.number, "brought back", lines, restock=True)
    assert str(refused.value) == (
        f"Cannot refund sale {sale.number}: it was scooped from tub {tub}, and nothing goes back "
        "into a tub. Refund it without putting it back."
    )
    hand.shop.counter.refund(sale.number, "keyed twice", {1: 1}, restock=True)
    hand.shop.counter.refund(sale.number, "brought back", {2: 2})
    assert hand.shop.desk.ledger().tubs[tub].level == 8000 - 2 * 237


# -- a number that names no lot


def test_a_number_without_a_lot_is_refused_while_an_expired_lot_is_there(hand: ShopInHand) -> None:
    old = hand.batch(made=40)
    hand.clock.set("2026-12-01 09:00")
    new = hand.batch(made=4)
    with pytest.raises(NotSafe) as refused:
        hand.sell(FIRM)
    assert str(refused.value) == (
        f"Cannot sell what was scanned, '{FIRM}': it names no lot; lot {old.lot} is still "
        f"there: its last date 2026-11-30 has passed. "
        "Scan or name the lot of the piece in your hand."
    )
    assert refused.value.lot == old.lot
    with pytest.raises(NotSafe, match=f"Cannot sell lot {old.lot}"):
        hand.sell(old.lot)
    assert hand.sell(new.lot).lines[0].draws[0].lot == new.lot
    assert hand.sell("firm-block").lines[0].draws[0].lot == new.lot
    hand.shop.waste.throw_out(old.lot, 40, "date")
    assert hand.sell(FIRM).lines[0].draws[0].lot == new.lot


def test_a_number_without_a_lot_is_refused_while_a_stopped_lot_is_there(hand: ShopInHand) -> None:
    batch, other = hand.batch(made=4), hand.batch(made=4)
    hand.shop.holds.hold(other.lot, True, "glass found")
    with pytest.raises(
        NotSafe, match=f"lot {other.lot} is still there: it is stopped: glass found"
    ):
        hand.sell(FIRM)
    hand.shop.holds.hold(other.lot, False, "it was none")
    assert hand.sell(FIRM).lines[0].draws[0].lot == batch.lot


def test_a_raw_lot_has_no_labels_and_stops_no_number(hand: ShopInHand) -> None:
    batch = hand.batch(made=4)
    hand.batch(made=4, boiled_minutes=None)
    assert hand.sell(FIRM).lines[0].draws[0].lot == batch.lot


def test_a_weighed_number_is_refused_while_an_expired_lot_is_there(hand: ShopInHand) -> None:
    old = hand.batch("pressed", 4000)
    (pack,) = hand.shop.labels.weigh_packs(old.lot, [Measure(Decimal("0.50"), "lb")])
    assert hand.sell(pack.number).lines[0].draws[0].lot == old.lot
    hand.clock.set("2026-12-01 09:00")
    new = hand.batch("pressed", 4000)
    with pytest.raises(NotSafe, match=f"it names no lot; lot {old.lot} is still there"):
        hand.sell(pack.number)
    assert hand.sell(f"pressed@{new.lot}:0.5lb").lines[0].draws[0].lot == new.lot


def test_a_lot_of_which_more_was_counted_than_the_log_has_is_there(hand: ShopInHand) -> None:
    batch = hand.batch(made=2)
    hand.sell("firm-block*2")
    hand.shop.desk.questions.given = {f"count.{batch.lot}": "one was not logged"}
    hand.shop.evening.count(batch.lot, 3)
    hand.shop.holds.hold(batch.lot, True, "glass found")
    assert [(g.lot, g.amount) for g in hand.shop.waste.must_go()] == [(batch.lot, 3)]
    hand.batch(made=4)
    with pytest.raises(NotSafe, match="it names no lot"):
        hand.sell(FIRM)
    hand.shop.waste.throw_out(batch.lot, 3, "stopped")
    assert hand.shop.waste.must_go() == []
    assert all(n.balances for n in hand.shop.evening.close_day().lots)


# -- the same sale sent again


def test_a_sale_sent_again_for_the_day_before_is_booked_once(hand: ShopInHand) -> None:
    hand.batch(made=10)
    yesterday = hand.clock()
    hand.clock.forward(hours=24)
    slip = Slip((SlipItem("firm-block"),), key="k1")
    sale = hand.shop.counter.sell(slip, [Tender("card")])
    again = hand.shop.counter.sell(slip, [Tender("card")], yesterday + timedelta(hours=2))
    assert again.number == sale.number == "2026-11-25/0001"
    assert hand.shop.counter.booked("k1") == sale


# -- counted with the tub


@pytest.mark.parametrize(
    ("counted", "wasted", "left"),
    [
        (7900, {"scooping": 100, "time": 2900}, 5000),  # counted with what is in the tub
        (5000, {"time": 3000}, 5000),  # the tub was away already
        (4800, {"scooping": 200, "time": 3000}, 4800),
        (8000, {"time": 3000}, 5000),
    ],
)
def test_what_scooping_lost_is_not_put_down_to_time(
    hand: ShopInHand, counted: int, wasted: dict[str, int], left: int
) -> None:
    batch = hand.batch("pudding", 8000)
    hand.shop.tubs.open_tub(batch.lot, "time", 3000, Decimal(4))
    hand.clock.forward(hours=5)
    hand.shop.evening.count(batch.lot, counted)
    preview = hand.shop.evening.closing_preview()
    (lot,) = hand.shop.evening.close_day().lots
    assert (lot.wasted, lot.carried_out, lot.variance) == (wasted, left, 0)
    assert preview.lots == (lot,)
