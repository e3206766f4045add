"""An order priced into a sale; payments and change.

A slip is what is being put together; priced, it is a list of lines to the cent; paid, a sale.
Roundings, in order: each line half up (by weight); the discount in percent half up, shared out
over the lines; tax by class and for the whole sale half up, shared out over the lines; the cash
part of the total to the shop's smallest coin. Pricing a slip twice gives the same cents.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Literal

import msgspec

from counter.errors import BadInput, Refused
from counter.trade.catalogue import Catalogue, Portion, Topping
from counter.trade.money import Minor, half_up, share_out, tax_on, tax_within
from counter.trade.payments import Payment, PaymentKind, Tender
from counter.trade.prices import at_last_day, line_price, price_together, split_last_day
from counter.trade.rates import Rate, Tax
from counter.trade.stock import Draw, How, Lot
from labels.say import Said, figure, option, say, term
from labels.units import Measure

Where = Literal["here", "away"]
MOST = 999
UNTAXED = Rate()


class SlipItem(msgspec.Struct, frozen=True):
    """One entry of a slip: so many of a portion, or so heavy, of a certain lot or of any.

    ``label_price`` is the total price, in minor units, out of the number on a weighed pack; ``how``
    says whether ``lot`` was scanned or, by default, named.
    """

    portion: str
    quantity: int = 1
    lot: str = ""
    toppings: tuple[str, ...] = ()
    weight: Measure | None = None
    label_price: int | None = None
    how: How = "assumed"


class Discount(msgspec.Struct, frozen=True, kw_only=True):
    """Money off the whole slip, ``percent`` or ``amount`` in minor units, and why."""

    why: str
    percent: Decimal = Decimal(0)
    amount: int = 0


class Slip(msgspec.Struct, frozen=True):
    """The order being put together. ``key`` is the client's own: sent twice, booked once."""

    items: tuple[SlipItem, ...]
    where: Where = "away"
    discount: Discount | None = None
    key: str = ""


class PaperSale(msgspec.Struct, frozen=True, kw_only=True):
    """A sale that was written on paper while the program could not be asked."""

    items: tuple[SlipItem, ...]
    at: datetime
    paid: PaymentKind = "cash"


def each_alone(sale: PaperSale) -> list[PaperSale]:
    """Every piece as a sale of its own: twelve customers with a block each."""
    return [
        msgspec.structs.replace(sale, items=(msgspec.structs.replace(item, quantity=1),))
        for item in sale.items
        for _ in range(min(item.quantity, MOST))
    ]


class SaleLine(msgspec.Struct, frozen=True, kw_only=True):
    """One priced line, in minor units. ``net`` is price less discount; tax is on it or in it.

    ``kind`` says which price held: the usual one, a price for several, or the last-day price.
    """

    portion: str
    product: str
    name: str
    quantity: int
    draws: tuple[Draw, ...]
    price: Minor
    kind: Literal["price", "several", "last day"] = "price"
    toppings: tuple[str, ...] = ()
    weight: str = ""
    discount: Minor = 0
    tax_class: str = ""
    tax: Minor = 0

    @property
    def net(self) -> int:
        return self.price - self.discount


class TaxLine(msgspec.Struct, frozen=True, kw_only=True):
    """The tax of one class over the whole sale."""

    tax_class: str
    rate: Decimal
    base: int
    tax: int


class PricedSlip(msgspec.Struct, frozen=True, kw_only=True):
    """A slip to the cent. ``total`` is what a card pays; cash may be rounded."""

    lines: tuple[SaleLine, ...]
    taxes: tuple[TaxLine, ...]
    subtotal: int
    discount: int
    total: int
    where: Where
    why: str = ""
    included: bool = False

    @property
    def tax(self) -> int:
        return sum(t.tax for t in self.taxes)


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """A payment that waited before it was booked: when it was ``paid``, on which trading ``day``,
    and when it was ``booked``.

    ``sent_by`` is who was signed in when it was booked, where that is somebody else; ``claimed``
    whom it named as who took it, where nothing proves that. ``shown`` is the total that the
    customer was shown, in minor units, where it is another. ``lots`` are those it drew on that the
    day it is booked in has no more, as they were when it was paid.
    """

    paid: datetime
    day: date
    booked: datetime
    sent_by: str = ""
    claimed: str = ""
    shown: int | None = None
    lots: tuple[Lot, ...] = ()


class Sale(msgspec.Struct, frozen=True, kw_only=True):
    """A booked sale. total + rounding = sum of the payments' amounts.

    ``at`` is the moment from which it counts in its day's book. ``kept`` is there where it was paid
    well before it was booked; ``content`` is :func:`content_of` what was paid for.
    """

    number: str
    at: datetime
    lines: tuple[SaleLine, ...]
    taxes: tuple[TaxLine, ...]
    total: int
    payments: tuple[Payment, ...]
    where: Where = "away"
    rounding: int = 0
    change: int = 0
    discount: int = 0
    why: str = ""
    included: bool = False
    key: str = ""
    by: str = ""
    content: str = ""
    kept: Kept | None = None

    @property
    def paid_at(self) -> datetime:
        """When it was paid."""
        return self.kept.paid if self.kept else self.at

    @property
    def moved(self) -> bool:
        """It was paid on a day that was closed before it was booked, and stands in a later one."""
        return self.kept is not None and str(self.kept.day) != self.number.partition("/")[0]

    @property
    def goods(self) -> str:
        """What was bought: ``2 x Firm block, 0.4 kg x Pressed tofu``."""
        return goods_of(self.lines)


def content_of(slip: Slip, tenders: Sequence[Tender]) -> str:
    """A digest of what a customer bought and how it was paid: all that the slip and the tenders
    say. Prices are no part of it, since they follow from the moment.

    Two payments with one key are the same payment where this is the same.
    """
    said = slip.items, slip.where, slip.discount, tuple(tenders)
    return hashlib.sha256(msgspec.json.encode(said, enc_hook=str)).hexdigest()[:16]


def goods_of(lines: Sequence[SaleLine]) -> str:
    """What some lines are of, in a few words."""
    return ", ".join(f"{line.weight or line.quantity} x {line.name}" for line in lines)


# An item, its portion and toppings, the rate of its tax, its lots, and those at their last day.
Drawn = tuple[SlipItem, Portion, tuple[Topping, ...], Decimal, tuple[Draw, ...], tuple[str, ...]]


@lru_cache(256)
def selling(portion: str) -> Said:
    """What is tried where something is sold: kept, since each sale asks for it six times."""
    return say("sell {name}", name=portion)


def check_item(item: SlipItem, catalogue: Catalogue) -> tuple[Portion, list[Topping]]:
    """The portion and toppings of an item, or a refusal that says what is wrong with it."""
    tried = selling(item.portion)
    portion = catalogue.portion(item.portion, tried)
    if portion.off:
        do = say("Switch it on under Set-up, or sell another")
        raise Refused(tried, say("it is switched off"), do)
    if not 1 <= item.quantity <= MOST:
        why = say("{amount} is no quantity", amount=item.quantity)
        raise BadInput(tried, why, say("Expected is 1 to {most}", most=MOST))
    if portion.per and item.quantity != 1:
        do = say("Weigh each and write it as an item of its own")
        raise BadInput(tried, say("it is sold by weight"), do)
    if portion.per and item.weight is None:
        do = say(
            "Write how heavy it is, such as {name}:0.35{unit}",
            name=portion.key,
            unit=term(portion.per),
        )
        raise BadInput(tried, say("it is sold by weight"), do)
    if item.weight is not None and not portion.per:
        why = say("it is sold by the piece, not by weight")
        raise BadInput(tried, why, say("Leave the weight out"))
    if item.weight is not None and not 1 <= item.weight.whole <= 100_000:
        why = say("{amount} is no weight for a counter", amount=figure(item.weight))
        raise BadInput(tried, why, say("Weigh it again"))
    chosen = []
    for key in item.toppings:
        topping = catalogue.topping(key, tried)
        if key not in portion.toppings:
            names = ", ".join(portion.toppings) or term("none")
            why = say("topping '{text}' does not go on it", text=key)
            raise Refused(tried, why, say("Toppings for it: {names}", names=names))
        chosen.append(topping)
    return portion, chosen


def amount_of(item: SlipItem, portion: Portion) -> int:
    """What an item draws from stock, in the product's unit."""
    if item.weight is not None:
        return max(1, item.weight.whole)
    return portion.draws * item.quantity


def price_items(drawn: Sequence[Drawn]) -> list[SaleLine]:
    """Lines before discount and tax. Items of one portion share a price for several."""
    lines: list[SaleLine] = []
    for item, portion, toppings, _, draws, late in drawn:
        for part, old in split_last_day(portion, draws, late.__contains__):
            quantity = item.quantity
            if portion.draws:
                quantity = sum([d.amount for d in part]) // portion.draws
            priced = at_last_day(portion) if old else portion
            price, how = line_price(priced, quantity, toppings, item.weight)
            if item.label_price is not None:
                price = item.label_price
            lines.append(
                SaleLine(
                    portion=portion.key,
                    product=portion.product,
                    name=portion.name,
                    quantity=quantity,
                    draws=tuple(part),
                    price=price,
                    kind="last day" if old else how,  # type: ignore[arg-type]
                    toppings=tuple(t.key for t in toppings),
                    weight=str(item.weight or ""),
                    discount=0,
                    tax_class=portion.tax,
                )
            )
    return share_breaks(lines, {p.key: p for _, p, *_ in drawn})


def share_breaks(lines: list[SaleLine], portions: Mapping[str, Portion]) -> list[SaleLine]:
    """Give several lines of one portion the price they have together (three lots, one price)."""
    for key, portion in portions.items():
        mine = [i for i, n in enumerate(lines) if n.portion == key]
        if len(mine) < 2 or not portion.breaks or portion.per:
            continue
        old = {i for i in mine if lines[i].kind == "last day"}
        kinds = {i: at_last_day(portion) if i in old else portion for i in mine}
        apart = [line_price(kinds[i], lines[i].quantity, (), None)[0] for i in mine]
        counts = [
            sum(lines[i].quantity for i in mine if (i in old) is one) for one in (False, True)
        ]
        together = price_together(portion, *counts)
        if together >= sum(apart):
            continue
        for i, share, before in zip(mine, share_out(together, apart), apart, strict=True):
            price = lines[i].price - before + share
            kind = lines[i].kind if i in old else "several"
            lines[i] = msgspec.structs.replace(lines[i], price=price, kind=kind)
    return lines


def apply_discount(lines: list[SaleLine], discount: Discount | None) -> list[SaleLine]:
    """Share the discount out over the lines, by their prices."""
    if discount is None:
        return lines
    tried = say("take a discount off")
    subtotal = sum(n.price for n in lines)
    if not discount.why.strip():
        raise BadInput(tried, say("it has no reason"), say("Say why{how}", how=option("--because")))
    if not 0 <= discount.percent <= 100:
        raise BadInput(tried, say("{amount} % is not between 0 and 100", amount=discount.percent))
    off = discount.amount or half_up(discount.percent * subtotal / 100)
    if not 0 < off <= subtotal:
        raise Refused(tried, say("it is nothing, or more than the slip costs"))
    shares = share_out(off, [n.price for n in lines])
    return [
        msgspec.structs.replace(line, discount=share)
        for line, share in zip(lines, shares, strict=True)
    ]


def apply_tax(
    lines: list[SaleLine], rates: Mapping[str, Decimal], added: bool
) -> tuple[list[SaleLine], list[TaxLine]]:
    """Tax by class over the whole sale, half up once, shared out over the lines."""
    taxes = []
    for key in dict.fromkeys(n.tax_class for n in lines):
        rate = rates[key]
        if not rate:
            continue
        mine = [i for i, n in enumerate(lines) if n.tax_class == key]
        nets = [lines[i].net for i in mine]
        base = sum(nets)
        amount = tax_on(base, rate) if added else tax_within(base, rate)
        taxes.append(TaxLine(tax_class=key, rate=rate, base=base, tax=amount))
        for i, share in zip(
            mine, share_out(amount, nets) if amount else [0] * len(mine), strict=True
        ):
            lines[i] = msgspec.structs.replace(lines[i], tax=share)
    return lines, taxes


def price_slip(
    slip: Slip,
    catalogue: Catalogue,
    tax: Tax,
    draw: Callable[[SlipItem, Portion, int], list[Draw]],
    last_day: Callable[[str], bool],
) -> PricedSlip:
    """Price a slip to the cent. ``draw(item, portion, amount)`` takes it from stock or refuses."""
    if not slip.items:
        raise BadInput(
            say("sell an empty slip"), say("nothing is on it"), say("Put something on it first")
        )
    drawn = {}
    # What names its lot first: the rest is drawn from what that leaves.
    for i, item in sorted(enumerate(slip.items), key=lambda one: not one[1].lot):
        portion, toppings = check_item(item, catalogue)
        rates = tax.classes.get(portion.tax, UNTAXED)
        if portion.tax and rates is UNTAXED:
            tried = say("sell {name}", name=portion.key)
            why = say("shop.toml has no tax class '{text}'", text=portion.tax)
            raise Refused(tried, why, say("Add it there, or change the portion in the catalogue"))
        rate = rates.here if slip.where == "here" else rates.away
        draws = tuple(draw(item, portion, amount_of(item, portion)))
        cheap = draws if portion.last_day_price is not None else ()
        late = tuple([d.lot for d in cheap if last_day(d.lot)])
        drawn[i] = item, portion, tuple(toppings), rate, draws, late
    in_order = tuple([drawn[i] for i in range(len(drawn))])
    return _price_drawn(in_order, slip.where, slip.discount, tax.mode == "added")


@lru_cache(512)  # most sales of a day are of a few kinds; what is equal costs the same
def _price_drawn(
    drawn: tuple[Drawn, ...], where: Where, off: Discount | None, added: bool
) -> PricedSlip:
    lines = apply_discount(price_items(drawn), off)
    lines, taxes = apply_tax(lines, {p.tax: rate for _, p, _, rate, *_ in drawn}, added)
    subtotal = sum([n.price for n in lines])
    discount = sum([n.discount for n in lines])
    due = subtotal - discount + (sum([t.tax for t in taxes]) if added else 0)
    return PricedSlip(
        lines=tuple(lines),
        taxes=tuple(taxes),
        subtotal=subtotal,
        discount=discount,
        total=due,
        where=where,
        why=off.why if off else "",
        included=not added,
    )
