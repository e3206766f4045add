"""What the person at the counter does: tubs, sales, refunds, waste."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Literal

from counter.errors import BadInput, CounterError, NotFound, NotSafe, Refused
from counter.shop.desk import Desk, Entry
from counter.trade.drawer import any_coins
from counter.trade.ledger import Ledger
from counter.trade.money import round_cash
from counter.trade.must_go import MustGo, must_go
from counter.trade.orders import parse_item
from counter.trade.picking import Picker, item_for_scan
from counter.trade.production import lot_day
from counter.trade.refunds import Refund, refund_lines
from counter.trade.sales import PricedSlip, Sale, Slip, SlipItem, Tender, price_slip, settle
from counter.trade.shelf import Shelf, lay_shelf
from counter.trade.stock import lot_of, refusal_for
from counter.trade.tubs import Mode, Tub, TubCheck, TubEnded, TubOpened, open_tub, words_of
from counter.trade.units import parse_day, show_amount
from counter.trade.waste import Reason, Waste
from labels.gs1 import Scan, parse_scan

KEY_DAYS = 4  # a sale sent again is looked for so many days back


class Selling(Desk):
    """Tubs, sales, refunds, waste."""

    def shelf(self) -> Shelf:
        """What is on hand now, oldest first."""
        policy = self.settings.shop.past_best_by
        return lay_shelf(self.standing(), self.catalogue, self.now(), policy)

    # -- tubs

    def open_tub(
        self, lot: str, mode: Mode, level: int | None = None, celsius: Decimal | None = None,
        at: datetime | None = None, by: str = "",
    ) -> Tub:  # fmt: skip
        """Put a tub of a lot on the counter. ``level`` in ml; by default one mould of the lot."""
        tried = f"open a tub of lot {lot} {words_of(mode)}"
        with self.writing(at, by) as entry:
            row = entry.ledger.row(lot, tried)
            product = self.catalogue.products.get(row.lot.product)
            if product is None or not product.tub:
                raise Refused(tried, "it is not sold from a tub", "Name a lot of pudding")
            refusal = refusal_for(row.lot, entry.day, self.settings.shop.past_best_by, tried)
            if refusal:
                raise refusal
            if level is None:
                free = row.on_hand - entry.ledger.in_tubs(lot)
                level = min(product.mould, free) if free > 0 else product.mould
            number = self._tubs_opened(row.lot.made_on, lot) + 1
            opened = TubOpened(f"{lot}/{number}", lot, mode, level, entry.at, celsius, entry.by)
            tub = open_tub(opened, product.key)
            entry.add("tubs", opened)
        return tub

    def _tubs_opened(self, made_on: date, lot: str) -> int:
        """How many tubs of a lot were ever opened: a name is never given twice."""
        commits = (c for day in self.books.days(made_on) for c in self.records_of(day))
        tubs = (t for c in commits for t in c.get("tubs", []))
        return sum(isinstance(t, TubOpened) and t.lot == lot for t in tubs)

    def check_tub(
        self, tub: str, celsius: Decimal, at: datetime | None = None, by: str = ""
    ) -> Tub:
        """Write down a temperature measured in an open tub; answers with the tub as it stands."""
        with self.writing(at, by) as entry:
            standing = self._standing(entry, tub, f"check tub {tub}")
            check = TubCheck(tub, celsius, entry.at, entry.by)
            entry.add("checks", check)
            return standing.checked(check)

    def end_tub(
        self, tub: str, left: int, kept: bool, at: datetime | None = None, by: str = ""
    ) -> list[Waste]:
        """Take a tub away with ``left`` ml in it. What is lost or not kept is waste."""
        tried = f"end tub {tub}"
        if left < 0:
            raise BadInput(tried, f"{left} ml left is no amount", "Say how much is left in it")
        with self.writing(at, by) as entry:
            standing = self._standing(entry, tub, tried)
            if kept and standing.mode != "cold":
                why = f"it stood {words_of(standing.mode)}, and only a cold tub is put back"
                raise NotSafe(tried, why, "Throw the rest away", lot=standing.lot)
            if kept and (
                refusal := Picker(entry.ledger, self.catalogue, entry.at, "refuse").why_not(
                    standing, tried
                )
            ):
                raise refusal  # fmt: skip
            holding = max(0, entry.ledger.rows[standing.lot].on_hand)
            if left > max(holding, standing.level):
                why = f"{left} ml left in it are more than the log has: only {holding} of it left"
                raise Refused(tried, why, "Measure it again, or throw away less")
            gone = self._emptied(standing, left, kept, entry)
            entry.add("ended", TubEnded(tub, left, kept, entry.at, entry.by))
        return gone

    def _standing(self, entry: Entry, tub: str, tried: str) -> Tub:
        standing = entry.ledger.tub(tub, tried)
        if standing.ended is not None:
            raise Refused(tried, f"it was taken away at {standing.ended:%H:%M}", "Name an open tub")
        return standing

    def _emptied(self, tub: Tub, left: int, kept: bool, entry: Entry) -> list[Waste]:
        losses: list[tuple[int, Reason]] = [(tub.level - left, "scooping")]
        if not kept:
            losses.append((left, "time"))
        gone = [
            Waste(tub.lot, amount, reason, entry.at, "", tub.tub, entry.by)
            for amount, reason in losses
            if amount > 0
        ]
        for waste in gone:
            entry.add("waste", waste)
        return gone

    # -- sales

    def read_item(self, text: str, at: datetime | None = None) -> SlipItem:
        """An item as typed, or as any scanner types it: see :mod:`counter.trade.orders`."""
        code, star, count = text.strip().rpartition("*")
        if not star or not count.isdecimal():
            code, count = text.strip(), "1"
        digits = code.isascii() and code.isdigit() and len(code) >= 8
        if lot_day(code) or digits or code.startswith(("]", "\x1d", "http", "(")):
            ledger = self.ledger(self.day_of(at or self.now()))
            scan = self.scan(code)
            self._refuse_gone(scan.lot, ledger)
            places = self.settings.places
            return item_for_scan(scan, int(count[:6]), ledger, self.catalogue, places)
        named = self.catalogue.portion_named(code)
        return SlipItem(named.key, int(count[:6])) if named else parse_item(text)

    def _refuse_gone(self, lot: str, ledger: Ledger) -> None:
        """A lot that left the shelf long ago is refused for its date, not as unknown."""
        if not lot or lot in ledger.rows:
            return
        policy, tried = self.settings.shop.past_best_by, f"sell lot {lot}"
        batch = self.batch(lot, tried)
        gone = lot_of(batch, lot_day(lot) or ledger.day, ledger.held(lot) or "")
        if refusal := refusal_for(gone, ledger.day, policy, tried):
            raise refusal

    def scan(self, text: str) -> Scan:
        """What a scanner typed, by the layouts of restricted numbers the shop uses."""
        return parse_scan(text, self.settings.layouts, year=self.today().year)

    def price(self, slip: Slip, at: datetime | None = None) -> PricedSlip:
        """What a slip would cost now; nothing is written."""
        moment = at or self.now()
        return self._price(slip, Picker(
            self.ledger(self.day_of(moment)), self.catalogue, moment,
            self.settings.shop.past_best_by,
        ))  # fmt: skip

    def _price(self, slip: Slip, picker: Picker) -> PricedSlip:
        return price_slip(
            slip, picker.catalogue, self.settings.tax, picker.draw, picker.last_day
        )  # fmt: skip

    def sell(
        self, slip: Slip, tenders: Sequence[Tender], at: datetime | None = None, by: str = ""
    ) -> Sale:
        """Book a slip. Sent again with the same key, it answers with the sale booked before."""
        try:
            with self.writing(at, by) as entry:
                before = entry.ledger.keyed.get(slip.key) or self._booked_before(
                    slip.key, entry.day
                )
                return before or self._sell(slip, tenders, entry)
        except CounterError:
            # What was booked is answered, whatever is refused by now (the day is closed, say).
            if before := self.booked(slip.key, at):
                return before
            raise

    def _sell(self, slip: Slip, tenders: Sequence[Tender], entry: Entry) -> Sale:
        picker = Picker(
            entry.ledger, self.catalogue_as_read(), entry.at, self.settings.shop.past_best_by
        )
        priced = self._price(slip, picker)
        payments, rounding, change = settle(
            priced.total, tenders, self.settings.smallest_coin, self.settings.places
        )
        sale = Sale(
            f"{entry.day}/{len(entry.ledger.sales) + 1:04d}", entry.at, priced.lines,
            priced.taxes, priced.total, payments, slip.where, rounding, change,
            priced.discount, priced.why, priced.included, slip.key, entry.by,
        )  # fmt: skip
        entry.add("sales", sale)
        return sale

    def booked(self, key: str, at: datetime | None = None) -> Sale | None:
        """The sale a key was booked under lately, if any: also on a day that is closed since."""
        day = self.day_of(at or self.now())
        return self._keys_of(day).get(key) or self._booked_before(key, day)

    def _booked_before(self, key: str, day: date) -> Sale | None:
        if not key:
            return None
        days = self.books.days(day - timedelta(days=KEY_DAYS), day - timedelta(days=1))
        return next((f for d in reversed(days) if (f := self._keys_of(d).get(key))), None)

    def _keys_of(self, day: date) -> Mapping[str, Sale]:
        """The sales of a day by the key they were sent with; each line is read once."""
        if not self.books.days(day, day):
            return {}
        upto, found = self._keys.get(day, (-1, {}))
        last = self.books.day(day).last_n
        if last != upto:
            if last < upto:
                upto, found = -1, {}
            for n, _, records in self.books.entries_since(day, upto):
                upto = n
                for sale in records.get("sales", ()):
                    if isinstance(sale, Sale) and sale.key:
                        found[sale.key] = sale
            self._keys[day] = (upto, found)
            for old in sorted(self._keys)[: -2 * KEY_DAYS]:
                del self._keys[old]
        return found

    def change_coins(self, sale: Sale) -> dict[int, int] | None:
        """Coins for a sale's change out of the drawer; None where the drawer cannot make it."""
        day, sealed = self.day_of(sale.at), self.sealed_until()
        if sealed is not None and day <= sealed:
            return any_coins(sale.change, self.settings.coin_values)
        return self.ledger(day).drawer.change_of(sale)

    def oversold_by(self, sale: Sale) -> list[str]:
        """Lots of a sale of which the log has less than none left, on a day still open."""
        day, sealed = self.day_of(sale.at), self.sealed_until()
        if sealed is not None and day <= sealed:
            return []
        rows = self.ledger(day).rows
        lots = dict.fromkeys(d.lot for line in sale.lines for d in line.draws)
        return [lot for lot in lots if lot in rows and rows[lot].on_hand < 0]

    def sale(self, number: str) -> Sale:
        """A booked sale by its number, of any day."""
        tried = f"look up sale {number}"
        day = self._sale_day(number, tried)
        numbers = []
        for commit in self.records_of(day):
            for sale in commit.get("sales", []):
                if isinstance(sale, Sale):
                    if sale.number == number:
                        return sale
                    numbers.append(sale.number)
        raise NotFound(tried, "sale", number, numbers[-12:])

    def _sale_day(self, number: str, tried: str) -> date:
        try:
            return parse_day(number.split("/")[0])
        except BadInput:
            raise BadInput(tried, "it is no sale number", "Write it as 2026-11-24/0017") from None

    def refund(
        self, number: str, why: str, lines: Mapping[int, int] | None = None,
        kind: Literal["cash", "card"] | None = None, restock: bool = False, reference: str = "",
        at: datetime | None = None, by: str = "",
    ) -> Refund:  # fmt: skip
        """Give money back for a sale or so many of some lines. ``restock``: goods never left."""
        tried = f"refund sale {number}"
        if not why.strip():
            raise BadInput(tried, "no reason is given", "Say why, with --because")
        with self.writing(at, by) as entry:
            sale = self.sale(number)
            if entry.at.timestamp() < sale.at.timestamp():
                sold = f"{sale.at.astimezone(self.settings.zone):%Y-%m-%d %H:%M}"
                do = "Write when the money was given back"
                raise BadInput(tried, f"it was sold only at {sold}", do)
            before = self._refunds_of(sale)
            parts = refund_lines(sale, before, lines)
            if restock:
                self._may_restock(tried, parts, entry)
            amount = sum(p.amount for p in parts)
            kind = kind or ("cash" if any(p.kind == "cash" for p in sale.payments) else "card")
            rounding = 0
            if kind == "cash":
                rounding = self._cash_rounding(amount, before)
            record = Refund(
                f"{entry.day}/R{len(entry.ledger.refunds) + 1:03d}", number, tuple(parts), amount,
                kind, why.strip()[:200], entry.at, restock, rounding, reference[:40], entry.by,
            )  # fmt: skip
            entry.add("refunds", record)
        return record

    def _cash_rounding(self, amount: int, before: Sequence[Refund]) -> int:
        """Rounding of a cash refund so that all of them together are rounded once."""
        cash = [r for r in before if r.kind == "cash"]
        due = sum(r.amount for r in cash) + amount
        paid = sum(r.amount + r.rounding for r in cash)
        return max(0, round_cash(due, self.settings.smallest_coin) - paid) - amount

    def refunds_of(self, number: str) -> list[Refund]:
        """The refunds of a sale so far, of any day."""
        return self._refunds_of(self.sale(number))

    def _refunds_of(self, sale: Sale) -> list[Refund]:
        sold = self._sale_day(sale.number, "look up refunds")
        days = self.books.days(sold)
        return [
            refund
            for day in days
            for commit in self.records_of(day)
            for refund in commit.get("refunds", [])
            if isinstance(refund, Refund) and refund.sale == sale.number
        ]

    def _may_restock(self, tried: str, parts: Sequence[object], entry: Entry) -> None:
        for draw in (d for p in parts for d in getattr(p, "draws", ())):
            if draw.lot not in entry.ledger.rows:
                why = f"lot {draw.lot} is no longer on the shelf"
                raise Refused(tried, why, "Refund it without putting it back")
            tub = entry.ledger.tubs.get(draw.tub)
            if draw.tub and (tub is None or tub.ended is not None):
                why = f"tub {draw.tub} was taken away"
                raise Refused(tried, why, "Refund it without putting it back")

    # -- waste

    def must_go(self) -> list[MustGo]:
        """What must be thrown away now, what surely goes first."""
        return must_go(self.standing(), self.now(), self.settings.shop.past_best_by)

    def throw_out(
        self, lot: str, amount: int, reason: Reason, words: str = "", by: str = ""
    ) -> list[Waste]:
        """Throw away all that is left of a lot, its open tubs with it, in one commit.

        ``amount`` is what somebody saw there; refused when the log says otherwise by now.
        """
        tried = f"throw away lot {lot}"
        with self.writing(by=by) as entry:
            row = entry.ledger.row(lot, tried)
            if amount != row.on_hand or amount <= 0:
                unit = row.lot.unit
                there = show_amount(row.on_hand, unit)
                why = f"{show_amount(amount, unit)} were seen, and the log has {there}"
                raise Refused(tried, why, "Look at it again")
            gone = []
            for tub in entry.ledger.open_tubs():
                if tub.lot == lot:
                    level = max(0, min(tub.level, amount))
                    entry.add("ended", TubEnded(tub.tub, level, False, entry.at, entry.by))
                    gone.append(Waste(lot, level, reason, entry.at, words, tub.tub, entry.by))
                    amount -= level
            gone.append(Waste(lot, amount, reason, entry.at, words, "", entry.by))
            gone = [waste for waste in gone if waste.amount]
            for waste in gone:
                entry.add("waste", waste)
        return gone

    def throw_away(
        self, lot: str, amount: int, reason: Reason, words: str = "", tub: str = "",
        at: datetime | None = None, by: str = "",
    ) -> Waste:  # fmt: skip
        """Write down what of a lot is gone, with the reason."""
        tried = f"throw away {amount} of lot {lot}"
        if not 0 < amount <= 10_000_000:
            raise BadInput(tried, f"{amount} is no amount", "Say how much is gone")
        with self.writing(at, by) as entry:
            row = entry.ledger.row(lot, tried)
            if tub and self._standing(entry, tub, tried).lot != lot:
                why = f"tub {tub} holds lot {entry.ledger.tubs[tub].lot}"
                raise Refused(tried, why, "Name the lot that is in it")
            there = max(row.on_hand, row.left or 0, 0)
            if amount > there:
                raise Refused(
                    tried, f"the log has only {there} of it left",
                    "Count the lot first, with `counter count`, if more is really there",
                )  # fmt: skip
            record = Waste(lot, amount, reason, entry.at, words, tub, entry.by)
            entry.add("waste", record)
        return record
