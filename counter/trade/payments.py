"""Kinds of payment, and what a customer offers for a sale settled: the cash part rounded, change.

What is decided by kind is a ``match`` that type checking holds complete, here and in ``refunds``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Literal, assert_never, get_args

import msgspec

from counter.errors import BadInput, NotEnoughPaid, Refused
from counter.trade.money import round_cash, said_money
from labels.say import Said, all_of, say, term

PaymentKind = Literal["cash", "card"]
KINDS: tuple[PaymentKind, ...] = get_args(PaymentKind)


def in_coins(kind: PaymentKind) -> bool:
    """Whether it goes through the drawer: rounded to the smallest coin, with change. What does not
    pays exactly."""
    match kind:
        case "cash":
            return True
        case "card":
            return False
        case _:
            assert_never(kind)


def by_kind(kind: PaymentKind) -> Said:
    """How something is paid, in words."""
    match kind:
        case "cash":
            return term("in cash")
        case "card":
            return term("by card")
        case _:
            assert_never(kind)


def kind_named(text: str) -> PaymentKind | None:
    """The kind that a word names, or None.

    >>> kind_named("Card"), kind_named("cheque")
    ('card', None)
    """
    return next((kind for kind in KINDS if kind == text.strip().lower()), None)


class Payment(msgspec.Struct, frozen=True, kw_only=True):
    """``amount`` is what counts toward the sale; ``given`` is what was handed over in cash."""

    kind: PaymentKind
    amount: int
    given: int = 0
    reference: str = ""


class Tender(msgspec.Struct, frozen=True):
    """What the customer offers: an amount, or None for "the rest"."""

    kind: PaymentKind
    amount: int | None = None
    reference: str = ""


def how_paid(paid: Iterable[Payment | Tender]) -> Said:
    """By which kinds something is paid, in words: ``by card and in cash``."""
    return all_of(map(by_kind, sorted({one.kind for one in paid}))) or term("for nothing")


@lru_cache(512)  # most sales of a day come to a few totals
def settle(
    total: int, tenders: tuple[Tender, ...], *, coin: int, places: int
) -> tuple[tuple[Payment, ...], int, int]:
    """Payments, cash rounding and change for a total. Cards pay exactly, named amounts first.

    A card without an amount pays the rest after the cash that was named. Only the part paid in
    cash is rounded, to ``coin``, after tax.
    """
    tried = say("book a sale of {money}", money=said_money(total, places))
    for tender in tenders:
        if tender.amount is not None and tender.amount < 0:
            why = say("a payment of {money} is below zero", money=said_money(tender.amount, places))
            raise BadInput(tried, why, say("Give money back with a refund"))
    cash = [t for t in tenders if in_coins(t.kind)]
    payments = pay_by_card(tried, total, tenders, coin, places)
    rest = total - sum(p.amount for p in payments)
    due = round_cash(rest, coin) if cash else rest
    given = sum(due if t.amount is None else t.amount for t in cash)
    if given < due:
        missing = said_money(due - given, places)
        why = say("{money} is not paid", money=missing)
        if cash:
            paid = said_money(given, places)
            why = say("{money} in cash is {missing} too little", money=paid, missing=missing)
        do = say("Take the rest in cash or by card")
        raise NotEnoughPaid(tried, why, do, missing=due - given)
    if cash and (due or given):
        payments.append(Payment(kind=cash[0].kind, amount=due, given=given))
    return tuple(payments), due - rest, given - due


def pay_by_card(
    tried: Said, total: int, tenders: Sequence[Tender], coin: int, places: int
) -> list[Payment]:
    """What cards pay of a total: the amounts named, then what the named cash does not cover."""
    payments = []
    rest = total
    named = sum(t.amount or 0 for t in tenders if in_coins(t.kind))
    named -= named % coin  # what no coin can pay is change
    cards = [t for t in tenders if not in_coins(t.kind)]
    for tender in sorted(cards, key=lambda t: t.amount is None):
        enough = bool(named) and named >= round_cash(rest, coin)
        amount = (0 if enough else rest - named) if tender.amount is None else tender.amount
        if amount > rest:
            why = say(
                "the card would pay {money} too much", money=said_money(amount - rest, places)
            )
            raise Refused(tried, why, say("A card pays at most the rest"))
        if amount:
            payments.append(Payment(kind=tender.kind, amount=amount, reference=tender.reference))
        rest -= amount
    return payments
