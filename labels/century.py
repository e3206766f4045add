"""Dates as GS1 writes them: six digits, no century.

GS1 General Specifications 3.4 (``00`` as day of the month) and 7.12 (century).
"""

from __future__ import annotations

from calendar import monthrange
from datetime import date, datetime, time

from labels.checks import is_digits, shown
from labels.errors import BadSymbol
from labels.say import say


def this_year() -> int:
    """The year on the clock of this machine, which the century rule is counted from."""
    return datetime.now().astimezone().year


def full_year(yy: int, year: int) -> int:
    """The year that the two digits ``yy`` mean when they are read in ``year``.

    49 years back to 50 years ahead (GS1 General Specifications 7.12).

    >>> [full_year(yy, 2026) for yy in (70, 76, 77, 0)]
    [2070, 2076, 1977, 2000]
    """
    ahead = yy - year % 100
    century = year - year % 100
    if ahead >= 51:
        return century - 100 + yy
    if ahead <= -50:
        return century + 100 + yy
    return century + yy


def read_date(yymmdd: str, year: int | None = None, *, day_00: bool = True) -> date:
    """The date that six digits mean when they are read in ``year`` (by default this year).

    Day ``00`` is the last day of the month; it is read, and refused with ``day_00=False``, for we
    never write it. Raises BadSymbol for what is no date.

    >>> read_date("160200", 2026)
    datetime.date(2016, 2, 29)
    """
    tried = say("read date '{text}'", text=shown(yymmdd))
    if len(yymmdd) != 6 or not is_digits(yymmdd):
        raise BadSymbol(tried, say("it is not six digits YYMMDD"))
    yy, month, day = int(yymmdd[:2]), int(yymmdd[2:4]), int(yymmdd[4:])
    full = full_year(yy, this_year() if year is None else year)
    if not 1 <= month <= 12:
        raise BadSymbol(tried, say("there is no month {month}", month=f"{month:02}"))
    last = monthrange(full, month)[1]
    if day == 0 and not day_00:
        do = say("Write the last day of the month, {day}", day=last)
        raise BadSymbol(tried, say("its day is 00"), do)
    if day > last:
        name = f"{month:02}"
        why = say("month {month} of {year} has {days} days", month=name, year=full, days=last)
        raise BadSymbol(tried, why)
    return date(full, month, day or last)


def read_minute(digits: str, year: int | None = None) -> datetime:
    """The moment that ``YYMMDDhhmm`` means, or ``YYMMDDhh`` with minutes and seconds if given.

    Local time without a zone: the digits carry none.

    >>> read_minute("2611291830", 2026)
    datetime.datetime(2026, 11, 29, 18, 30)
    """
    tried = say("read time '{text}'", text=shown(digits))
    if len(digits) not in (8, 10, 12) or not is_digits(digits):
        why = say("it is not YYMMDDhh with minutes and seconds behind it or without")
        raise BadSymbol(tried, why)
    day = read_date(digits[:6], year, day_00=False)
    hour, minute, second = (int(digits[i : i + 2] or 0) for i in (6, 8, 10))
    if hour > 23 or minute > 59 or second > 59:
        raise BadSymbol(tried, say("a day has 24 hours of 60 minutes of 60 seconds"))
    return datetime.combine(day, time(hour, minute, second))


def read_lot_day(lot: str, year: int | None = None) -> date:
    """The day a lot code ``YYDDD-NN`` names: year, day of the year, batch of that day.

    Raises BadSymbol for anything else, also for day 000, day 366 of a short year and batch 00.

    >>> read_lot_day("26328-01", 2026)
    datetime.date(2026, 11, 24)
    """
    tried = say("read lot '{lot}'", lot=shown(lot))
    form = say("Write YYDDD-NN: year, day of the year, batch of that day, such as 26328-01")
    if len(lot) != 8 or lot[5] != "-" or not is_digits(lot[:5] + lot[6:]):
        raise BadSymbol(tried, say("it is not a lot code"), form)
    full = full_year(int(lot[:2]), this_year() if year is None else year)
    ordinal = int(lot[2:5])
    days = date(full, 12, 31).timetuple().tm_yday
    if not 1 <= ordinal <= days:
        raise BadSymbol(tried, say("{year} has no day {day}", year=full, day=f"{ordinal:03}"), form)
    if lot[6:] == "00":
        raise BadSymbol(tried, say("batches count from 01"), form)
    return date.fromordinal(date(full, 1, 1).toordinal() + ordinal - 1)
