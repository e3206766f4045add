"""Weeks, months and years on paper: the trend first, then the figures behind it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

from counter.present import Presenter, decimals, share, weight
from counter.reports.blocks import Band, Block, Column, Document, Figures, Table
from counter.reports.daypages import money_table, tax_table, without_taken_back
from counter.reports.daytables import corrections_table, waste_table
from counter.reports.pictures import Bars, Dots, Whereto, hours_picture
from counter.reports.spans import SpanSummary, YieldSpan
from counter.trade.closing import HourDay
from counter.trade.money import half_up

TITLES = {"week": "Week", "month": "Month", "year": "Year"}


def draw_span(summary: SpanSummary, telling: Presenter, second: Path | None = None) -> bytes:
    """The summary of a week, month or year as PDF. Same summary, same bytes."""
    from counter.reports.paper import draw_document

    foot = f"{telling.name}, {summary.first} to {summary.last}"
    document = Document(
        span_title(summary, telling), telling.name, f"{TITLES[summary.kind]}'s report",
        tuple(span_blocks(summary, telling)),
        f"{foot}  ·  from the closings of {len(summary.days)} days", telling.place,
    )  # fmt: skip
    return draw_document(document, telling.paper, "en", second)


def span_title(summary: SpanSummary, telling: Presenter) -> str:
    """``Week 47, Nov 16 to Nov 22, 2026``; ``November 2026``; ``2026``."""
    first, last = summary.first, summary.last
    if summary.kind == "year":
        return str(first.year)
    if summary.kind == "month":
        return f"{first:%B %Y}"
    number = first.isocalendar().week
    return f"Week {number}, {telling.short_date(first)} to {telling.short_date(last)}, {last.year}"


def span_blocks(summary: SpanSummary, telling: Presenter) -> list[Block]:
    """The report from top to bottom."""
    flows = tuple(p.flow for p in summary.products)
    hours = tuple(HourDay(h.hour, h.sales, h.total) for h in summary.hours)
    wasted = tuple(p.wasted_price for p in summary.pieces)
    units = {flow.product: flow.unit for flow in flows}
    aside = "the last value in bold; each picture has its own scale"
    blocks: list[Block] = [
        headline(summary, telling),
        trend("Taken", tuple(p.total for p in summary.pieces), summary, telling, 80),
        trend("Wasted, at price", wasted, summary, telling, 40, True),
        Whereto("Where it went", flows, telling),
        products_table(summary, telling),
        Band((portions_table(summary, telling),), (
            hours_picture("By hour, all days", hours, telling), span_money(summary, telling),
            drawer_table(summary, telling), tax_table(summary.taxes, telling),
        )),
        Band((waste_table(summary.waste, units, telling),), (yields_table(summary, telling),)),
        *(
            Dots(title, tuple(rows), aside)
            for title, rows in (
                ("What 1 kg of dry beans gave", yield_rows(summary, telling)),
                ("Strength of the soy milk, °Brix", brix_rows(summary, telling)),
            )
            if rows
        ),
        days_table(summary, telling),
    ]  # fmt: skip
    if summary.corrections:
        title = "Corrections of these days"
        blocks.append(corrections_table(title, summary.corrections, {}, telling))
    return blocks


def headline(summary: SpanSummary, telling: Presenter) -> Figures:
    count = len(summary.days)
    mean = half_up(Decimal(summary.takings.stayed) / count) if count else 0
    compared = f"{count} days open"
    if summary.before_total and summary.before_days:
        usual = half_up(Decimal(summary.before_total) / summary.before_days)
        sign = "+" if mean >= usual else "−"
        compared = f"{sign}{share(abs(mean - usual), usual)} on the {summary.kind} before"
    outs = sum(p.sold_out for p in summary.products)
    missing = summary.missing_in_all
    drawer = telling.money(abs(missing)) if missing else "exact"
    word = "missing from the drawer" if missing > 0 else "too much in the drawer"
    return Figures(
        (
            (telling.money(summary.total), "Taken", f"{summary.sales} sales on {count} days"),
            (telling.money(mean), "A day, on average", compared),
            (telling.money(summary.wasted_cost), "Wasted, at cost",
             f"{telling.money(summary.wasted_price)} at price"),
            (drawer, "Cash over all days", word if missing else "as expected"),
            (str(outs), "Times sold out", f"{summary.batches} batches, {summary.labels} labels"),
        )
    )  # fmt: skip


def trend(
    title: str, values: tuple[int, ...], summary: SpanSummary, telling: Presenter, tall: float,
    slanted: bool = False,
) -> Bars:  # fmt: skip
    """A figure of each day or month; where there are many bars only the highest has its label."""
    few = len(values) <= 14
    best = max(values, default=0)
    labels = tuple(
        telling.round_money(value) if value and (few or value == best) else "" for value in values
    )
    words = tuple((piece_word(summary.kind, p.first),) for p in summary.pieces)
    return Bars(title, values, labels, words, "", tall, slanted)


def piece_word(kind: str, day: date) -> str:
    if kind == "year":
        return f"{day:%b}"
    return f"{day:%a} {day.day}" if kind == "week" else str(day.day)


def portions_table(summary: SpanSummary, telling: Presenter) -> Table:
    rows: list[tuple[str, ...]] = [
        (p.name, str(p.quantity), telling.money(p.net), share(p.net, net_of(summary)))
        for p in summary.portions
    ]
    if rows:
        count = sum(p.quantity for p in summary.portions)
        rows.append(("*All", str(count), telling.money(net_of(summary)), ""))
    columns = (
        Column("portion", 4.6), Column("number", 1.5, "right"),
        Column("net of discounts", 2.6, "right"), Column("share", 1.4, "right"),
    )  # fmt: skip
    aside = without_taken_back(summary.takings)
    return Table("Sold", columns, tuple(rows), aside, empty="Nothing was sold.")


def net_of(summary: SpanSummary) -> int:
    return sum(p.net for p in summary.portions)


def span_money(summary: SpanSummary, telling: Presenter) -> Table:
    """The money table of a day over all days, and what was corrected since."""
    takings, more = summary.takings, list[tuple[str, int]]()
    if summary.corrected_money:
        more.append(("Corrections of these days", summary.corrected_money))
        more.append(("*Left, as corrected", takings.left + summary.corrected_money))
    return money_table(takings, telling, summary.payments, more)


def drawer_table(summary: SpanSummary, telling: Presenter) -> Table:
    """What was missing from the drawer over all days; below zero is too much."""
    money = telling.money
    rows = (
        ("Missing from the drawer at closing", money(summary.missing)),
        ("Missing from the drawer at the start", money(summary.start_missing)),
        ("Corrected since, expected", money(summary.corrected_drawer)),
        ("*Missing in all", money(summary.missing_in_all)),
    )
    return Table("Cash drawer", (Column("", 4), Column("", 2, "right")), rows, heads=False)


def products_table(summary: SpanSummary, telling: Presenter) -> Table:
    def row(i: int) -> tuple[str, ...]:
        product = summary.products[i]
        flow = product.flow

        def show(amount: int) -> str:
            return telling.some(amount, flow.unit)

        return (
            telling.product(flow.product), show(flow.carried_in), show(flow.made), show(flow.sold),
            show(flow.used), show(flow.wasted_all), show(flow.carried_out), show(flow.variance),
            str(product.days), str(product.sold_out or "–"), telling.money(product.net),
            telling.money(product.wasted_cost), telling.money(product.wasted_price),
        )  # fmt: skip

    titles = ("in", "made", "sold", "used", "wasted", "out", "missing")
    columns = (
        Column("product", 3.7), *(Column(title, 1.6, "right") for title in titles),
        Column("days", 1, "right"), Column("sold out", 1.3, "right"),
        Column("brought", 2, "right"), Column("wasted, cost", 1.9, "right"),
        Column("at price", 1.8, "right"),
    )  # fmt: skip
    rows = tuple(row(i) for i in range(len(summary.products)))
    return Table(
        "Products", columns, rows,
        "in + made = sold + used + wasted + out + missing; below zero is more than the log has",
        empty="Nothing was there.",
    )  # fmt: skip


def kilo_words(found: YieldSpan) -> str:
    if found.per_kilo is None:
        return "–"
    return f"{decimals(found.per_kilo / 1000)} {'l' if found.liquid else 'kg'}"


def yields_table(summary: SpanSummary, telling: Presenter) -> Table:
    def strength(value: Decimal | None) -> str:
        return decimals(value, 1) if value is not None else "–"

    rows = tuple(
        (telling.product(y.product), str(y.batches), weight(y.beans_g), kilo_words(y),
         strength(y.brix), f"{strength(y.brix_least)}–{strength(y.brix_most)}" if y.brix else "–")
        for y in summary.yields
    )  # fmt: skip
    columns = (
        Column("product", 3.6), Column("batches", 1.4, "right"), Column("beans", 1.8, "right"),
        Column("from 1 kg", 1.6, "right"), Column("°Brix", 1.2, "right"),
        Column("from–to", 1.9, "right"),
    )  # fmt: skip
    return Table("Made of beans", columns, rows, empty="Nothing was made.")


def yield_rows(
    summary: SpanSummary, telling: Presenter
) -> list[tuple[str, tuple[float | None, ...], str]]:
    return [
        (telling.product(y.product), y.trend, "{:.2f} l" if y.liquid else "{:.2f} kg")
        for y in summary.yields
        if any(v is not None for v in y.trend)
    ]


def brix_rows(
    summary: SpanSummary, telling: Presenter
) -> list[tuple[str, tuple[float | None, ...], str]]:
    return [
        (telling.product(y.product), y.brix_trend, "{:.1f}")
        for y in summary.yields
        if any(v is not None for v in y.brix_trend)
    ]


def days_table(summary: SpanSummary, telling: Presenter) -> Table:
    """A line a day; a line a month for a year."""
    return months_of(summary, telling) if summary.kind == "year" else days_of(summary, telling)


def months_of(summary: SpanSummary, telling: Presenter) -> Table:
    money = telling.money
    columns = (
        Column("month", 2), Column("days", 1, "right"), Column("sales", 1.4, "right"),
        Column("taken", 2, "right"), Column("a day", 2, "right"),
        Column("wasted, at cost", 2, "right"), Column("at price", 2, "right"),
    )  # fmt: skip
    rows = tuple(
        (f"{p.first:%B}", str(p.days), str(p.sales), money(p.total),
         money(half_up(Decimal(p.total) / p.days)), money(p.wasted_cost), money(p.wasted_price))
        for p in summary.pieces if p.days
    )  # fmt: skip
    return Table("Months", columns, rows, empty="No day is closed.")


def days_of(summary: SpanSummary, telling: Presenter) -> Table:
    money = telling.money
    columns = (
        Column("day", 1.7), Column("sales", 1, "right"), Column("taken", 1.7, "right"),
        Column("discounts", 1.4, "right"), Column("given back", 1.5, "right"),
        Column("wasted, at cost", 1.8, "right"), Column("at price", 1.4, "right"),
        Column("cash missing", 1.7, "right"), Column("at the start", 1.5, "right"),
        Column("sold out", 4.4),
    )  # fmt: skip
    rows = tuple(
        (f"{d.day:%a} {telling.short_date(d.day)}", str(d.sales), money(d.total),
         money(d.discounts), money(d.refunded), money(d.wasted_cost), money(d.wasted_price),
         money(d.missing) if d.counted else "not counted",
         money(d.start_missing) if d.start_missing else "–",
         ", ".join(telling.product(key) for key in d.sold_out))
        for d in summary.days
    )  # fmt: skip
    return Table("Days", columns, rows, empty="No day is closed.")
