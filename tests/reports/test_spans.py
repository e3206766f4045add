"""Weeks, months and years from the closings, against the days they are made of."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from counter.errors import NotFound
from counter.reports.flat import csv_of
from counter.reports.spans import Kind, pieces_of, span_of
from counter.shop import Shop
from tests.conftest import ShopInHand
from tests.reports.conftest import LAST
from tests.reports.plain import by, lines_of, rows_of


@pytest.mark.parametrize(
    ("kind", "day", "first", "last"),
    [
        ("week", date(2026, 11, 22), date(2026, 11, 16), date(2026, 11, 22)),  # a Sunday ends it
        ("week", date(2027, 1, 1), date(2026, 12, 28), date(2027, 1, 3)),  # over New Year
        ("month", date(2028, 2, 10), date(2028, 2, 1), date(2028, 2, 29)),  # a leap year
        ("year", date(2026, 11, 22), date(2026, 1, 1), date(2026, 12, 31)),
    ],
)
def test_a_span_holds_its_day(kind: Kind, day: date, first: date, last: date) -> None:
    assert span_of(kind, day) == (first, last)
    pieces = pieces_of(kind, first, last)
    assert (pieces[0][0], pieces[-1][1]) == (first, last)
    assert len(pieces) == (12 if kind == "year" else (last - first).days + 1)


def test_a_week_is_the_sum_of_the_lines_of_its_books(week: Shop, week_folder: Path) -> None:
    found = week.reports.span_summary("week", LAST)
    books = [rows_of(week_folder, d.day) for d in found.days]
    sales = [s for rows in books for s in rows["sales"]]
    lines = [n for rows in books for n in lines_of(rows)]
    assert (found.sales, found.total) == (len(sales), sum(s["total"] for s in sales))
    assert {p.portion: p.quantity for p in found.portions} == by(lines, "portion", "quantity")
    assert found.payments == by([p for s in sales for p in s["payments"]], "kind", "amount")
    taxes = by([t for s in sales for t in s["taxes"]], "tax_class", "tax")
    assert {t.tax_class: t.tax for t in found.taxes} == taxes
    waste = [w for rows in books for w in rows.get("waste", [])]
    assert sum(w.amount for w in found.waste) == sum(w["amount"] for w in waste)
    # A batch that was corrected stands in the book again: the last one holds.
    made = list({b["lot"]: b for rows in books for b in rows["batches"]}.values())
    flows = {p.flow.product: p.flow.made for p in found.products}
    assert flows == {**dict.fromkeys(flows, 0), **by(made, "product", "made")}
    assert sum(h.sales for h in found.hours) == len(sales)


def test_a_week_is_the_sum_of_its_days(week: Shop) -> None:
    found = week.reports.span_summary("week", LAST)
    days = [week.reports.day_summary(d.day) for d in found.days]
    assert found.total == sum(d.total for d in days) == sum(p.total for p in found.pieces)
    assert found.wasted_cost == sum(d.wasted_cost for d in days)
    assert found.wasted_price == sum(d.wasted_price for d in days)
    assert found.missing == sum(d.cash.variance for d in days)
    assert all(p.flow.balances for p in found.products)
    firm = next(y for y in found.yields if y.product == "firm")
    batches = [y for d in days for y in d.yields if y.product == "firm" and y.noted]
    beans = sum(y.beans_g for y in batches)
    assert firm.per_kilo == Decimal(1000 * sum(y.weighs for y in batches)) / beans
    assert firm.brix_least == min(y.brix for y in batches if y.brix is not None)


def test_what_one_day_carries_out_the_next_carries_in(week: Shop) -> None:
    found = week.reports.span_summary("week", LAST)
    first, last = (week.reports.day_summary(found.days[i].day) for i in (0, -1))
    for product in found.products:
        name = product.flow.product
        came = sum(n.day.carried_in for n in first.lots if n.day.product == name)
        went = sum(n.day.carried_out for n in last.lots if n.day.product == name)
        assert (product.flow.carried_in, product.flow.carried_out) == (came, went)


def test_the_span_before_is_set_beside_it(week: Shop) -> None:
    found = week.reports.span_summary("week", LAST)
    assert found.before_days == 1  # the demo begins on a Sunday
    assert found.before_total is not None
    assert week.reports.span_summary("year", LAST).before_total is None


def test_a_span_without_a_closed_day_is_not_found(hand: ShopInHand) -> None:
    with pytest.raises(NotFound, match="Close a day first"):
        hand.shop.reports.span_summary("week")
    hand.batch()
    sentence = (
        "Cannot add up the month: there is no closed day from '2026-11-01 to 2026-11-30'. "
        "The books go from 2026-11-24 to 2026-11-24."
    )
    with pytest.raises(NotFound) as refusal:
        hand.shop.reports.span_summary("month")
    assert str(refusal.value) == sentence


def test_a_reopened_day_counts_once_as_closed_last(hand: ShopInHand) -> None:
    hand.batch("firm", 24)
    hand.sell("firm-block")
    hand.shop.evening.close_day()
    hand.shop.evening.reopen_day("one more came in")
    hand.sell("firm-block")
    hand.shop.evening.close_day()
    found = hand.shop.reports.span_summary("week")
    assert (len(found.days), found.sales, found.total) == (1, 2, 650)


def test_the_csv_holds_every_figure_of_the_json(week: Shop) -> None:
    for summary in (week.reports.span_summary("week", LAST), week.reports.day_summary(LAST)):
        rows = list(csv.reader(io.StringIO(csv_of(summary, 2).decode())))
        assert rows[0] == ["section", "item", "figure", "value"]
        values = {(section, figure): value for section, _, figure, value in rows[1:]}
        assert values["total", ""] == f"{summary.total / 100:.2f}"
        portions = [r for r in rows if r[0] == "portions" and r[2] == "net"]
        assert {r[1]: r[3] for r in portions} == {
            p.portion: f"{p.net / 100:.2f}" for p in summary.portions
        }
        waste = {r[1]: r[3] for r in rows if r[0] == "waste" and r[2] == "amount"}
        assert waste == {f"{w.product} {w.reason}": str(w.amount) for w in summary.waste}


def test_the_csv_of_a_note_that_looks_like_a_formula_is_defused(hand: ShopInHand) -> None:
    hand.batch()
    hand.shop.evening.close_day(notes="=1+1")
    text = csv_of(hand.shop.reports.day_summary(hand.shop.desk.today()), 2).decode()
    assert "notes,,,'=1+1\r\n" in text


def test_a_summary_goes_as_json(week: Shop) -> None:
    import msgspec

    found = json.loads(msgspec.json.encode(week.reports.span_summary("week", LAST)))
    assert found["kind"] == "week"
    assert len(found["days"]) == 6
