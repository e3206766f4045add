"""Money given back for a sale, whole or by line, to the cent and never twice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Literal

import msgspec

from counter.errors import Refused
from counter.trade.money import half_up
from counter.trade.sales import Sale, SaleLine
from counter.trade.stock import Draw


class RefundLine(msgspec.Struct, frozen=True):
    """So many of one line of a sale, given back. ``line`` counts from 1."""

    line: int
    quantity: int
    amount: int
    tax: int
    draws: tuple[Draw, ...] = ()


class Refund(msgspec.Struct, frozen=True):
    """Money given back for a sale or for lines of it.

    ``restocked`` puts the goods back on hand; otherwise they stay sold. Food that has left the
    shop is not sold again: put back only what never left the counter.
    """

    number: str
    sale: str
    lines: tuple[RefundLine, ...]
    amount: int
    kind: Literal["cash", "card"]
    why: str
    at: datetime
    restocked: bool = False
    rounding: int = 0
    reference: str = ""
    by: str = ""


def line_total(sale: Sale, line: SaleLine) -> int:
    """What the customer paid for one line, tax and all."""
    return line.net if sale.included else line.net + line.tax


def refund_lines(
    sale: Sale, before: Sequence[Refund], wanted: Mapping[int, int] | None
) -> list[RefundLine]:
    """What a refund gives back: all that is left of a sale, or so many of each wanted line.

    Refunding a line piece by piece gives back to the cent what the line cost: each step is the
    difference of two shares of the whole, rounded half up.
    """
    tried = f"refund sale {sale.number}"
    gone: dict[int, list[RefundLine]] = {}
    for refund in before:
        for part in refund.lines:
            gone.setdefault(part.line, []).append(part)
    lines = []
    for number, line in enumerate(sale.lines, 1):
        done = sum(p.quantity for p in gone.get(number, []))
        left = line.quantity - done
        quantity = left if wanted is None else wanted.get(number, 0)
        if not quantity:
            continue
        if not 0 < quantity <= left:
            raise Refused(
                tried,
                f"line {number} has {left} left to refund, not {quantity}",
                "Look at the sale and at earlier refunds of it",
            )
        lines.append(_part(sale, number, line, done, quantity))
    unknown = set(wanted or {}) - set(range(1, len(sale.lines) + 1))
    if unknown:
        raise Refused(tried, f"it has no line {min(unknown)}", f"Lines are 1 to {len(sale.lines)}")
    if not lines:
        raise Refused(tried, "nothing of it is left to refund", "Look at earlier refunds of it")
    return lines


def _part(sale: Sale, number: int, line: SaleLine, done: int, quantity: int) -> RefundLine:
    def upto(whole: int, count: int) -> int:
        return half_up(Decimal(whole * count) / line.quantity)

    def between(whole: int) -> int:
        return upto(whole, done + quantity) - upto(whole, done)

    whole = sum(d.amount for d in line.draws)
    draws = []
    skip, rest = upto(whole, done), between(whole)
    for draw in line.draws:
        free = max(0, draw.amount - skip)
        skip = max(0, skip - draw.amount)
        take = min(free, rest)
        rest -= take
        if take:
            draws.append(Draw(draw.lot, take, draw.tub))
    amount = between(line_total(sale, line))
    return RefundLine(number, quantity, amount, between(line.tax), tuple(draws))
