"""Figures as people read them: money, amounts, days, clocks, temperatures, names.

Said once for command line, page and paper, in the shop's currency, units and clock. What a locale
decides is CLDR's.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import Literal

from counter.trade.catalogue import Catalogue
from counter.trade.money import minor_places, show_money
from counter.trade.settings import Settings
from counter.trade.units import show_amount, show_temperature
from counter.trade.waste import WORDS


class Presenter:
    """Says the figures of one shop as ``locale`` writes them, its own by default; names are those
    of ``catalogue``. ``minus`` is the sign of money below zero."""

    def __init__(
        self,
        settings: Settings,
        catalogue: Catalogue | None = None,
        locale: str = "",
        minus: str = "-",
    ) -> None:
        self.settings, self.catalogue = settings, catalogue or Catalogue()
        self.locale, self.minus = locale or settings.shop.language, minus

    @property
    def name(self) -> str:
        """The name of the shop."""
        return self.settings.shop.name

    @property
    def place(self) -> str:
        """Town and state."""
        facts = self.settings.shop
        return ", ".join(part for part in (facts.city, facts.state) if part)

    @property
    def address(self) -> str:
        """Name, street and place, in a line."""
        facts = self.settings.shop
        place = " ".join(part for part in (facts.city, facts.state, facts.zip) if part)
        return ", ".join(part for part in (facts.name, facts.street, place) if part)

    @property
    def paper(self) -> Literal["letter", "a4"]:
        return "letter" if self.settings.shop.market == "us" else "a4"

    @property
    def included(self) -> bool:
        """Whether prices hold the tax."""
        return self.settings.tax.mode == "included"

    # -- names and figures

    def product(self, key: str) -> str:
        product = self.catalogue.products.get(key)
        return product.name if product else key

    def ingredient(self, key: str) -> str:
        item = self.catalogue.ingredients.get(key)
        return item.name if item else key

    def money(self, minor: int) -> str:
        shown = _money(minor, self.settings.cash.currency, self.locale)
        return shown.replace("-", self.minus)

    def round_money(self, minor: int) -> str:
        """Without the small coins, for pictures."""
        return _round_money(minor, self.settings.cash.currency, self.locale)

    def amount(self, amount: int, unit: str) -> str:
        """``96``, ``8.25 l``."""
        return show_amount(amount, unit)

    def some(self, amount: int, unit: str) -> str:
        """An amount; a dash for none."""
        return show_amount(amount, unit) if amount else "–"

    def temperature(self, celsius: Decimal) -> str:
        return show_temperature(celsius, self.settings.fahrenheit)

    def reasons(self, wasted: Mapping[str, int], unit: str) -> str:
        """``broken 2, tasting 1``."""
        return ", ".join(f"{WORDS.get(r, r)} {show_amount(n, unit)}" for r, n in wasted.items())

    # -- days and clocks

    def clock(self, moment: datetime) -> str:
        """``18:34`` on the shop's clock."""
        return f"{moment.astimezone(self.settings.zone):%H:%M}"

    def moment(self, moment: datetime) -> str:
        """``2026-11-26 18:34`` on the shop's clock."""
        return f"{moment.astimezone(self.settings.zone):%Y-%m-%d %H:%M}"

    def long_date(self, day: date) -> str:
        """``Sunday, November 22, 2026``."""
        return _date(day, "full", self.locale)

    def short_date(self, day: date) -> str:
        us = self.settings.shop.market == "us"
        return _date(day, "MMM d" if us else "d MMM", self.locale)


def several(count: int, one: str, many: str = "") -> str:
    """``1 day``, ``2 days``; ``many`` is not ``one`` with an s.

    >>> several(1, "day"), several(0, "day"), several(2, "batch", "batches")
    ('1 day', '0 days', '2 batches')
    """
    return f"{count} {one if count == 1 else many or f'{one}s'}"


def decimals(value: Decimal, places: int = 2) -> str:
    """A figure to so many places, half up.

    >>> decimals(Decimal("3.0869"))
    '3.09'
    """
    return f"{value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP):f}"


def weight(grams: Decimal | int) -> str:
    """``18 kg``, ``350 g``, to the gram.

    >>> weight(18000), weight(350), weight(Decimal("1250.4"))
    ('18 kg', '350 g', '1.25 kg')
    """
    whole = int(Decimal(grams).quantize(Decimal(1), ROUND_HALF_UP))
    if abs(whole) < 1000:
        return f"{whole} g"
    return f"{(Decimal(whole) / 1000).normalize():f} kg"


def share(part: int, whole: int) -> str:
    """A share in percent, to a tenth; a dash where there is no whole.

    >>> share(1, 3)
    '33.3 %'
    """
    return f"{decimals(Decimal(100 * part) / whole, 1)} %" if whole else "–"


@lru_cache(maxsize=4096)
def _money(minor: int, currency: str, locale: str) -> str:
    # A narrow space is one that many faces lack.
    return show_money(minor, currency, locale).replace("\u202f", "\u00a0")


@lru_cache(maxsize=4096)
def _round_money(minor: int, currency: str, locale: str) -> str:
    from babel import Locale
    from babel.numbers import format_currency

    whole = Decimal(minor).scaleb(-minor_places(currency)).quantize(Decimal(1), ROUND_HALF_UP)
    usual = str(Locale.parse(locale).currency_formats["standard"].pattern)
    form = usual.replace("0.00", "0")
    return str(format_currency(whole, currency, locale=locale, currency_digits=False, format=form))


@lru_cache(maxsize=4096)
def _date(day: date, form: str, language: str) -> str:
    from babel.dates import format_date

    locale = language if language.startswith("en") else "en_GB"
    return str(format_date(day, form, locale=locale))
