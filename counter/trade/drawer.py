"""The cash drawer: what it starts with, what goes in and out, what should be in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Literal, assert_never

import msgspec

from counter.errors import BadInput
from counter.trade.money import make_change, parse_money
from counter.trade.payments import in_coins
from counter.trade.refunds import Refund
from counter.trade.sales import Sale
from labels.say import NOTHING, Said, say

Move = Literal["float", "in", "out"]


class DrawerMove(msgspec.Struct, frozen=True, kw_only=True):
    """``float`` says what the drawer starts with; ``in`` and ``out`` are money put in or taken.

    ``coins`` maps a coin's value in minor units, as text, to how many; empty if not counted so.
    """

    kind: Move
    amount: int
    at: datetime
    why: Said = NOTHING
    coins: dict[str, int] = {}
    by: str = ""


class Drawer:
    """The drawer over one trading day. ``expected`` is what should be in it, in minor units."""

    def __init__(self, carried: int = 0, values: Sequence[int] = ()) -> None:
        self.opening = carried
        self.float: int | None = None
        self.moved_in = self.moved_out = 0
        self.cash_sales = self.cash_refunds = 0
        self.values = values
        # Coins are a best guess: what was counted, then large notes in and the fewest coins out.
        self.coins: dict[int, int] = {}
        self._changes: dict[str, dict[int, int] | None] = {}

    @property
    def start(self) -> int:
        return self.opening if self.float is None else self.float

    @property
    def touched(self) -> bool:
        """Whether cash has gone in or out since the start."""
        return any((self.moved_in, self.moved_out, self.cash_sales, self.cash_refunds))

    @property
    def expected(self) -> int:
        return self.start + self.moved_in - self.moved_out + self.cash_sales - self.cash_refunds

    def move(self, move: DrawerMove) -> None:
        coins = {int(value): count for value, count in move.coins.items()}
        match move.kind:
            case "float":
                self.float = move.amount
                self.coins = coins
            case "in":
                self.moved_in += move.amount
                self._add(coins or self._large(move.amount), 1)
            case "out":
                self.moved_out += move.amount
                self._add(coins or make_change(move.amount, self.coins) or {}, -1)
            case _:
                assert_never(move.kind)

    def sell(self, sale: Sale) -> None:
        for payment in sale.payments:
            if in_coins(payment.kind):
                self.cash_sales += payment.amount
                if self.coins:
                    self._add(self._large(payment.given), 1)
                    change = self._changes[sale.number] = make_change(sale.change, self.coins)
                    self._add(change or {}, -1)

    def refund(self, refund: Refund) -> None:
        if refund.in_cash:
            self.cash_refunds += refund.in_cash
            self._add(make_change(refund.in_cash, self.coins) or {}, -1)

    def change_of(self, sale: Sale) -> dict[int, int] | None:
        """The coins a booked sale's change was made of; None where the drawer had none for it."""
        if sale.number in self._changes:
            return self._changes[sale.number]
        return any_coins(sale.change, self.values)

    def _large(self, amount: int) -> dict[int, int]:
        return make_change(amount, dict.fromkeys(self.values, 999)) or {}

    def _add(self, coins: dict[int, int], sign: int) -> None:
        for value, count in coins.items():
            self.coins[value] = max(0, self.coins.get(value, 0) + sign * count)


def any_coins(amount: int, values: Sequence[int]) -> dict[int, int] | None:
    """Coins for an amount where nobody has counted what the drawer holds."""
    return make_change(amount, dict.fromkeys(values, 99)) if values else None


def parse_coins(text: str, places: int, values: Sequence[int]) -> dict[str, int]:
    """Counted coins and notes, ``20x10 5x4 0.25x12``, as value to count.

    >>> parse_coins("20x10 0.25x12", 2, [2000, 25])
    {'2000': 10, '25': 12}
    """
    expected = say("Write value x count, such as 20x10 0.25x12")
    counted: dict[str, int] = {}
    for word in re.split(r"[\s,;]+", text.strip()):
        match = re.fullmatch(r"([0-9.]+)[x*×]([0-9]{1,5})", word)
        tried = say("read coins '{text}'", text=word)
        if match is None:
            raise BadInput(tried, say("it is not a value and a count"), expected)
        value = parse_money(match[1], places, "coin")
        if value not in values:
            raise BadInput(tried, say("the shop takes no such coin"), expected)
        counted[str(value)] = counted.get(str(value), 0) + int(match[2])
    return counted


def worth(coins: dict[str, int]) -> int:
    """What counted coins are worth together, in minor units."""
    return sum(int(value) * count for value, count in coins.items())
