"""The closing report on paper: the first page says how the day went, the rest is the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path

from counter.reports.blocks import Band, Column, Figures, Flow, Seal, Table
from counter.reports.daytables import lots_table, remarks, tubs_table, waste_table, yields_table
from counter.reports.pen import A4, ACCENT, BODY, INK, LETTER, MARGIN, SOFT, Pen, writing
from counter.reports.pictures import Hours, Whereto
from counter.reports.summary import DaySummary, PortionSold
from counter.reports.telling import Telling, decimals
from counter.trade.closing import CashDay, grouped
from counter.trade.takings import Takings
from counter.trade.taxes import TaxDay


def draw_day(summary: DaySummary, telling: Telling, second: Path | None = None) -> bytes:
    """The closing report as PDF. Same summary, same bytes."""
    title = f"{telling.shop}, {summary.day}"
    page = LETTER if telling.us else A4
    with writing(page, title, "en", second) as (pen, buffer):
        flow = DayFlow(pen, summary, telling)
        flow.write_head()
        for band in day_bands(summary, telling):
            flow.add(band)
        flow.write_foot()
    return buffer.getvalue()


class DayFlow(Flow):
    """Pages of one day: the date large on the first, small on the others."""

    def __init__(self, pen: Pen, summary: DaySummary, telling: Telling) -> None:
        super().__init__(pen, MARGIN + 62, MARGIN + 26)
        self.summary, self.telling = summary, telling
        state = "open, not sealed"
        if summary.sealed:
            by = f" by {summary.by}" if summary.by else ""
            state = f"sealed {summary.at:%Y-%m-%d %H:%M}{by}"
            self.foot.append(f"seal {grouped(summary.seal[:16])}")  # enough to be compared
        self.foot.insert(0, f"{telling.shop}, {summary.day}: {state}")

    def write_head(self) -> None:
        write_head(
            self.pen, self.telling, self.telling.long_date(self.summary.day), "Closing report",
            "" if self.summary.sealed else "as it stands, not sealed", self.pages,
        )  # fmt: skip


def write_head(pen: Pen, telling: Telling, title: str, kind: str, state: str, page: int) -> None:
    """The head of a page: who, what, and the day or days in large type on the first."""
    base = MARGIN + 8
    right = f"{kind}, {state}" if state else kind
    if page > 1:
        pen.text(MARGIN, base, title, BODY, bold=True)
        pen.text(MARGIN + pen.width, base, right, BODY, colour=SOFT, align="right")
        return
    pen.box(MARGIN, MARGIN - 6, 26, 3, ACCENT)
    used = pen.text(MARGIN, base + 4, telling.shop, BODY, bold=True)
    if telling.place:
        pen.text(MARGIN + used + 6, base + 4, telling.place, BODY, colour=SOFT)
    pen.text(MARGIN + pen.width, base + 4, right, BODY, colour=SOFT, align="right")
    size = 23.0
    while pen.measure(title, size, bold=True) > pen.width:
        size -= 0.5
    pen.text(MARGIN, base + 36, title, size, bold=True, colour=INK)


def day_bands(summary: DaySummary, telling: Telling) -> list[Band]:
    """The report from top to bottom."""
    sealed = Seal(telling.shop, str(summary.day), summary.seal)
    seal = [Band((sealed,))] if summary.seal else []
    bands = [
        Band((headline(summary, telling),)),
        Band(
            (
                portions_table(summary.portions, telling, without_taken_back(summary.takings)),
                money_table(summary.takings, telling, None, corrected_money(summary)),
            ),
            (
                Hours("By hour", summary.hours, telling, sold_out_words(summary, telling)),
                cash_table(summary.cash, telling, sum(c.in_drawer for c in summary.corrected)),
                payments_table(summary, telling),
                tax_table(summary.taxes, telling),
            ),
        ),
        *seal,  # on the first sheet, which is the one that is kept elsewhere
        Band((Whereto("Where it went", summary.flows, telling),)),
        Band((lots_table(summary.lots, telling),)),
        Band(
            (waste_table(summary.waste, {f.product: f.unit for f in summary.flows}, telling),),
            (yields_table(summary.yields, telling),),
        ),
    ]
    if summary.tubs:
        bands.append(Band((tubs_table(summary.tubs, telling),)))
    bands += [Band((block,)) for block in remarks(summary, telling)]
    return bands


def headline(summary: DaySummary, telling: Telling) -> Figures:
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


def portions_table(portions: tuple[PortionSold, ...], telling: Telling, aside: str = "") -> Table:
    """By product and portion; a product of several portions has a line of its own."""
    rows: list[tuple[str, ...]] = []
    for product in dict.fromkeys(p.product for p in portions):
        mine = [p for p in portions if p.product == product]
        unit = mine[0].unit
        drawn = sum(p.drawn for p in mine)
        for sold in mine:
            amount = telling.amount(sold.drawn, unit) if unit != "piece" else ""
            if unit == "piece" and sold.drawn != sold.quantity:
                amount = str(sold.drawn)
            rows.append((sold.name, str(sold.quantity), amount, telling.money(sold.net)))
        if len(mine) > 1:
            net = telling.money(sum(p.net for p in mine))
            name = f"{telling.product(product)}, together"
            rows.append(
                (name, str(sum(p.quantity for p in mine)), telling.amount(drawn, unit), net)
            )
    net = telling.money(sum(p.net for p in portions))
    rows.append(("*All", str(sum(p.quantity for p in portions)), "", net))
    return Table(
        "Sold",
        (Column("portion", 5), Column("number", 1.5, "right"), Column("amount", 2, "right"),
         Column("net of discounts", 2.6, "right")),
        tuple(rows) if portions else (), aside, empty="Nothing was sold.",
    )  # fmt: skip


def sold_out_words(summary: DaySummary, telling: Telling) -> tuple[str, ...]:
    times = sorted(summary.sold_out_at.items(), key=lambda pair: pair[1].timestamp())
    words = (f"{telling.product(key)} {telling.clock(at)}" for key, at in times)
    return tuple(word.replace(" ", "\u00a0") for word in words)


def corrected_money(summary: DaySummary) -> list[tuple[str, int]]:
    """What corrections of a day add to what it took, and what is left then."""
    taken = sum(c.taken for c in summary.corrected)
    lines = ("Corrected since", taken), ("*Left, as corrected", summary.takings.left + taken)
    return list(lines) if taken else []


def money_table(
    takings: Takings, telling: Telling, payments: Mapping[str, int] | None = None,
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


def payments_table(summary: DaySummary, telling: Telling) -> Table:
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


def tax_table(taxes: Sequence[TaxDay], telling: Telling) -> Table:
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


def cash_table(cash: CashDay, telling: Telling, corrected: int = 0) -> Table:
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
