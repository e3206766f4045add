"""Corrections of a sealed day: records in the open day that name what they correct.

What is sealed is never changed. A correction says which day and what of it was wrong, and by how
much; where it speaks of a lot that is still on the shelf, today's stock follows, and the difference
shows at today's closing as variance, so that made + carried in = sold + used + wasted + carried
out + variance stays exact for every lot.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

import msgspec

from counter.errors import BadInput, NotFound, Refused
from counter.trade.money import Minor
from counter.trade.payments import PaymentKind
from counter.trade.sales import SaleLine, SlipItem
from counter.trade.temperatures import Temperature
from counter.trade.units import show_amount
from labels.say import Said, figure, join, option, say

What = Literal["sale", "lot", "waste", "cash", "temperature", "other"]
MOST = 10_000_000


class Correction(msgspec.Struct, frozen=True, kw_only=True):
    """One correction. ``corrects`` is the sealed day it is about, ``day`` the day it stands in.

    ``amount`` is how much more of ``lot`` there is than the sealed day says (less: below zero), in
    the lot's unit; ``on_shelf`` whether today's stock followed. ``money`` is how many minor units
    more that day took in than it says, ``drawer`` how many more should have been in its drawer;
    neither moves anything in today's. ``lines`` is a sale that nobody entered, with the ``tax`` on
    or in it, ``reading`` a temperature that nobody noted; ``happened`` says when, where known.

    Records of before the drawer had a field of its own have its money in ``money``.
    """

    number: str
    corrects: date
    what: What
    text: Said
    at: datetime
    sale: str = ""
    lot: str = ""
    amount: int = 0
    money: Minor = 0
    on_shelf: bool = False
    by: str = ""
    drawer: Minor = 0
    lines: tuple[SaleLine, ...] = ()
    tax: Minor = 0
    paid: Literal["", PaymentKind] = ""
    reading: Temperature | None = None
    happened: datetime | None = None
    unit: str = ""

    @property
    def taken(self) -> int:
        """How much more the sales of that day brought."""
        return 0 if self.what == "cash" else self.money

    @property
    def in_drawer(self) -> int:
        """How much more should have been in the drawer of that day."""
        return self.drawer + (self.money if self.what == "cash" else 0)

    @property
    def day(self) -> date:
        return date.fromisoformat(self.number.partition("/")[0])


class Corrections(msgspec.Struct, frozen=True):
    """``about`` a day, noted later; and those ``written`` into its own book, about other days."""

    about: tuple[Correction, ...] = ()
    written: tuple[Correction, ...] = ()

    @property
    def taken(self) -> int:
        """How much more the day took in than it says."""
        return sum(c.taken for c in self.about)

    @property
    def in_drawer(self) -> int:
        """How much more should have been in its drawer."""
        return sum(c.in_drawer for c in self.about)


def what_of(sale: str, lot: str, waste: bool, cash: int) -> What:
    """What is corrected, from what is named."""
    if waste:
        return "waste"
    if sale:
        return "sale"
    if lot:
        return "lot"
    return "cash" if cash else "other"


def lot_sold(tried: Said, item: SlipItem, name: str, there: Sequence[str]) -> str:
    """The lot that a forgotten sale is of: the one named, or the only one ``there`` that day."""
    if not there:
        why = say("no lot of {name} was there that day", name=name)
        raise Refused(tried, why, say("Check the day"))
    if item.lot and item.lot not in there:
        raise NotFound(tried, "lot", item.lot, there)
    if not item.lot and len(there) > 1:
        why = say("lots {names} were there", names=", ".join(there))
        do = say("Name the one it was, as {name}@{lot}", name=item.portion, lot=there[0])
        raise BadInput(tried, why, do)
    return item.lot or there[0]


def plus(amount: int, shown: str) -> Said:
    """An amount as it is shown, with the sign of what is more."""
    return join("", ("+", shown) if amount > 0 else (shown,))


def goods_words(
    correction: Correction, temperature: Callable[[Decimal], str], unit: str = "piece"
) -> list[Said]:
    """What a correction says of food, in a few words each: ``sold 2 x Firm block``. ``unit`` is
    for records that do not say that of their amount."""
    found = [
        say("sold {amount} x {name}", amount=figure(line.weight or line.quantity), name=line.name)
        for line in correction.lines
    ]
    if reading := correction.reading:
        verdict = [] if reading.ok else [say("OUT OF LIMITS")]
        found.append(join(" ", (reading.place, temperature(reading.celsius), *verdict)))
    if correction.happened:
        found.append(say("at {clock}", clock=f"{correction.happened:%H:%M}"))
    if amount := correction.amount:
        found.append(plus(amount, show_amount(amount, correction.unit or unit)))
    return found


def change_words(
    correction: Correction,
    money: Callable[[int], str],
    temperature: Callable[[Decimal], str],
    unit: str = "piece",
) -> Said:
    """What a correction changes: ``sold 2 x Firm block, +$6.50 taken, drawer +$6.50``."""
    found = goods_words(correction, temperature, unit)
    if taken := correction.taken:
        found.append(say("{money} taken", money=plus(taken, money(taken))))
    if correction.tax:
        found.append(say("{money} of it tax", money=money(correction.tax)))
    if drawer := correction.in_drawer:
        found.append(say("drawer {money}", money=plus(drawer, money(drawer))))
    return join(", ", found)


def check_correction(
    tried: Said,
    why: str,
    what: What,
    *,
    lot: str = "",
    amount: int = 0,
    money: int = 0,
    cash: int = 0,
) -> None:
    """Refuse a correction that says nothing or cannot be meant."""
    if not why.strip():
        raise BadInput(
            tried,
            say("no reason is given"),
            say("Say what was wrong{how}", how=option("--because")),
        )
    if not -MOST <= amount <= MOST or not all(-(10**9) <= n <= 10**9 for n in (money, cash)):
        raise BadInput(tried, say("it is far too much"), say("Check the amount"))
    if money and what != "sale":
        do = say(
            "Name it{how}, or say what the drawer had more or less{or_how}",
            how=option("--sale"),
            or_how=option("--cash"),
        )
        raise BadInput(tried, say("what was taken changes only with the sale it was taken in"), do)
    if amount and not lot:
        raise BadInput(
            tried, say("an amount needs the lot it is of"), say("Name it{how}", how=option("--lot"))
        )
    if what == "waste" and not lot:
        do = say("Name the lot that was thrown away{how}", how=option("--lot"))
        raise BadInput(tried, say("no lot is named"), do)
