"""Temperatures, pressures, spans of time and clock times as people write them.

Masses and volumes come from ``labels.units``. Everything is kept in one unit (°C, kPa, minutes)
and exact: 60 psi is 413.7 kPa because a pound-force is 4.4482216152605 N (from 0.45359237 kg and
9.80665 m/s²) and an inch 25.4 mm.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from zoneinfo import ZoneInfo

from counter.errors import BadInput
from labels.errors import BadValue
from labels.say import Said, figure, say, term
from labels.units import Measure, parse_measure, split_number

KPA_PER_PSI = Decimal("6.894757293168")
_KPA = {"kpa": Decimal(1), "psi": KPA_PER_PSI, "bar": Decimal(100)}

CLOCKS_DIFFER = timedelta(minutes=5)
"""Clocks of a tablet and a computer differ a little; more is a clock that was set."""


def parse_temperature(text: str) -> Decimal:
    """Degrees Celsius, to a hundredth, from ``95C``, ``203 °F``. The letter must be there.

    >>> parse_temperature("135 F")
    Decimal('57.22')
    """
    tried = say("read temperature '{text}'", text=text)
    expected = say("Write a number and C or F, such as 95C or 203F")
    parts = split_number(text.replace("°", "").replace("º", ""))
    if parts is None or parts[1].upper() not in {"C", "F"}:
        raise BadInput(tried, say("it is not degrees with C or F"), expected)
    number, letter = parts
    celsius = number if letter.upper() == "C" else (number - 32) * 5 / 9
    if not -60 <= celsius <= 300:
        raise BadInput(tried, say("no kitchen reaches it"), expected)
    return celsius.quantize(Decimal("0.01"), ROUND_HALF_UP)


def show_temperature(celsius: Decimal, fahrenheit: bool) -> Said:
    """One decimal at the most, in the unit the market reads.

    >>> show_temperature(Decimal("57.22"), True)
    '135 °F'
    """
    value = celsius * 9 / 5 + 32 if fahrenheit else celsius
    shown = value.quantize(Decimal("0.1"), ROUND_HALF_UP)
    return figure(f"{shown.normalize():f} °{'F' if fahrenheit else 'C'}")


def parse_pressure(text: str) -> Decimal:
    """Kilopascals, to a tenth, from ``60psi``, ``414 kPa`` or ``4.1 bar``.

    >>> parse_pressure("60 psi")
    Decimal('413.7')
    """
    tried = say("read pressure '{text}'", text=text)
    expected = say("Write a number and psi, kPa or bar")
    parts = split_number(text)
    if parts is None or parts[1].lower() not in _KPA:
        raise BadInput(tried, say("it is not a number with psi, kPa or bar"), expected)
    kpa = parts[0] * _KPA[parts[1].lower()]
    if not 0 <= kpa <= 10_000:
        raise BadInput(tried, say("no tofu press works there"), expected)
    return kpa.quantize(Decimal("0.1"), ROUND_HALF_UP)


def parse_minutes(text: str) -> int:
    """Whole minutes from ``10``, ``10min``, ``1h``, ``1h30`` or ``1:30``.

    >>> parse_minutes("1h30")
    90
    """
    word = text.strip().lower().replace(" ", "")
    match = re.fullmatch(r"([0-9]{1,4})(?:m|min|mins|minutes)?", word)
    if match:
        return int(match[1])
    match = re.fullmatch(r"([0-9]{1,2})(?:h|:)([0-5]?[0-9])?(?:m|min)?", word)
    if match:
        return int(match[1]) * 60 + int(match[2] or 0)
    tried = say("read minutes '{text}'", text=text)
    raise BadInput(tried, say("it is not a span of time"), say("Write 10min, 90 or 1h30"))


def parse_clock(text: str) -> time:
    """A time of the day on 24 hours, ``08:10``."""
    match = re.fullmatch(r"([01]?[0-9]|2[0-3]):([0-5][0-9])", text.strip())
    if match is None:
        tried = say("read time '{text}'", text=text)
        raise BadInput(tried, say("it is no time of the day"), say("Write 08:10 or 15:45"))
    return time(int(match[1]), int(match[2]))


def parse_day(text: str) -> date:
    """A day as ``2026-11-24``."""
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text.strip()):
        try:
            return date.fromisoformat(text.strip())
        except ValueError:
            pass
    tried = say("read date '{text}'", text=text)
    raise BadInput(tried, say("there is no such day"), say("Write it as 2026-11-24"))


def check_days(first: date, last: date) -> None:
    """Refuse a range of days that ends before it begins."""
    if last < first:
        why = say("the range from {first} to {last} ends before it begins", first=first, last=last)
        raise BadInput(say("read days"), why, say("Write the earlier day first"))


def parse_moment(text: str, zone: ZoneInfo) -> datetime:
    """A moment on the shop's clock, ``2026-11-24 04:10``, with the shop's time zone."""
    word = text.strip().replace("T", " ")
    day, gap, clock = word.partition(" ")
    tried = say("read time '{text}'", text=text)
    if not gap:
        do = say("Write it as '2026-11-24 04:10'")
        raise BadInput(tried, say("it needs a day and a time"), do)
    moment = datetime.combine(parse_day(day), parse_clock(clock), zone)
    try:
        again = moment.astimezone(UTC).astimezone(zone)
    except (OverflowError, ValueError):
        raise BadInput(tried, say("no clock showed it"), say("Check the year")) from None
    if again.replace(tzinfo=None) != moment.replace(tzinfo=None):
        why = say("the clocks jump over it that night")
        raise BadInput(tried, why, say("Write a time before or after the jump"))
    return moment


def clock_on(day: date, clock: time, day_starts: time, zone: ZoneInfo) -> datetime:
    """The moment at which the shop's clock showed ``clock`` on trading day ``day``.

    A clock time before the day starts belongs to the calendar day after.
    """
    calendar = day if clock >= day_starts else day + timedelta(days=1)
    return datetime.combine(calendar, clock, zone)


def minutes_between(start: datetime, end: datetime) -> float:
    """Minutes that really went by, also over a change of the clocks.

    Subtracting two moments of one zone counts what the wall clock shows; food keeps real time.
    """
    return (end.timestamp() - start.timestamp()) / 60


def parse_amount(text: str, unit: str) -> int:
    """A whole amount of a product's stock unit: ``96`` pieces, ``8l`` as ml, ``2 lb`` as g.

    A bare number is in the stock unit itself.
    """
    word = text.strip()
    if re.fullmatch(r"-?[0-9]{1,9}", word):
        return int(word)
    if unit == "piece":
        why = say("this product is counted in pieces")
        raise BadInput(
            say("read amount '{text}'", text=text), why, say("Write a whole number such as 96")
        )
    try:
        return parse_measure(word, "volume" if unit == "ml" else "mass").whole
    except BadValue as error:
        raise BadInput(error.tried, error.why, error.do) from None


def pair(text: str, mark: str, what: str, expected: Said) -> tuple[str, str]:
    """Two parts of ``text`` around the first ``mark``."""
    left, found, right = text.partition(mark)
    if not found or not left.strip() or not right.strip():
        why = say("one of its two parts is missing")
        raise BadInput(say("read {what} '{text}'", what=term(what), text=text), why, expected)
    return left.strip(), right.strip()


def parse_number(text: str, what: str) -> Decimal:
    """A plain decimal number."""
    try:
        number = Decimal(text.strip()) if text.isascii() else Decimal("NaN")
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number) > 10**6:
        tried = say("read {what} '{text}'", what=term(what), text=text)
        raise BadInput(tried, say("it is not a number"), say("Write it as 11.2"))
    return number


def parse_positions(text: str) -> tuple[int, ...]:
    """Positions of a sheet, ``3,4,7``."""
    words = [w.strip() for w in text.split(",") if w.strip()]
    if not all(w.isascii() and w.isdigit() and 0 < int(w) < 1000 for w in words):
        tried = say("read positions '{text}'", text=text)
        raise BadInput(tried, say("they are no numbers"), say("Write them as 3,4,7"))
    return tuple(int(w) for w in words)


def show_amount(amount: int, unit: str) -> Said:
    """A stock amount for people: ``96``, ``8.25 l``, ``1.2 kg``, ``350 g``.

    >>> show_amount(8250, "ml"), show_amount(96, "piece"), show_amount(350, "g")
    ('8.25 l', '96', '350 g')
    """
    if unit == "piece":
        return figure(amount)
    if abs(amount) < 1000:
        return figure(f"{amount} {unit}")
    return figure(f"{Decimal(amount) / 1000:f} {'l' if unit == 'ml' else 'kg'}")


def net_weight(gross: str, tare: str, unit: str) -> Measure:
    """What is paid: gross less tare, both as the counter's scale shows them in ``unit``.

    >>> str(net_weight("0.62", "0.02", "lb"))
    '0.6 lb'
    """
    tried = say("weigh {amount} {unit}", amount=gross, unit=term(unit))
    try:
        whole = parse_measure(f"{gross.replace(',', '.')} {unit}", "mass")
        empty = parse_measure(f"{(tare or '0').replace(',', '.')} {unit}", "mass")
    except BadValue as error:
        raise BadInput(error.tried, error.why, error.do) from None
    if whole.amount > 100_000:
        raise BadInput(tried, say("no counter's scale shows that"), say("Weigh it again"))
    net = whole.amount - empty.amount
    if net <= 0:
        why = say("the container alone weighs {amount}", amount=figure(empty))
        raise BadInput(tried, why, say("Weigh it again, or no tare"))
    return Measure(net, whole.unit)
