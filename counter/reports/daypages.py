"""The closing report on paper: the first page says how the day went, the rest is the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path

from counter.present import Presenter, decimals
from counter.reports.blocks import Band, Block, Column, Document, Figures, Seal, Table, Text
from counter.reports.daytables import lots_table, remarks, tubs_table, waste_table, yields_table
from counter.reports.pictures import Whereto, hours_picture
from counter.reports.summary import DaySummary, PortionSold
from counter.trade.closing import CashDay, grouped
from counter.trade.takings import Takings
from counter.trade.taxes import TaxDay


def draw_day(summary: DaySummary, telling: Presenter, second: Path | None = None) -> bytes:
    """The closing report as PDF. Same summary, same bytes."""
    from counter.reports.paper import draw_document

    document = day_document(summary, telling)
    return draw_document(document, telling.paper, "en", second)


def day_document(summary: DaySummary, telling: Presenter) -> Document:
    """The report from top to bottom."""
    state, foot = ", as it stands, not sealed", "open, not sealed"
    if summary.sealed:
        by = f" by {summary.by}" if summary.by else ""
        seal = f"seal {grouped(summary.seal[:16])}"  # enough to be compared
        state, foot = "", f"sealed {summary.at:%Y-%m-%d %H:%M}{by}  ·  {seal}"
    return Document(
        telling.long_date(summary.day), telling.name, f"Closing report{state}",
        tuple(day_blocks(summary, telling)), f"{telling.name}, {summary.day}: {foot}",
        telling.place,
    )  # fmt: skip


def day_blocks(summary: DaySummary, telling: Presenter) -> list[Block]:
    units = {f.product: f.unit for f in summary.flows}
    sold_out = [Text(f"Sold out: {sold_out_words(summary, telling)}")] * bool(summary.sold_out_at)
    seal = [Seal(telling.name, str(summary.day), summary.seal)] if summary.seal else []
    return [
        headline(summary, telling),
        Band(
            (
                portions_table(summary.portions, telling, without_taken_back(summary.takings)),
                money_table(summary.takings, telling, None, corrected_money(summary)),
            ),
            (
                hours_picture("By hour", summary.hours, telling), *sold_out,
                cash_table(summary.cash, telling, sum(c.in_drawer for c in summary.corrected)),
                payments_table(summary, telling),
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
    ]  # fmt: skip


def headline(summary: DaySummary, telling: Presenter) -> Figures:
    cash = summary.cash
    if cash.counted is None:
        drawer, word = telling.money(cash.expected), "expected, not counted"
    elif missing := (
        cash.variance + cash.start_missing + sum(c.in_drawer for c in summary.corrected)
    ):
        drawer = telling.money(abs(missing))
        word = "missing from the drawer" if missing > 0 else "too much in the drawer"
    else:
        drawer, word = "exact", f"{telling.money(cash.counted)} counted"
    money = summary.takings
    return Figures(
        (
            (telling.money(summary.total), "Taken", f"{summary.sales} sales"),
            (telling.money(money.average), "A sale, on average",
             f"{len(summary.portions)} portions sold"),
            (telling.money(summary.wasted_cost), "Wasted, at cost",
             f"{telling.money(summary.wasted_price)} at price"),
            (drawer, "Cash", word),
            (str(len(summary.yields)), "Batches made", f"{label_count(summary)} labels printed"),
        )
    )  # fmt: skip


def label_count(summary: DaySummary) -> int:
    return sum(lot.labels for lot in summary.lots)


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
        (Column("portion", 5), Column("number", 1.5, "right"), Column("amount", 2, "right"),
         Column("net of discounts", 2.6, "right")),
        tuple(rows) if portions else (), aside, empty="Nothing was sold.",
    )  # fmt: skip


def sold_out_words(summary: DaySummary, telling: Presenter) -> str:
    times = sorted(summary.sold_out_at.items(), key=lambda pair: pair[1].timestamp())
    words = (f"{telling.product(key)} {telling.clock(at)}" for key, at in times)
    return ", ".join(word.replace(" ", "\u00a0") for word in words)


def corrected_money(summary: DaySummary) -> list[tuple[str, int]]:
    """What corrections of a day add to what it took, and what is left then."""
    taken = sum(c.taken for c in summary.corrected)
    lines = ("Corrected since", taken), ("*Left, as corrected", summary.takings.left + taken)
    return list(lines) if taken else []


def money_table(
    takings: Takings, telling: Presenter, payments: Mapping[str, int] | None = None,
    more: Sequence[tuple[str, int]] = (),
) -> Table:  # fmt: skip
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
    rows.append((f"*Taken in {takings.sales} sales", "", money(takings.total)))
    rows.append(("Rounding of cash", "", money(takings.rounding)))
    rows.append(("*Paid", "", money(takings.paid)))
    rows += [(f"of it by {kind}", money(n), "") for kind, n in sorted((payments or {}).items())]
    rows.append((f"Given back in {takings.refunds} refunds", "", money(-takings.given_back)))
    rows.append(("*Taken less given back", "", money(takings.left)))
    rows += [(words, "", money(amount)) for words, amount in more]
    columns = (Column("", 4), Column("", 1.6, "right"), Column("", 2, "right"))
    return Table("Money", columns, tuple(rows), heads=False)


def payments_table(summary: DaySummary, telling: Presenter) -> Table:
    rows = tuple(
        (paid.kind.capitalize(), str(paid.payments), telling.money(paid.amount),
         str(paid.refunds or "–"), telling.money(paid.refunded),
         telling.money(paid.amount - paid.refunded))
        for paid in summary.payments
    )  # fmt: skip
    columns = (
        Column("kind", 1.6), Column("payments", 1.5, "right"), Column("paid", 2, "right"),
        Column("refunds", 1.4, "right"), Column("given back", 2, "right"),
        Column("left", 2, "right"),
    )  # fmt: skip
    return Table("Payments", columns, rows, empty="Nobody paid.")


def rate_words(rate: Decimal | None) -> str:
    """``8.6 %``; a dash for what was closed before rates were kept."""
    if rate is None:
        return "–"
    return f"{decimals(rate * 100, 3).rstrip('0').rstrip('.')} %"


def tax_table(taxes: Sequence[TaxDay], telling: Presenter) -> Table:
    """Tax by class and rate, less what refunds gave back, of a day or of a span."""

    def row(tax: TaxDay) -> tuple[str, ...]:
        def show(amount: int) -> str:
            return "–" if tax.rate is None else telling.money(amount)

        return (
            tax.tax_class or "no class", rate_words(tax.rate), show(tax.base), show(tax.left_base),
            telling.money(tax.tax), show(tax.refunded), show(tax.left),
        )  # fmt: skip

    columns = (
        Column("class", 1.6), Column("rate", 1.3, "right"), Column("base", 1.7, "right"),
        Column("base left", 1.7, "right"), Column("tax", 1.4, "right"),
        Column("given back", 1.8, "right"), Column("left", 1.6, "right"),
    )  # fmt: skip
    return Table("Tax", columns, tuple(row(tax) for tax in taxes), empty="Nothing taxed was sold.")


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
        ("At the start", money(cash.start)), ("Sold for cash", money(cash.sales)),
        ("Refunded in cash", money(-cash.refunds)),
    ]  # fmt: skip
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
