"""Reports on paper, of a day and of a span of days: the first page says how it went, the rest is
the record."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

from counter.present import Presenter, share
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
from labels.say import Said, figure, join, say, say_n, term, typed

REPORTS = {
    "week": say("Week's report"),
    "month": say("Month's report"),
    "year": say("Year's report"),
}


def draw_report(
    summary: DaySummary | SpanSummary, telling: Presenter, second: Path | None = None
) -> bytes:
    """The report of a day, week, month or year as PDF. Same summary, same bytes."""
    from counter.reports.paper import draw_document

    if isinstance(summary, DaySummary):
        document = day_document(summary, telling)
    else:
        document = span_document(summary, telling)
    return draw_document(document, telling.paper, telling.locale, second)


def day_document(summary: DaySummary, telling: Presenter) -> Document:
    """The report from top to bottom."""
    kind, foot = say("Closing report, as it stands, not sealed"), say("open, not sealed")
    if summary.sealed:
        kind, moment = say("Closing report"), telling.moment(summary.at)
        foot = say("sealed {moment}", moment=moment)
        if summary.by:
            foot = say("sealed {moment} by {name}", moment=moment, name=summary.by)
        seal = grouped(summary.seal[:16])  # enough to be compared
        foot = say("{sealed}  ·  seal {seal}", sealed=foot, seal=seal)
    name = telling.name
    return Document(
        typed(telling.date(summary.day, "full")),
        name,
        kind,
        tuple(day_blocks(summary, telling)),
        say("{name}, {date}: {foot}", name=name, date=telling.date(summary.day), foot=foot),
        telling.place,
    )


def day_blocks(summary: DaySummary, telling: Presenter) -> list[Block]:
    units = {f.product: f.unit for f in summary.flows}
    sold_out = [Text(say("Sold out: {what}", what=sold_out_words(summary, telling)), below=13.0)]
    seal = [Seal(telling.name, str(summary.day), summary.seal)] if summary.seal else []
    return [
        day_figures(summary, telling),
        Band(
            (
                portions_table(summary.portions, telling, without_taken_back(summary.takings)),
                money_table(summary.takings, telling, None, corrected_money(summary)),
            ),
            (
                hours_picture(say("By hour"), summary.hours, telling),
                *sold_out * bool(summary.sold_out_at),
                cash_table(summary.cash, telling, sum(c.in_drawer for c in summary.corrected)),
                payments_table(summary.payments, telling),
                tax_table(summary.taxes, telling),
            ),
        ),
        *seal,  # on the first sheet, which is the one that is kept elsewhere
        Whereto(say("Where it went"), summary.flows, telling),
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
        drawer, word = telling.money(cash.expected), say("expected, not counted")
    elif missing := (
        cash.variance + cash.start_missing + sum(c.in_drawer for c in summary.corrected)
    ):
        drawer, word = telling.money(abs(missing)), missing_words(missing)
    else:
        drawer, word = say("exact"), say("{money} counted", money=telling.money(cash.counted))
    money, labels = summary.takings, sum(lot.labels for lot in summary.lots)
    sold = say_n("{n} portion sold", "{n} portions sold", n=len(summary.portions))
    printed = say_n("{n} label printed", "{n} labels printed", n=labels)
    return Figures(
        (
            (telling.money(summary.total), say("Taken"), sales_words(summary.sales)),
            (telling.money(money.average), say("A sale, on average"), sold),
            wasted_figure(summary, telling),
            (drawer, say("Cash"), word),
            (str(len(summary.yields)), say("Batches made"), printed),
        )
    )


def sales_words(count: int) -> Said:
    return say_n("{n} sale", "{n} sales", n=count)


def wasted_figure(summary: DaySummary | SpanSummary, telling: Presenter) -> tuple[str, Said, Said]:
    price = say("{money} at price", money=telling.money(summary.wasted_price))
    return telling.money(summary.wasted_cost), say("Wasted, at cost"), price


def missing_words(missing: int) -> Said:
    return say("missing from the drawer") if missing > 0 else say("too much in the drawer")


def sold_out_words(summary: DaySummary, telling: Presenter) -> str:
    times = sorted(summary.sold_out_at.items(), key=lambda pair: pair[1].timestamp())
    words = (f"{telling.product(key)} {telling.clock(at)}" for key, at in times)
    return ", ".join(word.replace(" ", "\u00a0") for word in words)


def span_document(summary: SpanSummary, telling: Presenter) -> Document:
    """The same of a week, month or year: the trend first, then the figures behind it."""
    days = say_n("{n} day", "{n} days", n=len(summary.days))
    return Document(
        span_title(summary, telling),
        telling.name,
        REPORTS[summary.kind],
        tuple(span_blocks(summary, telling)),
        say(
            "{name}, {first} to {last}  ·  from the closings of {days}",
            name=telling.name,
            first=telling.date(summary.first),
            last=telling.date(summary.last),
            days=days,
        ),
        telling.place,
    )


def span_title(summary: SpanSummary, telling: Presenter) -> Said:
    """``Week 47, Nov 16 to Nov 22, 2026``; ``November 2026``; ``2026``."""
    first, last = summary.first, summary.last
    if summary.kind == "year":
        return typed(str(first.year))
    if summary.kind == "month":
        return typed(telling.month(first))
    return say(
        "Week {number}, {first} to {last}",
        number=first.isocalendar().week,
        first=telling.short_date(first),
        last=telling.date(last),
    )


def span_blocks(summary: SpanSummary, telling: Presenter) -> list[Block]:
    """The report from top to bottom."""
    flows = tuple(p.flow for p in summary.products)
    wasted = tuple(p.wasted_price for p in summary.pieces)
    units = {flow.product: flow.unit for flow in flows}
    blocks: list[Block] = [
        span_figures(summary, telling),
        trend(say("Taken"), tuple(p.total for p in summary.pieces), summary, telling, 80),
        trend(say("Wasted, at price"), wasted, summary, telling, 40, True),
        Whereto(say("Where it went"), flows, telling),
        products_table(summary.products, telling),
        Band(
            (portions_of_span(summary, telling),),
            (
                hours_picture(say("By hour, all days"), summary.hours, telling),
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
            say("What 1 kg of dry beans gave"),
            summary,
            telling,
            lambda y: y.trend,
            lambda y: "{:.2f} l" if y.liquid else "{:.2f} kg",
        ),
        *dots(
            say("Strength of the soy milk, °Brix"),
            summary,
            telling,
            lambda y: y.brix_trend,
            lambda _: "{:.1f}",
        ),
        days_table(summary, telling),
    ]
    if summary.corrections:
        title = say("Corrections of these days")
        blocks.append(corrections_table(title, summary.corrections, {}, telling))
    return blocks


def span_figures(summary: SpanSummary, telling: Presenter) -> Figures:
    count = len(summary.days)
    mean = half_up(Decimal(summary.takings.stayed) / count) if count else 0
    open_on = say_n("{n} day open", "{n} days open", n=count)
    compared, sales = open_on, sales_words(summary.sales)
    on_days = say_n("{sales} on {n} day", "{sales} on {n} days", n=count, sales=sales)
    if summary.before_total and summary.before_days:
        usual = half_up(Decimal(summary.before_total) / summary.before_days)
        sign = "+" if mean >= usual else "−"
        change = figure(f"{sign}{share(abs(mean - usual), usual)}")
        compared = say("{share} on the {kind} before", share=change, kind=term(summary.kind))
    outs = sum(p.sold_out for p in summary.products)
    batches = say_n("{n} batch", "{n} batches", n=summary.batches)
    labels = say_n("{n} label", "{n} labels", n=summary.labels)
    missing = summary.missing_in_all
    drawer = telling.money(abs(missing)) if missing else say("exact")
    word = missing_words(missing) if missing else say("as expected")
    return Figures(
        (
            (telling.money(summary.total), say("Taken"), on_days),
            (telling.money(mean), say("A day, on average"), compared),
            wasted_figure(summary, telling),
            (drawer, say("Cash over all days"), word),
            (str(outs), say("Times sold out"), join(", ", (batches, labels))),
        )
    )


def trend(
    title: Said,
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
    words = tuple((piece_word(summary.kind, p.first, telling),) for p in summary.pieces)
    return Bars(title, values, labels, words, tall=tall, slanted=slanted)


def piece_word(kind: str, day: date, telling: Presenter) -> str:
    if kind == "year":
        return telling.date(day, "LLL")
    return telling.day(day) if kind == "week" else str(day.day)


def dots(
    title: Said,
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
    aside = say("the last value in bold; each picture has its own scale")
    return [Dots(title, rows, aside)] if rows else []
