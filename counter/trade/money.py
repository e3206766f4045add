"""Exact money: whole minor units (cents), decimal rates, and every rounding with its name.

Half a cent is rounded up, away from zero (`half_up`); sums are never rounded twice.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from math import gcd
from typing import Annotated

import msgspec

from counter.errors import BadInput
from labels.say import Said, figure, say, term

Minor = Annotated[int, msgspec.Meta(extra={"money": True})]
"""Whole minor units, cents of a dollar: an amount of money as every record holds it."""

_MONEY = re.compile(r"([0-9]{1,9})(?:[.,]([0-9]+))?")
GREATEST = 10**9  # a slip above ten million is a slip of the finger


# Currencies and their decimal places that are known without the tables of CLDR, which take 7 ms.
USUAL = {
    "USD": 2,
    "EUR": 2,
    "GBP": 2,
    "CAD": 2,
    "AUD": 2,
    "CHF": 2,
    "MXN": 2,
    "CNY": 2,
    "TWD": 2,
    "JPY": 0,
    "KRW": 0,
    "VND": 0,
}


@lru_cache
def minor_places(currency: str) -> int:
    """Decimal places of a currency by ISO 4217, as CLDR lists them (USD 2, JPY 0)."""
    if currency in USUAL:
        return USUAL[currency]
    from babel.numbers import get_currency_precision

    return int(get_currency_precision(currency))


def half_up(value: Decimal) -> int:
    """Round to a whole minor unit, half up (away from zero).

    >>> half_up(Decimal("0.5")), half_up(Decimal("492.45"))
    (1, 492)
    """
    return int(value.quantize(Decimal(1), ROUND_HALF_UP))


def parse_money(text: str, places: int = 2, what: str = "amount") -> int:
    """Minor units from ``20``, ``20.00`` or ``20,00``. Refuses a sign and parts of a cent.

    >>> parse_money("3.5")
    350
    """
    tried = say("read {what} '{text}'", what=term(what), text=text)
    expected = say("Write it as {n}", n=said_money(20 * 10**places, places))
    written = text.strip()
    match = _MONEY.fullmatch(written) if written.isascii() else None
    if match is None:
        below = re.fullmatch(r"-[0-9.,]+", written)
        why = say("it is below zero") if below else say("it is not an amount")
        raise BadInput(tried, why, expected)
    whole, part = match[1], match[2] or ""
    if len(part) > places:
        raise BadInput(tried, say("it has parts of the smallest coin"), expected)
    minor: int = int(whole) * 10**places + int(part.ljust(places, "0") or "0")
    if minor > GREATEST:
        raise BadInput(tried, say("it is far too much"), expected)
    return minor


def show_money(minor: int, currency: str, locale: str = "en_US") -> str:
    """An amount as the market writes it, by CLDR."""
    from babel.numbers import format_currency

    amount = Decimal(minor).scaleb(-minor_places(currency))
    return format_currency(amount, currency, locale=locale)


@lru_cache(512)
def plain_money(minor: int, places: int = 2) -> str:
    """An amount with a point and no sign of the currency, for files: ``3.50``."""
    return f"{Decimal(minor).scaleb(-places):f}"


def said_money(minor: int, places: int = 2) -> Said:
    """The same for a sentence: with the decimal mark of whoever reads it."""
    return figure(plain_money(minor, places))


def tax_on(net: int, rate: Decimal) -> int:
    """Tax added to a net amount, half up to the minor unit."""
    return half_up(net * rate)


def tax_within(gross: int, rate: Decimal) -> int:
    """Tax contained in a gross amount, half up to the minor unit."""
    return half_up(gross * rate / (1 + rate))


def round_cash(amount: int, coin: int) -> int:
    """The nearest amount that coins of ``coin`` can pay; exactly half way goes up in size.

    With a coin of 5: 1 and 2 go down, 3 and 4 up, 6 and 7 down, 8 and 9 up. Source: Canada,
    Economic Action Plan 2012 (end of the one-cent coin); the US Treasury's FAQ of 2025-12-23 points
    to the same rule. Sweden, SFS 1970:1029: 1-49 öre down, 50-99 up.

    >>> [round_cash(c, 5) for c in (102, 103, 107, 108)]
    [100, 105, 105, 110]
    """
    size = half_up(Decimal(abs(amount)) / coin) * coin
    return size if amount >= 0 else -size


def share_out(total: int, weights: Sequence[int]) -> list[int]:
    """Split a whole amount in proportion, without losing a cent: largest remainders first.

    Shares of a positive weight never leave 0..total, and they add up to ``total``.

    >>> share_out(100, [1, 1, 1])
    [34, 33, 33]
    """
    whole = sum(weights)
    if whole == 0:
        if total:
            raise ValueError("nothing to share the amount over")
        return [0] * len(weights)
    shares = [total * weight // whole for weight in weights]
    rests = [(total * weight) % whole for weight in weights]
    for i in sorted(range(len(weights)), key=lambda i: -rests[i])[: total - sum(shares)]:
        shares[i] += 1
    return shares


def make_change(amount: int, drawer: Mapping[int, int]) -> dict[int, int] | None:
    """Coins and notes that make ``amount`` out of what the drawer holds, large ones first.

    ``drawer`` maps the value of a coin in minor units to how many there are. None where no
    choice of them makes the amount exactly.

    >>> make_change(60, {50: 1, 20: 3})
    {20: 3}
    """
    coins = sorted((c for c, n in drawer.items() if n > 0), reverse=True)
    behind = [sum(c * drawer[c] for c in coins[i:]) for i in range(len(coins) + 1)]
    steps = [gcd(*coins[i:]) for i in range(len(coins))]
    dead: set[tuple[int, int]] = set()

    def fill(i: int, rest: int) -> dict[int, int] | None:
        if rest == 0:
            return {}
        if rest > behind[i] or rest % steps[i] or (i, rest) in dead:
            return None
        coin = coins[i]
        fewest = max(0, -(-(rest - behind[i + 1]) // coin))
        for n in range(min(drawer[coin], rest // coin), fewest - 1, -1):
            found = fill(i + 1, rest - n * coin)
            if found is not None:
                return {coin: n, **found} if n else found
        dead.add((i, rest))
        return None

    return fill(0, amount)
