"""Reports on paper, of a day and of a span of days: the first page says how it went, the rest is
the record."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

from counter.present import Presenter, several, share
from counter.reports.blocks import Band, Block, Document, Figures, Seal, Text
from counter.reports.goods_tables import (
    lots_table,
    products_table,
    tubs_table,
    waste_table,
    yields_of_span,
    yields_table,
)
from counter.reports.money_tables import (
    cash_table,
    corrected_money,
    days_table,
    drawer_table,
    money_table,
    payments_table,
    portions_of_span,
    portions_table,
    span_money,
    tax_table,
    without_taken_back,
)
from counter.reports.pictures import Bars, Dots, Whereto, hours_picture
from counter.reports.remarks import corrections_table, remarks
from counter.reports.spans import SpanSummary, YieldSpan
from counter.reports.summary import DaySummary
from counter.trade.closing import grouped
from counter.trade.money import half_up


def draw_report(
    summary: DaySummary | SpanSummary, telling: Presenter, second: Path | None = None
) -> bytes:
    """The report of a day, week, month or year as PDF. Same summary, same bytes."""
    from counter.reports.paper import draw_document

    if isinstance(summary, DaySummary):
        document = day_document(summary, telling)
    else:
        document = span_document(summary, telling)
    return draw_document(document, telling.paper, "en", second)


def day_document(summary: DaySummary, telling: Presenter) -> Document:
    """The report from top to bottom."""
    state, foot = ", as it stands, not sealed", "open, not sealed"
    if summary.sealed:
        by = f" by {summary.by}" if summary.by else ""
        seal = f"seal {grouped(summary.seal[:16])}"  # enough to be compared
        state, foot = "", f"sealed {summary.at:%Y-%m-%d %H:%M}{by}  ·  {seal}"
    return Document(
        telling.long_date(summary.day),
        telling.name,
        f"Closing report{state}",
        tuple(day_blocks(summary, telling)),
        f"{telling.name}, {summary.day}: {foot}",
        telling.place,
    )


def day_blocks(summary: DaySummary, telling: Presenter) -> list[Block]:
    units = {f.product: f.unit for f in summary.flows}
    sold_out = [Text(f"Sold out: {sold_out_words(summary, telling)}", below=13.0)]
    seal = [Seal(telling.name, str(summary.day), summary.seal)] if summary.seal else []
    return [
        day_figures(summary, telling),
        Band(
            (
                portions_table(summary.portions, telling, without_taken_back(summary.takings)),
                money_table(summary.takings, telling, None, corrected_money(summary)),
            ),
            (
                hours_picture("By hour", summary.hours, telling),
                *sold_out * bool(summary.sold_out_at),
                cash_table(summary.cash, telling, sum(c.in_drawer for c in summary.corrected)),
                payments_table(summary.payments, telling),
                tax_table(summary.taxes, telling),
            ),
        ),
        *seal,  # on the first sheet, which is the one that is kept elsewhere
        Whereto("Where it went", summary.flows, telling),
        lots_table(summary.lots, telling),
        Band(
            (waste_table(summary.waste, units, telling),), (yields_table(summary.yields, telling),)
        ),
        *([tubs_table(summary.tubs, telling)] if summary.tubs else []),
        *remarks(summary, telling),
    ]


def day_figures(summary: DaySummary, telling: Presenter) -> Figures:
    cash = summary.cash
    if cash.counted is None:
        drawer, word = telling.money(cash.expected), "expected, not counted"
    elif missing := (
        cash.variance + cash.start_missing + sum(c.in_drawer for c in summary.corrected)
    ):
        drawer, word = telling.money(abs(missing)), missing_words(missing)
    else:
        drawer, word = "exact", f"{telling.money(cash.counted)} counted"
    money, labels = summary.takings, sum(lot.labels for lot in summary.lots)
    return Figures(
        (
            (telling.money(summary.total), "Taken", several(summary.sales, "sale")),
            (
                telling.money(money.average),
                "A sale, on average",
                f"{several(len(summary.portions), 'portion')} sold",
            ),
            (
                telling.money(summary.wasted_cost),
                "Wasted, at cost",
                f"{telling.money(summary.wasted_price)} at price",
            ),
            (drawer, "Cash", word),
            (str(len(summary.yields)), "Batches made", f"{several(labels, 'label')} printed"),
        )
    )


def missing_words(missing: int) -> str:
    return "missing from the drawer" if missing > 0 else "too much in the drawer"


def sold_out_words(summary: DaySummary, telling: Presenter) -> str:
    times = sorted(summary.sold_out_at.items(), key=lambda pair: pair[1].timestamp())
    words = (f"{telling.product(key)} {telling.clock(at)}" for key, at in times)
    return ", ".join(word.replace(" ", "\u00a0") for word in words)


def span_document(summary: SpanSummary, telling: Presenter) -> Document:
    """The same of a week, month or year: the trend first, then the figures behind it."""
    foot = f"{telling.name}, {summary.first} to {summary.last}"
    return Document(
        span_title(summary, telling),
        telling.name,
        f"{summary.kind.capitalize()}'s report",
        tuple(span_blocks(summary, telling)),
        f"{foot}  ·  from the closings of {several(len(summary.days), 'day')}",
        telling.place,
    )


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
    wasted = tuple(p.wasted_price for p in summary.pieces)
    units = {flow.product: flow.unit for flow in flows}
    blocks: list[Block] = [
        span_figures(summary, telling),
        trend("Taken", tuple(p.total for p in summary.pieces), summary, telling, 80),
        trend("Wasted, at price", wasted, summary, telling, 40, True),
        Whereto("Where it went", flows, telling),
        products_table(summary.products, telling),
        Band(
            (portions_of_span(summary, telling),),
            (
                hours_picture("By hour, all days", summary.hours, telling),
                span_money(summary, telling),
                drawer_table(summary, telling),
                tax_table(summary.taxes, telling),
            ),
        ),
        Band(
            (waste_table(summary.waste, units, telling),),
            (yields_of_span(summary.yields, telling),),
        ),
        *dots(
            "What 1 kg of dry beans gave",
            summary,
            telling,
            lambda y: y.trend,
            lambda y: "{:.2f} l" if y.liquid else "{:.2f} kg",
        ),
        *dots(
            "Strength of the soy milk, °Brix",
            summary,
            telling,
            lambda y: y.brix_trend,
            lambda _: "{:.1f}",
        ),
        days_table(summary, telling),
    ]
    if summary.corrections:
        title = "Corrections of these days"
        blocks.append(corrections_table(title, summary.corrections, {}, telling))
    return blocks


def span_figures(summary: SpanSummary, telling: Presenter) -> Figures:
    count = len(summary.days)
    mean = half_up(Decimal(summary.takings.stayed) / count) if count else 0
    sales, days = several(summary.sales, "sale"), several(count, "day")
    compared = f"{days} open"
    if summary.before_total and summary.before_days:
        usual = half_up(Decimal(summary.before_total) / summary.before_days)
        sign = "+" if mean >= usual else "−"
        compared = f"{sign}{share(abs(mean - usual), usual)} on the {summary.kind} before"
    outs = sum(p.sold_out for p in summary.products)
    batches = several(summary.batches, "batch", "batches")
    missing = summary.missing_in_all
    drawer = telling.money(abs(missing)) if missing else "exact"
    word = missing_words(missing) if missing else "as expected"
    return Figures(
        (
            (telling.money(summary.total), "Taken", f"{sales} on {days}"),
            (telling.money(mean), "A day, on average", compared),
            (
                telling.money(summary.wasted_cost),
                "Wasted, at cost",
                f"{telling.money(summary.wasted_price)} at price",
            ),
            (drawer, "Cash over all days", word),
            (str(outs), "Times sold out", f"{batches}, {several(summary.labels, 'label')}"),
        )
    )


def trend(
    title: str,
    values: tuple[int, ...],
    summary: SpanSummary,
    telling: Presenter,
    tall: float,
    slanted: bool = False,
) -> Bars:
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


def dots(
    title: str,
    summary: SpanSummary,
    telling: Presenter,
    values: Callable[[YieldSpan], tuple[float | None, ...]],
    form: Callable[[YieldSpan], str],
) -> list[Dots]:
    """A figure of each product over the span; none where none was noted."""
    rows = tuple(
        (telling.product(y.product), values(y), form(y))
        for y in summary.yields
        if any(v is not None for v in values(y))
    )
    aside = "the last value in bold; each picture has its own scale"
    return [Dots(title, rows, aside)] if rows else []
