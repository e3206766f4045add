"""Coins and notes as a form asks for them, and the money fields beside them."""

from __future__ import annotations

import msgspec

from counter.trade.money import parse_money, plain_money
from counter.web.forms import typed, whole
from counter.web.here import field, shop, words


class Coin(msgspec.Struct, frozen=True):
    """One coin or note: its value in minor units and as people read it; how many were typed."""

    value: int
    shown: str
    typed: str


def coins() -> list[Coin]:
    """The coins of the shop, large ones first, with what was typed for each."""
    return [
        Coin(value, words().money(value), typed(f"coin-{value}"))
        for value in shop().desk.settings.cash.coins
    ]


def counted_coins() -> dict[str, int] | None:
    """Coins and notes of the form by value, or None where nobody counted by coin."""
    found = {value: whole(f"coin-{value}") for value in shop().desk.settings.cash.coins}
    if all(count is None for count in found.values()):
        return None
    return {str(value): count for value, count in found.items() if count}


def money_field(name: str, what: str) -> int | None:
    """An amount of money out of a field, or None where it is empty."""
    text = field(name, "", most=40)
    return parse_money(text, shop().desk.settings.places, what) if text else None


def plain(minor: int) -> str:
    """An amount as the fields take it."""
    return plain_money(minor, shop().desk.settings.places)
