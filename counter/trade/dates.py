"""Trading day, best-by and use-by: they follow from the log, nobody types them.

Rules: FDA Food Code 3-501.17(A): ready-to-eat food made on site and held cold for more than 24 h
is marked with the day by which it is sold, eaten or thrown away, at most 7 days, the day of making
being day 1. 3-501.17(D): food mixed from several takes the earliest date. Whether "7 days" ends
with the calendar day or the clock hour is read as the calendar day (Conference for Food
Protection, issue 2016 I-034). Editions differ from state to state; the local authority decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from typing import Literal

import msgspec

from labels.say import NOTHING, Said, join, say, say_n

DayOne = Literal["made", "after"]
DateKind = Literal["best-by", "use-by"]
Held = Literal["cold", "frozen", "room"]

US_COLD_DAYS = 7
# In the EU the maker proves how long food keeps: Regulation (EC) 2073/2005 Art. 3(2) asks for
# studies (from memory). The law names no figure; beyond ten days this program wants to hear of it.
EU_COLD_DAYS = 10


class Keeping(msgspec.Struct, frozen=True):
    """How long a product keeps, as its maker says.

    ``day_one`` says which day counts as day 1: the day it is ``made`` (made + days - 1) or the day
    ``after`` (made + days). ``study`` names the study, or the reason, that supports
    more than 7 days (US) or 10 days (EU).
    """

    days: int
    day_one: DayOne = "made"
    kind: DateKind = "best-by"
    held: Held = "cold"
    study: str = ""


class DateMark(msgspec.Struct, frozen=True):
    """The date on the pack. After ``limit`` the food may not be sold whatever the shop allows."""

    kind: DateKind
    day: date
    limit: date | None
    reason: Said


def trading_day(moment: datetime, day_starts: time) -> date:
    """The shop's day a moment belongs to: work before ``day_starts`` is still the day before.

    ``moment`` carries the shop's own zone. A day begins once, the first time that the clock has
    come to ``day_starts``: an hour that is shown twice does not fall back to the day before, and
    one that is skipped is passed.
    """
    day = moment.date()
    if moment.time() >= day_starts:
        return day
    begins = datetime.combine(day, day_starts, moment.tzinfo)
    return day if moment.timestamp() >= begins.timestamp() else day - timedelta(days=1)


def count_days(made: date, days: int, day_one: DayOne) -> date:
    """The last of ``days`` days.

    >>> count_days(date(2026, 10, 1), 7, "made").isoformat()
    '2026-10-07'
    >>> count_days(date(2026, 10, 1), 7, "after").isoformat()
    '2026-10-08'
    """
    return made + timedelta(days=days - 1 if day_one == "made" else days)


def keeps_fault(days: int, held: Held, study: str, market: str) -> Said:
    """Why a product cannot be said to keep so many days, or "". Without a study the US cuts them,
    and in the EU, where nothing is cut, they are refused."""
    if not 1 <= days <= 365:
        return say("a product keeps from 1 to 365 days")
    if market != "eu" or held != "cold" or days <= EU_COLD_DAYS or study.strip():
        return NOTHING
    return say("cold for {n} days: name the study or the reason for more than 10", n=days)


def mark_date(
    made: date, keeping: Keeping, market: str, mixed: Iterable[tuple[str, DateMark]] = ()
) -> DateMark:
    """The date of a batch made on calendar day ``made``, with the reason in words.

    ``mixed`` holds older stock that went into the batch, each lot with its own date: neither the
    date nor the limit of the batch is later than that of anything in it.
    """
    day = count_days(made, keeping.days, keeping.day_one)
    if keeping.day_one == "made":
        reason = say_n(
            "keeps {n} day, the day made is day 1",
            "keeps {n} days, the day made is day 1",
            n=keeping.days,
        )
    else:
        reason = say_n(
            "keeps {n} day, the day after is day 1",
            "keeps {n} days, the day after is day 1",
            n=keeping.days,
        )
    study = say("by the study '{text}'", text=keeping.study)
    limits = []
    if market == "us" and keeping.held == "cold":
        cap = count_days(made, US_COLD_DAYS, "made")
        if day > cap and keeping.study:
            longer = say("longer than 7 days by the study '{text}'", text=keeping.study)
            reason = join("; ", (reason, longer))
            cap = day  # what the study supports, and no day more
        elif day > cap:
            day = cap
            cut = say("cut to 7 days with the day made as day 1 (Food Code 3-501.17)")
            reason = join("; ", (reason, cut))
        limits.append(cap)
    elif market == "eu" and keeping.study:
        reason = join("; ", (reason, study))
    for lot, mark in mixed:
        if mark.day < day:
            day, reason = mark.day, say("lot {lot} went into it and keeps only so long", lot=lot)
        if limits:  # 3-501.17(D) speaks of the date that is marked
            limits.append(mark.day)
        if mark.limit is not None:
            limits.append(mark.limit)
    if keeping.kind == "use-by":
        limits.append(day)
    return DateMark(keeping.kind, day, min(limits, default=None), reason)


REFRIGERATED_DAYS = {"us": US_COLD_DAYS, "eu": 10}
"""How long what is held frozen keeps in a fridge, at most, before it is noted frozen and thawed.
US: Food Code 3-501.17. EU law names no figure: ten days are the shop's own rule."""


def marks_of(
    made: date, keeping: Keeping, market: str, mixed: Sequence[tuple[str, DateMark]] = ()
) -> tuple[DateMark, DateMark | None]:
    """The date of a batch, and of what is held frozen the one that holds while it is.

    That a product is held frozen lifts no limit for what lies in a fridge: its long date holds only
    from when it is noted frozen.
    """
    if keeping.held != "frozen":
        return mark_date(made, keeping, market, mixed), None
    days = min(keeping.days, REFRIGERATED_DAYS[market])
    cold = msgspec.structs.replace(keeping, days=days, held="cold", study="")
    return mark_date(made, cold, market, mixed), mark_date(made, keeping, market, mixed)


def still_for(mark: DateMark, days: int) -> DateMark:
    """A date that has stood still for so many days while the food was frozen (Food Code 3-501.17,
    .18)."""
    if not days:
        return mark
    span = timedelta(days=days)
    limit = mark.limit + span if mark.limit else None
    frozen = say_n(
        "it stood still for {n} day while it was frozen",
        "it stood still for {n} days while it was frozen",
        n=days,
    )
    return DateMark(mark.kind, mark.day + span, limit, join("; ", (mark.reason, frozen)))
