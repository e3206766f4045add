"""The slip: read a code, price it, pay it. JSON in, JSON out; the trade decides."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, Literal

import msgspec
from flask import Blueprint, Response, jsonify

from counter.errors import BadInput, CounterError, Refused, WhichLot
from counter.trade.money import plain_money
from counter.trade.offers import cash_offers
from counter.trade.orders import parse_discount, parse_tender
from counter.trade.payments import PaymentKind, Tender, settle
from counter.trade.sales import Kept, PricedSlip, Sale, SaleLine, Slip, SlipItem
from counter.trade.stock import How
from counter.trade.units import net_weight
from counter.web import faults, guard
from counter.web.here import body, by, clean, shop, t, words
from counter.web.sales import url_of
from labels.errors import LabelError
from labels.say import figure, say
from labels.units import Measure

page = Blueprint("slip", __name__, url_prefix="/slip")

Word = Annotated[str, msgspec.Meta(max_length=80)]
Figure = Annotated[str, msgspec.Meta(max_length=12)]
MOST_ITEMS = 200
LONGEST_MS = 3 * 10**12  # 95 years: a clock that began in 1970 is believed to say anything
FRESH_MS = 2000  # what was taken longer ago is booked as it was paid


class SentItem(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One entry of the slip as the page keeps it."""

    portion: Word
    quantity: int = 1
    lot: Word = ""
    how: How = "assumed"
    toppings: Annotated[tuple[Word, ...], msgspec.Meta(max_length=20)] = ()
    gross: Figure = ""
    tare: Figure = ""
    unit: Figure = ""


class SentDiscount(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    text: Figure
    why: Annotated[str, msgspec.Meta(max_length=200)]


class SentSlip(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The slip as the page keeps it; amounts are texts, as somebody typed them."""

    items: Annotated[tuple[SentItem, ...], msgspec.Meta(max_length=MOST_ITEMS)]
    where: Literal["here", "away"] = "away"
    discount: SentDiscount | None = None
    key: Word = ""


class SentTender(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    kind: PaymentKind
    amount: Figure = ""
    reference: Word = ""


class SentPayment(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """``seen`` is the total the page showed; ``again`` marks a payment sent before.

    ``age`` is for how many milliseconds the browser has had it, both ends by its own clock: what
    that clock says may be years off, but it runs as fast as ours, so now - age is when it was paid.
    ``taker`` is the token of the page it was taken on: see :func:`.guard.taker`.
    """

    slip: SentSlip
    tenders: Annotated[tuple[SentTender, ...], msgspec.Meta(max_length=10)]
    seen: int
    again: bool = False
    age: Annotated[int, msgspec.Meta(ge=-LONGEST_MS, le=LONGEST_MS)] = 0
    taker: Annotated[str, msgspec.Meta(max_length=400)] = ""


class SentForgone(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A payment that was kept and will not be booked; ``words`` are those that were tapped."""

    key: Word
    seen: int
    words: Word
    age: Annotated[int, msgspec.Meta(ge=-LONGEST_MS, le=LONGEST_MS)] = 0
    taker: Annotated[str, msgspec.Meta(max_length=400)] = ""


class SentCode(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A code, or a name; ``scanned`` where a scanner typed it."""

    text: Annotated[str, msgspec.Meta(max_length=200)]
    scanned: bool = False


def slip_of(sent: SentSlip) -> Slip:
    """The trade's slip from what the page sent."""
    discount = None
    if sent.discount is not None:
        why = clean(sent.discount.why, "the reason")
        text = sent.discount.text.replace(",", ".")
        discount = parse_discount(text, why, shop().desk.settings.places)
    items = tuple(
        SlipItem(
            item.portion,
            item.quantity,
            item.lot,
            item.toppings,
            net_weight(item.gross, item.tare, item.unit) if item.gross else None,
            None,
            item.how,
        )
        for item in sent.items
    )
    return Slip(items, sent.where, discount, clean(sent.key, "the key"))


@page.post("/read")
def read() -> Response:
    """What a code or a name stands for, refused at once when it may not be sold."""
    sent = body(SentCode)
    item = shop().counter.read_item(clean(sent.text, "the code"))
    if item.lot and not sent.scanned:
        item = msgspec.structs.replace(item, how="named")
    portion = shop().desk.for_sale().portion(item.portion, say("sell {name}", name=item.portion))
    weight = item.weight
    if weight is not None and weight.base > 100_000:
        raise BadInput(
            say("weigh {name}", name=portion.name),
            say("no counter's scale shows that"),
            say("Weigh it again"),
        )
    if portion.per and weight is None:
        # The lot must be fit to be sold before anybody puts it on the scale.
        shop().counter.price(
            Slip((msgspec.structs.replace(item, weight=Measure(Decimal(1), portion.per)),))
        )
    else:
        shop().counter.price(Slip((item,)))
    return jsonify(
        portion=portion.key,
        name=portion.name,
        per=portion.per,
        lot=item.lot,
        how=item.how,
        quantity=item.quantity,
        toppings=item.toppings,
        gross=f"{weight.amount:f}" if weight else "",
        unit=weight.unit if weight else "",
    )


@page.post("/price")
def price() -> Any:
    """What the slip costs, line by line, and likely amounts of cash. Nothing is written."""
    sent = body(SentSlip)
    try:
        slip = slip_of(sent)
        priced = shop().counter.price(slip)
    except (CounterError, LabelError) as error:
        error.blamed = blamed(sent, error)  # type: ignore[union-attr]
        raise
    return jsonify(told(slip, priced))


def blamed(sent: SentSlip, error: CounterError | LabelError) -> list[int]:
    """The entries of a refused slip that are refused also by themselves, or whose lot is asked."""
    if isinstance(error, WhichLot):
        portions = shop().desk.for_sale().portions
        product = portions[error.portion].product
        return [
            i
            for i, item in enumerate(sent.items)
            if not item.lot
            and item.portion in portions
            and portions[item.portion].product == product
        ]
    found = []
    for i, item in enumerate(sent.items):
        try:
            shop().counter.price(slip_of(SentSlip((item,))))
        except (CounterError, LabelError):
            found.append(i)
    return found


def told(slip: Slip, priced: PricedSlip) -> dict[str, Any]:
    """A priced slip in the words of the page."""
    w, settings = words(), shop().desk.settings
    coin, places = settings.cash.smallest_coin, settings.places
    payments, _, _ = settle(priced.total, (Tender("cash"),), coin=coin, places=places)
    due = payments[0].amount if payments else 0
    offers = []
    for given in cash_offers(due, settings.cash.coins):
        _, _, change = settle(priced.total, (Tender("cash", given),), coin=coin, places=places)
        offers.append(
            {
                "given": plain_money(given, places),
                "says": w.money(given),
                "change": w.money(change) if change else "",
            }
        )
    return {
        "items": [[line_words(line) for line in lines] for lines in by_item(slip, priced)],
        "subtotal": w.money(priced.subtotal),
        "discount": w.money(-priced.discount) if priced.discount else "",
        "why": priced.why,
        "taxes": [
            (
                t("slip.tax_in" if priced.included else "slip.tax", name=tax.tax_class),
                w.money(tax.tax),
            )
            for tax in priced.taxes
        ],
        "total": w.money(priced.total),
        "seen": priced.total,
        "cash": w.money(due) if due != priced.total else "",
        "offers": offers,
    }


def by_item(slip: Slip, priced: PricedSlip) -> list[list[SaleLine]]:
    """The priced lines of each entry: an entry drawn from two lots may have two prices."""
    lines = list(priced.lines)
    found: list[list[SaleLine]] = []
    for item in slip.items:
        mine = [lines.pop(0)]
        while sum(n.quantity for n in mine) < item.quantity and lines:
            mine.append(lines.pop(0))
        found.append(mine)
    return found


def line_words(line: SaleLine) -> dict[str, Any]:
    return {
        "name": line.name,
        "quantity": line.quantity,
        "price": words().money(line.price),
        "kind": t(f"slip.kind_{line.kind.replace(' ', '_')}") if line.kind != "price" else "",
        "weight": words().said(figure(line.weight)),
        "lots": list(dict.fromkeys(d.lot for d in line.draws)),
    }


@page.post("/pay")
def pay() -> Response:
    """Book the slip. The same key again answers with the sale booked before.

    What was taken a while ago or sent before was paid as it was shown: it is booked at that moment
    and under whoever took it.
    """
    sent = body(SentPayment)
    slip = slip_of(sent.slip)
    if not slip.key:
        raise BadInput(
            say("book the sale"), say("it has no key"), say("Reload the page and try again")
        )
    places = shop().desk.settings.places
    tenders = [
        parse_tender(n.kind, f"{n.amount}:{clean(n.reference, 'the reference')}", places)
        for n in sent.tenders
    ]
    if sent.again or abs(sent.age) > FRESH_MS:
        return jsonify(booked(sell_kept(slip, tenders, sent)))
    refuse_other_price(slip, sent)
    return jsonify(booked(shop().counter.sell(slip, tenders, by=by())))


@page.post("/forgone")
def forgone() -> Response:
    """Write down that a payment which was taken and kept will not be booked."""
    sent = body(SentForgone)
    paid = paid_at(sent.age)
    name, _ = guard.taken_by(sent.taker, paid)
    words = clean(sent.words, "the words")
    shop().payments.forgo(
        clean(sent.key, "the key"), sent.seen, paid, words, clean(name, "the name"), by()
    )
    return jsonify({})


def paid_at(age: int) -> datetime:
    """When a payment was taken that a browser has had for so many milliseconds."""
    now = shop().desk.now()
    return datetime.fromtimestamp(now.timestamp() - age / 1000, now.tzinfo)


def sell_kept(slip: Slip, tenders: list[Tender], sent: SentPayment) -> Sale:
    """Book what a browser has kept. Whom it names without proof is noted, and whoever is signed in
    now answers for it."""
    now, paid = shop().desk.now(), paid_at(sent.age)
    name, proved = guard.taken_by(sent.taker, paid)
    if sent.taker and not proved:
        faults.LOG.warning("payment %r names %r as who took it, unproved", slip.key, name)
    taker = name if proved else by()
    kept = Kept(
        paid=paid,
        day=shop().desk.day_of(paid),
        booked=now,
        shown=sent.seen,
        sent_by=by() if by() != taker else "",
        claimed=clean(name, "the name")[:60] if name not in ("", taker) else "",
    )
    return shop().payments.sell_kept(slip, tenders, kept, taker)


def refuse_other_price(slip: Slip, sent: SentPayment) -> None:
    """Nobody pays another price than the one shown."""
    if shop().counter.booked(slip.key) is not None:
        return
    now = shop().counter.price(slip).total
    if now != sent.seen:
        raise Refused(
            say("book the sale"),
            say("it now costs {money}, since the shelf has changed", money=words().money(now)),
            say("Look at the slip and pay again"),
        )


def booked(sale: Sale) -> dict[str, Any]:
    """A booked sale in the words of the page."""
    w, kept = words(), sale.kept
    coins = shop().counter.change_coins(sale) if sale.change else {}
    return {
        "number": sale.number,
        "total": w.money(sale.total + sale.rounding),
        "kept": w.moment(kept.paid) if kept else "",
        "paid": [(p.kind, w.money(p.amount)) for p in sale.payments],
        "change": w.money(sale.change) if sale.change else "",
        "coins": [f"{n} × {w.money(v)}" for v, n in (coins or {}).items()],
        "no_coins": coins is None,
        "oversold": shop().counter.oversold_by(sale),
        "sale": url_of("one", sale.number),
        "pdf": url_of("receipt_pdf", sale.number),
        "receipt": url_of("receipt", sale.number),
    }
