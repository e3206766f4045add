"""Shop: the one door to a shop's folder. Each command and each page calls one of its methods."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Self

from counter.books import Books
from counter.errors import DiskRefused, Refused
from counter.shop.desk import Desk
from counter.shop.files import replace_whole, stamp_of
from counter.trade.settings import Settings, parse_settings
from labels.errors import answer_of
from labels.say import Said, say

if TYPE_CHECKING:
    from counter.shop.amendments import Amendments
    from counter.shop.audit import Audit
    from counter.shop.cards import Cards
    from counter.shop.closed_days import ClosedDays
    from counter.shop.closings import Closings
    from counter.shop.copies import Copies
    from counter.shop.counter import Counter
    from counter.shop.evening import Evening
    from counter.shop.exports import Exports
    from counter.shop.holds import Holds
    from counter.shop.labels import Labels
    from counter.shop.payments import Payments
    from counter.shop.plan import Plan
    from counter.shop.production import Production
    from counter.shop.products import Products
    from counter.shop.records import Records
    from counter.shop.reports import Reports
    from counter.shop.setup import Setup
    from counter.shop.tubs import Tubs
    from counter.shop.waste import ThrownAway


class Shop:
    """An opened shop, put together of its parts, each loaded and made when it is first asked for.
    Open it with :meth:`Shop.open`, make a new one with :func:`make_shop`."""

    _read_of = (0, 0)  # the stamp of shop.toml as it was read

    def __init__(self, desk: Desk) -> None:
        self.desk = desk  # parts hold the desk, none the shop: who lets go of it closes the books

    @cached_property
    def products(self) -> Products:
        from counter.shop.products import Products

        return Products(self.desk)

    @cached_property
    def production(self) -> Production:
        from counter.shop.production import Production

        return Production(self.desk, self.products)

    @cached_property
    def holds(self) -> Holds:
        from counter.shop.holds import Holds

        return Holds(self.desk)

    @cached_property
    def amendments(self) -> Amendments:
        from counter.shop.amendments import Amendments

        return Amendments(self.desk, self.products, self.production, self.holds)

    @cached_property
    def tubs(self) -> Tubs:
        from counter.shop.tubs import Tubs

        return Tubs(self.desk)

    @cached_property
    def counter(self) -> Counter:
        from counter.shop.counter import Counter

        return Counter(self.desk, self.products)

    @cached_property
    def waste(self) -> ThrownAway:
        from counter.shop.waste import ThrownAway

        return ThrownAway(self.desk, self.tubs)

    @cached_property
    def closings(self) -> Closings:
        from counter.shop.closings import Closings

        return Closings(self.desk)

    @cached_property
    def payments(self) -> Payments:
        from counter.shop.payments import Payments

        return Payments(self.desk, self.counter, self.closings)

    @cached_property
    def closed_days(self) -> ClosedDays:
        from counter.shop.closed_days import ClosedDays

        return ClosedDays(self.desk, self.holds, self.counter, self.closings)

    @cached_property
    def records(self) -> Records:
        from counter.shop.records import Records

        return Records(self.desk, self.products, self.holds, self.closings)

    @cached_property
    def exports(self) -> Exports:
        from counter.shop.exports import Exports

        return Exports(self.desk, self.closings)

    @cached_property
    def labels(self) -> Labels:
        from counter.shop.labels import Labels

        return Labels(self.desk, self.products, self.production)

    @cached_property
    def cards(self) -> Cards:
        from counter.shop.cards import Cards

        return Cards(self.desk, self.products, self.labels)

    @cached_property
    def reports(self) -> Reports:
        from counter.shop.reports import Reports

        return Reports(self.desk, self.products, self.closings, self.closed_days, self.records)

    @cached_property
    def evening(self) -> Evening:
        from counter.shop.evening import Evening

        return Evening(self.desk, self.closings, self.reports)

    @cached_property
    def plan(self) -> Plan:
        from counter.shop.plan import Plan

        return Plan(self.desk, self.closings)

    @cached_property
    def setup(self) -> Setup:
        from counter.shop.setup import Setup

        return Setup(self.desk, self.labels, self._read_of)

    @cached_property
    def copies(self) -> Copies:
        from counter.shop.copies import Copies

        return Copies(self.desk, self.setup)

    @cached_property
    def audit(self) -> Audit:
        from counter.shop.audit import Audit

        return Audit(self.desk, self.closings, self.copies)

    @classmethod
    def open(cls, folder: Path, clock: Callable[[], datetime] | None = None) -> Self:
        """As :meth:`.Desk.open`; what is written into ``shop.toml`` from now on will be noticed."""
        file = folder / "shop.toml"
        # Looked at before it is read: what changes in between is read once more, never missed.
        before = stamp_of(file) if file.is_file() else (0, 0)
        made = cls(Desk.open(folder, clock))
        made._read_of = before
        return made

    @classmethod
    def memory(cls, settings: Settings, clock: Callable[[], datetime]) -> Self:
        """The same shop without files, for trying things out."""
        return cls(Desk.memory(settings, clock))


def make_shop(
    folder: Path,
    settings_text: str,
    clock: Callable[[], datetime] | None = None,
    catalogue: str = "",
) -> Shop:
    """Make a shop folder with its ``shop.toml``, and with a ``catalogue.toml`` where one is given,
    in use at once. Refused where something is there already. What the disk refuses leaves nothing.
    """
    tried = say("make a shop in '{folder}'", folder=folder)
    parse_settings(settings_text)
    try:
        if folder.exists() and any(folder.iterdir()):
            raise Refused(tried, say("the folder is not empty"), say("Name a new folder"))
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise no_folder(tried, error) from None
    with ExitStack() as half_made:
        half_made.callback(_unmake, folder)
        try:
            replace_whole(folder / "shop.toml", settings_text.encode())
            Books.create(folder)
            shop = Shop.open(folder, clock)
            half_made.callback(shop.desk.books.close)
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


def no_folder(tried: Said, error: OSError) -> DiskRefused:
    """The sentence for a folder that cannot be made or read."""
    return DiskRefused(tried, answer_of(error), say("Name a folder that can be written"))
