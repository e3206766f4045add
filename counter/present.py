"""Figures as people read them: money, amounts, days, clocks, temperatures, names.

Said once for command line, page and paper, in the shop's currency, units and clock. What a locale
decides is CLDR's.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import Literal

from counter.trade.catalogue import Catalogue
from counter.trade.money import minor_places, show_money
from counter.trade.settings import Settings
from counter.trade.units import show_amount, show_temperature
from counter.trade.waste import WORDS
from labels.say import Said, figure, join, say

# Heads of what came to a lot or a product, and where it went.
FLOW = (say("in"), say("made"), say("sold"), say("used"), say("wasted"), say("out"), say("missing"))


def language_for(wanted: str, settings: Settings) -> str:
    """The language that is spoken: the one ``wanted``, else the shop's, else English."""
    own = settings.shop.language[:2]
    if own == "en" and not wanted:
        return own
    from counter.languages import codes, names

    if wanted and wanted in names():
        return wanted
    return own if own in codes() else "en"


def locale_for(language: str, settings: Settings) -> str:
    """The shop's locale in a language: ``es`` in a shop of ``en_US`` is ``es_US``."""
    if settings.shop.language[:2] == language:
        return settings.shop.language
    from babel import Locale, UnknownLocaleError

    try:
        territory = Locale.parse(settings.shop.language).territory or language.upper()
        return str(Locale.parse(f"{language}_{territory}"))
    except (UnknownLocaleError, ValueError):
        return language


class Presenter:
    """Says the figures of one shop as its locale writes them in ``language``, its own by default;
    names are those of ``catalogue``. ``minus`` is the sign of money below zero."""

    def __init__(
        self,
        settings: Settings,
        catalogue: Catalogue | None = None,
        language: str = "",
        minus: str = "-",
    ) -> None:
        self.settings, self.catalogue = settings, catalogue or Catalogue()
        self.language = language or language_for("", settings)
        self.locale, self.minus = locale_for(self.language, settings), minus

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

    def number(self, value: int | Decimal) -> str:
        from babel.numbers import format_decimal

        return _wide(format_decimal(value, locale=self.locale))

    def percent(self, rate: Decimal) -> str:
        """A rate that is a part of one: ``8.6%``, ``8,6 %`` in Germany."""
        from babel.numbers import format_percent

        return str(format_percent(rate, locale=self.locale, decimal_quantization=False))

    def some(self, amount: int, unit: str) -> str:
        """An amount; a dash for none."""
        return show_amount(amount, unit) if amount else "–"

    def temperature(self, celsius: Decimal) -> Said:
        return show_temperature(celsius, self.settings.fahrenheit)

    def reasons(self, wasted: Mapping[str, int], unit: str) -> Said:
        """``broken 2, tasting 1``."""
        found = ((WORDS.get(r, r), show_amount(n, unit)) for r, n in wasted.items())
        return join(", ", (join(" ", pair) for pair in found))

    # -- days and clocks

    def clock(self, moment: dt.datetime) -> str:
        """``6:34 PM`` on the shop's clock, ``18:34`` in Germany."""
        from babel.dates import format_time

        local = moment.astimezone(self.settings.zone)
        return _wide(format_time(local, "short", locale=self.locale))

    def moment(self, moment: dt.datetime) -> str:
        """``11/26/26, 6:34 PM`` on the shop's clock."""
        from babel.dates import format_datetime

        local = moment.astimezone(self.settings.zone)
        return _wide(format_datetime(local, "short", locale=self.locale))

    def date(self, day: dt.date, form: str = "medium") -> str:
        """``Nov 22, 2026``; ``Sunday, November 22, 2026`` where ``form`` is full."""
        return _date(day, form, self.locale)

    def day(self, day: dt.date) -> str:
        """A day of about now: ``Thu 26``."""
        return _date(day, "EEE d", self.locale)

    def short_date(self, day: dt.date) -> str:
        """A day of this year: ``Nov 22``."""
        return _parts_of_date(day, "MMMd", self.locale)

    def month(self, day: dt.date) -> str:
        """``November 2026``."""
        return _parts_of_date(day, "yMMMM", self.locale)


def decimals(value: Decimal, places: int = 2) -> Said:
    """A figure to so many places, half up.

    >>> decimals(Decimal("3.0869"))
    '3.09'
    """
    return figure(f"{value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP):f}")


def exact(value: Decimal | None) -> Said:
    """A figure as it was noted; a dash for none.

    >>> exact(Decimal("7.50"))
    '7.5'
    """
    return figure("–" if value is None else f"{value.normalize():f}")


def weight(grams: Decimal | int) -> Said:
    """``18 kg``, ``350 g``, to the gram.

    >>> weight(18000), weight(350), weight(Decimal("1250.4"))
    ('18 kg', '350 g', '1.25 kg')
    """
    whole = int(Decimal(grams).quantize(Decimal(1), ROUND_HALF_UP))
    if abs(whole) < 1000:
        return figure(f"{whole} g")
    return figure(f"{(Decimal(whole) / 1000).normalize():f} kg")


def share(part: int, whole: int) -> Said:
    """A share in percent, to a tenth; a dash where there is no whole.

    >>> share(1, 3)
    '33.3 %'
    """
    return figure(f"{decimals(Decimal(100 * part) / whole, 1)} %" if whole else "–")


@lru_cache(maxsize=4096)
def _money(minor: int, currency: str, locale: str) -> str:
    return _wide(show_money(minor, currency, locale))


def _wide(text: object) -> str:
    """With no narrow space: many faces lack it."""
    return str(text).replace("\u202f", "\u00a0")


@lru_cache(maxsize=4096)
def _round_money(minor: int, currency: str, locale: str) -> str:
    from babel import Locale
    from babel.numbers import format_currency

    whole = Decimal(minor).scaleb(-minor_places(currency)).quantize(Decimal(1), ROUND_HALF_UP)
    usual = str(Locale.parse(locale).currency_formats["standard"].pattern)
    form = usual.replace("0.00", "0")
    return str(format_currency(whole, currency, locale=locale, currency_digits=False, format=form))


@lru_cache(maxsize=4096)
def _date(day: dt.date, form: str, locale: str) -> str:
    from babel.dates import format_date

    return str(format_date(day, form, locale=locale))


@lru_cache(maxsize=4096)
def _parts_of_date(day: dt.date, parts: str, locale: str) -> str:
    """So much of a date, in the order of the locale (CLDR: skeletons)."""
    from babel.dates import format_skeleton

    return str(format_skeleton(parts, day, locale=locale))
