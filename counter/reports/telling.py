"""Figures as people read them: the shop's money, its clock, its names for things."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import Literal

import msgspec

from counter.trade.catalogue import Catalogue
from counter.trade.money import show_money
from counter.trade.settings import Settings
from counter.trade.units import show_amount, show_temperature
from counter.trade.waste import WORDS


class Telling(msgspec.Struct, frozen=True):
    """How one shop writes its figures. Words are English; money and dates are the shop's own."""

    shop: str
    place: str
    currency: str
    language: str
    fahrenheit: bool
    us: bool
    included: bool
    names: Mapping[str, str]
    ingredients: Mapping[str, str]

    @property
    def paper(self) -> Literal["letter", "a4"]:
        return "letter" if self.us else "a4"

    def money(self, minor: int) -> str:
        return _money(minor, self.currency, self.language).replace("-", "−")

    def round_money(self, minor: int) -> str:
        """Without the small coins, for pictures."""
        return _round_money(minor, self.currency, self.language)

    def product(self, key: str) -> str:
        return self.names.get(key, key)

    def amount(self, amount: int, unit: str) -> str:
        """``96``, ``8.25 l``; a dash for none."""
        return show_amount(amount, unit) if amount else "–"

    def clock(self, moment: datetime) -> str:
        return f"{moment:%H:%M}"

    def long_date(self, day: date) -> str:
        """``Sunday, November 22, 2026``."""
        return _date(day, "full", self.language)

    def short_date(self, day: date) -> str:
        return _date(day, "MMM d" if self.us else "d MMM", self.language)

    def temperature(self, celsius: Decimal) -> str:
        return show_temperature(celsius, self.fahrenheit)

    def reasons(self, wasted: Mapping[str, int], unit: str) -> str:
        """``broken 2, tasting 1``."""
        return ", ".join(f"{WORDS.get(r, r)} {show_amount(n, unit)}" for r, n in wasted.items())


def telling_of(settings: Settings, catalogue: Catalogue) -> Telling:
    """How a shop writes, from its settings and the names in its catalogue."""
    facts = settings.shop
    return Telling(
        shop=facts.name,
        place=", ".join(part for part in (facts.city, facts.state) if part),
        currency=settings.cash.currency,
        language=facts.language,
        fahrenheit=settings.fahrenheit,
        us=facts.market == "us",
        included=settings.tax.mode == "included",
        names={key: product.name for key, product in catalogue.products.items()},
        ingredients={key: item.name for key, item in catalogue.ingredients.items()},
    )


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


def listed(words: Iterable[str]) -> str:
    """``a, b and c``.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    parts = list(words)
    return " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)


def share(part: int, whole: int) -> str:
    """A share in percent, to a tenth; a dash where there is no whole.

    >>> share(1, 3)
    '33.3 %'
    """
    return f"{decimals(Decimal(100 * part) / whole, 1)} %" if whole else "–"


@lru_cache(maxsize=4096)
def _money(minor: int, currency: str, language: str) -> str:
    return show_money(minor, currency, language)


@lru_cache(maxsize=4096)
def _round_money(minor: int, currency: str, language: str) -> str:
    from babel import Locale
    from babel.numbers import format_currency, get_currency_precision

    amount = Decimal(minor).scaleb(-int(get_currency_precision(currency)))
    whole = amount.quantize(Decimal(1), ROUND_HALF_UP)
    usual = str(Locale.parse(language).currency_formats["standard"].pattern)
    form = usual.replace("0.00", "0")
    return str(
        format_currency(whole, currency, locale=language, currency_digits=False, format=form)
    )


@lru_cache(maxsize=4096)
def _date(day: date, form: str, language: str) -> str:
    from babel.dates import format_date

    locale = language if language.startswith("en") else "en_GB"
    return str(format_date(day, form, locale=locale))
