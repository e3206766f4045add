"""What the person at the counter does beside the tubs: sales and refunds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from datetime import date, datetime
from typing import TYPE_CHECKING

import msgspec
from tinydb import where

from counter.books import CATALOGUE
from counter.errors import BadInput, CounterError, KeyTaken, NotFound, Refused, WhichLot
from counter.shop.desk import Desk, Entry
from counter.shop.products import Products
from counter.trade.asking import Question
from counter.trade.doubts import of_tender
from counter.trade.drawer import any_coins
from counter.trade.ledger import Ledger
from counter.trade.money import round_cash, said_money
from counter.trade.numbers import next_number
from counter.trade.orders import parse_item
from counter.trade.payments import PaymentKind, Tender, how_paid, in_coins, settle
from counter.trade.picking import Picker, item_for_scan, refuse_doubtful
from counter.trade.production import lot_day, must_have_reason
from counter.trade.refunds import Refund, RefundLine, kind_of, refund_lines
from counter.trade.sales import (
    Kept,
    PaperSale,
    PricedSlip,
    Sale,
    Slip,
    SlipItem,
    content_of,
    goods_of,
    price_slip,
)
from counter.trade.shelf import Shelf, lay_shelf
from counter.trade.stock import How, lot_of, refusal_for
from counter.trade.tables import records_in
from counter.trade.units import parse_day
from labels.say import NOTHING, Said, say

if TYPE_CHECKING:
    from labels.scan import Scan


def is_scan(code: str) -> bool:
    """Whether a text is a code out of a scanner (or a lot's, as typed), and no name."""
    digits = code.isascii() and code.isdigit() and len(code) >= 8
    return bool(lot_day(code)) or digits or code.startswith(("]", "\x1d", "http", "("))


class Counter:
    """Sales and refunds."""

    def __init__(self, desk: Desk, products: Products) -> None:
        self.desk = desk
        self.products = products
        self._ready: object = None
        self._least = 0

    def read_item(self, text: str, at: datetime | None = None) -> SlipItem:
        """An item as typed, or as any scanner types it: see :mod:`counter.trade.orders`.

        A code that names no lot may have the lot beside it: ``9521234000020@26328-01``.
        """
        code, star, count = text.strip().rpartition("*")
        if not star or not count.isdecimal():
            code, count = text.strip(), "1"
        number, named_so, lot = code.rpartition("@")
        if not (named_so and lot_day(lot)):
            number, lot = code, ""
        if is_scan(number):
            return self._scanned_item(number, int(count[:6]), lot, at or self.desk.now())
        catalogue = self.desk.catalogues.at(at) if at else self.desk.for_sale()
        if named := catalogue.portion_named(number):
            how: How = "named" if lot else "assumed"
            return SlipItem(named.key, int(count[:6]), lot, how=how)
        return parse_item(text)

    def _scanned_item(self, code: str, count: int, lot: str, moment: datetime) -> SlipItem:
        """The pack of a code; ``lot`` is what somebody read on it, where the code names none."""
        ledger = self.desk.ledger(self.desk.day_of(moment))
        catalogue = self.desk.for_sale(ledger, moment)
        scan = self.scan(code)
        self._refuse_gone(scan.lot, ledger, moment)
        item = item_for_scan(scan, count, ledger, catalogue, self.desk.settings.places)
        if lot and item.lot not in ("", lot):
            tried = say("sell what was scanned, '{code}'", code=code)
            why = say("it says lot {lot} itself", lot=item.lot)
            raise Refused(tried, why, say("Scan or name the right one"))
        if lot and not item.lot:
            item = msgspec.structs.replace(item, lot=lot, how="named")
        if not item.lot:
            portion = catalogue.portions[item.portion]
            refuse_doubtful(
                scan, portion, catalogue, ledger, moment, self.desk.settings.shop.past_best_by
            )
        return item

    def _refuse_gone(self, lot: str, ledger: Ledger, now: datetime) -> None:
        """A lot that left the shelf long ago is refused for its date, not as unknown."""
        if not lot or lot in ledger.rows:
            return
        policy, tried = self.desk.settings.shop.past_best_by, say("sell lot {lot}", lot=lot)
        batch = self.desk.batch(lot, tried)
        gone = lot_of(batch, lot_day(lot) or ledger.day, ledger.held(lot) or NOTHING)
        if refusal := refusal_for(gone, now, policy, tried):
            raise refusal

    def scan(self, text: str) -> Scan:
        """What a scanner typed, by the layouts of restricted numbers the shop uses."""
        from labels.scan import parse_scan

        return parse_scan(text, self.desk.settings.layouts, year=self.desk.today().year)

    def shelf(self) -> Shelf:
        """What is on hand now, oldest first."""
        policy = self.desk.settings.shop.past_best_by
        return lay_shelf(self.desk.standing(), self.desk.for_sale(), self.desk.now(), policy)

    # -- sales

    def price(self, slip: Slip, at: datetime | None = None) -> PricedSlip:
        """What a slip would cost now; nothing is written. For a late note, ``at``, nobody is asked
        for a lot yet."""
        moment = at or self.desk.now()
        ledger = self.desk.ledger(self.desk.day_of(moment))
        return self.price_now(
            slip,
            Picker(
                ledger,
                self.desk.for_sale(ledger, moment),
                moment,
                self.desk.settings.shop.past_best_by,
                self.desk.now(),
                gone=at is not None,
            ),
        )

    def price_now(self, slip: Slip, picker: Picker, clock: datetime | None = None) -> PricedSlip:
        tax = self.desk.catalogues.tax_at(picker.now, clock or picker.clock)
        return price_slip(slip, picker.catalogue, tax, picker.draw, picker.last_day)

    def sell(
        self, slip: Slip, tenders: Sequence[Tender], at: datetime | None = None, by: str = ""
    ) -> Sale:
        """Book a slip. Sent again with the same key, it answers with the sale booked before.

        KeyTaken where something else was booked under that key.
        """
        try:
            with self.desk.writing(at, by) as entry:
                before = entry.ledger.keyed.get(slip.key)
                before = before or self.booked(slip.key)
                if before is None:
                    return self.book(slip, tenders, entry, self.priced(slip, entry))
        except CounterError:
            # What was booked is answered, whatever is refused by now (the day is closed, say).
            before = self.booked(slip.key)
            if before is None:
                raise
        return self.same(before, slip, tenders, at)

    def same(
        self, before: Sale, slip: Slip, tenders: Sequence[Tender], at: datetime | None
    ) -> Sale:
        """The sale that a key was booked under, if it is of the same content; else KeyTaken."""
        if before.content in ("", content_of(slip, tenders)):
            return before
        raise self._taken(before, slip, tenders, at)

    def _taken(
        self, before: Sale, slip: Slip, tenders: Sequence[Tender], at: datetime | None
    ) -> KeyTaken:
        """What stands under a key, and what was sent with it now."""
        places, when = self.desk.settings.places, before.paid_at.astimezone(self.desk.settings.zone)
        booked = say(
            "its key {key} was booked as sale {number} over {total} {paid} at {clock} ({goods})",
            key=slip.key,
            number=before.number,
            total=said_money(before.total, places),
            paid=how_paid(before.payments),
            clock=f"{when:%H:%M}",
            goods=before.goods,
        )
        try:
            priced = self.price(slip, at)
            why = say(
                "{booked}, and this one is over {total} {paid} ({goods})",
                booked=booked,
                total=said_money(priced.total, places),
                paid=how_paid(tenders),
                goods=goods_of(priced.lines),
            )
        except CounterError:
            why = say("{booked}, and this one is of something else", booked=booked)
        do = say("Look at that sale; if this is another, book it with a key of its own")
        return KeyTaken(say("book the payment"), why, do, sale=before.number)

    def sell_from_paper(
        self, sales: Sequence[PaperSale], key: str = "", by: str = ""
    ) -> list[Sale]:
        """Book sales that were written on paper, in the order of their times: all or none.

        All are of one trading day. Where the lot is doubtful, it is asked once. ``key`` is the
        list's own: sent again, it answers with what was booked. An error bears the ``row`` it is
        about.
        """
        tried = say("enter sales from paper")
        if not sales:
            raise BadInput(tried, say("there is none"), say("Write down what was sold, and when"))
        ordered = sorted(enumerate(sales), key=lambda one: one[1].at.timestamp())
        if len({self.desk.day_of(sale.at) for sale in sales}) > 1:
            raise BadInput(
                tried, say("they are of several days"), say("Enter those of one day at a time")
            )
        with self.desk.books.exclusive():
            return self._booked_list(ordered, key) or self._sell_list(ordered, key, by)

    def _booked_list(self, ordered: Sequence[tuple[int, PaperSale]], key: str) -> list[Sale]:
        """What was booked under the key of a list, on whatever day; KeyTaken for another list."""
        known = [self.booked(f"{key}/{row}") for row in range(len(ordered) + 1) if key]
        made = list(filter(None, known))
        for row, sale in ordered if made else ():
            slip, paid, one = Slip(sale.items, key=f"{key}/{row}"), [Tender(sale.paid)], known[row]
            same = one and (one.at, one.content) == (sale.at, content_of(slip, paid))
            if not same or len(made) != len(ordered):
                taken = self._taken(one or made[-1], slip, paid, sale.at)
                taken.row = row
                raise taken
        return sorted(made, key=lambda sale: sale.number)

    def _sell_list(self, ordered: Sequence[tuple[int, PaperSale]], key: str, by: str) -> list[Sale]:
        with self.desk.writing(ordered[0][1].at, by) as entry:
            made, trial = list[Sale](), deepcopy(entry.ledger)
            for row, sale in ordered:
                try:
                    one = Entry(
                        trial, self.desk.check_moment(sale.at, entry.now), entry.now, entry.by
                    )
                    slip = Slip(sale.items, key=f"{key}/{row}" if key else "")
                    made.append(self.book(slip, [Tender(sale.paid)], one, self.priced(slip, one)))
                except CounterError as error:
                    error.row = row
                    raise
                trial.add(one.records)
                entry.add(made[-1])
                entry.ask(*one.questions)
        return made

    def book(
        self,
        slip: Slip,
        tenders: Sequence[Tender],
        entry: Entry,
        priced: PricedSlip,
        kept: Kept | None = None,
    ) -> Sale:
        settings, least = self.desk.settings, self._least_number(entry.day, entry.now.date())
        payments, rounding, change = settle(
            priced.total, tuple(tenders), coin=settings.cash.smallest_coin, places=settings.places
        )
        entry.ask(*of_tender(payments, settings.cash.coins, settings.places, priced.total))
        number = next_number(next(reversed(entry.ledger.sales), ""), least)
        sale = Sale(
            number=f"{entry.day}/{number:04d}",
            at=entry.at,
            lines=priced.lines,
            taxes=priced.taxes,
            total=priced.total,
            payments=payments,
            where=slip.where,
            rounding=rounding,
            change=change,
            discount=priced.discount,
            why=priced.why,
            included=priced.included,
            key=slip.key,
            by=entry.by,
            content=content_of(slip, tenders) if slip.key else "",
            kept=kept,
        )
        entry.add(sale)
        return sale

    def _least_number(self, day: date, today: date) -> int:
        """Behind which number the sales of a day go on, once the shop may sell and its taxes are
        noted: looked up again where the catalogue's book, the settings or the date are others."""
        desk = self.desk
        if self._ready != (desk.books.head(CATALOGUE), desk.settings, day, today):
            self.products.refuse_new(say("sell"))
            desk.catalogues.note_tax()
            self._ready = desk.books.head(CATALOGUE), desk.settings, day, today
            self._least = desk.least_numbers(day).sales
        return self._least

    def priced(self, slip: Slip, entry: Entry, gone: bool = False) -> PricedSlip:
        """A slip priced to be booked. Noted late, nobody holds its pieces any more: which lot they
        were of is a question that may be answered in words, and the oldest are assumed."""
        picker = Picker(
            entry.ledger,
            self.desk.for_sale(entry.ledger, entry.at),
            entry.at,
            self.desk.settings.shop.past_best_by,
            entry.now,
            gone,
        )
        try:
            return self.price_now(slip, picker)
        except WhichLot as doubt:
            if entry.at == entry.now:
                raise
            entry.ask(
                Question(
                    about="lot", tried=doubt.tried, text=doubt.why, clause="the shop's own rule"
                )
            )
            return self.priced(slip, entry, gone=True)

    def booked(self, key: str) -> Sale | None:
        """The sale that a key was booked under, if any, in whatever year: on the disk for sure."""
        entry = self.desk.books.keyed(key)
        sales = records_in(Sale, [entry.records] if entry else ())
        return next((s for s in sales if s.key == key), None)

    def change_coins(self, sale: Sale) -> dict[int, int] | None:
        """Coins for a sale's change out of the drawer; None where the drawer cannot make it."""
        day = self.desk.day_of(sale.at)
        if self.desk.is_closed(day):
            return any_coins(sale.change, self.desk.settings.cash.coins)
        return self.desk.ledger(day).drawer.change_of(sale)

    def oversold_by(self, sale: Sale) -> list[str]:
        """Lots of a sale of which the log has less than none left, on a day still open."""
        day = self.desk.day_of(sale.at)
        if self.desk.is_closed(day):
            return []
        rows = self.desk.ledger(day).rows
        lots = dict.fromkeys(d.lot for line in sale.lines for d in line.draws)
        return [lot for lot in lots if lot in rows and rows[lot].on_hand < 0]

    def sale(self, number: str) -> Sale:
        """A booked sale by its number, of any day."""
        tried = say("look up sale {number}", number=number)
        day = self._sale_day(number, tried)
        if found := self.desk.sale_numbered(number):
            return found
        numbers = [s.number for s in self.desk.recorded(Sale, day)]
        raise NotFound(tried, "sale", number, numbers[-12:])

    def _sale_day(self, number: str, tried: Said) -> date:
        try:
            return parse_day(number.split("/")[0])
        except BadInput:
            raise BadInput(
                tried, say("it is no sale number"), say("Write it as 2026-11-24/0017")
            ) from None

    def refund(
        self,
        number: str,
        why: str,
        lines: Mapping[int, int] | None = None,
        kind: PaymentKind | None = None,
        restock: bool = False,
        reference: str = "",
        at: datetime | None = None,
        by: str = "",
    ) -> Refund:
        """Give money back for a sale or so many of some lines. ``restock``: goods never left.

        By default it goes back as it was paid: see :func:`.refunds.kind_of`.
        """
        tried = say("refund sale {number}", number=number)
        why = must_have_reason(tried, why)
        with self.desk.writing(at, by) as entry:
            sale = self.sale(number)
            if entry.at.timestamp() < sale.at.timestamp():
                sold = f"{sale.at.astimezone(self.desk.settings.zone):%Y-%m-%d %H:%M}"
                do = say("Write when the money was given back")
                raise BadInput(tried, say("it was sold only at {moment}", moment=sold), do)
            before = self._refunds_of(sale)
            parts = refund_lines(sale, before, lines)
            if restock:
                self._may_restock(tried, sale, parts, entry)
            amount = sum(p.amount for p in parts)
            kind, by_card = kind_of(sale, before, amount, kind, self.desk.settings.places)
            rounding = self._cash_rounding(amount - by_card, before) if in_coins(kind) else 0
            last = entry.ledger.refunds[-1].number if entry.ledger.refunds else ""
            own = next_number(last, self.desk.least_numbers(entry.day).refunds)
            return entry.add(
                Refund(
                    number=f"{entry.day}/R{own:03d}",
                    sale=number,
                    lines=tuple(parts),
                    amount=amount,
                    kind=kind,
                    why=why,
                    at=entry.at,
                    restocked=restock,
                    rounding=rounding,
                    reference=reference[:40],
                    by=entry.by,
                    by_card=by_card,
                )
            )

    def _cash_rounding(self, amount: int, before: Sequence[Refund]) -> int:
        """Rounding of a cash refund so that all of them together are rounded once."""
        due = sum(r.amount - r.on_card for r in before) + amount
        paid = sum(r.in_cash for r in before)
        return max(0, round_cash(due, self.desk.settings.cash.smallest_coin) - paid) - amount

    def refunds_of(self, number: str) -> list[Refund]:
        """The refunds of a sale so far, of any day."""
        return self._refunds_of(self.sale(number))

    def _refunds_of(self, sale: Sale) -> list[Refund]:
        found = self.desk.books.select(about=sale.number)
        return found.find("refunds", Refund, where("sale") == sale.number)

    def _may_restock(
        self, tried: Said, sale: Sale, parts: Sequence[RefundLine], entry: Entry
    ) -> None:
        """Only what cannot have left the counter goes back: of today, and in its pack."""
        do = say("Refund it without putting it back")
        if (day := self.desk.day_of(sale.paid_at)) != entry.day:
            raise Refused(
                tried,
                say("it was sold on {date}, and what has left is not sold again", date=day),
                do,
            )
        for draw in (d for p in parts for d in p.draws):
            if draw.tub:
                why = say(
                    "it was scooped from tub {tub}, and nothing goes back into a tub", tub=draw.tub
                )
                raise Refused(tried, why, do)
            if draw.lot not in entry.ledger.rows:
                raise Refused(tried, say("lot {lot} is no longer on the shelf", lot=draw.lot), do)
