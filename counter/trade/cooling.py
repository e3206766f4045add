"""Cooling of what was cooked: the two limits, and which night a clock time belongs to.

FDA Food Code 3-501.14: from 135 °F (57 °C) to 70 °F (21 °C) within 2 hours, and to 41 °F (5 °C)
within 6 hours in all. Both are due whether anybody notes them or not: silence is not cold. The
local food code and the inspector decide.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

import msgspec

from counter.errors import BadInput, Refused
from counter.trade.asking import Question
from counter.trade.units import CLOCKS_DIFFER, clock_on, minutes_between
from labels.say import NOTHING, Said, say

Step = Literal["21", "5"]
COOL_FIRST_MINUTES = 120
COOL_ALL_MINUTES = 360
COOL_NOTED_MINUTES = 18 * 60  # food forgotten overnight; what is longer is a slip of the pen
NOTED_LATE_MINUTES = 30  # a thermometer read so long ago was not read for this note
REACHED: dict[Step, str] = {"21": "21 °C / 70 °F", "5": "5 °C / 41 °F"}


class Cooling(msgspec.Struct, frozen=True):
    """When 21 °C / 70 °F and 5 °C / 41 °F were reached; ``to_5`` None while it is still warmer."""

    to_21: datetime
    to_5: datetime | None = None


def night_time(
    day: date, clock: time, about: datetime, day_starts: time, zone: ZoneInfo
) -> datetime:
    """When the clock showed ``clock``, for a batch of trading day ``day`` made ``about`` then.

    As :func:`clock_on`, except near the day's turn, where a batch has one foot in either day: a
    time that would be more than six hours after the batch, but was at night or less than six hours
    before it, is of the day before; one that would be half a day before the batch, but comes within
    six hours after it, is of the day after.
    """
    before, own, later = (
        clock_on(day + timedelta(days=n), clock, day_starts, zone) for n in (-1, 0, 1)
    )
    if minutes_between(about, own) > COOL_ALL_MINUTES:
        near = clock < day_starts or minutes_between(before, about) <= COOL_ALL_MINUTES
        return before if near else own
    far = minutes_between(own, about) > 2 * COOL_ALL_MINUTES
    return later if far and minutes_between(about, later) <= COOL_ALL_MINUTES else own


def cooling_time(
    day: date, clock: time, after: datetime, now: datetime, day_starts: time, zone: ZoneInfo
) -> datetime:
    """When a batch of ``day`` had cooled: the first time from ``after`` on at which the clock
    showed ``clock``, also past the turn of the trading day.

    The day after is believed within the six hours that are allowed, and once that time has come,
    up to 18 hours; a time that cannot be is answered as it would be on ``day`` itself.
    """
    for days in (-1, 0):
        moment = _last_shown(clock_on(day + timedelta(days=days), clock, day_starts, zone), now)
        if minutes_between(after, moment) >= 0:
            return moment
    later = clock_on(day + timedelta(days=1), clock, day_starts, zone)
    took = minutes_between(after, later)
    come = minutes_between(now, later) <= 0 and took <= COOL_NOTED_MINUTES
    return later if took <= COOL_ALL_MINUTES or come else moment


def _last_shown(moment: datetime, now: datetime) -> datetime:
    """In the hour that a clock shows twice, the later time once it has come: food is never taken
    to have cooled faster than it may have."""
    again = moment.replace(fold=1)
    return again if moment.timestamp() < again.timestamp() <= now.timestamp() else moment


def still_cools(made: datetime, now: datetime) -> bool:
    """Whether a batch is young enough for its cooling to be noted with a tap, as just reached."""
    return minutes_between(made, now) <= COOL_NOTED_MINUTES


def check_step(tried: Said, cooling: Cooling | None, step: Step) -> None:
    """Refuse a step of the cooling out of turn, or noted a second time."""
    noted = cooling is not None and (step == "21" or cooling.to_5 is not None)
    if noted:
        raise Refused(tried, say("that time is noted already"), say("Correct it if it is wrong"))
    if step == "5" and cooling is None:
        why = say("when it reached 21 °C / 70 °F is not noted")
        raise Refused(tried, why, say("Write both times under Correct"))


def must_have_come(tried: Said, moment: datetime, now: datetime) -> None:
    """Refuse a time that the clock has not shown yet: nobody has read a thermometer there."""
    if moment.timestamp() > now.timestamp() + CLOCKS_DIFFER.total_seconds():
        why = say(
            "it is only {clock}, and {noted} has not come yet",
            clock=f"{now:%H:%M}",
            noted=f"{moment:%H:%M}",
        )
        raise BadInput(tried, why, say("Write the time once it has come"))


def late_note(
    tried: Said, old: Cooling | None, new: Cooling | None, start: datetime, now: datetime
) -> list[Question]:
    """What is asked where a step that ``new`` has beside ``old`` was reached long ago, and is noted
    past the six hours from ``start``, when the food was for sale no more: what was measured, and
    why it is noted so late."""
    if new is None or new == old or minutes_between(start, now) <= COOL_ALL_MINUTES:
        return []
    cold = new.to_5 if old is None or old.to_5 != new.to_5 else None
    late = minutes_between(cold or new.to_21, now)
    if late <= NOTED_LATE_MINUTES:
        return []
    text = say(
        "{temperature} at {clock} is noted late, {span} after it",
        temperature=REACHED["5" if cold else "21"],
        clock=f"{cold or new.to_21:%H:%M}",
        span=span_words(late),
    )
    clause = "FDA Food Code 3-501.14(A)"
    return [Question(about="late", tried=tried, text=text, clause=clause)]


def check_cooling(
    tried: Said, cooling: Cooling, ended: datetime | None, passed_57: datetime | None
) -> None:
    """Refuse cooling times that run backwards."""
    start = passed_57 or ended
    do = say("Write first when 21 °C / 70 °F was reached, then 5 °C / 41 °F")
    if passed_57 is not None and ended is not None and minutes_between(ended, passed_57) < 0:
        why = say(
            "57 °C at {clock} is before the end of the cook, {ended}",
            clock=f"{passed_57:%H:%M}",
            ended=f"{ended:%H:%M}",
        )
        raise BadInput(tried, why, say("Write when it passed 57 °C / 135 °F as it cooled"))
    if start is not None and minutes_between(start, cooling.to_21) < 0:
        why = say(
            "the cooling time {clock} is before the end of the cook, {ended}",
            clock=f"{cooling.to_21:%H:%M}",
            ended=f"{start:%H:%M}",
        )
        raise BadInput(tried, why, do)
    if cooling.to_5 is not None and minutes_between(cooling.to_21, cooling.to_5) < 0:
        why = say(
            "5 °C was reached at {clock}, before 21 °C at {warm_at}",
            clock=f"{cooling.to_5:%H:%M}",
            warm_at=f"{cooling.to_21:%H:%M}",
        )
        raise BadInput(tried, why, do)


def due_by(cooling: Cooling | None, start: datetime) -> tuple[datetime | None, datetime | None]:
    """Until when a batch that cools from ``start`` must have 21 °C / 70 °F, and 5 °C / 41 °F; None
    for what is noted. What reached 21 °C before the start began to cool then, at the latest.
    """
    if cooling is not None and cooling.to_5 is not None:
        return None, None
    if cooling is None:
        return _after(start, COOL_FIRST_MINUTES), _after(start, COOL_ALL_MINUTES)
    first = min(start, cooling.to_21, key=datetime.timestamp)
    return None, _after(first, COOL_ALL_MINUTES)


def _after(moment: datetime, minutes: int) -> datetime:
    return datetime.fromtimestamp(moment.timestamp() + minutes * 60, moment.tzinfo)


def too_slow(cooling: Cooling | None, start: datetime | None) -> Said:
    """Why a batch cooled too slowly, or "". Without a start only the whole six hours are seen,
    and before 5 °C only the first two.

    Source: FDA Food Code 3-501.14(A): the second limit counts from the start, not from 21 °C.
    """
    if cooling is None:
        return NOTHING
    if start is None:
        took = minutes_between(cooling.to_21, cooling.to_5) if cooling.to_5 else 0
        if took <= COOL_ALL_MINUTES:
            return NOTHING
        span = span_words(took)
        return say("it took {span} from 21 °C to 5 °C, allowed are 6 h in all", span=span)
    first = minutes_between(start, cooling.to_21)
    if first > COOL_FIRST_MINUTES:
        return say("it took {span} to reach 21 °C / 70 °F, allowed are 2 h", span=span_words(first))
    if cooling.to_5 is None:
        return NOTHING
    whole = minutes_between(start, cooling.to_5)
    if whole > COOL_ALL_MINUTES:
        return say(
            "it took {span} to reach 5 °C / 41 °F, allowed are 6 h in all", span=span_words(whole)
        )
    return NOTHING


def span_words(minutes: float) -> str:
    """Hours and minutes, such as 3 h 05 min."""
    return f"{int(minutes) // 60} h {int(minutes) % 60:02d} min"
