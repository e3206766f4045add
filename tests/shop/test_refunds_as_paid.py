"""Money goes back the way it came: a card gets at most what it paid, and so does cash."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import Refused
from counter.shop import Shop
from counter.trade.payments import Tender, settle
from counter.trade.refunds import left_of_kinds
from counter.trade.sales import Sale, Slip, SlipItem
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand


def split_sale(hand: ShopInHand, card: int) -> Sale:
    """Two blocks for 6.50, so much of it by card, the rest in cash."""
    hand.batch("firm", 48)
    slip = Slip((SlipItem("firm-block", 2),))
    return hand.shop.counter.sell(slip, [Tender("card", card), Tender("cash")])


@pytest.mark.parametrize(
    ("given", "total", "paid", "change"),
    [
        # cash named, coin, total -> (card, cash) and change
        ((100, 1), 325, (225, 100), 0),
        ((325, 1), 325, (0, 325), 0),
        ((500, 1), 325, (0, 325), 175),  # enough in cash: nothing is left for the card
        ((100, 5), 327, (227, 100), 0),
        ((325, 5), 327, (0, 325), 0),  # 3.27 is 3.25 in coins of five
        ((103, 5), 327, (227, 100), 3),  # no coin pays three cents
    ],
)
def test_a_card_without_an_amount_pays_what_the_named_cash_leaves(
    given: tuple[int, int], total: int, paid: tuple[int, int], change: int
) -> None:
    cash, coin = given
    for tenders in ([Tender("cash", cash), Tender("card")], [Tender("card"), Tender("cash", cash)]):
        payments, _, back = settle(total, tuple(tenders), coin=coin, places=2)
        sums = {p.kind: p.amount for p in payments}
        assert (sums.get("card", 0), sums.get("cash", 0), back) == (*paid, change)


def test_a_card_named_and_a_card_for_the_rest_pay_together() -> None:
    payments, _, change = settle(1000, (Tender("card"), Tender("card", 400)), coin=1, places=2)
    assert (sorted(p.amount for p in payments), change) == ([400, 600], 0)


def test_a_refund_goes_on_the_card_first_and_the_rest_in_cash(hand: ShopInHand) -> None:
    sale = split_sale(hand, 500)
    back = hand.shop.counter.refund(sale.number, "sour")
    assert (back.amount, back.kind, back.by_card, back.in_cash) == (650, "cash", 500, 150)
    assert hand.shop.desk.ledger().drawer.expected == 15000
    found = hand.shop.reports.day_summary(hand.shop.desk.today())
    assert {p.kind: (p.amount, p.refunded) for p in found.payments} == {
        "card": (500, 500), "cash": (150, 150),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("card", "kind", "why"),
    [
        (500, "card", "only 5.00 of what was paid by card is left to give back"),
        (500, "cash", "only 1.50 of what was paid in cash is left to give back"),
        (0, "card", "only 0.00 of what was paid by card is left to give back"),
        (650, "cash", "only 0.00 of what was paid in cash is left to give back"),
    ],
)
def test_no_kind_gives_back_more_than_it_paid(
    hand: ShopInHand, card: int, kind: str, why: str
) -> None:
    sale = split_sale(hand, card)
    with pytest.raises(Refused) as refusal:
        hand.shop.counter.refund(sale.number, "sour", kind=kind)  # type: ignore[arg-type]
    sentence = f"Cannot refund sale {sale.number}: {why}. Give it back as it was paid."
    assert str(refusal.value) == sentence
    assert hand.shop.counter.refunds_of(sale.number) == []


def test_what_went_back_before_is_taken_off_what_a_kind_may_give(hand: ShopInHand) -> None:
    sale = split_sale(hand, 325)
    assert hand.shop.counter.refund(sale.number, "sour", {1: 1}, kind="cash").in_cash == 325
    with pytest.raises(Refused, match="only 0.00 of what was paid in cash"):
        hand.shop.counter.refund(sale.number, "sour", kind="cash")
    assert hand.shop.counter.refund(sale.number, "sour").on_card == 325


@given(st.data())
def test_all_refunds_together_are_what_each_kind_paid(data: st.DataObject) -> None:
    hand = ShopInHand(Shop.memory(parse_settings(SETTINGS), Clock()), Clock())
    hand.shop.products.load_catalogue(CATALOGUE)
    hand.batch("firm", 48)
    count = data.draw(st.integers(1, 6))
    slip = Slip((SlipItem("firm-block", count),))
    card = data.draw(st.integers(0, hand.shop.counter.price(slip).total))
    sale = hand.shop.counter.sell(slip, [Tender("card", card), Tender("cash")])
    left = count
    while left:
        some = data.draw(st.integers(1, left))
        hand.shop.counter.refund(sale.number, "sour", {1: some})
        left -= some
    back = hand.shop.counter.refunds_of(sale.number)
    assert sum(r.on_card for r in back) == card
    assert sum(r.in_cash for r in back) == sum(p.amount for p in sale.payments if p.kind == "cash")
    assert left_of_kinds(sale, back) == {"card": 0, "cash": 0}
    assert hand.shop.desk.ledger().drawer.expected == 15000
