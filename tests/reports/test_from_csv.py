"""The report's figures, worked out again from nothing but the exported CSV."""

from __future__ import annotations

import csv
import itertools
from collections import Counter
from datetime import date
from decimal import Decimal
from pathlib import Path

import msgspec
import pytest

from counter.reports.flat import rows_of
from counter.shop import Shop
from counter.trade.closing import LotDay
from counter.trade.money import Minor
from tests.reports.conftest import FIRST, LAST

Row = dict[str, str]


def cents(text: str) -> int:
    return int(Decimal(text) * 100)


def whole(rows: list[Row], key: str, figure: str) -> dict[str, int]:
    """Sums of whole figures by one column, what comes to nothing left out."""
    found: Counter[str] = Counter()
    for row in rows:
        found[row[key]] += int(row[figure])
    return {k: n for k, n in found.items() if n}


def money(rows: list[Row], key: str, figure: str) -> dict[str, int]:
    """Sums of money by one column, in cents."""
    found: Counter[str] = Counter()
    for row in rows:
        found[row[key]] += cents(row[figure])
    return dict(found)


@pytest.fixture(scope="session")
def tables(week_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Row]]:
    """Every table of the week, as a spreadsheet would read it."""
    folder = tmp_path_factory.mktemp("csv")
    Shop.open(week_folder).exports.export("all", folder, FIRST, LAST)
    found = {}
    for file in folder.glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as stream:
            found[file.stem] = list(csv.DictReader(stream))
    return found


def of_day(tables: dict[str, list[Row]], day: date) -> dict[str, list[Row]]:
    return {
        name: [r for r in rows if r["trading_day"] == str(day)] for name, rows in tables.items()
    }


def days_of(week: Shop) -> list[date]:
    return [c.day for c in week.closings.between(FIRST, LAST)]


def test_takings_come_out_of_the_csv_to_the_cent(week: Shop, tables: dict[str, list[Row]]) -> None:
    for day in days_of(week):
        found, rows = week.reports.day_summary(day), of_day(tables, day)
        sales, lines = rows["sales"], rows["sale_lines"]
        assert found.sales == len(sales)
        assert found.total == sum(cents(s["total"]) for s in sales)
        assert found.price == sum(cents(n["price"]) for n in lines)
        assert found.net == sum(cents(n["net"]) for n in lines)
        assert found.discounts == sum(cents(s["discount"]) for s in sales)
        assert found.rounding == sum(cents(s["rounding"]) for s in sales)
        quantities = {p.portion: p.quantity for p in found.portions}
        assert quantities == whole(lines, "portion_key", "quantity")
        assert {p.portion: p.net for p in found.portions} == money(lines, "portion_key", "net")
        paid = {p.kind: p.amount for p in found.payments if p.payments}
        assert paid == money(rows["payments"], "kind", "amount")
        assert {t.tax_class: t.tax for t in found.taxes} == money(
            rows["sale_taxes"], "tax_class", "tax"
        )
        assert found.refunded == sum(cents(r["amount"]) for r in rows["refunds"])
        hours: Counter[int] = Counter()
        for sale in sales:
            hours[int(sale["moment"][11:13])] += cents(sale["total"])
        assert {h.hour: h.total for h in found.hours if h.sales} == dict(hours)


def test_the_drawer_comes_out_of_the_csv_to_the_cent(
    week: Shop, tables: dict[str, list[Row]]
) -> None:
    for day in days_of(week):
        cash, rows = week.reports.day_summary(day).cash, of_day(tables, day)
        taken = sum(cents(p["amount"]) for p in rows["payments"] if p["kind"] == "cash")
        back = sum(
            cents(r["amount"]) + cents(r["rounding"]) - cents(r["by_card"])
            for r in rows["refunds"]
            if r["kind"] == "cash"
        )
        assert (cash.sales, cash.refunds) == (taken, back)
        floats = [cents(m["amount"]) for m in rows["drawer"] if m["kind"] == "float"]
        [closed] = rows["closings"]
        opening = cents(closed["cash_opening"])
        assert cash.start == (floats[-1] if floats else opening)
        assert cents(closed["cash_start_missing"]) == opening - cash.start == cash.start_missing
        assert cash.expected == cash.start + taken - back + cash.moved_in - cash.moved_out


def test_what_a_day_began_with_is_what_the_closing_before_left(
    tables: dict[str, list[Row]],
) -> None:
    closed = sorted(tables["closings"], key=lambda row: row["trading_day"])
    for before, after in itertools.pairwise(closed):
        assert after["cash_opening"] == before["cash_left"]


def test_tax_less_refunds_comes_out_of_the_csv_to_the_cent(
    week: Shop, tables: dict[str, list[Row]]
) -> None:
    classes = {(n["sale"], n["line_of_sale"]): n["tax_class"] for n in tables["sale_lines"]}
    rates = {(t["sale"], t["tax_class"]): t["rate"] for t in tables["sale_taxes"]}
    for day in days_of(week):
        rows = of_day(tables, day)
        left: Counter[tuple[str, str]] = Counter()
        for tax in rows["sale_taxes"]:
            left[tax["tax_class"], tax["rate"]] += cents(tax["tax"])
        for line in rows["refund_lines"]:
            name = classes.get((line["sale"], line["line_of_sale"]), "")
            if (line["sale"], name) in rates:
                left[name, rates[line["sale"], name]] -= cents(line["tax"])
        kept = {(t["tax_class"], t["rate"]): cents(t["left_tax"]) for t in rows["closing_taxes"]}
        assert kept == dict(left)
        found = {(t.tax_class, str(t.rate)): t.left for t in week.reports.day_summary(day).taxes}
        assert found == kept
    whole_week = week.reports.span_summary("week", LAST).taxes
    assert {t.tax_class: t.left for t in whole_week} == money(
        tables["closing_taxes"], "tax_class", "left_tax"
    )


def test_every_lot_comes_out_of_the_csv_to_the_piece(
    week: Shop, tables: dict[str, list[Row]]
) -> None:
    for day in days_of(week):
        rows = of_day(tables, day)
        lots: list[LotDay] = [n.day for n in week.reports.day_summary(day).lots]
        batches = {b["lot"]: b for b in sorted(rows["batches"], key=lambda b: int(b["revision"]))}
        made = {lot: int(b["made"]) for lot, b in batches.items()}
        sold = Counter(whole(rows["sale_lots"], "lot", "amount"))
        restocked = {r["refund"] for r in rows["refunds"] if r["restocked"] == "true"}
        for row in rows["refund_lots"]:
            if row["refund"] in restocked:
                sold[row["lot"]] -= int(row["amount"])
        wasted = whole(rows["waste"], "lot", "amount")
        last = {(m["lot"], m["from_lot"]): m for m in rows["mixed"]}
        used: Counter[str] = Counter()
        for row in last.values():
            used[row["from_lot"]] += int(row["amount"])
        assert {n.lot: n.made for n in lots if n.made} == made
        assert {n.lot: n.sold for n in lots if n.sold} == {k: n for k, n in sold.items() if n}
        assert {n.lot: sum(n.wasted.values()) for n in lots if n.wasted} == wasted
        assert {n.lot: n.used for n in lots if n.used} == dict(used)
        assert all(n.balances for n in lots)
        out = whole(rows["closing_lots"], "lot", "carried_out")
        assert {n.lot: n.carried_out for n in lots if n.carried_out} == out


class Named(msgspec.Struct):
    total: int
    bread: Minor
    by_kind: dict[str, Minor]
    left: Minor | None = None


class Whole(msgspec.Struct):
    price: int
    rows: tuple[Named, ...]


def test_what_is_money_says_its_type_and_not_its_name() -> None:
    rows = list(rows_of(Whole(3, (Named(250, 250, {"cash": 999}, None),)), 2))
    assert rows == [
        ("price", "", "", "3"), ("rows", "", "total", "250"), ("rows", "", "bread", "2.50"),
        ("rows", "", "by_kind.cash", "9.99"), ("rows", "", "left", ""),
    ]  # fmt: skip
