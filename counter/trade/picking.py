"""From what is tapped, typed or scanned to the lots it comes from.

Safety stops a sale, bookkeeping does not: a lot past its date, stopped, raw or over its time is
refused; a lot of which the log says none is left is not. But where more is asked than may be sold
by the log, and stock of the product that may not be sold is there, the piece in the hand is
probably that: its lot is asked for.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from counter.errors import NotFound, NotSafe, Refused, WhichLot
from counter.trade.catalogue import Catalogue, Portion
from counter.trade.ledger import Ledger
from counter.trade.money import half_up
from counter.trade.sales import SlipItem, selling
from counter.trade.stock import Draw, How, LotRow, allocate, oldest_first, scoop_refusal
from counter.trade.stock import refusal_for as lot_refusal
from counter.trade.tubs import Tub
from counter.trade.tubs import refusal_for as tub_refusal
from counter.trade.units import show_amount
from labels.say import NOTHING, Said, at_terminal, join, say, term
from labels.units import Measure

if TYPE_CHECKING:
    from labels.scan import Scan


class Picker:
    """Takes the items of one slip from the stock of one day, oldest first."""

    def __init__(
        self,
        ledger: Ledger,
        catalogue: Catalogue,
        now: datetime,
        past_best_by: str,
        clock: datetime | None = None,
        gone: bool = False,
    ) -> None:
        """``clock`` is what the clock says where a slip is noted late for ``now``; ``gone`` that it
        was paid and handed over: nobody can look at its lots any more."""
        self.ledger, self.catalogue, self.now = ledger, catalogue, now
        self.past_best_by, self.clock, self.gone = past_best_by, clock or now, gone
        self.taken: dict[str, int] = {}
        self._sellable: dict[str, list[LotRow]] = {}

    def draw(self, item: SlipItem, portion: Portion, amount: int) -> list[Draw]:
        """The lots an item comes from. Raises NotSafe, NotFound or Refused."""
        tubs = self.ledger.open_tubs(portion.product)
        if tubs or self.catalogue.products[portion.product].tub:  # what stands in one has its clock
            return [self.scoop(item, portion, amount, tubs)]
        if item.lot:
            how: How = "scanned" if item.how == "scanned" else "named"
            return [self.take(item.lot, portion, amount, how)]
        if not self.gone and (doubt := self.doubt(portion, amount)):
            raise doubt
        return self.take_oldest(portion, amount)

    def take(self, lot: str, portion: Portion, amount: int, how: How) -> Draw:
        """A named or scanned lot: it alone, whatever is older."""
        tried = say("sell lot {lot}", lot=lot)
        row = self.ledger.row(lot, tried)
        if row.lot.product != portion.product:
            made = self.catalogue.products.get(row.lot.product)
            name = made.name if made else row.lot.product
            why = say("it is {name}, not {portion}", name=name, portion=portion.name)
            raise Refused(tried, why, say("Scan or name the right one"))
        self.refuse_other_unit(row, portion, tried)
        refusal = lot_refusal(row.lot, self.now, self.past_best_by, tried)
        if refusal:
            raise refusal
        self.taken[lot] = self.taken.get(lot, 0) + amount
        return Draw(lot=lot, amount=amount, how=how)

    def doubt(self, portion: Portion, amount: int) -> WhichLot | None:
        """Why the lot of what is tapped must be named, or None: the log has not so much that may
        be sold, and there is some that may not."""
        tried = selling(portion.key)
        good = self.sellable(portion.product, tried)
        left = sum([max(0, row.likely - self.taken.get(row.lot.lot, 0)) for row in good])
        if not good or amount <= left:
            return None
        why = say(
            "the log has only {left} more that may be sold",
            left=show_amount(left, good[0].lot.unit),
        )
        rows = self.ledger.rows_of(portion.product)
        return which_lot(tried, why, portion, rows, self.now, self.past_best_by)

    def sellable(self, product: str, tried: Said) -> list[LotRow]:
        """Rows of a product that may be sold now."""
        if product not in self._sellable:
            unit, now, policy = self.catalogue.products[product].unit, self.now, self.past_best_by
            self._sellable[product] = [
                row
                for row in self.ledger.rows_of(product)
                if row.lot.unit == unit and not lot_refusal(row.lot, now, policy, tried)
            ]
        return self._sellable[product]

    def refuse_other_unit(self, row: LotRow, portion: Portion, tried: Said) -> None:
        """A lot made before its product was counted otherwise cannot be sold as the new thing."""
        unit = self.catalogue.products[portion.product].unit
        if row.lot.unit != unit:
            why = say(
                "it is counted in {unit}, and {name} is sold in {sold_in} now",
                unit=term(row.lot.unit),
                name=portion.product,
                sold_in=term(unit),
            )
            raise Refused(tried, why, say("Throw it away under Waste, or load the old catalogue"))

    def take_oldest(self, portion: Portion, amount: int) -> list[Draw]:
        tried = selling(portion.key)
        draws = allocate(self.sellable(portion.product, tried), amount, self.taken)
        if draws:
            return draws
        rows = self.ledger.rows_of(portion.product)
        for row in rows:
            self.refuse_other_unit(row, portion, say("sell lot {lot}", lot=row.lot.lot))
            named = say("sell lot {lot}", lot=row.lot.lot)
            refusal = lot_refusal(row.lot, self.now, self.past_best_by, named)
            if refusal and (row.there or len(rows) == 1):
                raise refusal
        why = say("no batch of it is logged that may be sold today")
        raise Refused(tried, why, say("Log the batch first"))

    def scoop(self, item: SlipItem, portion: Portion, amount: int, every: list[Tub]) -> Draw:
        """Out of one tub that may still be scooped from; the one whose time ends first."""
        tried = selling(portion.key)
        tubs = [t for t in every if item.lot in ("", t.lot)]
        if not tubs:
            why = say("no tub of lot {lot} is open", lot=item.lot)
            if not item.lot:
                name = self.catalogue.products[portion.product].name
                why = say("no tub of {name} is open", name=name)
            do = say("Open one{how}", how=at_terminal(" with `counter tub open LOT`"))
            raise Refused(tried, why, do)
        refused = {t.tub: no for t in tubs if (no := self.why_not(t, tried))}
        good = [t for t in tubs if t.tub not in refused]
        if not good:
            raise refused[tubs[0].tub]
        full = [t for t in good if t.level - self.taken.get(t.tub, 0) >= amount]
        bad = [] if full or self.gone else [t for t in tubs if t.level > 0 and t not in good]
        if bad:
            raise only_in(bad[0], refused[bad[0].tub])
        tub = full[0] if full else max(good, key=lambda t: t.level - self.taken.get(t.tub, 0))
        self.taken[tub.tub] = self.taken.get(tub.tub, 0) + amount
        how: How = "named" if item.lot or len({t.lot for t in every}) == 1 else "assumed"
        return Draw(lot=tub.lot, amount=amount, tub=tub.tub, how=how)

    def why_not(self, tub: Tub, tried: Said) -> Refused | None:
        lot = self.ledger.rows[tub.lot].lot
        return scoop_refusal(tub, lot, self.now, self.past_best_by, tried, self.clock)

    def last_day(self, lot: str) -> bool:
        """Whether a lot is at its last day (or past its best, where the shop sells it still)."""
        return self.ledger.rows[lot].lot.mark.day <= self.now.date()


def only_in(tub: Tub, refusal: Refused) -> NotSafe:
    """The refusal of what would have to come out of a tub that may not be sold from."""
    why = say("so much is left only with what is in a tub: {why}", why=refusal.why)
    do = say("Take tub {tub} away first", tub=tub.tub)
    return NotSafe(refusal.tried, why, do, lot=tub.lot)


def refuse_out_of_tub(
    ledger: Ledger, lot: str, amount: int, tried: Said, *moments: datetime
) -> None:
    """More than is left beside the tubs is bookkeeping, unless one of them may not be sold from:
    then that is what would be taken. ``moments`` are when it happens and what the clock says."""
    free = ledger.rows[lot].on_hand - ledger.in_tubs(lot)
    for tub in ledger.open_tubs() if free <= 0 or amount > free else ():
        for moment in moments if tub.lot == lot else ():
            if refusal := tub_refusal(tub, moment, tried, moments[-1]):
                raise only_in(tub, refusal)


def item_for_scan(
    scan: Scan, quantity: int, ledger: Ledger, catalogue: Catalogue, places: int
) -> SlipItem:
    """What a scanned code puts on the slip: its lot where it names one, else the oldest."""
    tried = say("sell what was scanned, '{text}'", text=scan.text)
    if scan.kind == "lot":
        product = ledger.row(scan.lot, say("sell lot {lot}", lot=scan.lot)).lot.product
    else:
        product = product_numbered(scan.key or scan.gtin, catalogue, ledger, tried, scan.item)
    portion = catalogue.pack_portion(product)
    if scan.item and catalogue.products[product].pack.item == scan.item:
        by_weight = (p for p in catalogue.portions_of(product) if p.per)
        portion = next(by_weight, portion)  # as which its label was priced
    if portion is None:
        why = say("nothing of {name} is for sale", name=product)
        raise Refused(tried, why, say("Add a portion to the catalogue"))
    weight, price = weighed(scan, portion, places)
    how: How = "scanned" if scan.lot else "assumed"
    return SlipItem(portion.key, quantity, scan.lot, (), weight, price, how)


def refuse_doubtful(
    scan: Scan,
    portion: Portion,
    catalogue: Catalogue,
    ledger: Ledger,
    now: datetime,
    past_best_by: str,
) -> None:
    """A number that names no lot may stand on a pack of any lot that is still there.

    Refused while one of them may not be sold. A raw lot has no labels, so it is not meant.
    """
    tried, why = say("sell what was scanned, '{text}'", text=scan.text), say("it names no lot")
    number = catalogue.products[portion.product].pack.number
    products = products_numbered(number, catalogue) or [portion.product]
    rows = (r for key in products for r in ledger.rows_of(key) if r.lot.stopped or not r.lot.raw)
    if doubt := which_lot(tried, why, portion, rows, now, past_best_by):
        raise doubt


def which_lot(
    tried: Said,
    what: Said,
    portion: Portion,
    rows: Iterable[LotRow],
    now: datetime,
    past_best_by: str,
) -> WhichLot | None:
    """The question for a lot, where one of ``rows`` is there and may not be sold; else None.
    ``what`` makes it doubtful."""
    lots, why = [], what
    for lot, on_hand in ((row.lot, row.there) for row in oldest_first(rows)):
        refusal = lot_refusal(lot, now, past_best_by, tried)
        if refusal is None:
            lots.append((lot.lot, lot.mark.day, NOTHING))
        elif on_hand and not lot.reserve:
            lots.append((lot.lot, lot.mark.day, refusal.why))
            there = say("lot {lot} is still there: {why}", lot=lot.lot, why=refusal.why)
            why = join("; ", (why, there))
    do = say("Scan or name the lot of the piece in your hand")
    bad = any(no for _, _, no in lots)
    return WhichLot(tried, why, do, portion=portion.key, lots=tuple(lots)) if bad else None


def weighed(scan: Scan, portion: Portion, places: int) -> tuple[Measure | None, int | None]:
    """Weight and price that a weighed pack's own number carries.

    Where it carries only the price, the weight follows from the price per kg or lb.
    """
    price = None
    if scan.price is not None:
        price = half_up(Decimal(scan.price.amount).scaleb(places - scan.price.decimals))
    if not portion.per:
        return None, None
    if scan.weight_g is not None:
        return Measure(scan.weight_g, "g"), price
    if price is None or not portion.price:
        return None, None
    weight = (Decimal(price) / portion.price).quantize(Decimal("0.001"))
    return Measure(weight, portion.per), price


def products_numbered(number: str, catalogue: Catalogue) -> list[str]:
    """The products with this number, however many leading zeros a symbol puts before it. Two are
    where one got another key while some of it was on hand."""
    wanted = number.lstrip("0")
    return [p.key for p in catalogue.products.values() if p.pack.number.lstrip("0") == wanted != ""]


def product_numbered(
    number: str, catalogue: Catalogue, ledger: Ledger, tried: Said, item: str = ""
) -> str:
    """The product with this number, the one of which some is there; else the one with these
    ``item`` digits of a weighed pack's number."""
    found = products_numbered(number, catalogue)
    weighed = [p.key for p in catalogue.products.values() if item and p.pack.item == item]
    there = [key for key in found or weighed if any(r.there for r in ledger.rows_of(key))]
    if not found and not weighed:
        do = say("Scan the lot's own label, or tap it")
        raise NotFound(tried, "product numbered", number, (), do)
    return (there or found or weighed)[0]
