"""Corrections of a sealed day: records in the open day that name what they correct.

What is sealed is never changed. A correction says which day and what of it was wrong, and by how
much; where it speaks of a lot that is still on the shelf, today's stock follows, and the difference
shows at today's closing as variance, so that made + carried in = sold + used + wasted + carried
out + variance stays exact for every lot.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

import msgspec

from counter.errors import BadInput

What = Literal["sale", "lot", "waste", "cash", "other"]
MOST = 10_000_000


class Correction(msgspec.Struct, frozen=True):
    """One correction. ``corrects`` is the sealed day it is about, ``day`` the day it stands in.

    ``amount`` is how much more of ``lot`` there is than the sealed day says (less: below zero), in
    the lot's unit; ``on_shelf`` whether today's stock followed. ``money`` is how many minor units
    more that day took in than it says; it moves nothing in today's drawer.
    """

    number: str
    corrects: date
    what: What
    text: str
    at: datetime
    sale: str = ""
    lot: str = ""
    amount: int = 0
    money: int = 0
    on_shelf: bool = False
    by: str = ""

    @property
    def day(self) -> date:
        return date.fromisoformat(self.number.partition("/")[0])


class Corrections(msgspec.Struct, frozen=True):
    """``about`` a day, noted later; and those ``written`` into its own book, about other days."""

    about: tuple[Correction, ...] = ()
    written: tuple[Correction, ...] = ()


def what_of(sale: str, lot: str, waste: bool, money: int) -> What:
    """What is corrected, from what is named."""
    if waste:
        return "waste"
    if sale:
        return "sale"
    if lot:
        return "lot"
    return "cash" if money else "other"


def check_correction(tried: str, why: str, what: What, lot: str, amount: int, money: int) -> None:
    """Refuse a correction that says nothing or cannot be meant."""
    if not why.strip():
        raise BadInput(tried, "no reason is given", "Say what was wrong, with --because")
    if not -MOST <= amount <= MOST or not -(10**9) <= money <= 10**9:
        raise BadInput(tried, "it is far too much", "Check the amount")
    if amount and not lot:
        raise BadInput(tried, "an amount needs the lot it is of", "Name it, with --lot")
    if what == "waste" and not lot:
        raise BadInput(tried, "no lot is named", "Name the lot that was thrown away, with --lot")
