"""Tax, corrections and the drawer of a week or a month: what was given back is taken off."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal

import msgspec
import pdfplumber
import pytest

from counter.reports.flat import csv_of
from counter.reports.spans import span_of, summarise_span
from counter.reports.tell import tell_span
from counter.trade.closing import Closing
from labels.say import as_kept, from_kept
from tests.conftest import SETTINGS, Maker, ShopInHand

INCLUDED = SETTINGS.replace('mode = "added"', 'mode = "included"')


def text_of(data: bytes) -> str:
    with pdfplumber.open(io.BytesIO(data)) as document:
        return " ".join(" ".join(page.extract_text().split()) for page in document.pages)


def closed_with_a_refund(hand: ShopInHand) -> Closing:
    """The only taxed sale of a month, refunded whole."""
    hand.pudding()
    sale = hand.sell("cup-small")
    hand.shop.counter.refund(sale.number, "spilt")
    return hand.shop.evening.close_day()


def test_a_month_whose_only_sale_went_back_owes_no_tax(hand: ShopInHand) -> None:
    closing = closed_with_a_refund(hand)
    [day], [month] = closing.by_rate, hand.shop.reports.span_summary("month").taxes
    assert day == month
    assert (month.tax_class, month.left_base, month.left) == ("prepared", 0, 0)
    assert month.tax == month.refunded == closing.taxes["prepared"] > 0
    assert month.base == month.refunded_base > 0
    assert hand.shop.reports.day_summary(closing.day).taxes == closing.by_rate


def test_tax_given_back_counts_in_the_month_it_went_back(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-30 09:00")
    hand.pudding()
    sale = hand.sell("cup-small*2")
    hand.shop.evening.close_day()
    hand.clock.set("2026-12-01 09:00")
    hand.batch("firm", 12)
    hand.shop.counter.refund(sale.number, "sour", {1: 1})
    hand.shop.evening.close_day()
    [november] = hand.shop.reports.span_summary("month", date(2026, 11, 30)).taxes
    [december] = hand.shop.reports.span_summary("month", date(2026, 12, 1)).taxes
    [year] = hand.shop.reports.span_summary("year").taxes
    assert (november.rate, november.refunded) == (december.rate, 0)
    assert (december.tax, december.left, december.left_base) == (
        0, -december.refunded, -december.refunded_base,
    )  # fmt: skip
    assert year.left == november.tax - december.refunded


@pytest.mark.parametrize("settings", [SETTINGS, INCLUDED])
def test_a_whole_refund_takes_off_the_base_as_the_sale_had_it(make: Maker, settings: str) -> None:
    hand = make(settings)
    hand.pudding()
    sale = hand.sell("cup-small*3", "cup-large")
    hand.shop.counter.refund(sale.number, "spilt")
    [tax] = hand.shop.evening.close_day().by_rate
    assert (tax.base, tax.tax) == (sale.taxes[0].base, sale.taxes[0].tax)
    assert (tax.refunded_base, tax.refunded) == (tax.base, tax.tax)


def test_a_closing_of_before_rates_were_kept_adds_its_tax_by_class(hand: ShopInHand) -> None:
    closing = closed_with_a_refund(hand)
    old = msgspec.to_builtins(closing, enc_hook=as_kept)
    del old["by_rate"], old["cash"]["opening"], old["cash"]["start_missing"]
    read = msgspec.convert(old, Closing, dec_hook=from_kept)
    assert (read.by_rate, read.cash.opening, read.cash.start_missing) == ((), None, 0)
    found = summarise_span("month", *span_of("month", read.day), [read])
    assert [(t.tax_class, t.rate, t.tax) for t in found.taxes] == [
        ("prepared", None, closing.taxes["prepared"])
    ]
    tax = hand.shop.reports.telling().money(closing.taxes["prepared"])
    assert f"prepared – – – {tax} – –" in text_of(hand.shop.reports.span_report(found))
    line = f"tax prepared {tax}, of days closed before refunds were taken off it"
    assert line in tell_span(found, hand.shop.reports.telling())


def test_a_correction_in_money_counts_in_the_span_of_the_day_it_corrects(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-30 09:00")
    hand.batch("firm", 10)
    hand.sell("firm-block")
    hand.shop.evening.close_day()
    hand.clock.set("2026-12-01 09:00")
    hand.batch("firm", 4)
    sale = "2026-11-30/0001"
    hand.shop.closed_days.correct(date(2026, 11, 30), "forgot two blocks", sale=sale, money=650)
    for closed in (False, True):  # it counts as soon as it is noted
        if closed:
            hand.shop.evening.close_day()
        november = hand.shop.reports.span_summary("month", date(2026, 11, 30))
        assert [c.text for c in november.corrections] == ["forgot two blocks"]
        assert (november.total, november.corrected_money) == (325, 650)
        assert hand.shop.reports.span_summary("year", date(2026, 11, 30)).corrected_money == 650
    assert hand.shop.reports.span_summary("month").corrections == ()
    text = text_of(hand.shop.reports.span_report(november))
    assert "Left, as corrected $9.75" in text
    assert f"2026-12-01/C01 Nov 30, 2026 {sale} +$6.50 taken forgot two blocks" in text
    assert "corrected 2026-11-30: +$6.50 taken, forgot two blocks" in tell_span(
        november, hand.shop.reports.telling()
    )


def test_the_csv_and_the_lines_of_a_span_say_what_tax_is_left(hand: ShopInHand) -> None:
    closed_with_a_refund(hand)
    found = hand.shop.reports.span_summary("month")
    [tax] = found.taxes
    rows = csv.reader(io.StringIO(csv_of(found, 2).decode()))
    cells = {figure: value for section, _, figure, value in rows if section == "taxes"}
    assert cells["tax"] == cells["refunded"] == f"{Decimal(tax.tax) / 100:.2f}"
    assert (cells["left"], cells["left_base"]) == ("0.00", "0.00")
    lines = tell_span(found, hand.shop.reports.telling())
    assert any(line.endswith("given back, $0.00 left") for line in lines)


def test_a_start_below_what_was_left_stands_in_every_report(hand: ShopInHand) -> None:
    hand.batch("firm", 12)
    hand.shop.evening.close_day(cash=15000)
    hand.clock.set("2026-11-25 09:00")
    hand.batch("firm", 12)
    hand.shop.evening.move_cash("float", 14000)
    closing = hand.shop.evening.close_day(cash=14000)
    with pdfplumber.open(io.BytesIO(hand.shop.reports.day_report(closing.day))) as document:
        page = document.pages[0]
        right = page.crop((page.width / 2, 0, page.width, page.height)).extract_text()
    day = " ".join(right.split())
    assert "or the usual float $150.00 Missing at the start $10.00 At the start $140.00" in day
    found = hand.shop.reports.span_summary("week")
    assert (found.missing, found.start_missing) == (0, 1000)
    week = text_of(hand.shop.reports.span_report(found))
    assert "Missing from the drawer at the start $10.00" in week
    assert "cash over all days: $10.00 missing" in tell_span(found, hand.shop.reports.telling())
    for summary in (found, hand.shop.reports.day_summary(closing.day)):
        assert "start_missing,10.00" in csv_of(summary, 2).decode().replace(",,", ",")
