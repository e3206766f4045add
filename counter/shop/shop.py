"""Shop: the one door to a shop's folder. Each command and each page calls one of its methods."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from datetime import datetime
from pathlib import Path
from typing import Self

from counter.books import Books
from counter.errors import DiskRefused, Refused
from counter.shop.amendments import Amendments
from counter.shop.audit import Audit
from counter.shop.cards import Cards
from counter.shop.closed_days import ClosedDays
from counter.shop.closings import Closings
from counter.shop.copies import Copies
from counter.shop.counter import Counter
from counter.shop.desk import Desk
from counter.shop.evening import Evening
from counter.shop.exports import Exports
from counter.shop.filing import replace_whole
from counter.shop.holds import Holds
from counter.shop.labels import Labels
from counter.shop.payments import Payments
from counter.shop.plan import Plan
from counter.shop.production import Production
from counter.shop.products import Products
from counter.shop.records import Records
from counter.shop.reports import Reports
from counter.shop.setup import FILE, Setup, stamp_of
from counter.shop.tubs import Tubs
from counter.trade.settings import Settings, parse_settings


class Shop(Desk):
    """An opened shop, put together of its parts. Open it with :meth:`Shop.open`, make a new one
    with :func:`make_shop`."""

    def __init__(
        self,
        books: Books,
        settings: Settings,
        clock: Callable[[], datetime],
        folder: Path | None = None,
    ) -> None:
        super().__init__(books, settings, clock, folder)
        self.products = Products(self)
        self.production = Production(self, self.products)
        self.holds = Holds(self)
        self.amendments = Amendments(self, self.products, self.production, self.holds)
        self.tubs = Tubs(self)
        self.counter = Counter(self, self.products, self.tubs)
        self.closings = Closings(self)
        self.payments = Payments(self, self.counter, self.closings)
        self.closed_days = ClosedDays(self, self.holds, self.counter, self.closings)
        self.records = Records(self, self.products, self.holds, self.closings)
        self.exports = Exports(self, self.closings)
        self.labels = Labels(self, self.products, self.production)
        self.cards = Cards(self, self.products, self.labels)
        self.reports = Reports(self, self.products, self.closings, self.closed_days, self.records)
        self.evening = Evening(self, self.closings, self.reports)
        self.plan = Plan(self, self.closings)
        self.setup = Setup(self, self.labels)
        self.copies = Copies(self, self.setup)
        self.audit = Audit(self, self.closings, self.copies)

    @classmethod
    def open(cls, folder: Path, clock: Callable[[], datetime] | None = None) -> Self:
        """As :meth:`.Desk.open`; what is written into ``shop.toml`` from now on will be noticed."""
        file = folder / FILE
        # Looked at before it is read: what changes in between is read once more, never missed.
        before = stamp_of(file) if file.is_file() else (0, 0)
        made = super().open(folder, clock)
        made.setup.settings_stamp = before
        return made


def make_shop(
    folder: Path, settings_text: str, clock: Callable[[], datetime] | None = None,
    catalogue: str = "",
) -> Shop:  # fmt: skip
    """Make a shop folder with its ``shop.toml``, and with a ``catalogue.toml`` where one is given,
    in use at once. Refused where something is there already. What the disk refuses leaves nothing.
    """
    tried = f"make a shop in '{folder}'"
    parse_settings(settings_text)
    try:
        if folder.exists() and any(folder.iterdir()):
            raise Refused(tried, "the folder is not empty", "Name a new folder")
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise no_folder(tried, error) from None
    with ExitStack() as half_made:
        half_made.callback(_unmake, folder)
        try:
            replace_whole(folder / "shop.toml", settings_text.encode())
            Books.create(folder)
            shop = Shop.open(folder, clock)
            half_made.callback(shop.books.close)
            if catalogue:
                replace_whole(folder / "catalogue.toml", catalogue.encode())
                shop.products.load_catalogue(catalogue)
        except OSError as error:
            raise no_folder(tried, error) from None
        half_made.pop_all()
    return shop


def _unmake(folder: Path) -> None:
    for path in folder.iterdir():
        path.unlink(missing_ok=True)


def no_folder(tried: str, error: OSError) -> DiskRefused:
    """The sentence for a folder that cannot be made or read."""
    why = (error.strerror or str(error)).lower()
    return DiskRefused(tried, why, "Name a folder that can be written")
