"""The column of money adds up; what went back whole is in no portion, hour or average."""

from __future__ import annotations

import io
import re
from datetime import date
from pathlib import Path

import pdfplumber
import pytest
from click.testing import CliRunner

from counter.cli import main
from counter.commands.say import Words
from counter.commands.say_closing import closing_lines
from counter.reports.tell import tell_span
from counter.shop import Shop
from counter.shop.production import BatchNote
from counter.trade.closing import Closing
from counter.trade.payments import Tender
from counter.trade.sales import Discount, Sale, Slip, SlipItem
from counter.web.app import create_app
from labels.say import as_kept, from_kept
from tests.conftest import SETTINGS, Maker, ShopInHand
from tests.web.conftest import Page

INCLUDED = SETTINGS.replace('mode = "added"', 'mode = "included"')


def text_of(data: bytes) -> str:
    with pdfplumber.open(io.BytesIO(data)) as document:
        return " ".join(" ".join(page.extract_text().split()) for page in document.pages)


def cents(text: str) -> int:
    return int(re.sub(r"[^0-9]", "", text)) * (-1 if text[0] in "-−" else 1)


def odd_cents(hand: ShopInHand) -> tuple[Sale, Sale]:
    """A sale that cash rounds by two cents, and one by card: at nine o'clock."""
    hand.clock.set("2026-11-24 08:00")
    hand.pudding()
    hand.batch("firm", 24)
    hand.clock.set("2026-11-24 09:00")
    cash = hand.sell("firm-block", cash=1000, discount=Discount(why="chipped", amount=2))
    assert (cash.total, cash.rounding) == (323, 2)
    return cash, hand.sell("firm-block*4", "cup-small")


def test_a_refund_is_one_amount_on_screen_page_and_paper(
    folder_shop: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand = folder_shop
    cash, _ = odd_cents(hand)
    opened = classmethod(lambda cls, folder, clock=None: hand.shop)
    monkeypatch.setattr(Shop, "open", opened)
    said = CliRunner().invoke(main, ["refund", cash.number, "--because", "spilt"]).stdout
    money = Words(hand.shop).money(cash.total + cash.rounding)
    assert f"of sale {cash.number}: {money} in cash" in said
    page = Page(create_app(hand.shop, b"not secret at all, only for tests"))
    assert money in page.get(f"/sales/{cash.number}").get_data(as_text=True)
    day = hand.clock().date()
    assert f"<dd>{money}</dd>" in page.get("/records/").get_data(as_text=True)
    assert f"1 refund {money}" in CliRunner().invoke(main, ["day"]).stdout
    paper = text_of(hand.shop.reports.day_report(day))
    assert f"Given back in 1 refund −{money}" in paper
    assert f"{day}/R001 {cash.number} cash {money}" in paper
    hand.shop.evening.close_day()
    week = hand.shop.reports.span_summary("week")
    assert f"1 refund {money}" in tell_span(week, hand.shop.reports.telling())
    assert f"Given back in 1 refund −{money}" in text_of(hand.shop.reports.span_report(week))


@pytest.mark.parametrize("settings", [SETTINGS, INCLUDED])
def test_the_column_of_day_and_week_adds_up(make: Maker, settings: str) -> None:
    hand = make(settings)
    cash, card = odd_cents(hand)
    part = hand.shop.counter.refund(card.number, "one was broken", {1: 1}).amount
    hand.shop.counter.refund(cash.number, "spilt")
    closing = hand.shop.evening.close_day()
    for paper in (
        hand.shop.reports.day_report(closing.day),
        hand.shop.reports.span_report(hand.shop.reports.span_summary("week")),
        hand.shop.reports.span_report(hand.shop.reports.span_summary("month")),
    ):
        text = text_of(paper)
        found = {
            name: cents(re.search(rf"{name}(?: in \d+ \w+)? (−?\$[\d,]+\.\d\d)", text)[1])  # type: ignore[index]
            for name in (
                "At the prices on the tags", "Discounts", "Net of discounts",
                "of it tax" if settings is INCLUDED else "Tax on top", "Taken",
                "Rounding of cash", "Paid", "Given back", "Taken less given back",
            )
        }  # fmt: skip
        assert found["At the prices on the tags"] + found["Discounts"] == found["Net of discounts"]
        assert found["Net of discounts"] + found.get("Tax on top", 0) == found["Taken"]
        assert found["Taken"] + found["Rounding of cash"] == found["Paid"]
        assert found["Paid"] + found["Given back"] == found["Taken less given back"]
        assert found["Rounding of cash"] == cash.rounding
        assert found["Given back"] == -(cash.total + cash.rounding + part)


def test_a_sale_taken_back_whole_leaves_portions_hours_and_averages(hand: ShopInHand) -> None:
    hand.batch("firm", 24)
    hand.clock.set("2026-11-24 09:00")
    wrong = hand.sell("firm-block*9")
    hand.clock.set("2026-11-24 10:00")
    hand.shop.counter.refund(wrong.number, "a slip of the finger", restock=True)
    part = hand.sell("firm-block*2")
    hand.shop.counter.refund(part.number, "one was broken", {1: 1})
    closing = hand.shop.evening.close_day()
    assert [(p.portion, p.quantity, p.net) for p in closing.portions] == [("firm-block", 2, 650)]
    assert [(h.hour, h.sales, h.total) for h in closing.hours] == [(10, 1, 650)]
    assert closing.takings.average == 650
    assert (closing.sales, closing.taken_back, closing.takings.stayed) == (2, 1, 650)
    week = hand.shop.reports.span_summary("week")
    assert [(p.quantity, p.net) for p in week.portions] == [(2, 650)]
    assert [(h.hour, h.sales) for h in week.hours] == [(10, 1)]
    for paper in (hand.shop.reports.day_report(closing.day), hand.shop.reports.span_report(week)):
        assert "without 1 sale that was taken back whole" in text_of(paper)
    said = "1 sale was taken back whole: no portion, hour or average counts it ($6.50 a sale)"
    assert said in "\n".join(closing_lines(Words(hand.shop), closing))
    assert said in "\n".join(tell_span(week, hand.shop.reports.telling()))


def test_a_sale_taken_back_line_by_line_is_taken_back_whole(hand: ShopInHand) -> None:
    hand.batch("firm", 24)
    sale = hand.sell("firm-block*2")
    hand.shop.counter.refund(sale.number, "one was broken", {1: 1})
    assert [p.quantity for p in hand.shop.closings.of(date(2026, 11, 24)).portions] == [2]
    hand.shop.counter.refund(sale.number, "and the other", {1: 1})
    assert hand.shop.closings.of(date(2026, 11, 24)).portions == ()


def test_a_sale_taken_back_on_later_days_leaves_week_month_and_the_plan(
    folder_shop: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand, shop = folder_shop, folder_shop.shop
    hand.batch("firm", 24)
    hand.clock.set("2026-11-24 09:00")
    wrong = hand.sell("firm-block*9")
    hand.clock.set("2026-11-24 10:00")
    hand.sell("firm-block*2")
    shop.counter.refund(wrong.number, "two were sour", {1: 2})
    sealed = shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")
    shop.counter.refund(wrong.number, "one more", {1: 1})
    assert shop.evening.close_day().back == ()
    hand.clock.set("2026-11-26 09:00")
    shop.counter.refund(wrong.number, "all of them were")
    [one] = shop.closings.of(date(2026, 11, 26)).back
    assert (one.sale, one.hour.total) == (wrong.number, wrong.total)
    assert shop.reports.span_summary("week").takings.taken_back == 0  # the day is not closed
    shop.evening.close_day()
    assert shop.closings.of(date(2026, 11, 24)) == sealed
    for kind in ("week", "month"):
        span = shop.reports.span_summary(kind)  # type: ignore[arg-type]
        assert [(p.quantity, p.net) for p in span.portions] == [(2, 650)]
        assert [(h.hour, h.sales, h.total) for h in span.hours] == [(10, 1, 650)]
        money = span.takings
        assert (money.sales, money.taken_back, money.average) == (2, 1, 650)
        assert (money.total, money.given_back, money.left) == (3350, 2700, 650)
        assert "without 1 sale that was taken back whole" in text_of(shop.reports.span_report(span))
    opened = classmethod(lambda cls, folder, clock=None: shop)
    monkeypatch.setattr(Shop, "open", opened)
    said = CliRunner().invoke(main, ["week"]).stdout
    assert "no portion, hour or average counts it ($6.50 a sale)" in said
    past = shop.plan.past(date(2026, 11, 27)).closings[0]
    assert [p.quantity for p in past.portions] == [2]
    assert [(h.hour, h.sold) for h in past.hours] == [(10, {"firm": 2})]


def oversold(hand: ShopInHand) -> str:
    lot = hand.batch("firm", 2).lot
    hand.shop.counter.sell(Slip((SlipItem("firm-block", 5),)), [Tender("card")])
    assert hand.shop.desk.ledger().rows[lot].oversold
    return lot


@pytest.mark.parametrize("how", ["count", "batch", "restock", "words"])
def test_oversold_goes_when_it_is_explained(hand: ShopInHand, how: str) -> None:
    lot = oversold(hand)
    words = {}
    if how == "count":
        hand.shop.evening.count(lot, 0)
    elif how == "batch":
        hand.shop.amendments.amend_batch(lot, BatchNote(made=6), "4 more lay in the tank")
    elif how == "restock":
        hand.shop.counter.refund("2026-11-24/0001", "a slip of the finger", {1: 3}, restock=True)
    else:
        words = {lot: "a tray was not logged"}
    (row,) = hand.shop.evening.close_day(explained=words).lots
    assert not row.oversold
    assert row.balances


def test_oversold_comes_back_when_more_goes_after_a_count(hand: ShopInHand) -> None:
    lot = oversold(hand)
    hand.shop.evening.count(lot, 1)
    hand.clock.forward(minutes=1)
    hand.sell("firm-block*2")
    assert hand.shop.desk.ledger().rows[lot].oversold


def test_a_batch_noted_again_on_a_later_day_is_counted_once(hand: ShopInHand) -> None:
    lot = hand.batch("firm", 48).lot
    first = hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")
    hand.batch("firm", 4)
    hand.shop.amendments.amend_batch(lot, BatchNote(notes="a word more"), "forgotten")
    second = hand.shop.evening.close_day()
    assert (first.batches, second.batches) == (1, 1)
    assert [y.lot for c in (first, second) for y in c.yields] == [lot, "26329-01"]
    assert hand.shop.reports.span_summary("week").batches == 2


def test_a_closing_of_before_reads_its_money_alike(hand: ShopInHand, tmp_path: Path) -> None:
    import msgspec

    cash, _ = odd_cents(hand)
    hand.shop.counter.refund(cash.number, "spilt")
    old = msgspec.to_builtins(hand.shop.evening.close_day(), enc_hook=as_kept)
    del old["taken_back"], old["taken_back_total"]
    read = msgspec.convert(old, Closing, dec_hook=from_kept)
    assert read.takings.given_back == cash.total + cash.rounding
    assert read.takings.taken_back == 0
