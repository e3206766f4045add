"""Money given back for a sale, whole or by line, to the cent and never twice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import assert_never

import msgspec

from counter.errors import Refused
from counter.trade.money import half_up, said_money
from counter.trade.payments import KINDS, PaymentKind, by_kind
from counter.trade.sales import Sale, SaleLine
from counter.trade.stock import Draw
from labels.say import say


class RefundLine(msgspec.Struct, frozen=True, kw_only=True):
    """So many of one line of a sale, given back. ``line`` counts from 1."""

    line: int
    quantity: int
    amount: int
    tax: int
    draws: tuple[Draw, ...] = ()


class Refund(msgspec.Struct, frozen=True, kw_only=True):
    """Money given back for a sale or for lines of it.

    ``restocked`` puts the goods back on hand; otherwise they stay sold. Food that has left the
    shop is not sold again: put back only what never left the counter.

    ``kind`` is how ``amount`` went back; ``by_card`` is the part of a refund in cash that went back
    on the card. ``rounding`` is of the cash.
    """

    number: str
    sale: str
    lines: tuple[RefundLine, ...]
    amount: int
    kind: PaymentKind
    why: str
    at: datetime
    restocked: bool = False
    rounding: int = 0
    reference: str = ""
    by: str = ""
    by_card: int = 0

    @property
    def handed(self) -> dict[PaymentKind, int]:
        """What went back by each kind, cash as it was rounded."""
        match self.kind:
            case "card":
                return {"card": self.amount}
            case "cash":
                return {"cash": self.back - self.by_card, "card": self.by_card}
            case _:
                assert_never(self.kind)

    @property
    def on_card(self) -> int:
        """What went back on the card."""
        return self.handed.get("card", 0)

    @property
    def back(self) -> int:
        """What went back in all, as it was handed over."""
        return self.amount + self.rounding

    @property
    def in_cash(self) -> int:
        """What left the drawer, rounded as cash is."""
        return self.handed.get("cash", 0)


def taken_back(sales: Mapping[str, Sale], refunds: Sequence[Refund]) -> set[str]:
    """The numbers of those ``sales`` of which the ``refunds`` gave back every piece."""
    back: dict[str, dict[int, int]] = {}
    for refund in refunds:
        lines = back.setdefault(refund.sale, {})
        for part in refund.lines:
            lines[part.line] = lines.get(part.line, 0) + part.quantity
    return {
        number
        for number, lines in back.items()
        if number in sales
        and all(lines.get(n, 0) >= x.quantity for n, x in enumerate(sales[number].lines, 1))
    }


def left_of_kinds(sale: Sale, before: Sequence[Refund]) -> dict[PaymentKind, int]:
    """What each kind of payment paid of a sale, before cash was rounded, less what went back."""
    left = dict.fromkeys(KINDS, 0)
    for paid in sale.payments:
        left[paid.kind] += paid.amount
    for kind, amount in (back for refund in before for back in refund.handed.items()):
        left[kind] -= amount
    left["cash"] -= sale.rounding - sum(refund.rounding for refund in before)
    return {kind: max(0, amount) for kind, amount in left.items()}


def kind_of(
    sale: Sale, before: Sequence[Refund], amount: int, wanted: PaymentKind | None, places: int
) -> tuple[PaymentKind, int]:
    """How an amount goes back: its kind, and what of it goes on the card where the rest is cash.

    As it was paid: on the card first, the rest in cash. A ``wanted`` kind gives back at most what
    it paid, so that no card is turned into cash.
    """
    left = left_of_kinds(sale, before)
    if wanted is not None:
        if amount > left[wanted]:
            why = say(
                "only {money} of what was paid {how} is left to give back",
                money=said_money(left[wanted], places),
                how=by_kind(wanted),
            )
            tried = say("refund sale {number}", number=sale.number)
            raise Refused(tried, why, say("Give it back as it was paid"))
        return wanted, 0
    card, cash = 0, False
    for paid in sale.payments:
        match paid.kind:
            case "card":
                card = min(amount, left["card"])
            case "cash":
                cash = True
            case _:
                assert_never(paid.kind)
    if card == amount and (amount or not cash):
        return "card", 0
    return "cash", card


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
    tried = say("refund sale {number}", number=sale.number)
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
            why = say(
                "line {n} has {left} left to refund, not {wanted}",
                n=number,
                left=left,
                wanted=quantity,
            )
            raise Refused(tried, why, say("Look at the sale and at earlier refunds of it"))
        lines.append(_part(sale, number, line, done, quantity))
    unknown = set(wanted or {}) - set(range(1, len(sale.lines) + 1))
    if unknown:
        why = say("it has no line {n}", n=min(unknown))
        raise Refused(tried, why, say("Lines are 1 to {most}", most=len(sale.lines)))
    if not lines:
        raise Refused(
            tried, say("nothing of it is left to refund"), say("Look at earlier refunds of it")
        )
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
            draws.append(Draw(lot=draw.lot, amount=take, tub=draw.tub, how=draw.how))
    amount = between(line_total(sale, line))
    return RefundLine(
        line=number, quantity=quantity, amount=amount, tax=between(line.tax), draws=tuple(draws)
    )
