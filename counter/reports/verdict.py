"""What an inspector asks of some days, answered from their records alone.

Sources: FDA Food Code 3-501.16 and 3-501.19 (holding), 4-502.11(B) with 4-203.11 (thermometers),
3-701.11 (what is unsafe is thrown away; this one from memory). That a tub is measured every 4 hours
and a place once a trading day is common practice, no source. The local food code and the inspector
decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import groupby, pairwise
from typing import TypeVar

import msgspec

from counter.present import Presenter
from counter.reports.cooked import Cooked
from counter.reports.gathered import Gathered, Remark
from counter.trade.cooling import span_words
from counter.trade.corrections import Correction
from counter.trade.production import Hold
from counter.trade.temperatures import PlaceKind, Temperature, ThermometerCheck
from counter.trade.tubs import MINUTES, TubCheck, TubEnded, TubOpened, holds, keeps, words_of
from counter.trade.units import minutes_between, show_amount
from counter.trade.waste import WORDS, Waste, about
from counter.trade.whereabouts import Move
from labels.say import NOTHING, Said, join, say, say_n, term

HELD, BY_TIME, GONE = "3-501.16(A)", "3-501.19(B)", "3-701.11"
THERMOMETERS = "4-502.11(B), 4-203.11"
EVERY_DAY = say("3-501.16(A); once a day: common practice, no source")
EVERY_4_HOURS = say("3-501.16(A); every 4 hours: common practice, no source")
OWN = say("the shop's own records")
NO_NAME = say("NO NAME")


_Noted = TypeVar("_Noted", Move, Hold, Waste)


class Reading(msgspec.Struct, frozen=True):
    """A place measured, with the trading day it is of."""

    day: date
    of: Temperature


class Verdict:
    """Reads the records of some days. ``carried`` says for each closing in which place each lot
    lay that it carried over; ``kinds`` how each place of the shop holds its food."""

    def __init__(
        self,
        gathered: Gathered,
        carried: Mapping[date, Mapping[str, str]],
        kinds: Mapping[str, PlaceKind],
        telling: Presenter,
    ) -> None:
        self.gathered, self.carried, self.kinds = gathered, carried, kinds
        self.telling, self.moment, self.date = telling, telling.moment, telling.date
        self.missing = list[Remark]()
        self.out = self.silent = 0  # measured out of limits, and of these without what was done

    def topics(self) -> list[tuple[Said, list[Remark]]]:
        """What was not written down, then what was, by what is asked for."""
        food = Cooked(self.gathered, self.telling, self.miss)
        topics = [
            (say("Places: how often they were measured"), list(self._places())),
            (say("Tubs: how often they were measured"), list(self._tubs())),
            (say("Out of limits, and what was done"), [*self._bad_places(), *self._bad_tubs()]),
            (say("Cook and cooling"), list(food.cooling())),
            (say("Reheating for hot holding"), list(food.reheating())),
            (say("Stopped, released, and why"), list(self._holds())),
            (say("Tubs thrown away, and why"), list(self._gone())),
            (say("Thermometers checked"), list(self._thermometers())),
            (say("Who was on duty"), list(self._duty())),
        ]
        return [(say("Not written down"), [*self._no_book(), *self.missing]), *topics]

    def miss(self, text: Said, source: str) -> None:
        self.missing.append(Remark(text, source))

    # -- how often

    @cached_property
    def readings(self) -> list[Reading]:
        """Places as measured, in the order of time; those that a closed day forgot with them."""
        days = [(d, t) for d, t in self.gathered.of(Temperature)]
        days += [(c.corrects, c.reading) for _, c in self.gathered.of(Correction) if c.reading]
        found = [Reading(d, t) for d, t in days if self.gathered.first <= d <= self.gathered.last]
        return sorted(found, key=lambda r: r.of.at.timestamp())

    @cached_property
    def held(self) -> dict[date, set[str]]:
        """In which places food lay on each day that has a book: carried over or brought there."""
        found, lay = dict[date, set[str]](), set[str]()
        for day in sorted({*self.carried, *self.gathered.days}):
            if day in self.gathered.days:
                lay = lay | {m.place for d, m in self.gathered.of(Move) if d == day}
                found[day] = lay
            lay = set(self.carried[day].values()) if day in self.carried else lay
        return found

    def _places(self) -> Iterator[Remark]:
        measured = {r.of.place for r in self.readings}
        known = [p for p, kind in self.kinds.items() if kind != "room"]
        for place in dict.fromkeys([*known, *sorted(measured)]):
            with_food = [day for day, places in self.held.items() if place in places]
            mine = [r for r in self.readings if r.of.place == place]
            left_out = [d for d in with_food if all(r.day != d for r in mine)]
            for day in left_out:
                when = self.date(day)
                self.miss(
                    say("NO TEMPERATURE OF {place} ON {date}", place=place, date=when), EVERY_DAY
                )
            text = say(
                "{place}: measured on {noted} of {whole} days on which it held food,"
                " times in all: {times}",
                place=place,
                noted=len(with_food) - len(left_out),
                whole=len(with_food),
                times=len(mine),
            )
            if not with_food:
                text = say(
                    "{place}: held no food by the log, times measured: {times}",
                    place=place,
                    times=len(mine),
                )
            longest = self._longest([r.of.at for r in mine])
            yield Remark(say("{text}.", text=join("; ", filter(None, (text, longest)))), EVERY_DAY)

    def _longest(self, moments: Iterable[datetime]) -> Said:
        """The longest time between two of some moments, in words, or ""."""
        gaps = gaps_of(moments)
        if not gaps:
            return NOTHING
        gap = self._gap(*max(gaps, key=length))
        return say("longest time between two measurements {gap}", gap=gap)

    def _gap(self, start: datetime, end: datetime) -> Said:
        return say(
            "{span}, from {start} to {end}",
            span=span_words(minutes_between(start, end)),
            start=self.moment(start),
            end=self.moment(end),
        )

    @cached_property
    def opened(self) -> dict[str, TubOpened]:
        return {t.tub: t for _, t in self.gathered.of(TubOpened)}

    @cached_property
    def ended(self) -> dict[str, TubEnded]:
        return {t.tub: t for _, t in self.gathered.of(TubEnded)}

    @cached_property
    def checks(self) -> dict[str, list[TubCheck]]:
        """The checks of each tub, in the order of time."""
        found = dict[str, list[TubCheck]]()
        rows = [c for _, c in self.gathered.of(TubCheck)]
        for check in sorted(rows, key=lambda c: c.at.timestamp()):
            found.setdefault(check.tub, []).append(check)
        return found

    @cached_property
    def gone(self) -> dict[str, list[Waste]]:
        """What each tub wasted, but for what scooping loses."""
        found = dict[str, list[Waste]]()
        for _, waste in self.gathered.of(Waste):
            if waste.tub and waste.reason != "scooping":
                found.setdefault(waste.tub, []).append(waste)
        return found

    def _tubs(self) -> Iterator[Remark]:
        until = max(c.entered for c in self.gathered.within)
        for tub in dict.fromkeys([*self.opened, *self.checks, *self.ended]):
            opened, ended = self.opened.get(tub), self.ended.get(tub)
            end = ended.at if ended else until
            if not ended:
                self.miss(
                    say("THE END OF tub {tub}: it stands open in the last record", tub=tub), OWN
                )
            if opened and opened.celsius is None:
                self.miss(say("THE TEMPERATURE OF tub {tub} AT ITS OPENING", tub=tub), HELD)
            if opened and opened.mode == "time":
                long = minutes_between(opened.at, end) > MINUTES
                verdict = say("MORE THAN 4 HOURS") if long else say("within 4 hours")
                stood = self._gap(opened.at, end)
                yield Remark(
                    say(
                        "Tub {tub}, by time: stood {stood}: {verdict}.",
                        tub=tub,
                        stood=stood,
                        verdict=verdict,
                    ),
                    BY_TIME,
                )
                continue
            yield self._tub(tub, words_of(opened.mode if opened else "cold"), end)

    def _tub(self, tub: str, held: Said, end: datetime) -> Remark:
        """A tub that is held by its temperature: when it was measured, until it was taken away."""
        opened, checks = self.opened.get(tub), self.checks.get(tub, [])
        begun = [opened.at] if opened else []
        times = len(checks) + bool(opened and opened.celsius is not None)
        text = say("Tub {tub}, held {held}: times measured: {n}", tub=tub, held=held, n=times)
        gaps = gaps_of([*begun, *(c.at for c in checks), end])
        long = [gap for gap in gaps if length(gap) > MINUTES]
        if long:
            named = join("; ", (self._gap(*gap) for gap in long))
            what = say("NOT MEASURED FOR MORE THAN 4 HOURS: {gaps}.", gaps=named)
        else:
            longest = self._gap(*max(gaps, key=length)) if gaps else "0 h 00 min"
            what = say("never longer than {longest}: within 4 hours.", longest=longest)
        return Remark(join("; ", (text, what)), EVERY_4_HOURS)

    # -- out of limits

    def _bad_places(self) -> Iterator[Remark]:
        for reading in self.readings:
            bad = reading.of
            if bad.ok:
                continue
            later = (
                r.of
                for r in self.readings
                if r.of.place == bad.place and r.of.ok and r.of.at.timestamp() > bad.at.timestamp()
            )
            what = self._measured(bad.place, bad)
            done = [say('noted "{note}"', note=bad.note)] if bad.note else []
            done += self._done_about(reading)
            yield self._acted(what, done, next(later, None))

    def _measured(self, what: str, bad: Temperature | TubCheck) -> Said:
        return say(
            "{what}, {temperature} at {moment}",
            what=what,
            temperature=self.telling.temperature(bad.celsius),
            moment=self.moment(bad.at),
        )

    def _acted(
        self, what: Said, done: list[Said], good: Temperature | TubCheck | None, gone: bool = False
    ) -> Remark:
        """The line of what was measured out of limits; what is ``gone`` is not measured again."""
        self.out += 1
        if not done:
            self.silent += 1
            self.miss(say("WHAT WAS DONE ABOUT {what}", what=what), HELD)
            done = [say("WHAT WAS DONE IS NOT WRITTEN DOWN")]
        if good:
            done.append(say("within its limits again at {moment}", moment=self.moment(good.at)))
        elif not gone:
            done.append(say("not measured within its limits again in these days"))
        return Remark(say("{text}.", text=join(": ", (what, join("; ", done)))), HELD)

    def _done_about(self, reading: Reading) -> Iterator[Said]:
        """What was written down that day, after a place was out of its limits, of what lay there:
        moves away from it, stops, and what was thrown away for it."""
        bad, place = reading.of, reading.of.place

        def after(kind: type[_Noted]) -> Iterator[_Noted]:
            for day, row in self.gathered.of(kind):
                if day == reading.day and row.at.timestamp() >= bad.at.timestamp():
                    yield row

        for move in after(Move):
            lay = self._lay(move.lot, reading.day, move.at, before=True)
            if move.place != place == lay:
                yield say(
                    "lot {lot} moved to {place} at {moment}",
                    lot=move.lot,
                    place=move.place,
                    moment=self.moment(move.at),
                )
        stops = dict[str, list[str]]()
        for hold in after(Hold):
            if hold.stopped and self._lay(hold.lot, reading.day, hold.at) == place:
                stops.setdefault(self.moment(hold.at), []).append(hold.lot)
        for moment, lots in stops.items():
            yield say(
                "stopped at {moment}: lot {lots} (why stands below)",
                moment=moment,
                lots=", ".join(lots),
            )
        for waste in after(Waste):
            there = self._lay(waste.lot, reading.day, waste.at) == place
            if about(waste.reason).unsafe and there:
                yield say(
                    "some of lot {lot} thrown away, {why}, at {moment}",
                    lot=waste.lot,
                    why=WORDS[waste.reason],
                    moment=self.moment(waste.at),
                )

    def _lay(self, lot: str, day: date, at: datetime, before: bool = False) -> str:
        """Where a lot lay at a moment, or just ``before`` it, by the log."""
        moves = [m for _, m in self.gathered.of(Move) if m.lot == lot]
        end = at.timestamp()
        came = [m for m in moves if (t := m.at.timestamp()) < end or (t == end and not before)]
        if came:
            return max(came, key=lambda m: m.at.timestamp()).place
        earlier = [places[lot] for d, places in self.carried.items() if d < day and lot in places]
        return earlier[-1] if earlier else ""

    def _bad_tubs(self) -> Iterator[Remark]:
        for tub, checks in self.checks.items():
            opened, ended = self.opened.get(tub), self.ended.get(tub)
            mode = opened.mode if opened else "cold"
            for n, bad in enumerate(checks):
                if keeps(mode, bad.celsius):
                    continue
                good = next((c for c in checks[n + 1 :] if holds(mode, c.celsius)), None)
                what = self._measured(say("Tub {tub}", tub=tub), bad)
                done = [self._taken(ended)] if ended and not good else []
                yield self._acted(what, done, good, bool(ended))

    def _taken(self, ended: TubEnded) -> Said:
        moment = self.moment(ended.at)
        if ended.kept:
            return say("put back cold at {moment}", moment=moment)
        why = self._why_gone(ended) or say("nothing left")
        return say("taken away at {moment}, {why}", moment=moment, why=why)

    def _why_gone(self, ended: TubEnded) -> Said:
        """Why what was left in a tub went, as it was written down with it."""
        gone = (w for w in self.gone.get(ended.tub, ()) if w.at == ended.at)
        return join(", ", (w.words or WORDS[w.reason] for w in gone))

    # -- what went, and who

    def _holds(self) -> Iterator[Remark]:
        rows = [h for _, h in self.gathered.of(Hold)]
        last = {h.lot: h for h in rows}
        standing = dict[str, tuple[Said, ...]]()  # a further reason is kept behind those that stand
        for hold in rows:
            who, why, before = hold.by or NO_NAME, hold.why, standing.pop(hold.lot, ())
            what = "stopped" if hold.stopped else "released"
            if hold.stopped:
                standing[hold.lot] = hold.all_reasons
                new = [reason for reason in hold.all_reasons if reason not in before]
                if before and new and len(new) < len(hold.all_reasons):
                    what, why = "stopped as well", join("; ", new)
            text = say(
                "Lot {lot} {what} at {moment} by {who}: {why}",
                lot=hold.lot,
                what=term(what),
                moment=self.moment(hold.at),
                who=who,
                why=why,
            )
            still = hold.stopped and last[hold.lot] is hold
            open_still = [say("not released in these days")] * still
            yield Remark(say("{text}.", text=join("; ", [text, *open_still])), GONE)

    def _gone(self) -> Iterator[Remark]:
        for ended in self.ended.values():
            if ended.kept or not ended.left:
                continue
            why, left = self._why_gone(ended), show_amount(ended.left, "ml")
            if not why:
                self.miss(say("WHY tub {tub} WAS THROWN AWAY", tub=ended.tub), GONE)
            when, who = self.moment(ended.at), ended.by or NO_NAME
            why = why or say("NO REASON WRITTEN DOWN")
            yield Remark(
                say(
                    "Tub {tub}: {left} thrown away at {when} by {who}: {why}.",
                    tub=ended.tub,
                    left=left,
                    when=when,
                    who=who,
                    why=why,
                ),
                GONE,
            )

    def _thermometers(self) -> Iterator[Remark]:
        rows = [t for _, t in self.gathered.of(ThermometerCheck)]
        if not rows:
            self.miss(say("NO CHECK OF A THERMOMETER IN THESE DAYS"), THERMOMETERS)
        for one in rows:
            shown = say(
                "{temperature} at {moment}",
                temperature=self.telling.temperature(one.celsius),
                moment=self.moment(one.at),
            )
            right = say("right to 1 °C") if one.ok else say("NOT RIGHT TO 1 °C")
            words = join("; ", filter(None, (right, one.note, one.by or NO_NAME)))
            text = say(
                "{thermometer} in {water} water: {shown}: {words}.",
                thermometer=one.thermometer,
                water=term(one.water),
                shown=shown,
                words=words,
            )
            yield Remark(text, THERMOMETERS)

    def _duty(self) -> Iterator[Remark]:
        """The names in the records of each day, by when they were written."""
        for day, of_day in groupby(self.gathered.within, key=lambda c: c.day):
            lines = list(of_day)
            named = dict[str, list[datetime]]()
            nobody = 0
            for commit in lines:
                names = {r.by for rows in commit.records.values() for r in rows} - {""}
                nobody += not names
                for name in names:
                    named.setdefault(name, []).append(commit.entered)
            if nobody:
                self.miss(
                    say(
                        "NO NAME ON {nobody} OF {lines} ENTRIES OF {date}",
                        nobody=nobody,
                        lines=len(lines),
                        date=self.date(day),
                    ),
                    OWN,
                )
            for name, when in sorted(named.items()):
                first, last = self.moment(min(when)), self.moment(max(when))
                entries = say_n(
                    "{date}: {name}, {n} entry, first {first}, last {last}.",
                    "{date}: {name}, {n} entries, first {first}, last {last}.",
                    date=self.date(day),
                    name=name,
                    n=len(when),
                    first=first,
                    last=last,
                )
                yield Remark(entries, OWN)

    def _no_book(self) -> Iterator[Remark]:
        day = self.gathered.first
        while day <= self.gathered.last:
            if day not in self.gathered.days:
                when = self.date(day)
                yield Remark(
                    say("ANYTHING ON {date}: there is no book of that day", date=when), OWN
                )
            day += timedelta(days=1)


def gaps_of(moments: Iterable[datetime]) -> list[tuple[datetime, datetime]]:
    ordered = sorted(moments, key=datetime.timestamp)
    return list(pairwise(ordered))


def length(gap: tuple[datetime, datetime]) -> float:
    return minutes_between(*gap)
