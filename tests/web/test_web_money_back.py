"""The page gives money back as it was paid, asks why a start changes, and opens a day ahead."""

from __future__ import annotations

import html

from counter.trade.payments import Tender
from counter.trade.sales import Slip, SlipItem
from tests.conftest import ShopInHand
from tests.web.conftest import Page


def test_a_sale_paid_both_ways_goes_back_both_ways(page: Page, morning: ShopInHand) -> None:
    slip = Slip((SlipItem("firm-block", 2),))
    sale = morning.shop.counter.sell(slip, [Tender("card", 500), Tender("cash")])
    assert 'value="paid"' in page.get(f"/sales/{sale.number}").get_data(as_text=True)
    form = {"before": "0", "line-1": "2", "why": "sour"}
    refused = page.post(f"/sales/{sale.number}/refund", {**form, "kind": "cash"})
    said = refused.get_data(as_text=True)
    assert "only 1.50 of what was paid in cash" in said
    assert all(f'value="{kept}"' in said for kept in ("2", "sour"))  # nothing is typed again
    assert 'name="kind" value="cash" checked' in said
    assert morning.shop.counter.refunds_of(sale.number) == []
    assert page.post(f"/sales/{sale.number}/refund", {**form, "kind": "paid"}).status_code == 302
    [back] = morning.shop.counter.refunds_of(sale.number)
    assert (back.on_card, back.in_cash) == (500, 150)
    for place in (f"/sales/{sale.number}", "/records/sales?day=2026-11-24"):
        text = html.unescape(page.get(place).get_data(as_text=True))
        assert "$6.50 (As it was paid), sour. Given back by: –, 11/24/26" in text
    assert "(As it was paid)" in page.get(f"/sales/{sale.number}").get_data(as_text=True)


def test_a_start_changed_after_the_first_cash_asks_why(page: Page, morning: ShopInHand) -> None:
    page.post("/closing/drawer", {"kind": "float", "coin-2000": "5"})
    assert 'name="float_why"' not in page.get("/closing/drawer").get_data(as_text=True)
    morning.sell("firm-block", cash=325)
    assert 'name="float_why"' in page.get("/closing/drawer").get_data(as_text=True)
    start = {"kind": "float", "coin-2000": "4"}
    refused = page.post("/closing/drawer", start)
    assert refused.status_code == 400
    assert "cash has gone in or out today already" in refused.get_data(as_text=True)
    assert morning.shop.desk.ledger().drawer.start == 10000
    again = page.post("/closing/drawer", {**start, "float_why": "one note was counted twice"})
    assert again.status_code == 302
    assert morning.shop.desk.ledger().drawer.start == 8000


def test_the_closing_page_shows_what_was_left_and_what_is_missing(
    page: Page, morning: ShopInHand
) -> None:
    morning.shop.evening.close_day(cash=15000)
    morning.clock.set("2026-11-25 08:00")
    morning.batch("firm", 12)
    morning.shop.evening.move_cash("float", 14000)
    morning.shop.evening.close_day(cash=14000)
    text = html.unescape(page.get("/closing/").get_data(as_text=True))
    assert "Left at the closing before" in text
    assert "$10.00 missing" in text


def test_a_day_closed_ahead_is_opened_on_the_page(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-27 10:00")
    morning.shop.evening.close_day(day=morning.shop.closings.open_days()[0])
    morning.batch("firm", 12)
    morning.shop.evening.close_day()
    morning.clock.set("2026-11-25 10:00")
    assert "/closing/reopen" in page.get("/closing/").get_data(as_text=True)
    assert page.post("/closing/reopen", {"why": "the clock was wrong"}).status_code == 302
    assert morning.sell("firm-block").number == "2026-11-25/0001"
