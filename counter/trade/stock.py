"""What is on hand, by lot, oldest first, and what may not be sold any more.

For every lot, always and exactly: made + carried in = sold + used + wasted + carried out + variance
(``used`` is what went into another batch). Amounts are whole pieces, millilitres or grams.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from math import ceil, floor
from typing import Literal

import msgspec

from counter.errors import NotSafe
from counter.trade.catalogue import Unit
from counter.trade.cooling import Step, due_by
from counter.trade.dates import DateMark
from counter.trade.production import Batch
from counter.trade.temperatures import PlaceKind
from counter.trade.tubs import MINUTES, Tub
from counter.trade.tubs import refusal_for as tub_refusal
from counter.trade.units import minutes_between
from labels.say import NOTHING, Said, at_terminal, say, say_n, term

_THROW = say("Throw it away under Waste")


class Lot(msgspec.Struct, frozen=True, kw_only=True):
    """What must be known of a batch to sell it; a closing carries it to the next day."""

    lot: str
    product: str
    unit: Unit
    mark: DateMark
    made_on: date
    raw: Said = NOTHING
    stopped: Said = NOTHING
    uncooled: bool = False
    cold_by: datetime | None = None  # it has not been cold (5 °C / 41 °F) yet, and must be by then
    void: Said = NOTHING  # why it never was
    out: int = 0  # minutes it has been out of its temperature, all together, but for since
    out_since: datetime | None = None  # when it is out of it now
    place: str = ""  # where it lies, and since when
    kind: PlaceKind = "cold"
    since: datetime | None = None
    to_21_by: datetime | None = None  # 21 °C / 70 °F is not noted, and must be by then
    cold_at: datetime | None = None  # from when on it must be held cold or hot; None: never
    own_mark: DateMark | None = None  # its date but for what freezing does to it
    frozen_mark: DateMark | None = None  # its date while it is frozen, where it is held so
    frozen_on: date | None = None  # the last time
    thawed_on: date | None = None  # since then
    still: int = 0  # for so many days its date has stood still
    relabel: int = 0  # packs whose labels are of before it was frozen or thawed

    @property
    def frozen(self) -> bool:
        return self.frozen_on is not None and self.thawed_on is None

    @property
    def reserve(self) -> bool:
        """It is frozen, and not sold so."""
        return self.frozen and self.frozen_mark is None

    def out_by(self, now: datetime) -> int:
        """Minutes out of its temperature by ``now``, all together."""
        if self.out_since is None:
            return self.out
        return self.out + max(0, ceil(minutes_between(self.out_since, now)))


class Due(msgspec.Struct, frozen=True, kw_only=True):
    """The next step of a lot's cooling that nobody has noted; ``minutes`` left, below zero once it
    is overdue."""

    step: Step
    by: datetime
    minutes: int


class Carried(msgspec.Struct, frozen=True):
    """A lot as it goes over into the next day, and how much of it."""

    lot: Lot
    amount: int


How = Literal["assumed", "named", "scanned"]
"""How it is known of which lot something was: the oldest by the log, said by a person, or read
from its label. What was tapped may be another lot than the oldest."""


class Draw(msgspec.Struct, frozen=True, kw_only=True):
    """So much taken from a lot, through a tub where it is scooped."""

    lot: str
    amount: int
    tub: str = ""
    how: How = "assumed"


class LotRow:
    """One lot on one trading day, as the day's records add up.

    ``counted`` is what somebody counted, ``left`` what of it should still be there.
    """

    def __init__(self, lot: Lot, carried_in: int = 0) -> None:
        self.lot = lot
        self.carried_in = carried_in
        self.made = self.sold = self.used = self.corrected = 0
        self.wasted: dict[str, int] = {}
        self.counted: int | None = None
        self.left: int | None = None
        self._counted_at = 0.0
        self._gone: list[tuple[datetime, int]] = []

    @property
    def on_hand(self) -> int:
        """What the log says is left; below zero when more was sold than made."""
        return (
            self.carried_in
            + self.made
            + self.corrected
            - self.sold
            - self.used
            - sum(self.wasted.values())
        )

    @property
    def oversold(self) -> bool:
        """More is gone than was there, and nobody has counted it since or put it right."""
        return (self.on_hand if self.left is None else self.left) < 0

    @property
    def likely(self) -> int:
        """What is left: what was counted, less what went since; else what the log says."""
        return max(self.on_hand if self.left is None else self.left, 0)

    @property
    def there(self) -> int:
        """As much as may really be there: what the log says, or what was counted if it is more."""
        return max(self.on_hand, self.left or 0, 0)

    def correct(self, amount: int) -> None:
        """A sealed day was wrong by so much. What was counted today stays what was counted."""
        self.corrected += amount

    def sell(self, amount: int, at: datetime) -> None:
        """So much was sold; a negative amount came back."""
        self._leave(amount, at)
        self.sold += amount

    def use(self, amount: int, at: datetime) -> None:
        """So much went into another batch."""
        self._leave(amount, at)
        self.used += amount

    def waste(self, reason: str, amount: int, at: datetime) -> None:
        """So much is gone. Noted after a count, it first explains what the count missed."""
        missing = 0 if self.left is None else max(0, self.on_hand - self.left)
        self._leave(amount, at, explained=min(amount, missing))
        self.wasted[reason] = self.wasted.get(reason, 0) + amount

    def count(self, amount: int, at: datetime) -> None:
        """Somebody counted it at ``at``; ``left`` follows what leaves the shelf from then on."""
        self.counted, self._counted_at = amount, at.timestamp()
        gone = (n for when, n in self._gone if when.timestamp() > self._counted_at)
        self.left = amount - sum(gone)

    def _leave(self, amount: int, at: datetime, explained: int = 0) -> None:
        self._gone.append((at, amount))
        if self.left is not None and at.timestamp() >= self._counted_at:
            self.left -= amount - explained


def lot_of(batch: Batch, made_on: date, stopped: Said = NOTHING) -> Lot:
    """The lot of a logged batch."""
    to_21_by, cold_by = None, None
    if batch.chilled and not batch.void:
        to_21_by, cold_by = due_by(batch.cooling, batch.cools_from)
    return Lot(
        lot=batch.lot,
        product=batch.product,
        unit=batch.unit,
        mark=batch.mark,
        made_on=made_on,
        raw=batch.raw,
        stopped=stopped,
        uncooled=batch.uncooled,
        cold_by=cold_by,
        to_21_by=to_21_by,
        void=batch.void,
        cold_at=cold_at(batch),
        own_mark=batch.mark,
        frozen_mark=batch.frozen_mark,
    )


def cold_at(batch: Batch) -> datetime | None:
    """From when on a batch must be held cold or hot: when it was cooled, and when that is due at
    the latest; None for one that needs neither. Until then its cooling has a clock of its own (Food
    Code 3-501.14, 3-501.16(A))."""
    if not batch.chilled:
        return None
    cold = batch.cooling.to_5 if batch.cooling else None
    return cold or due_by(batch.cooling, batch.cools_from)[1]


def due_of(lot: Lot, now: datetime) -> Due | None:
    """What of its cooling is to be noted next, and by when; None where nothing is open."""
    by = lot.to_21_by or lot.cold_by
    if by is None:
        return None
    step: Step = "21" if lot.to_21_by else "5"
    return Due(step=step, by=by, minutes=floor(minutes_between(now, by)))


def held_warm(lot: Lot) -> Lot:
    """The lot as a hot tub or one by time holds it: they go by their own clock, not by when the
    rest of it was to be cold (Food Code 3-501.16, 3-501.19)."""
    return msgspec.structs.replace(lot, uncooled=False, cold_by=None, to_21_by=None)


def refusal_for(lot: Lot, now: datetime, past_best_by: str, tried: Said) -> NotSafe | None:
    """Why the lot may not be sold at ``now``, a moment of the shop's own zone, or None: it is
    unfit, or frozen. Calm twin of a refusal."""
    return refusal_unfit(lot, now, past_best_by, tried) or refusal_frozen(lot, tried)


def refusal_unfit(lot: Lot, now: datetime, past_best_by: str, tried: Said) -> NotSafe | None:
    """Why the lot may not be sold whatever is done with it, but for a release or a note; or None.

    A date on a pack is a calendar date: it is over at midnight, whenever the trading day turns.
    ``past_best_by`` is the shop's policy for the quality date, ``refuse`` or ``warn``; a safety
    date, a stop and a missing cook always refuse, and so does a lot of which nobody has noted in
    time that it is cold (Food Code 3-501.14(A)), or one that has been out of its temperature for 4
    hours, all together (3-501.19(B) as the measure).
    """
    mark, today = lot.mark, now.date()
    if lot.void:
        do = say("Find out which lot the food in the hand is of")
        return NotSafe(tried, say("it never was: {text}", text=lot.void), do, lot=lot.lot)
    if lot.stopped:
        do = say("Put it aside until it is released")
        return NotSafe(tried, say("it is stopped: {why}", why=lot.stopped), do, lot=lot.lot)
    if lot.raw:
        do = say("Record the cook in the production log; the local food code decides")
        why = say("{why}, and raw soy milk is not for eating", why=lot.raw)
        return NotSafe(tried, why, do, lot=lot.lot)
    if why := _not_cold(lot, now):
        do = say("Note when it was reached in the production log, or stop the lot")
        return NotSafe(tried, why, do, lot=lot.lot)
    if out := out_too_long(lot, now, tried):
        return out
    if lot.frozen_on and lot.reserve:
        today = min(today, lot.frozen_on)  # its date stands still
    if mark.limit is not None and today > mark.limit:
        kind, over = "use-by" if mark.kind == "use-by" else "last", mark.limit
    elif today > mark.day and past_best_by == "refuse":
        kind, over = mark.kind, mark.day
    else:
        return None
    why = say("its {kind} date {date} has passed", kind=term(kind), date=over)
    return NotSafe(tried, why, _THROW, lot=lot.lot)


def scoop_refusal(
    tub: Tub, lot: Lot, now: datetime, past_best_by: str, tried: Said, clock: datetime | None = None
) -> NotSafe | None:
    """Why nothing may be scooped from a tub of a lot, or None: its own clock first, then its lot as
    the tub holds it."""
    lot = lot if tub.mode == "cold" else held_warm(lot)
    return tub_refusal(tub, now, tried, clock) or refusal_for(lot, now, past_best_by, tried)


def refusal_frozen(lot: Lot, tried: Said) -> NotSafe | None:
    """Why a lot may not be sold that is frozen and is not sold so, or that bears the labels of
    before."""
    if lot.frozen_on and lot.reserve:
        why = say("it lies frozen since {date}, and is not sold so", date=lot.frozen_on)
        how = at_terminal(": `counter move {lot} PLACE`", lot=lot.lot)
        do = say("Thaw it first{how}, to a fridge", how=how)
        return NotSafe(tried, why, do, lot=lot.lot)
    if lot.kind == "freezer" and lot.thawed_on:
        why = say(
            "it thawed in {place} on {date}, which was measured above 0 °C",
            place=lot.place,
            date=lot.thawed_on,
        )
        how = at_terminal(", `counter move {lot} PLACE`", lot=lot.lot)
        do = say("Move it to a fridge{how}, or throw it away", how=how)
        return NotSafe(tried, why, do, lot=lot.lot)
    if lot.relabel:
        why = say_n(
            "{n} pack bears the labels of before it was frozen",
            "{n} packs bear the labels of before it was frozen",
            n=lot.relabel,
        )
        if lot.thawed_on:
            why = say_n(
                "{n} pack bears the labels of before it was thawed",
                "{n} packs bear the labels of before it was thawed",
                n=lot.relabel,
            )
        return NotSafe(tried, why, say("Print new labels and destroy the old ones"), lot=lot.lot)
    return None


OUT_TOO_LONG = say("it was out of its temperature for {n} minutes and more", n=MINUTES)


def out_too_long(lot: Lot, now: datetime, tried: Said) -> NotSafe | None:
    """Why a lot may not be sold that has been out of its temperature for 4 hours, all together."""
    if (out := lot.out_by(now)) < MINUTES:
        return None
    why = say(
        "it was out of its temperature for {n} minutes in all, allowed are {most}",
        n=out,
        most=MINUTES,
    )
    do = say("Put it aside until it is released, or throw it away; the local food code decides")
    return NotSafe(tried, why, do, lot=lot.lot)


def _not_cold(lot: Lot, now: datetime) -> Said:
    """Why it does not count as cold by now, or "". A lot carried by closings of before the times
    were kept for every lot has none; it was due on the day it was made."""
    if lot.cold_by is not None and now.timestamp() > lot.cold_by.timestamp():
        return say(
            "5 °C / 41 °F is not noted, and was due by {clock}", clock=f"{lot.cold_by:%H:%M}"
        )
    if lot.uncooled and lot.cold_by is None and now.date() > lot.made_on:
        return say("5 °C / 41 °F is not noted, and was due on {date}", date=lot.made_on)
    return NOTHING


def oldest_first(rows: Iterable[LotRow]) -> list[LotRow]:
    """Rows in the order they should leave the shop: earliest date first, then by lot."""
    return sorted(rows, key=lambda row: (row.lot.mark.day, row.lot.lot))


def allocate(rows: Iterable[LotRow], amount: int, taken: dict[str, int]) -> list[Draw]:
    """Take ``amount`` from lots that may be sold, oldest first.

    ``taken`` holds what the slip has already drawn from each lot and is added to. When less is left
    by count or log than somebody holds in the hand, the rest is drawn from the newest lot that
    may be sold, which is then oversold: bookkeeping never stops the counter. Empty when there is
    no lot at all.
    """
    ordered = oldest_first(rows)
    draws: dict[str, int] = {}
    rest = amount
    for row in ordered:
        free = row.likely - taken.get(row.lot.lot, 0)
        part = min(rest, max(free, 0))
        if part:
            draws[row.lot.lot] = part
            rest -= part
        if not rest:
            break
    if rest and ordered:
        newest = ordered[-1].lot.lot
        draws[newest] = draws.get(newest, 0) + rest
    for lot, part in draws.items():
        taken[lot] = taken.get(lot, 0) + part
    return [Draw(lot=lot, amount=part) for lot, part in draws.items()]
