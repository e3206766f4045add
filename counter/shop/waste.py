"""What is thrown away, tasted or given away: each lot's waste with its reason."""

from __future__ import annotations

from datetime import datetime

from counter.errors import BadInput, Refused
from counter.shop.desk import Desk
from counter.shop.tubs import Tubs
from counter.trade.doubts import above_all
from counter.trade.must_go import MustGo, must_go
from counter.trade.tubs import TubEnded
from counter.trade.units import show_amount
from counter.trade.waste import Reason, Waste
from labels.say import option, say, typed


class ThrownAway:
    """Waste, and what must become it."""

    def __init__(self, desk: Desk, tubs: Tubs) -> None:
        self.desk = desk
        self.tubs = tubs

    def must_go(self) -> list[MustGo]:
        """What must be thrown away now, what surely goes first."""
        return must_go(self.desk.standing(), self.desk.now(), self.desk.settings.shop.past_best_by)

    def throw_out(
        self, lot: str, amount: int, reason: Reason, words: str = "", by: str = ""
    ) -> list[Waste]:
        """Throw away all that is left of a lot, its open tubs with it, in one commit.

        ``amount`` is what somebody saw there; refused when the log says otherwise by now.
        """
        tried = say("throw away lot {lot}", lot=lot)
        with self.desk.writing(by=by) as entry:
            row = entry.ledger.row(lot, tried)
            if amount != row.there or amount <= 0:
                unit = row.lot.unit
                there = show_amount(row.there, unit)
                why = say(
                    "{amount} were seen, and the log has {left}",
                    amount=show_amount(amount, unit),
                    left=there,
                )
                raise Refused(tried, why, say("Look at it again"))
            gone: list[Waste] = []
            for tub in (t for t in entry.ledger.open_tubs() if t.lot == lot):
                level = max(0, min(tub.level, amount))
                entry.add(TubEnded(tub=tub.tub, left=level, kept=False, at=entry.at, by=entry.by))
                if level:
                    gone.append(entry.waste(lot, level, reason, words=typed(words), tub=tub.tub))
                amount -= level
            if amount:
                gone.append(entry.waste(lot, amount, reason, words=typed(words)))
        return gone

    def throw_away(
        self,
        lot: str,
        amount: int,
        reason: Reason,
        words: str = "",
        tub: str = "",
        at: datetime | None = None,
        by: str = "",
    ) -> Waste:
        """Write down what of a lot is gone, with the reason."""
        tried = say("throw away {amount} of lot {lot}", amount=amount, lot=lot)
        if not 0 < amount <= 10_000_000:
            raise BadInput(
                tried, say("{amount} is no amount", amount=amount), say("Say how much is gone")
            )
        with self.desk.writing(at, by) as entry:
            row = entry.ledger.row(lot, tried)
            if tub and self.tubs.standing_tub(entry, tub, tried).lot != lot:
                why = say("tub {tub} holds lot {lot}", tub=tub, lot=entry.ledger.tubs[tub].lot)
                raise Refused(tried, why, say("Name the lot that is in it"))
            if amount > row.there:
                raise Refused(
                    tried,
                    say("the log has only {left} of it left", left=row.there),
                    say(
                        "Count the lot first{how}, if more is really there",
                        how=option("`counter count`"),
                    ),
                )
            entry.ask(*above_all(f"waste.{lot}", row, amount, tried))
            return entry.waste(lot, amount, reason, words=typed(words), tub=tub)
