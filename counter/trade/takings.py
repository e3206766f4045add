"""What came in over a day or a span, step by step, so that the column adds up.

price - discounts = net; net + tax on top = total; total + rounding = paid;
paid - given back = left. Money in minor units.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

import msgspec

from counter.trade.money import Minor, half_up


class Takings(msgspec.Struct, frozen=True, kw_only=True):
    """``tax`` is that of the sales, on top of them or in them; ``given_back`` is what refunds gave,
    as it was handed over: rounded where it was cash. Of the ``sales``, ``taken_back`` went back
    whole on their own day, ``taken_back_total`` of the ``total``.
    """

    sales: int = 0
    total: Minor = 0
    discounts: Minor = 0
    tax: Minor = 0
    paid: Minor = 0
    refunds: int = 0
    given_back: Minor = 0
    taken_back: int = 0
    taken_back_total: Minor = 0

    @property
    def rounding(self) -> int:
        """What rounding to the smallest coin added to cash sales."""
        return self.paid - self.total

    @property
    def left(self) -> int:
        """Taken less given back."""
        return self.paid - self.given_back

    @property
    def stayed(self) -> int:
        """The total of the sales that were not taken back: what averages are made from."""
        return self.total - self.taken_back_total

    @property
    def average(self) -> int:
        """A sale on average, half up; 0 where there was none."""
        count = self.sales - self.taken_back
        return half_up(Decimal(self.stayed) / count) if count else 0

    def net(self, included: bool) -> int:
        """Net of discounts; ``included`` says whether prices hold the tax."""
        return self.total - (0 if included else self.tax)

    def price(self, included: bool) -> int:
        """At the prices on the tags."""
        return self.net(included) + self.discounts


def add_takings(days: Iterable[Takings]) -> Takings:
    """The sum over some days."""
    sums = dict.fromkeys(Takings.__struct_fields__, 0)
    for day in days:
        for name in sums:
            sums[name] += getattr(day, name)
    return Takings(**sums)
