"""Tax by class and rate over many sales, less what refunds gave back.

The tax of a refund is that of its lines, at the rate of the sale it belongs to, also where that
sale is of an earlier day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal

import msgspec

from counter.trade.money import Minor
from counter.trade.refunds import Refund
from counter.trade.sales import Sale


class TaxDay(msgspec.Struct, frozen=True, kw_only=True):
    """One tax class at one rate, in minor units: base and tax of the sales, what refunds gave back
    of both, and what is left: left_base = base - refunded_base, left = tax - refunded.

    ``rate`` is None in what was closed before rates were kept: then only ``tax`` is known, and
    refunds are not taken off. A base holds the tax where prices do.
    """

    tax_class: str
    rate: Decimal | None
    base: Minor
    tax: Minor
    refunded_base: Minor = 0
    refunded: Minor = 0
    left_base: Minor = 0
    left: Minor = 0


def tax_of(
    tax_class: str, rate: Decimal | None, base: int, tax: int, back_base: int, back: int
) -> TaxDay:
    return TaxDay(
        tax_class=tax_class,
        rate=rate,
        base=base,
        tax=tax,
        refunded_base=back_base,
        refunded=back,
        left_base=base - back_base,
        left=tax - back,
    )


def taxes_by_rate(
    sales: Iterable[Sale], refunds: Iterable[Refund], sale_of: Callable[[str], Sale | None]
) -> tuple[TaxDay, ...]:
    """Tax by class and rate. ``sale_of`` finds the sale of a refund by its number."""
    found: dict[tuple[str, Decimal], list[int]] = {}
    for tax in (t for s in sales for t in s.taxes):
        row = found.setdefault((tax.tax_class, tax.rate), [0, 0, 0, 0])
        row[0], row[1] = row[0] + tax.base, row[1] + tax.tax
    for refund in refunds:
        sale = sale_of(refund.sale)
        rates = {t.tax_class: t.rate for t in sale.taxes} if sale else {}
        for part in refund.lines:
            name = sale.lines[part.line - 1].tax_class if sale else ""
            if name not in rates and not part.tax:
                continue
            row = found.setdefault((name, rates.get(name, Decimal(0))), [0, 0, 0, 0])
            row[2] += part.amount if sale and sale.included else part.amount - part.tax
            row[3] += part.tax
    return tuple(tax_of(*key, *found[key]) for key in sorted(found))


def add_taxes(days: Iterable[tuple[Iterable[TaxDay], Mapping[str, int]]]) -> tuple[TaxDay, ...]:
    """Tax over several days; for a day without rates its tax by class alone."""
    found: dict[tuple[str, Decimal | None], list[int]] = {}
    for by_rate, by_class in days:
        rows = list(by_rate) or [tax_of(k, None, 0, tax, 0, 0) for k, tax in by_class.items()]
        for one in rows:
            row = found.setdefault((one.tax_class, one.rate), [0, 0, 0, 0])
            for i, figure in enumerate((one.base, one.tax, one.refunded_base, one.refunded)):
                row[i] += figure
    keys = sorted(found, key=lambda key: (key[0], key[1] is None, key[1] or 0))
    return tuple(tax_of(*key, *found[key]) for key in keys)
