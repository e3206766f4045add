"""An opened shop: trade, books, labels and the clock, joined behind one door, :class:`Shop`."""

from counter.shop.copies import restore
from counter.shop.mending import mend_shop
from counter.shop.shop import Shop, make_shop
from counter.trade.batch_note import BatchNote

__all__ = ["BatchNote", "Shop", "make_shop", "mend_shop", "restore"]
