"""Reading an order as somebody types it: ``firm-block*2``, ``cup-small+ginger``, ``pressed:0.4kg``.

``@LOT`` names the lot. A lot code or any code a scanner types stands for the pack it is on.
"""

from __future__ import annotations

import re
from datetime import time
from decimal import Decimal, InvalidOperation

from counter.errors import BadInput
from counter.trade.money import parse_money
from counter.trade.payments import PaymentKind, Tender, kind_named
from counter.trade.sales import Discount, SlipItem
from counter.trade.units import parse_clock
from labels.say import say, term
from labels.units import parse_measure

_ITEM = (
    r"(?P<what>[a-z0-9-]+)"
    r"(?P<toppings>(?:\+[a-z0-9-]+)*)"
    r"(?:@(?P<lot>[0-9]{5}-[0-9]{2}))?"
    r"(?::(?P<weight>[0-9.]+ ?[a-z]+))?"
    r"(?:\*(?P<quantity>-?[0-9]+))?"
)
EXPECTED = say("Write it as firm-block*2, cup-small+ginger, pressed:0.35kg or scan its label")


def parse_item(text: str) -> SlipItem:
    """An item of a slip from text; its portion is still only a name.

    >>> parse_item("cup-small+ginger*2").toppings
    ('ginger',)
    """
    match = re.fullmatch(_ITEM, text.strip())
    if match is None or len(text) > 200:
        raise BadInput(
            say("read item '{text}'", text=text[:60]), say("it is not written as an item"), EXPECTED
        )
    weight = match["weight"]
    return SlipItem(
        portion=match["what"],
        quantity=int((match["quantity"] or "1")[:9]),
        lot=match["lot"] or "",
        toppings=tuple(t for t in match["toppings"].split("+") if t),
        weight=parse_measure(weight, "mass") if weight else None,
        how="named" if match["lot"] else "assumed",
    )


def parse_paper(line: str) -> tuple[time, list[str], PaymentKind]:
    """A line of a paper list: when, what, and how it was paid (in cash, where it does not say).

    >>> parse_paper("09:05 firm-block*2 cup-small card")
    (datetime.time(9, 5), ['firm-block*2', 'cup-small'], 'card')
    """
    clock, *items = line.split()
    if paid := kind_named(items[-1]) if items else None:
        items.pop()
    if not items:
        tried = say("read paper sale '{text}'", text=line.strip()[:60])
        why = say("nothing was sold in it")
        raise BadInput(tried, why, say("Write it as 09:05 firm-block*2 cup-small card"))
    return parse_clock(clock), items, paid or "cash"


def parse_discount(text: str, why: str, places: int) -> Discount:
    """``10%`` or money, ``1.00``, off the whole slip."""
    word = text.strip()
    if word.endswith("%"):
        try:
            percent = Decimal(word[:-1].strip())
        except InvalidOperation:
            percent = Decimal("NaN")
        if not (percent.is_finite() and 0 < percent <= 100):
            do = say("Write 10% or an amount such as 1.00")
            raise BadInput(say("read discount '{text}'", text=text), say("it is no percentage"), do)
        return Discount(why=why, percent=percent)
    return Discount(why=why, amount=parse_money(word, places, "discount"))


def parse_tender(kind: PaymentKind, text: str, places: int) -> Tender:
    """``20.00``, ``rest``, or for a card ``12.50:terminal reference``."""
    amount, _, reference = text.partition(":")
    if re.search(r"[0-9][0-9 -]{10,}[0-9]", reference):
        tried = say("note card reference '{text}…'", text=reference[:4])
        do = say("Never write a card number down; note the terminal's reference")
        raise BadInput(tried, say("it looks like a card number"), do)
    what = say("{kind} amount", kind=term(kind))
    value = None if amount.strip() in ("", "rest") else parse_money(amount, places, what)
    return Tender(kind, value, reference[:40])
