"""Where a lot lies, how long it has been out of its temperature, and what freezing does to it.

Sources: FDA Food Code 3-501.16(A), held at 57 °C / 135 °F or above, or at 5 °C / 41 °F or below;
3-501.19(B), at most 4 hours without that: the measure for a place that was out of its range, and
for food on display unchilled. 3-501.17, .18: the days of a date stand still while food is frozen
and go on when it is thawed, never anew; read strictly, the day it is frozen is used, and the day it
is thawed is the first of those that are left. That minutes add up, and that what is out counts
as out until something good is measured, is the shop's own rule, on the safe side. The local food
code and the inspector decide.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from math import ceil

import msgspec

from counter.errors import BadInput, NotSafe, Refused
from counter.trade.dates import DateMark, still_for
from counter.trade.stock import Lot
from counter.trade.temperatures import PlaceKind, Temperature, held_as
from counter.trade.tubs import holds, measure_it, refuse_unless_held
from labels.say import Said, say

Span = tuple[float, float | None]  # on the time line, in seconds; None while it goes on


class Move(msgspec.Struct, frozen=True, kw_only=True):
    """A lot brought to a place, or measured there. ``kind`` is how the place holds its food.

    ``celsius`` is what the food itself measured; ``labels`` so many packs of it bear labels.
    """

    lot: str
    place: str
    kind: PlaceKind
    at: datetime
    celsius: Decimal | None = None
    by: str = ""
    labels: int = 0

    @property
    def bad(self) -> bool:
        """Whether the food was measured, and not as its place must hold it."""
        return self.celsius is not None and self.kind != "room" and not self.good

    @property
    def good(self) -> bool:
        """Whether the food was measured as cold, or as hot, as the place must hold it."""
        if self.celsius is None or self.kind == "room":
            return False
        return holds(held_as(self.kind), self.celsius)


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """A place as one day leaves it to the next: when it was last measured good, and what was
    measured out of its range since, None where nothing was."""

    place: str
    good_at: datetime | None = None
    bad: Temperature | None = None


class PlaceDay:
    """The readings of one place on one day, each at its own time, noted late or not."""

    def __init__(self, began: Place) -> None:
        self.began, self.readings = began, list[Temperature]()

    def copy(self) -> PlaceDay:
        made = PlaceDay(self.began)
        made.readings += self.readings
        return made

    def add(self, reading: Temperature) -> None:
        """Take a reading in, but for one of before what is known to be good since."""
        good = self.began.good_at
        if good is not None and reading.at.timestamp() < good.timestamp():
            return
        insort(self.readings, reading, key=lambda r: r.at.timestamp())

    def now(self) -> Place:
        """The place as it stands after all of them."""
        good, bad = self.began.good_at, self.began.bad
        for reading in self.readings:
            good, bad = (reading.at, None) if reading.safe else (good, reading)
        return Place(place=self.began.place, good_at=good, bad=bad)

    def out(self) -> list[tuple[float, float | None]]:
        """When it was out of its range: from the last good reading, or where there was none from
        the bad one, to the next good one."""
        found, good, bad = list[Span](), self.began.good_at, self.began.bad
        for reading in self.readings:
            if not reading.safe:
                bad = bad or reading
                continue
            if bad:
                found.append(((good or bad.at).timestamp(), reading.at.timestamp()))
            good, bad = reading.at, None
        return [*found, ((good or bad.at).timestamp(), None)] if bad else found


class Track:
    """Where one lot lay on one day, from what the day before left."""

    def __init__(self, lot: Lot) -> None:
        self.began = lot
        self.stays: list[Move] = []
        self.put_back: list[tuple[float, int]] = []  # minutes that a tub which was kept brought
        self.printed: list[tuple[float, int]] = []
        self.decided: float | None = None  # until then it was let go by whoever may
        if lot.place and lot.since:
            self.stays.append(Move(lot=lot.lot, place=lot.place, kind=lot.kind, at=lot.since))

    def move(self, move: Move) -> None:
        insort(self.stays, move, key=lambda m: m.at.timestamp())

    def judged(self, lot: Lot, places: Mapping[str, PlaceDay]) -> Lot:
        """The lot as it lies: its place, its minutes out, and its date."""
        spans = self._spans(lot, places)
        since = spans[-1][0] if spans and spans[-1][1] is None else None
        last = self.stays[-1] if self.stays else None
        lot = self._frozen(lot, places)
        return msgspec.structs.replace(
            lot,
            place=last.place if last else "",
            kind=last.kind if last else "cold",
            since=last.at if last else None,
            out=self.minutes(lot, places, since if since is not None else float("inf")),
            out_since=None
            if since is None or last is None
            else datetime.fromtimestamp(since, last.at.tzinfo),
        )

    def minutes(self, lot: Lot, places: Mapping[str, PlaceDay], until: float) -> int:
        """Minutes out of its temperature up to a moment, all together."""
        after = self.decided or float("-inf")
        whole = sum(n for at, n in self.put_back if after < at <= until)
        whole += self.began.out if self.decided is None else 0
        for start, end in self._spans(lot, places):
            if start < until:
                whole += ceil((min(until, end or until) - start) / 60)
        return whole

    def _spans(self, lot: Lot, places: Mapping[str, PlaceDay]) -> list[Span]:
        """When it was out of its temperature, in order and apart from each other."""
        if lot.cold_at is None:
            return []  # needs neither cold nor heat
        cold_at = lot.cold_at.timestamp()
        found = list[Span]()
        if self.began.out_since is not None:
            start = self.began.out_since.timestamp()
            found.append((start, self._good_after(self.stays[0].at.timestamp(), places)))
        for n, stay in enumerate(self.stays):
            left = self.stays[n + 1].at.timestamp() if n + 1 < len(self.stays) else None
            came = max(stay.at.timestamp(), cold_at)
            day = places.get(stay.place)
            if stay.bad and stay.at.timestamp() >= cold_at:
                found.append(self._measured_bad(n, cold_at))
            out: list[Span] = [(came, None)] if stay.kind == "room" else day.out() if day else []
            for start, end in out:
                start = max(came, start)
                if (left is not None and left <= start) or (end is not None and end <= start):
                    continue
                if left is not None and (end is None or end > left):
                    end = self._good_after(left, places)  # it left while it was out
                found.append((start, end))
        return _apart(found, self.decided)

    def _measured_bad(self, n: int, cold_at: float) -> Span:
        """The food itself was out of its range: since it was last known to be in it, until it is
        measured good itself. That its place is cold proves nothing of it."""
        known = [s.at.timestamp() for s in self.stays[:n] if s.good]
        later = [s.at.timestamp() for s in self.stays[n + 1 :] if s.good]
        return max([cold_at, *known]), min(later, default=None)

    def _good_after(self, moment: float, places: Mapping[str, PlaceDay]) -> float | None:
        """When it counts as held again: it was measured itself, or the place where it lies was."""
        for n, stay in enumerate(self.stays):
            left = self.stays[n + 1].at.timestamp() if n + 1 < len(self.stays) else float("inf")
            came = stay.at.timestamp()
            if stay.good and came >= moment:
                return came
            day = places.get(stay.place)
            for reading in day.readings if day and stay.kind != "room" else ():
                if reading.safe and max(came, moment) <= reading.at.timestamp() < left:
                    return reading.at.timestamp()
        return None

    def _frozen(self, lot: Lot, places: Mapping[str, PlaceDay]) -> Lot:
        """The lot with what freezing and thawing has done to its date and to its labels."""
        began, own = self.began, lot.own_mark or self.began.mark
        on, thawed, still = began.frozen_on, began.thawed_on, began.still
        for moment, freezes in self._turns(places):
            frozen, day = on is not None and thawed is None, moment.date()
            if freezes == frozen:
                continue
            if not frozen:
                on, thawed = day, None
            elif on is not None:
                thawed = day
                if on <= own.day + timedelta(days=still):  # what was past its date stays so
                    still += max(0, (day - on).days - 1)
        return msgspec.structs.replace(
            lot,
            own_mark=own,
            frozen_on=on,
            thawed_on=thawed,
            still=still,
            relabel=self._to_label(),
            mark=_mark(own, lot.frozen_mark, on if thawed is None else None, still),
        )

    def _turns(self, places: Mapping[str, PlaceDay]) -> list[tuple[datetime, bool]]:
        """When it came to freeze or to thaw, and which: by where it was brought, and by what its
        freezer measured. Above 0 °C it thaws, from when it was last known to be cold on (the
        shop's own rule, on the safe side)."""
        found = [(s.at, s.kind == "freezer") for s in self.stays if s.at != self.began.since]
        for n, stay in enumerate(self.stays):
            left = self.stays[n + 1].at.timestamp() if n + 1 < len(self.stays) else float("inf")
            day = places.get(stay.place)
            good = max(stay.at, (day and day.began.good_at) or stay.at, key=datetime.timestamp)
            for reading in day.readings if day and stay.kind == "freezer" else ():
                if stay.at.timestamp() <= reading.at.timestamp() < left:
                    cold = reading.celsius <= 0
                    good = reading.at if cold else good
                    found.append((good, cold))
        return sorted(found, key=lambda turn: turn[0].timestamp())

    def _to_label(self) -> int:
        """How many packs bear labels that are not true any more: each freezing and thawing makes
        them so, and each new label one less."""
        left, kinds = self.began.relabel, [self.began.kind, *(stay.kind for stay in self.stays)]
        events = [
            (stay.at.timestamp(), stay.labels, True)
            for stay, before in zip(self.stays, kinds, strict=False)
            if (stay.kind == "freezer") != (before == "freezer")
        ]
        events += [(at, n, False) for at, n in self.printed]
        for _, number, turned in sorted(events, key=lambda e: (e[0], not e[2])):
            left = max(left, number) if turned else max(0, left - number)
        return left


def _mark(
    own: DateMark, frozen_mark: DateMark | None, frozen_on: date | None, still: int
) -> DateMark:
    """The date of a lot: that of what is held frozen while it is, else its own, which has stood
    still for so many days."""
    mark = still_for(own, still)
    if frozen_mark is None:
        return mark
    if frozen_on is not None and frozen_on <= mark.day:
        return frozen_mark
    return min(mark, frozen_mark, key=lambda m: m.day)


def _apart(spans: list[Span], after: float | None) -> list[Span]:
    """Spans joined where they touch, and cut off where somebody has decided about them."""
    joined = list[Span]()
    for start, end in sorted(spans, key=lambda s: s[0]):
        if after is not None and end is not None and end <= after:
            continue
        start = max(start, after) if after is not None else start
        if joined and (joined[-1][1] is None or start <= joined[-1][1]):
            last = joined[-1]
            joined[-1] = (last[0], None if last[1] is None or end is None else max(last[1], end))
        else:
            joined.append((start, end))
    return joined


def check_move(tried: Said, move: Move, lot: Lot) -> None:
    """Refuse a move that says nothing, and one that nobody measured where it must be.

    Food goes on display unchilled only cold or hot as measured (Food Code 3-501.19(B)), and what
    was cooled is reheated before it is held hot (3-403.11).
    """
    if move.place == lot.place and move.celsius is None:
        do = say("Name another place, or what it measures")
        raise Refused(tried, say("it lies there already"), do)
    if lot.cold_at is None or move.kind not in ("room", "hot"):
        return
    if move.kind == "hot" and lot.cold_at.timestamp() <= move.at.timestamp():
        why = say("it was cooled, and is held hot only when reheated")
        raise NotSafe(tried, why, say("Reheat it, and open a tub of it hot"), lot=lot.lot)
    mode = held_as(move.kind)
    if move.celsius is None:
        why = say("{place} does not keep it cold, and the food is not measured", place=move.place)
        raise BadInput(tried, why, measure_it(mode))
    refuse_unless_held(tried, mode, move.celsius, lot.lot)
