"""What was sold and what came of it, as tables of a report: of a day, or of a span of days."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal

from counter.present import Presenter, decimals, share
from counter.reports.blocks import Column, Table, figures, table, untitled, words
from counter.reports.spans import DayFigures, SpanSummary
from counter.reports.summary import DaySummary, Paid, PortionSold
from counter.trade.closing import CashDay
from counter.trade.money import half_up
from counter.trade.takings import Takings
from counter.trade.taxes import TaxDay
from labels.say import NOTHING, Said, figure, say, say_n, term


def without_taken_back(takings: Takings) -> Said:
    """What a table of portions leaves out; "" where it leaves out nothing."""
    if not takings.taken_back:
        return NOTHING
    return say_n(
        "without {n} sale that was taken back whole",
        "without {n} sales that were taken back whole",
        n=takings.taken_back,
    )


def portions_table(
    portions: tuple[PortionSold, ...], telling: Presenter, aside: Said = NOTHING
) -> Table:
    """By product and portion; a product of several portions has a line of its own."""
    rows: list[tuple[str, ...]] = []
    for product in dict.fromkeys(p.product for p in portions):
        mine = [p for p in portions if p.product == product]
        unit = mine[0].unit
        drawn = sum(p.drawn for p in mine)
        for sold in mine:
            amount = telling.some(sold.drawn, unit) if unit != "piece" else ""
            if unit == "piece" and sold.drawn != sold.quantity:
                amount = str(sold.drawn)
            rows.append((sold.name, str(sold.quantity), amount, telling.money(sold.net)))
        if len(mine) > 1:
            net = telling.money(sum(p.net for p in mine))
            name = say("{product}, together", product=telling.product(product))
            rows.append((name, str(sum(p.quantity for p in mine)), telling.some(drawn, unit), net))
    net = telling.money(sum(p.net for p in portions))
    rows.append((say("*All"), str(sum(p.quantity for p in portions)), "", net))
    return Table(
        say("Sold"),
        (
            Column(say("portion"), 5),
            Column(say("number"), 1.5, "right"),
            Column(say("amount"), 2, "right"),
            Column(say("net of discounts"), 2.6, "right"),
        ),
        tuple(rows) if portions else (),
        aside,
        empty=say("Nothing was sold."),
    )


def portions_of_span(summary: SpanSummary, telling: Presenter) -> Table:
    net = sum(p.net for p in summary.portions)
    count = sum(p.quantity for p in summary.portions)
    return table(
        say("Sold"),
        summary.portions,
        words("portion", 4.6, lambda p: p.name),
        figures("number", 1.5, lambda p: p.quantity),
        figures("net of discounts", 2.6, lambda p: telling.money(p.net)),
        figures("share", 1.4, lambda p: share(p.net, net)),
        all_of=(say("*All"), str(count), telling.money(net), ""),
        aside=without_taken_back(summary.takings),
        empty=say("Nothing was sold."),
    )


def money_table(
    takings: Takings,
    telling: Presenter,
    payments: Mapping[str, int] | None = None,
    more: Sequence[tuple[Said, int]] = (),
) -> Table:
    """From the price tags to what is left, each step a line, of a day or of a span; then ``more``
    lines. The last column adds up; what is part of another line stands in the one before it."""
    money, included = telling.money, telling.included
    price, net = takings.price(included), takings.net(included)
    rows = [(say("At the prices on the tags"), "", money(price))]
    rows.append((say("Discounts"), "", money(-takings.discounts)))
    rows.append((say("*Net of discounts"), "", money(net)))
    if included:
        rows.append((say("of it tax"), money(takings.tax), ""))
    else:
        rows.append((say("Tax on top"), "", money(takings.tax)))
    taken = say_n("*Taken in {n} sale", "*Taken in {n} sales", n=takings.sales)
    rows.append((taken, "", money(takings.total)))
    rows.append((say("Rounding of cash"), "", money(takings.rounding)))
    rows.append((say("*Paid"), "", money(takings.paid)))
    for kind, amount in sorted((payments or {}).items()):
        rows.append((say("of it by {kind}", kind=term(kind)), money(amount), ""))
    back = say_n("Given back in {n} refund", "Given back in {n} refunds", n=takings.refunds)
    rows.append((back, "", money(-takings.given_back)))
    rows.append((say("*Taken less given back"), "", money(takings.left)))
    rows += [(words, "", money(amount)) for words, amount in more]
    columns = (untitled(4), untitled(1.6, "right"), untitled(2, "right"))
    return Table(say("Money"), columns, tuple(rows), heads=False)


def corrected_money(summary: DaySummary) -> list[tuple[Said, int]]:
    """What corrections of a day add to what it took, and what is left then."""
    taken = sum(c.taken for c in summary.corrected)
    left = (say("*Left, as corrected"), summary.takings.left + taken)
    return [(say("Corrected since"), taken), left] if taken else []


def span_money(summary: SpanSummary, telling: Presenter) -> Table:
    """The money table of a day over all days, and what was corrected since."""
    takings, more = summary.takings, list[tuple[Said, int]]()
    if summary.corrected_money:
        more.append((say("Corrections of these days"), summary.corrected_money))
        more.append((say("*Left, as corrected"), takings.left + summary.corrected_money))
    return money_table(takings, telling, summary.payments, more)


def payments_table(payments: Sequence[Paid], telling: Presenter) -> Table:
    money = telling.money
    return table(
        say("Payments"),
        payments,
        words("kind", 1.6, lambda p: term(p.kind.capitalize())),
        figures("payments", 1.5, lambda p: p.payments),
        figures("paid", 2, lambda p: money(p.amount)),
        figures("refunds", 1.8, lambda p: p.refunds or "–"),
        figures("given back", 2, lambda p: money(p.refunded)),
        figures("left", 2, lambda p: money(p.amount - p.refunded)),
        empty=say("Nobody paid."),
    )


def rate_words(rate: Decimal | None) -> str:
    """``8.6 %``; a dash for what was closed before rates were kept."""
    if rate is None:
        return "–"
    return figure(f"{decimals(rate * 100, 3).rstrip('0').rstrip('.')} %")


def tax_table(taxes: Sequence[TaxDay], telling: Presenter) -> Table:
    """Tax by class and rate, less what refunds gave back, of a day or of a span."""

    def known(title: str, wide: float, of: Callable[[TaxDay], int]) -> Column:
        """Figures that are not known of what was closed before rates were kept."""
        return figures(title, wide, lambda t: "–" if t.rate is None else telling.money(of(t)))

    return table(
        say("Tax"),
        taxes,
        words("class", 1.6, lambda t: t.tax_class or say("no class")),
        figures("rate", 1.3, lambda t: rate_words(t.rate)),
        known("base", 1.7, lambda t: t.base),
        known("base left", 1.7, lambda t: t.left_base),
        figures("tax", 1.4, lambda t: telling.money(t.tax)),
        known("given back", 1.8, lambda t: t.refunded),
        known("left", 1.6, lambda t: t.left),
        empty=say("Nothing taxed was sold."),
    )


def cash_table(cash: CashDay, telling: Presenter, corrected: int = 0) -> Table:
    """The drawer over a day; ``corrected`` is what corrections say should have been in it more."""
    money = telling.money
    rows: list[tuple[str, ...]] = []
    if cash.opening is not None:
        rows.append((say("Left at the closing before, or the usual float"), money(cash.opening)))
    if cash.start_missing:
        less, more = say("Missing at the start"), say("Too much at the start")
        word = less if cash.start_missing > 0 else more
        rows.append((word, money(abs(cash.start_missing))))
    rows += [
        (say("At the start"), money(cash.start)),
        (say("Sold for cash"), money(cash.sales)),
        (say("Refunded in cash"), money(-cash.refunds)),
    ]
    if cash.moved_in:
        rows.append((say("Put in"), money(cash.moved_in)))
    if cash.moved_out:
        rows.append((say("Taken out"), money(-cash.moved_out)))
    rows.append((say("*Expected"), money(cash.expected)))
    if cash.counted is None:
        rows.append((say("Counted"), say("not counted")))
    else:
        rows.append((say("Counted"), money(cash.counted)))
        if cash.variance:
            word = say("Missing") if cash.variance > 0 else say("Too much")
            rows.append((word, money(abs(cash.variance))))
        if corrected:
            rows.append((say("Corrected since, expected"), money(corrected)))
            off = cash.variance + corrected
            less, more = say("Missing, as corrected"), say("Too much, as corrected")
            rows.append((less if off >= 0 else more, money(abs(off))))
        rows.append((say("To take out"), money(cash.counted - cash.left)))
    rows.append((say("*Stays in the drawer"), money(cash.left)))
    return Table(say("Cash drawer"), (untitled(4), untitled(2, "right")), tuple(rows), heads=False)


def drawer_table(summary: SpanSummary, telling: Presenter) -> Table:
    """What was missing from the drawer over all days; below zero is too much."""
    money = telling.money
    rows = (
        (say("Missing from the drawer at closing"), money(summary.missing)),
        (say("Missing from the drawer at the start"), money(summary.start_missing)),
        (say("Corrected since, expected"), money(summary.corrected_drawer)),
        (say("*Missing in all"), money(summary.missing_in_all)),
    )
    return Table(say("Cash drawer"), (untitled(4), untitled(2, "right")), rows, heads=False)


def days_table(summary: SpanSummary, telling: Presenter) -> Table:
    """A line a day; a line a month for a year."""
    return months_of(summary, telling) if summary.kind == "year" else days_of(summary, telling)


def months_of(summary: SpanSummary, telling: Presenter) -> Table:
    money = telling.money
    return table(
        say("Months"),
        (p for p in summary.pieces if p.days),
        words("month", 2, lambda p: telling.date(p.first, "LLLL")),
        figures("days", 1, lambda p: p.days),
        figures("sales", 1.4, lambda p: p.sales),
        figures("taken", 2, lambda p: money(p.total)),
        figures("a day", 2, lambda p: money(half_up(Decimal(p.total) / p.days))),
        figures("wasted, at cost", 2, lambda p: money(p.wasted_cost)),
        figures("at price", 2, lambda p: money(p.wasted_price)),
        empty=say("No day is closed."),
    )


def days_of(summary: SpanSummary, telling: Presenter) -> Table:
    money = telling.money

    def missing(day: DayFigures) -> str:
        return money(day.missing) if day.counted else say("not counted")

    return table(
        say("Days"),
        summary.days,
        words("day", 1.7, lambda d: f"{telling.date(d.day, 'EEE')} {telling.short_date(d.day)}"),
        figures("sales", 1, lambda d: d.sales),
        figures("taken", 1.7, lambda d: money(d.total)),
        figures("discounts", 1.4, lambda d: money(d.discounts)),
        figures("given back", 1.5, lambda d: money(d.refunded)),
        figures("wasted, at cost", 1.8, lambda d: money(d.wasted_cost)),
        figures("at price", 1.4, lambda d: money(d.wasted_price)),
        figures(
            "cash missing", 1.7, lambda d: money(d.missing) if d.counted else say("not counted")
        ),
        figures("at the start", 1.5, lambda d: money(d.start_missing) if d.start_missing else "–"),
        words("sold out", 4.4, lambda d: ", ".join(map(telling.product, d.sold_out))),
        empty=say("No day is closed."),
    )
