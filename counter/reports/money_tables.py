"""What was sold and what came of it, as tables of a report: of a day, or of a span of days."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal

from counter.present import Presenter, decimals, several, share
from counter.reports.blocks import Column, Table, figures, table, words
from counter.reports.spans import SpanSummary
from counter.reports.summary import DaySummary, Paid, PortionSold
from counter.trade.closing import CashDay
from counter.trade.money import half_up
from counter.trade.takings import Takings
from counter.trade.taxes import TaxDay


def without_taken_back(takings: Takings) -> str:
    """What a table of portions leaves out; "" where it leaves out nothing."""
    count = takings.taken_back
    sales = "1 sale that was" if count == 1 else f"{count} sales that were"
    return f"without {sales} taken back whole" if count else ""


def portions_table(portions: tuple[PortionSold, ...], telling: Presenter, aside: str = "") -> Table:
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
            name = f"{telling.product(product)}, together"
            rows.append((name, str(sum(p.quantity for p in mine)), telling.some(drawn, unit), net))
    net = telling.money(sum(p.net for p in portions))
    rows.append(("*All", str(sum(p.quantity for p in portions)), "", net))
    return Table(
        "Sold",
        (
            Column("portion", 5),
            Column("number", 1.5, "right"),
            Column("amount", 2, "right"),
            Column("net of discounts", 2.6, "right"),
        ),
        tuple(rows) if portions else (),
        aside,
        empty="Nothing was sold.",
    )


def portions_of_span(summary: SpanSummary, telling: Presenter) -> Table:
    net = sum(p.net for p in summary.portions)
    count = sum(p.quantity for p in summary.portions)
    return table(
        "Sold",
        summary.portions,
        words("portion", 4.6, lambda p: p.name),
        figures("number", 1.5, lambda p: p.quantity),
        figures("net of discounts", 2.6, lambda p: telling.money(p.net)),
        figures("share", 1.4, lambda p: share(p.net, net)),
        all_of=("*All", str(count), telling.money(net), ""),
        aside=without_taken_back(summary.takings),
        empty="Nothing was sold.",
    )


def money_table(
    takings: Takings,
    telling: Presenter,
    payments: Mapping[str, int] | None = None,
    more: Sequence[tuple[str, int]] = (),
) -> Table:
    """From the price tags to what is left, each step a line, of a day or of a span; then ``more``
    lines. The last column adds up; what is part of another line stands in the one before it."""
    money, included = telling.money, telling.included
    price, net = takings.price(included), takings.net(included)
    rows: list[tuple[str, str, str]] = [("At the prices on the tags", "", money(price))]
    rows.append(("Discounts", "", money(-takings.discounts)))
    rows.append(("*Net of discounts", "", money(net)))
    if included:
        rows.append(("of it tax", money(takings.tax), ""))
    else:
        rows.append(("Tax on top", "", money(takings.tax)))
    rows.append((f"*Taken in {several(takings.sales, 'sale')}", "", money(takings.total)))
    rows.append(("Rounding of cash", "", money(takings.rounding)))
    rows.append(("*Paid", "", money(takings.paid)))
    rows += [(f"of it by {kind}", money(n), "") for kind, n in sorted((payments or {}).items())]
    refunds = several(takings.refunds, "refund")
    rows.append((f"Given back in {refunds}", "", money(-takings.given_back)))
    rows.append(("*Taken less given back", "", money(takings.left)))
    rows += [(words, "", money(amount)) for words, amount in more]
    columns = (Column("", 4), Column("", 1.6, "right"), Column("", 2, "right"))
    return Table("Money", columns, tuple(rows), heads=False)


def corrected_money(summary: DaySummary) -> list[tuple[str, int]]:
    """What corrections of a day add to what it took, and what is left then."""
    taken = sum(c.taken for c in summary.corrected)
    lines = ("Corrected since", taken), ("*Left, as corrected", summary.takings.left + taken)
    return list(lines) if taken else []


def span_money(summary: SpanSummary, telling: Presenter) -> Table:
    """The money table of a day over all days, and what was corrected since."""
    takings, more = summary.takings, list[tuple[str, int]]()
    if summary.corrected_money:
        more.append(("Corrections of these days", summary.corrected_money))
        more.append(("*Left, as corrected", takings.left + summary.corrected_money))
    return money_table(takings, telling, summary.payments, more)


def payments_table(payments: Sequence[Paid], telling: Presenter) -> Table:
    money = telling.money
    return table(
        "Payments",
        payments,
        words("kind", 1.6, lambda p: p.kind.capitalize()),
        figures("payments", 1.5, lambda p: p.payments),
        figures("paid", 2, lambda p: money(p.amount)),
        figures("refunds", 1.4, lambda p: p.refunds or "–"),
        figures("given back", 2, lambda p: money(p.refunded)),
        figures("left", 2, lambda p: money(p.amount - p.refunded)),
        empty="Nobody paid.",
    )


def rate_words(rate: Decimal | None) -> str:
    """``8.6 %``; a dash for what was closed before rates were kept."""
    if rate is None:
        return "–"
    return f"{decimals(rate * 100, 3).rstrip('0').rstrip('.')} %"


def tax_table(taxes: Sequence[TaxDay], telling: Presenter) -> Table:
    """Tax by class and rate, less what refunds gave back, of a day or of a span."""

    def known(title: str, wide: float, of: Callable[[TaxDay], int]) -> Column:
        """Figures that are not known of what was closed before rates were kept."""
        return figures(title, wide, lambda t: "–" if t.rate is None else telling.money(of(t)))

    return table(
        "Tax",
        taxes,
        words("class", 1.6, lambda t: t.tax_class or "no class"),
        figures("rate", 1.3, lambda t: rate_words(t.rate)),
        known("base", 1.7, lambda t: t.base),
        known("base left", 1.7, lambda t: t.left_base),
        figures("tax", 1.4, lambda t: telling.money(t.tax)),
        known("given back", 1.8, lambda t: t.refunded),
        known("left", 1.6, lambda t: t.left),
        empty="Nothing taxed was sold.",
    )


def cash_table(cash: CashDay, telling: Presenter, corrected: int = 0) -> Table:
    """The drawer over a day; ``corrected`` is what corrections say should have been in it more."""
    money = telling.money
    rows: list[tuple[str, ...]] = []
    if cash.opening is not None:
        rows.append(("Left at the closing before, or the usual float", money(cash.opening)))
    if cash.start_missing:
        word = "Missing" if cash.start_missing > 0 else "Too much"
        rows.append((f"{word} at the start", money(abs(cash.start_missing))))
    rows += [
        ("At the start", money(cash.start)),
        ("Sold for cash", money(cash.sales)),
        ("Refunded in cash", money(-cash.refunds)),
    ]
    if cash.moved_in:
        rows.append(("Put in", money(cash.moved_in)))
    if cash.moved_out:
        rows.append(("Taken out", money(-cash.moved_out)))
    rows.append(("*Expected", money(cash.expected)))
    if cash.counted is None:
        rows.append(("Counted", "not counted"))
    else:
        rows.append(("Counted", money(cash.counted)))
        if cash.variance:
            word = "Missing" if cash.variance > 0 else "Too much"
            rows.append((word, money(abs(cash.variance))))
        if corrected:
            rows.append(("Corrected since, expected", money(corrected)))
            off = cash.variance + corrected
            word = "Missing" if off >= 0 else "Too much"
            rows.append((f"{word}, as corrected", money(abs(off))))
        rows.append(("To take out", money(cash.counted - cash.left)))
    rows.append(("*Stays in the drawer", money(cash.left)))
    return Table("Cash drawer", (Column("", 4), Column("", 2, "right")), tuple(rows), heads=False)


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


def days_table(summary: SpanSummary, telling: Presenter) -> Table:
    """A line a day; a line a month for a year."""
    return months_of(summary, telling) if summary.kind == "year" else days_of(summary, telling)


def months_of(summary: SpanSummary, telling: Presenter) -> Table:
    money = telling.money
    return table(
        "Months",
        (p for p in summary.pieces if p.days),
        words("month", 2, lambda p: f"{p.first:%B}"),
        figures("days", 1, lambda p: p.days),
        figures("sales", 1.4, lambda p: p.sales),
        figures("taken", 2, lambda p: money(p.total)),
        figures("a day", 2, lambda p: money(half_up(Decimal(p.total) / p.days))),
        figures("wasted, at cost", 2, lambda p: money(p.wasted_cost)),
        figures("at price", 2, lambda p: money(p.wasted_price)),
        empty="No day is closed.",
    )


def days_of(summary: SpanSummary, telling: Presenter) -> Table:
    money = telling.money
    return table(
        "Days",
        summary.days,
        words("day", 1.7, lambda d: f"{d.day:%a} {telling.short_date(d.day)}"),
        figures("sales", 1, lambda d: d.sales),
        figures("taken", 1.7, lambda d: money(d.total)),
        figures("discounts", 1.4, lambda d: money(d.discounts)),
        figures("given back", 1.5, lambda d: money(d.refunded)),
        figures("wasted, at cost", 1.8, lambda d: money(d.wasted_cost)),
        figures("at price", 1.4, lambda d: money(d.wasted_price)),
        figures("cash missing", 1.7, lambda d: money(d.missing) if d.counted else "not counted"),
        figures("at the start", 1.5, lambda d: money(d.start_missing) if d.start_missing else "–"),
        words("sold out", 4.4, lambda d: ", ".join(map(telling.product, d.sold_out))),
        empty="No day is closed.",
    )
