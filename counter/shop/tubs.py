"""Tubs of pudding: opened, measured, taken away."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from tinydb import where

from counter.errors import BadInput, NotSafe, Refused
from counter.shop.desk import Desk, Entry
from counter.trade.asking import Question
from counter.trade.doubts import above_all, above_log, noted_late, of_scooping, refuse_not_cold
from counter.trade.picking import refuse_out_of_tub
from counter.trade.stock import Lot, held_warm, refusal_for, scoop_refusal
from counter.trade.tubs import (
    COLD,
    HOT,
    Mode,
    Tub,
    TubCheck,
    TubEnded,
    TubOpened,
    check_opening,
    open_tub,
    reason_gone,
    words_of,
)
from counter.trade.tubs import refusal_for as tub_refusal
from counter.trade.units import CLOCKS_DIFFER
from counter.trade.waste import Reason, Waste
from labels.say import Said, say


class Tubs:
    """The tubs on the counter."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def open_tub(
        self,
        lot: str,
        mode: Mode,
        level: int | None = None,
        celsius: Decimal | None = None,
        at: datetime | None = None,
        by: str = "",
        reheated: Decimal | None = None,
        reheat_minutes: int | None = None,
    ) -> Tub:
        """Put a tub of a lot on the counter. ``level`` in ml; by default one mould of the lot, or
        what is left of it. ``reheated`` is what a hot tub of cold food was brought to, and
        ``reheat_minutes`` how long that took. Refused where nobody measured."""
        tried = say("open a tub of lot {lot} {mode}", lot=lot, mode=words_of(mode))
        with self.desk.writing(at, by) as entry:
            row = entry.ledger.row(lot, tried)
            product = self.desk.for_sale(entry.ledger, entry.at).products.get(row.lot.product)
            if product is None or not product.tub:
                raise Refused(tried, say("it is not sold from a tub"), say("Name a lot of pudding"))
            self._refuse_unfit(row.lot, mode, celsius, tried, entry)
            free = row.on_hand - entry.ledger.in_tubs(lot)
            # Noted late, it would be scooped from now.
            refuse_out_of_tub(entry.ledger, lot, level or 0, tried, entry.at, entry.now)
            if level is None:
                if free <= 0:
                    do = say("Say how much it holds, such as 8l")
                    raise Refused(tried, say("the log has nothing left of it to put in"), do)
                level = min(product.mould, free)
            number = self._tubs_opened(row.lot.made_on, lot) + 1
            opened = TubOpened(
                tub=f"{lot}/{number}",
                lot=lot,
                mode=mode,
                level=level,
                at=entry.at,
                celsius=celsius,
                by=entry.by,
                reheated=reheated,
                reheat_minutes=reheat_minutes,
            )
            tub = open_tub(opened, product.key, row.lot.out_by(entry.at))
            check_opening(tried, opened, self._cooled(lot, entry))
            self._doubt_opening(opened, entry, tried)
            if any(t.lot == lot and t.mode != "cold" for t in entry.ledger.tubs.values()):
                # What is put back there must not come back as if it had been cold.
                entry.ask(*above_log(row, level, max(0, free), tried))
            entry.add(opened)
        return tub

    def _doubt_opening(self, opened: TubOpened, entry: Entry, tried: Said) -> None:
        """Refuse a tub that was cold before its lot was; ask about more than was ever there."""
        lot, celsius = opened.lot, opened.celsius
        cold = opened.mode == "cold" or (celsius is not None and celsius <= COLD)
        if cold and (refusal := refuse_not_cold(self.desk.batch(lot), entry.at, tried)):
            raise refusal
        entry.ask(*above_all("holds", entry.ledger.rows[lot], opened.level, tried))

    def _cooled(self, lot: str, entry: Entry) -> bool:
        """Whether a lot has left the heat by the log: it cooled, is of another day, or stood in a
        tub that was cold."""
        cooling = self.desk.batch(lot).cooling
        begun = cooling is not None and cooling.to_21.timestamp() <= entry.at.timestamp()
        cold = any(t.lot == lot and t.mode == "cold" for t in entry.ledger.tubs.values())
        return begun or cold or entry.ledger.rows[lot].lot.made_on < entry.day

    def _refuse_unfit(
        self, lot: Lot, mode: Mode, celsius: Decimal | None, tried: Said, entry: Entry
    ) -> None:
        """What starts hot goes by the tub's own clock; past the hour at which it was to be cold,
        somebody says that it never left the heat."""
        hot = mode != "cold" and celsius is not None and celsius >= HOT
        never_left = hot and lot.to_21_by is not None
        known = held_warm(lot) if never_left else lot
        policy = self.desk.settings.shop.past_best_by
        if refusal := refusal_for(known, entry.at, policy, tried):
            raise refusal
        if never_left and refusal_for(lot, entry.now, policy, tried):
            text = say(
                "it was to be cold by {clock}, and nobody noted that it stayed hot",
                clock=f"{lot.cold_by:%H:%M}",
            )
            clause = "Food Code 3-501.16(A)(1)"
            entry.ask(Question(about="hot", tried=tried, text=text, clause=clause))

    def _tubs_opened(self, made_on: date, lot: str) -> int:
        """How many tubs of a lot were ever opened: a name is never given twice."""
        found = self.desk.books.select(str(made_on), until=str(date.max), about=lot)
        return found.table("tubs").count(where("lot") == lot)

    def check_tub(
        self, tub: str, celsius: Decimal, at: datetime | None = None, by: str = ""
    ) -> Tub:
        """Write down a temperature measured in an open tub; answers with the tub as it stands."""
        tried = say("check tub {tub}", tub=tub)
        with self.desk.writing(at, by) as entry:
            standing = self.standing_tub(entry, tub, tried)
            anew = entry.at == entry.now and standing.set_back(entry.at)
            if not anew and entry.at.timestamp() < (standing.opened - CLOCKS_DIFFER).timestamp():
                why = say("it was opened at {moment}", moment=f"{standing.opened:%Y-%m-%d %H:%M}")
                raise BadInput(tried, why, say("Write when it was measured"))
            check = TubCheck(tub=tub, celsius=celsius, at=entry.at, by=entry.by, anew=anew)
            after = entry.ledger.measured(tub, check)
            if tub_refusal(standing, entry.now, tried) and not tub_refusal(after, entry.now, tried):
                entry.ask(*noted_late(tub, entry.at, entry.now, tried))
            entry.add(check)
            return after

    def end_tub(
        self, tub: str, left: int, kept: bool, at: datetime | None = None, by: str = ""
    ) -> list[Waste]:
        """Take a tub away with ``left`` ml in it. What is lost or not kept is waste."""
        tried = say("end tub {tub}", tub=tub)
        if left < 0:
            raise BadInput(
                tried,
                say("{amount} ml left is no amount", amount=left),
                say("Say how much is left in it"),
            )
        with self.desk.writing(at, by) as entry:
            standing = self.standing_tub(entry, tub, tried)
            if kept and standing.mode != "cold":
                why = say(
                    "it stood {mode}, and only a cold tub is put back", mode=words_of(standing.mode)
                )
                raise NotSafe(tried, why, say("Throw the rest away"), lot=standing.lot)
            lot = entry.ledger.rows[standing.lot].lot
            refusal = scoop_refusal(standing, lot, entry.at, "refuse", tried, entry.now)
            if kept and refusal:
                raise refusal
            holding = max(0, entry.ledger.rows[standing.lot].on_hand)
            if left > max(holding, standing.level):
                why = say(
                    "{amount} ml left in it are more than the log has: only {left} of it left",
                    amount=left,
                    left=holding,
                )
                raise Refused(tried, why, say("Measure it again, or throw away less"))
            held = entry.ledger.tubs_began[tub].level
            entry.ask(*of_scooping(standing, held, left, tried))
            return empty_tub(entry, standing, left, kept)

    def standing_tub(self, entry: Entry, tub: str, tried: Said) -> Tub:
        standing = entry.ledger.tub(tub, tried)
        if standing.ended is not None:
            raise Refused(
                tried,
                say("it was taken away at {moment}", moment=f"{standing.ended:%H:%M}"),
                say("Name an open tub"),
            )
        return standing


def empty_tub(entry: Entry, tub: Tub, left: int, kept: bool = False) -> list[Waste]:
    """A tub is away with ``left`` ml in it: what is lost or not kept is waste."""
    entry.add(TubEnded(tub=tub.tub, left=left, kept=kept, at=entry.at, by=entry.by))
    losses: list[tuple[int, Reason]] = [(tub.level - left, "scooping")]
    if not kept:
        losses.append((left, reason_gone(tub, entry.at)))
    gone = ((reason, amount) for amount, reason in losses if amount > 0)
    return [entry.waste(tub.lot, amount, reason, tub=tub.tub) for reason, amount in gone]
