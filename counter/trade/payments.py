"""What a customer offers for a sale, settled: payments, the cash part rounded, change."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from counter.errors import BadInput, NotEnoughPaid, Refused
from counter.trade.money import plain_money, round_cash
from counter.trade.sales import Payment, Slip

WAYS = {
    (): "for nothing",
    ("cash",): "in cash",
    ("card",): "by card",
    ("card", "cash"): "by card and in cash",
}


class Tender(msgspec.Struct, frozen=True):
    """What the customer offers: an amount, or None for "the rest"."""

    kind: Literal["cash", "card"]
    amount: int | None = None
    reference: str = ""


def how_paid(paid: Iterable[Payment | Tender]) -> str:
    """By which kinds something is paid, in words."""
    return WAYS[tuple(sorted({one.kind for one in paid}))]


def content_of(slip: Slip, tenders: Sequence[Tender]) -> str:
    """A digest of what a customer bought and how it was paid: all that the slip and the tenders
    say. Prices are no part of it, since they follow from the moment.

    Two payments with one key are the same payment where this is the same.
    """
    said = slip.items, slip.where, slip.discount, tuple(tenders)
    return hashlib.sha256(msgspec.json.encode(said)).hexdigest()[:16]


def settle(
    total: int, tenders: Sequence[Tender], coin: int, places: int
) -> tuple[tuple[Payment, ...], int, int]:
    """Payments, cash rounding and change for a total. Cards pay exactly, named amounts first.

    A card without an amount pays the rest after the cash that was named. Only the part paid in
    cash is rounded, to ``coin``, after tax.
    """
    tried = f"book a sale of {plain_money(total, places)}"
    for tender in tenders:
        if tender.amount is not None and tender.amount < 0:
            why = f"a payment of {plain_money(tender.amount, places)} is below zero"
            raise BadInput(tried, why, "Give money back with a refund")
    cash = [t for t in tenders if t.kind == "cash"]
    payments = pay_by_card(tried, total, tenders, coin, places)
    rest = total - sum(p.amount for p in payments)
    due = round_cash(rest, coin) if cash else rest
    given = sum(due if t.amount is None else t.amount for t in cash)
    if given < due:
        missing = plain_money(due - given, places)
        paid = plain_money(given, places)
        raise NotEnoughPaid(
            tried, f"{paid} in cash is {missing} too little" if cash else f"{missing} is not paid",
            "Take the rest in cash or by card", missing=due - given,
        )  # fmt: skip
    if cash and (due or given):
        payments.append(Payment("cash", due, given=given))
    return tuple(payments), due - rest, given - due


def pay_by_card(
    tried: str, total: int, tenders: Sequence[Tender], coin: int, places: int
) -> list[Payment]:
    """What cards pay of a total: the amounts named, then what the named cash does not cover."""
    payments = []
    rest = total
    named = sum(t.amount or 0 for t in tenders if t.kind == "cash")
    named -= named % coin  # what no coin can pay is change
    cards = [t for t in tenders if t.kind == "card"]
    for tender in sorted(cards, key=lambda t: t.amount is None):
        enough = bool(named) and named >= round_cash(rest, coin)
        amount = (0 if enough else rest - named) if tender.amount is None else tender.amount
        if amount > rest:
            over = plain_money(amount - rest, places)
            raise Refused(
                tried, f"the card would pay {over} too much", "A card pays at most the rest"
            )
        if amount:
            payments.append(Payment("card", amount, reference=tender.reference))
        rest -= amount
    return payments
