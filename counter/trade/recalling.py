"""A recall: everything that is known of some lots, over the lots made from them and from before.

Forward: which sales, when, how many, and the lots that were made from them. Backward: the lots that
went in and the supplier codes of beans and coagulant. What is accounted for was sold in a numbered
sale, used in a named lot, thrown away for a reason, or is on hand; the differences of counts are
not. What was sold by assumption is accounted for in number only: :mod:`counter.trade.tracing` says
which sales are surely of a lot and which may be. Whether to recall, whom to tell and how is for the
food authority to decide.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

import msgspec

from counter.trade.catalogue import Unit
from counter.trade.money import half_up
from counter.trade.production import lot_day
from counter.trade.sales import Sale
from counter.trade.stock import How
from counter.trade.tracing import Trace, TracedSale
from counter.trade.units import show_amount
from labels.say import Said, figure, join, say, term

CAUTION = say(
    "Whether food is recalled, whom to tell and what to say is decided by the food authority:"
    " call it first. This sheet says what the shop's books know; what is eaten or given on is not"
    " in them."
)
Side = Literal["asked", "made from it", "went in"]


class RecalledLot(msgspec.Struct, frozen=True):
    """One lot and where it is, in its unit. ``side`` says why it is here.

    made + corrected + over = sold + used + wasted + left + missing. ``assumed`` is how much of what
    was sold is not known to be of it; ``grams`` what one piece weighs, net; ``uncoded`` what went
    in without a supplier code. ``recounted`` is the part of ``corrected`` that says there was more
    or less of the lot itself, not of what was sold, used or wasted; ``void`` why it never was.
    """

    lot: str
    side: Side
    product: str
    unit: Unit
    made_on: date
    mark: str
    best_by: date
    made: int
    corrected: int
    sold: int
    used: int
    wasted: int
    left: int
    labels: int
    stopped: Said
    codes: dict[str, str]
    came_from: tuple[str, ...]
    went_into: tuple[str, ...]
    missing: int = 0
    over: int = 0
    assumed: int = 0
    grams: Decimal | None = None
    uncoded: tuple[str, ...] = ()
    recounted: int = 0
    void: str = ""

    @property
    def whole(self) -> int:
        """What there was of it: what was made, and what was found more; of a batch that never was
        only what is gone all the same."""
        return self.made + (self.recounted if self.void else max(0, self.recounted))

    @property
    def accounted(self) -> int:
        """How much of it is known to be where: not what was found less, nor what is missing."""
        return max(0, self.made + self.recounted - self.missing)

    @property
    def state(self) -> Said:
        if self.void:
            return say("never was: {why}", why=self.void)
        return say("stopped: {why}", why=self.stopped) if self.stopped else say("not stopped")

    def weight(self, amount: int) -> int | None:
        """So much of it in whole grams; None where no net weight is known."""
        if self.unit == "g":
            return amount
        return None if self.grams is None else half_up(self.grams * amount)


class RecalledSale(msgspec.Struct, frozen=True, kw_only=True):
    """So much of a lot in one sale, and how it was paid; below zero for what came back.

    ``by_log`` is the lot that the log drew it from; ``lots`` are all it may be of.
    """

    lot: str
    sale: str
    at: datetime
    portion: str
    amount: int
    paid: str
    how: How = "assumed"
    by_log: str = ""
    lots: tuple[str, ...] = ()

    @property
    def named(self) -> str:
        """The lots it is of, or may be of."""
        return " ".join(self.lots or (self.lot,))


class Share(msgspec.Struct, frozen=True):
    """How much of what was ``made``, or was found more, is accounted for, over all lots of one
    product: pieces are not added to bags. ``assumed`` of it were sold without anybody naming the
    lot; ``over`` is what was sold, used, wasted or is left beyond what was made; ``others`` the log
    took from other lots, and may be of these."""

    unit: Unit
    made: int
    accounted: int
    product: str = ""
    assumed: int = 0
    over: int = 0
    others: int = 0

    @property
    def known(self) -> bool:
        """Whether nothing of it is assumed, so that a share of it says something."""
        return not (self.assumed or self.over or self.others)

    @property
    def percent(self) -> str:
        """To a tenth, never rounded up: 100 only where nothing is missing.

        >>> Share("piece", 3000, 2999).percent
        '99.9'
        """
        if not self.made:
            return "100"
        tenths = self.accounted * 1000 // self.made
        return f"{tenths // 10}.{tenths % 10}" if tenths % 10 else str(tenths // 10)


class Recall(msgspec.Struct, frozen=True):
    """Several lots traced both ways. ``lots`` begins with those asked for.

    ``sales`` is what the log drew from them, ``may_be`` every sale that may be of them and is not
    surely of another lot. ``elsewhere`` has the other lots with a supplier code, by the code.
    """

    at: datetime
    asked: tuple[str, ...]
    lots: tuple[RecalledLot, ...]
    sales: tuple[RecalledSale, ...]
    code: str = ""
    may_be: tuple[RecalledSale, ...] = ()
    elsewhere: dict[str, tuple[str, ...]] = {}

    @property
    def reached(self) -> list[RecalledLot]:
        """The lots a recall is about: those asked for and those made from them."""
        return [lot for lot in self.lots if lot.side != "went in"]

    @property
    def surely(self) -> list[RecalledSale]:
        return [sale for sale in self.sales if sale.how != "assumed"]

    @property
    def shares(self) -> list[Share]:
        found: dict[tuple[str, Unit], list[RecalledLot]] = {}
        for lot in self.reached:
            found.setdefault((lot.product, lot.unit), []).append(lot)
        return [self._share(*key, lots) for key, lots in found.items()]

    def _share(self, product: str, unit: Unit, lots: Sequence[RecalledLot]) -> Share:
        own = {lot.lot for lot in lots}
        others = (s.amount for s in self.may_be if s.lot in own and s.by_log not in own)
        return Share(
            unit,
            sum(n.whole for n in lots),
            sum(n.accounted for n in lots),
            product,
            sum(n.assumed for n in lots),
            sum(n.over for n in lots),
            sum(others),
        )

    @property
    def supplier_codes(self) -> list[tuple[str, str, list[str]]]:
        """Ingredient, code and the lots it went into, over all generations."""
        found: dict[tuple[str, str], list[str]] = {}
        for lot in self.lots:
            for ingredient, code in lot.codes.items():
                found.setdefault((ingredient, code), []).append(lot.lot)
        return [(ingredient, code, lots) for (ingredient, code), lots in sorted(found.items())]


def recalled_lot(
    trace: Trace, side: Side, stopped: Said, grams: Decimal | None, ours: Collection[str]
) -> RecalledLot:
    """One lot of a recall. ``ours`` are ingredients that no supplier brought."""
    batch = trace.batch
    return RecalledLot(
        lot=trace.lot,
        side=side,
        product=batch.product,
        unit=batch.unit,
        made_on=lot_day(trace.lot) or batch.at.date(),
        mark=batch.mark.kind,
        best_by=batch.mark.day,
        made=trace.made,
        corrected=trace.corrected,
        sold=trace.sold,
        used=trace.used,
        wasted=trace.wasted,
        left=trace.left,
        labels=sum(p.labels for p in trace.printed),
        stopped=stopped,
        codes=dict(batch.codes),
        came_from=trace.came_from,
        went_into=trace.went_into,
        missing=trace.missing,
        over=trace.over,
        assumed=trace.assumed,
        grams=grams,
        void=batch.void,
        recounted=sum(
            c.amount for c in trace.corrections if c.on_shelf and c.what == "lot" and not c.lines
        ),
        uncoded=tuple(
            p.ingredient
            for p in batch.ingredients
            if p.grams and p.ingredient not in ours and not batch.codes.get(p.ingredient)
        ),
    )


def recalled_sales(traces: Sequence[Trace], sales: Mapping[str, Sale]) -> tuple[RecalledSale, ...]:
    """What the log drew from some lots, the earliest first."""
    lines = (_recalled(one, (trace.lot,), sales) for trace in traces for one in trace.lines)
    return tuple(sorted(lines, key=_order))


def sales_that_may_be(
    traces: Sequence[Trace], sales: Mapping[str, Sale]
) -> tuple[RecalledSale, ...]:
    """Every sale that may be of some lots, each once, with the lots it may be of."""
    lots: dict[TracedSale, list[str]] = {}
    times: Counter[TracedSale] = Counter()
    for trace in traces:
        of_one = Counter(trace.may_be)
        times |= of_one
        for one in of_one:
            lots.setdefault(one, []).append(trace.lot)
    lines = (_recalled(one, tuple(lots[one]), sales) for one in times.elements())
    return tuple(sorted(lines, key=_order))


def _recalled(one: TracedSale, lots: tuple[str, ...], sales: Mapping[str, Sale]) -> RecalledSale:
    paid = how_paid(sales[one.sale]) if one.sale in sales else ""
    return RecalledSale(
        lot=lots[0],
        sale=one.sale,
        at=one.at,
        portion=one.portion,
        amount=one.amount,
        paid=paid,
        how=one.how,
        by_log=one.lot,
        lots=lots,
    )


def _order(sale: RecalledSale) -> tuple[float, str, str]:
    return sale.at.timestamp(), sale.sale, sale.lot


def accounted_for(recall: Recall, name_of: Callable[[str], str]) -> Said:
    """How much of what was made is known to be where; no share of what is only assumed."""
    shares = join("; ", (_said_share(s, name_of(s.product)) for s in recall.shares))
    if all(s.known for s in recall.shares):
        return say("Accounted for: {shares}: sold, used, thrown away or on hand.", shares=shares)
    return say(
        "Accounted for in number: {shares}: sold, used, thrown away or on hand.", shares=shares
    )


def _said_share(s: Share, name: str) -> Said:
    assumed, over, others = (show_amount(n, s.unit) for n in (s.assumed, s.over, s.others))
    what = {"amount": show_amount(s.accounted, s.unit), "whole": show_amount(s.made, s.unit)}
    if s.known:
        percent = figure(s.percent)
        return say("{amount} of {whole} {name} ({percent} %)", name=name, percent=percent, **what)
    parts = [say("{amount} of {whole} {name}", name=name, **what)]
    if s.assumed:
        parts.append(say("{amount} of it by assumption", amount=assumed))
    if s.over:
        parts.append(say("{amount} more than was made", amount=over))
    if s.others:
        parts.append(say("{amount} that the log took from other lots may be of it", amount=others))
    return join(", ", parts)


def how_paid(sale: Sale) -> Said:
    """Kinds of payment and the references of the card terminal, by which a payer may be found."""
    each = (join(" ", filter(None, (term(p.kind), p.reference))) for p in sale.payments)
    return join(", ", dict.fromkeys(each))
