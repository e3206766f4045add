"""Pudding at the counter: a tub has a clock, a level and cups left.

Sources: FDA Food Code 3-501.16, held at 57 °C / 135 °F or above, or at 5 °C / 41 °F or below;
3-501.19(B), time only: at most 4 hours from the time it left temperature control, started at or
below 5 °C or at or above 57 °C, then thrown away; 3-403.11(A),(D): food cooked and cooled on site
is reheated for hot holding to 74 °C / 165 °F for 15 seconds, within 2 hours. That a holding check
is due at least every 4 hours is common practice, no source. Procedures for time only must be
written beforehand; the local food code and the inspector decide (EU law names no figure for
reheating).

The shop's own rules, on the safe side of these: only a cold tub outlasts its trading day, and
minutes out of the range add up, over checks, tubs and days, to the same 4 hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from math import ceil
from typing import Literal, assert_never

import msgspec

from counter.errors import BadInput, NotSafe
from counter.trade.units import CLOCKS_DIFFER, minutes_between
from counter.trade.waste import Reason
from labels.say import Said, figure, say, term

Mode = Literal["hot", "cold", "time"]

# 135 °F is 57.22 °C; the code writes 57 °C for it, so either reading passes. 41 °F is 5 °C.
HOT = Decimal(57)
COLD = Decimal(5)
REHEATED = Decimal("73.89")  # 165 °F; the code writes 74 °C for it
REHEAT_MINUTES = 120
MINUTES = 240
REHEATING = say("74 °C / 165 °F in all parts for 15 seconds, within 2 hours")


class TubOpened(msgspec.Struct, frozen=True, kw_only=True):
    """A tub put on the counter, out of one lot. ``level`` is the millilitres in it.

    ``reheated`` is what it measured when it was reheated for hot holding, in ``reheat_minutes``.
    """

    tub: str
    lot: str
    mode: Mode
    level: int
    at: datetime
    celsius: Decimal | None = None
    by: str = ""
    reheated: Decimal | None = None
    reheat_minutes: int | None = None


class TubCheck(msgspec.Struct, frozen=True, kw_only=True):
    """A temperature measured in the tub.

    ``anew`` says that it was noted as it was measured, at an hour before what was noted last: the
    clock was set back, and the time counts from here.
    """

    tub: str
    celsius: Decimal
    at: datetime
    by: str = ""
    anew: bool = False


class TubEnded(msgspec.Struct, frozen=True, kw_only=True):
    """A tub taken off the counter with ``left`` millilitres in it; ``kept`` if put back cold."""

    tub: str
    left: int
    kept: bool
    at: datetime
    by: str = ""


class Tub(msgspec.Struct, frozen=True, kw_only=True):
    """A tub as it stands: the value a closing carries over and a screen shows.

    ``left_over`` marks one that is not cold and stood when its trading day turned. ``out`` is the
    minutes it has been out of its range, what its lot brought with it included.
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
    out: int = 0

    def draw(self, amount: int) -> Tub:
        return msgspec.structs.replace(self, level=self.level - amount)

    def turned(self) -> Tub:
        """As another trading day begins with it: what is not cold stands there to be thrown away,
        whatever is measured."""
        return msgspec.structs.replace(self, left_over=self.left_over or self.mode != "cold")

    def set_back(self, now: datetime) -> bool:
        """Whether a clock that says ``now`` was set back since it was opened or measured."""
        return now.timestamp() < self._start.timestamp() - CLOCKS_DIFFER.total_seconds()

    def measured(self, checks: Sequence[TubCheck]) -> Tub:
        """As it stands after ``checks`` of it, each judged by its own time, noted late or not.

        Between the last good one and the next good one it was out of its range, all of that time,
        where one between them failed.
        """
        if self.mode == "time":
            return self
        for n, check in enumerate(checks):
            if check.anew:  # the clock was set back: those before it are another line of time
                return self.measured(checks[:n])._anew(check).measured(checks[n + 1 :])
        tub = self
        for check in sorted(checks, key=lambda c: c.at.timestamp()):
            tub = tub._after(check)
        return tub

    def _after(self, check: TubCheck) -> Tub:
        if check.at.timestamp() < self.good_at.timestamp():
            return self
        if not holds(self.mode, check.celsius):
            return self._failed(check)
        out = self.out if self.failed is None else self.out_at(check.at)
        return msgspec.structs.replace(self, failed=None, failed_at=None, good_at=check.at, out=out)

    def _anew(self, check: TubCheck) -> Tub:
        if self.failed is None and holds(self.mode, check.celsius):
            return msgspec.structs.replace(self, opened=check.at, good_at=check.at)
        return self if self.failed is not None else self._failed(check)

    def _failed(self, check: TubCheck) -> Tub:
        return msgspec.structs.replace(self, failed=check.celsius, failed_at=check.at)

    def out_at(self, now: datetime) -> int:
        """Minutes out of its range by ``now``: of time control all, else since the last good
        measuring where the last one failed."""
        if self.mode != "time" and self.failed is None:
            return self.out
        return self.out + max(0, ceil(minutes_between(self._start, now)))

    @property
    def until(self) -> datetime:
        """When its time is over: 4 hours after opening, or after the last good check, less the
        minutes that it has been out already."""
        end = datetime.fromtimestamp(self.ends, self._start.tzinfo)
        return end if self._start.tzinfo else self._start + timedelta(minutes=MINUTES - self.out)

    @property
    def ends(self) -> float:
        """:attr:`until` on the time line, in seconds: a wall clock may jump in between."""
        return self._start.timestamp() + (MINUTES - self.out) * 60

    @property
    def _start(self) -> datetime:
        return self.opened if self.mode == "time" else self.good_at


def holds(mode: Mode, celsius: Decimal) -> bool:
    """Whether a temperature keeps a tub of this mode safe."""
    match mode:
        case "hot":
            return celsius >= HOT
        case "cold":
            return celsius <= COLD
        case "time":  # it starts as either, and then its clock alone counts
            return celsius >= HOT or celsius <= COLD
        case _:
            assert_never(mode)


def keeps(mode: Mode, celsius: Decimal) -> bool:
    """Whether what was measured in a standing tub is within its range: one by time has none."""
    return mode == "time" or holds(mode, celsius)


def open_tub(opened: TubOpened, product: str, out: int = 0) -> Tub:
    """A tub from its record; ``out`` is the minutes its lot has been out of its range by then.

    Refuses a temperature its mode does not allow to start from.
    """
    tried = say("open tub {tub} {mode}", tub=opened.tub, mode=words_of(opened.mode))
    if opened.level <= 0:
        do = say("Say how much it holds, such as 8l")
        raise BadInput(tried, say("there is nothing in it"), do)
    if opened.celsius is not None:
        refuse_unless_held(tried, opened.mode, opened.celsius, opened.lot)
    return Tub(
        tub=opened.tub,
        lot=opened.lot,
        product=product,
        mode=opened.mode,
        opened=opened.at,
        level=opened.level,
        good_at=opened.at,
        out=out,
    )


def check_opening(tried: Said, opened: TubOpened, cooled: bool) -> None:
    """Refuse a tub nobody measured, and a hot one of food that was ``cooled`` and not reheated.

    Sources: Food Code 3-501.16, 3-501.19(B); 3-403.11(A),(D).
    """
    if opened.celsius is None:
        raise BadInput(tried, say("its temperature is not measured"), measure_it(opened.mode))
    if opened.mode != "hot":
        if opened.reheated is not None or opened.reheat_minutes is not None:
            raise BadInput(tried, say("only a hot tub is reheated"), say("Leave out the reheating"))
        return
    do = say(
        "Reheat it to {needed}, and note what was measured; the local food code decides",
        needed=REHEATING,
    )
    celsius, minutes = opened.reheated, opened.reheat_minutes
    if celsius is None and minutes is None and not cooled:
        return  # straight from the cook
    if celsius is None or minutes is None:
        why = say(
            "it was cooled, and how hot it was reheated, and in how many minutes, is not noted"
        )
        raise NotSafe(tried, why, do, lot=opened.lot)
    if celsius < REHEATED:
        why = say(
            "it was reheated to {amount} °C, needed is {needed}",
            amount=figure(celsius),
            needed=REHEATING,
        )
        raise NotSafe(tried, why, say("Reheat it on, or throw it away"), lot=opened.lot)
    if not 0 <= minutes <= REHEAT_MINUTES:
        why = say(
            "reheating it took {n} minutes, allowed are {most}", n=minutes, most=REHEAT_MINUTES
        )
        raise NotSafe(tried, why, say("Throw it away; the local food code decides"), lot=opened.lot)


def words_of(mode: Mode) -> Said:
    return term("by time" if mode == "time" else mode)


def allowed(mode: Mode) -> Said:
    hot, cold = say("57 °C / 135 °F or above"), say("5 °C / 41 °F or below")
    match mode:
        case "hot":
            return hot
        case "cold":
            return cold
        case "time":
            return say("{cold}, or {hot}", cold=cold, hot=hot)
        case _:
            assert_never(mode)


def measure_it(mode: Mode) -> Said:
    return say("Measure it: allowed is {allowed}", allowed=allowed(mode))


def refuse_unless_held(tried: Said, mode: Mode, celsius: Decimal, lot: str) -> None:
    """Refuse food of a lot that measures what it may not be held at so."""
    if holds(mode, celsius):
        return
    why = say(
        "it measures {amount} °C, allowed is {allowed}",
        amount=figure(celsius),
        allowed=allowed(mode),
    )
    do = say("Bring it to temperature or throw it away; the local food code decides")
    raise NotSafe(tried, why, do, lot=lot)


def minutes_left(tub: Tub, now: datetime) -> int:
    """Whole minutes until its time is over; 0 when it is."""
    return 0 if tub.left_over else min(MINUTES, max(0, int(minutes_between(now, tub.until))))


_AWAY = say("Throw it away and open another tub")


def refusal_for(
    tub: Tub, now: datetime, tried: Said, clock: datetime | None = None
) -> NotSafe | None:
    """Why nothing may be scooped from it at ``now``, or None.

    ``clock`` is what the clock says where ``now`` is noted late: what was scooped before the last
    check stays scooped, and only a clock set back makes the tub doubtful.
    """
    over, away = now.timestamp() >= tub.ends, _AWAY
    if tub.ended is not None:
        why = say("tub {tub} was taken away", tub=tub.tub)
        return NotSafe(tried, why, say("Open another tub"), lot=tub.lot)
    if tub.left_over:
        why = say(
            "tub {tub} stands since {date}, and only a cold one outlasts its day",
            tub=tub.tub,
            date=tub.opened.date(),
        )
        return NotSafe(tried, why, away, lot=tub.lot)
    if doubt := _set_back(tub, now, tried, clock or now):
        return doubt
    if tub.failed is not None:
        why = say(
            "tub {tub} measured {amount} °C, allowed is {allowed}",
            tub=tub.tub,
            amount=figure(tub.failed),
            allowed=allowed(tub.mode),
        )
        do = say("Bring it back to temperature at once and check again, or throw it away")
        if over:
            do = say("It has been out of it for 4 hours in all: throw it away")
        return NotSafe(tried, why, do, lot=tub.lot)
    if tub.mode != "time" and tub.out >= MINUTES:
        why = say(
            "tub {tub} was out of its temperature for {n} minutes in all", tub=tub.tub, n=tub.out
        )
        return NotSafe(tried, why, say("Allowed are {n}: throw it away", n=MINUTES), lot=tub.lot)
    if over:
        if tub.mode == "time":
            why = say(
                "tub {tub} has been out for 4 hours, since {clock}",
                tub=tub.tub,
                clock=f"{tub.opened:%H:%M}",
            )
            if tub.out:
                why = say(
                    "tub {tub} has been out for 4 hours in all, {n} minutes of them before {clock}",
                    tub=tub.tub,
                    n=tub.out,
                    clock=f"{tub.opened:%H:%M}",
                )
            return NotSafe(tried, why, away, lot=tub.lot)
        why = say(
            "tub {tub} has no temperature check since {clock}",
            tub=tub.tub,
            clock=f"{tub.good_at:%H:%M}",
        )
        return NotSafe(tried, why, say("Measure it now with a tub check"), lot=tub.lot)
    return None


def reason_gone(tub: Tub, now: datetime) -> Reason:
    """For which reason what is left in a tub goes, where it is thrown away ``now``."""
    if tub.mode == "time":
        return "time"
    if tub.failed is not None or tub.out >= MINUTES:
        return "temperature"
    return "unmeasured" if now.timestamp() >= tub.ends else "time"


def _set_back(tub: Tub, now: datetime, tried: Said, clock: datetime) -> NotSafe | None:
    if now.timestamp() < tub.opened.timestamp() - CLOCKS_DIFFER.total_seconds():
        why = say(
            "tub {tub} was opened on {date} at {clock}, and this is for {now}",
            tub=tub.tub,
            date=tub.opened.date(),
            clock=f"{tub.opened:%H:%M}",
            now=f"{now:%H:%M}",
        )
    elif tub.set_back(clock):
        why = say(
            "tub {tub} was measured on {date} at {clock}, and the clock says {now}",
            tub=tub.tub,
            date=tub.good_at.date(),
            clock=f"{tub.good_at:%H:%M}",
            now=f"{clock:%H:%M}",
        )
    else:
        return None
    do = say("Set the clock right and measure the tub now, or take it away")
    if tub.mode == "time":
        do = say("Set the clock right, or throw the tub away")
    return NotSafe(tried, why, do, lot=tub.lot)
