"""An opened shop: trade, books, labels and the clock, joined behind one door, :class:`Shop`."""

from counter.shop.shop import Shop, make_shop
from counter.trade.batch_note import BatchNote

__all__ = ["BatchNote", "Shop", "make_shop"]
