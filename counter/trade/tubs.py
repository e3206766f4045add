"""Pudding at the counter: a tub has a clock, a level and cups left.

Sources: FDA Food Code 3-501.16, held at 57 °C / 135 °F or above, or at 5 °C / 41 °F or below;
3-501.19(B), time only: at most 4 hours from the time it left temperature control, started at or
below 5 °C or at or above 57 °C, then thrown away. That a holding check is due at least every 4
hours is common practice, no source. Procedures for time only must be written beforehand; the local
food code and the inspector decide. That only a cold tub outlasts its trading day is the shop's own
rule, on the safe side of both.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Literal

import msgspec

from counter.errors import BadInput, NotSafe
from counter.trade.units import CLOCKS_DIFFER, minutes_between

Mode = Literal["hot", "cold", "time"]

# 135 °F is 57.22 °C; the code writes 57 °C for it, so either reading passes. 41 °F is 5 °C.
HOT = Decimal(57)
COLD = Decimal(5)
MINUTES = 240


class TubOpened(msgspec.Struct, frozen=True):
    """A tub put on the counter, out of one lot. ``level`` is the millilitres in it."""

    tub: str
    lot: str
    mode: Mode
    level: int
    at: datetime
    celsius: Decimal | None = None
    by: str = ""


class TubCheck(msgspec.Struct, frozen=True):
    """A temperature measured in the tub.

    ``anew`` says that it was noted as it was measured, at an hour before what was noted last: the
    clock was set back, and the time counts from here.
    """

    tub: str
    celsius: Decimal
    at: datetime
    by: str = ""
    anew: bool = False


class TubEnded(msgspec.Struct, frozen=True):
    """A tub taken off the counter with ``left`` millilitres in it; ``kept`` if put back cold."""

    tub: str
    left: int
    kept: bool
    at: datetime
    by: str = ""


class Tub(msgspec.Struct, frozen=True):
    """A tub as it stands: the value a closing carries over and a screen shows.

    ``left_over`` marks one that is not cold and stood when its trading day turned.
    """

    tub: str
    lot: str
    product: str
    mode: Mode
    opened: datetime
    level: int
    good_at: datetime
    failed: Decimal | None = None
    ended: datetime | None = None
    loss: int = 0
    failed_at: datetime | None = None
    left_over: bool = False

    def draw(self, amount: int) -> Tub:
        return msgspec.structs.replace(self, level=self.level - amount)

    def turned(self) -> Tub:
        """As another trading day begins with it: what is not cold stands there to be thrown away,
        whatever is measured."""
        return msgspec.structs.replace(self, left_over=self.left_over or self.mode != "cold")

    def set_back(self, now: datetime) -> bool:
        """Whether a clock that says ``now`` was set back since it was opened or measured."""
        return now.timestamp() < (self._start - CLOCKS_DIFFER).timestamp()

    def checked(self, check: TubCheck) -> Tub:
        """After a check. A failed one stands until a good one follows in time.

        Checks may be noted late: what was measured earlier than the last good check, or good
        before it failed, changes nothing that is known since.
        """
        if self.mode == "time":
            return self
        when = check.at.timestamp()
        if not holds(self.mode, check.celsius):
            return msgspec.structs.replace(self, failed=check.celsius, failed_at=check.at)
        if check.anew and self.failed is None:
            return msgspec.structs.replace(self, opened=check.at, good_at=check.at)
        if self.failed is not None:
            before = self.failed_at is not None and when < self.failed_at.timestamp()
            if before or minutes_between(self.good_at, check.at) > MINUTES:
                return self
        if when < self.good_at.timestamp():
            return self
        return msgspec.structs.replace(self, failed=None, failed_at=None, good_at=check.at)

    @property
    def until(self) -> datetime:
        """When its time is over: 4 hours after opening, or after the last good check."""
        end = datetime.fromtimestamp(self.ends, self._start.tzinfo)
        return end if self._start.tzinfo else self._start + timedelta(minutes=MINUTES)

    @property
    def ends(self) -> float:
        """:attr:`until` on the time line, in seconds: a wall clock may jump in between."""
        return self._start.timestamp() + MINUTES * 60

    @property
    def _start(self) -> datetime:
        return self.opened if self.mode == "time" else self.good_at


def holds(mode: Mode, celsius: Decimal) -> bool:
    """Whether a temperature keeps a tub of this mode safe."""
    return celsius >= HOT if mode == "hot" else celsius <= COLD


def open_tub(opened: TubOpened, product: str) -> Tub:
    """A tub from its record. Refuses a temperature its mode does not allow to start from."""
    tried = f"open tub {opened.tub} {words_of(opened.mode)}"
    if opened.level <= 0:
        raise BadInput(tried, "there is nothing in it", "Say how much it holds, such as 8l")
    celsius = opened.celsius
    if celsius is not None:
        good = holds("hot", celsius) or holds("cold", celsius)
        if opened.mode != "time":
            good = holds(opened.mode, celsius)
        if not good:
            raise NotSafe(
                tried,
                f"it measures {celsius.normalize():f} °C, allowed is {allowed(opened.mode)}",
                "Bring it to temperature or throw it away; the local food code decides",
                lot=opened.lot,
            )
    return Tub(
        opened.tub, opened.lot, product, opened.mode, opened.at, opened.level, opened.at
    )  # fmt: skip


def words_of(mode: Mode) -> str:
    return "by time" if mode == "time" else mode


def allowed(mode: Mode) -> str:
    hot, cold = "57 °C / 135 °F or above", "5 °C / 41 °F or below"
    return {"hot": hot, "cold": cold, "time": f"{cold}, or {hot}"}[mode]


def minutes_left(tub: Tub, now: datetime) -> int:
    """Whole minutes until its time is over; 0 when it is."""
    return 0 if tub.left_over else min(MINUTES, max(0, int(minutes_between(now, tub.until))))


def refusal_for(
    tub: Tub, now: datetime, tried: str, clock: datetime | None = None
) -> NotSafe | None:
    """Why nothing may be scooped from it at ``now``, or None.

    ``clock`` is what the clock says where ``now`` is noted late: what was scooped before the last
    check stays scooped, and only a clock set back makes the tub doubtful.
    """
    over = now.timestamp() >= tub.ends
    if tub.ended is not None:
        return NotSafe(tried, f"tub {tub.tub} was taken away", "Open another tub", lot=tub.lot)
    if tub.left_over:
        since = f"tub {tub.tub} stands since {tub.opened:%Y-%m-%d}"
        why = f"{since}, and only a cold one outlasts its day"
        return NotSafe(tried, why, "Throw it away and open another tub", lot=tub.lot)
    if doubt := _set_back(tub, now, tried, clock or now):
        return doubt
    if tub.failed is not None:
        why = (
            f"tub {tub.tub} measured {tub.failed.normalize():f} °C, allowed is {allowed(tub.mode)}"
        )
        do = "Bring it back to temperature at once and check again, or throw it away"
        if over:
            do = "Its last good check is more than 4 hours old: throw it away"
        return NotSafe(tried, why, do, lot=tub.lot)
    if over:
        if tub.mode == "time":
            why = f"tub {tub.tub} has been out for 4 hours, since {tub.opened:%H:%M}"
            return NotSafe(tried, why, "Throw it away and open another tub", lot=tub.lot)
        why = f"tub {tub.tub} has no temperature check since {tub.good_at:%H:%M}"
        return NotSafe(tried, why, "Measure it now with a tub check", lot=tub.lot)
    return None


def _set_back(tub: Tub, now: datetime, tried: str, clock: datetime) -> NotSafe | None:
    if now.timestamp() < (tub.opened - CLOCKS_DIFFER).timestamp():
        opened = f"tub {tub.tub} was opened on {tub.opened:%Y-%m-%d} at {tub.opened:%H:%M}"
        why = f"{opened}, and this is for {now:%H:%M}"
    elif tub.set_back(clock):
        good = f"tub {tub.tub} was measured on {tub.good_at:%Y-%m-%d} at {tub.good_at:%H:%M}"
        why = f"{good}, and the clock says {clock:%H:%M}"
    else:
        return None
    do = "Set the clock right and measure the tub now, or take it away"
    if tub.mode == "time":
        do = "Set the clock right, or throw the tub away"
    return NotSafe(tried, why, do, lot=tub.lot)
