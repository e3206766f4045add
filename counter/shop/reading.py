"""What is typed or scanned at the counter, read: the item it stands for, or why it is not sold."""

from __future__ import annotations

from datetime import datetime

import msgspec

from counter.errors import Refused
from counter.shop.scooping import Scooping
from counter.trade.ledger import Ledger
from counter.trade.orders import parse_item
from counter.trade.picking import item_for_scan, refuse_doubtful
from counter.trade.production import lot_day
from counter.trade.sales import SlipItem
from counter.trade.stock import How, lot_of, refusal_for
from labels.gs1 import Scan, parse_scan


def is_scan(code: str) -> bool:
    """Whether a text is a code out of a scanner (or a lot's, as typed), and no name."""
    digits = code.isascii() and code.isdigit() and len(code) >= 8
    return bool(lot_day(code)) or digits or code.startswith(("]", "\x1d", "http", "("))


class Reading(Scooping):
    """Names and codes."""

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
            return self._scanned_item(number, int(count[:6]), lot, at or self.now())
        catalogue = self.catalogue_at(at) if at else self.for_sale()
        if named := catalogue.portion_named(number):
            how: How = "named" if lot else "assumed"
            return SlipItem(named.key, int(count[:6]), lot, how=how)
        return parse_item(text)

    def _scanned_item(self, code: str, count: int, lot: str, moment: datetime) -> SlipItem:
        """The pack of a code; ``lot`` is what somebody read on it, where the code names none."""
        ledger = self.ledger(self.day_of(moment))
        catalogue = self.for_sale(ledger, moment)
        scan = self.scan(code)
        self._refuse_gone(scan.lot, ledger, moment)
        item = item_for_scan(scan, count, ledger, catalogue, self.settings.places)
        if lot and item.lot not in ("", lot):
            why = f"it says lot {item.lot} itself"
            raise Refused(f"sell what was scanned, '{code}'", why, "Scan or name the right one")
        if lot and not item.lot:
            item = msgspec.structs.replace(item, lot=lot, how="named")
        if not item.lot:
            portion = catalogue.portions[item.portion]
            refuse_doubtful(
                scan, portion, catalogue, ledger, moment, self.settings.shop.past_best_by
            )
        return item

    def _refuse_gone(self, lot: str, ledger: Ledger, now: datetime) -> None:
        """A lot that left the shelf long ago is refused for its date, not as unknown."""
        if not lot or lot in ledger.rows:
            return
        policy, tried = self.settings.shop.past_best_by, f"sell lot {lot}"
        batch = self.batch(lot, tried)
        gone = lot_of(batch, lot_day(lot) or ledger.day, ledger.held(lot) or "")
        if refusal := refusal_for(gone, now, policy, tried):
            raise refusal

    def scan(self, text: str) -> Scan:
        """What a scanner typed, by the layouts of restricted numbers the shop uses."""
        return parse_scan(text, self.settings.layouts, year=self.today().year)
