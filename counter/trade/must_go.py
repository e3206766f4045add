"""What must be thrown away now: lots past their date, stopped, raw or not noted as cold in time,
tubs past their time."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import msgspec

from counter.trade.catalogue import Unit
from counter.trade.ledger import Ledger
from counter.trade.stock import (
    LotRow,
    held_warm,
    oldest_first,
    out_too_long,
    refusal_frozen,
    refusal_unfit,
)
from counter.trade.tubs import reason_gone
from counter.trade.tubs import refusal_for as tub_refusal
from counter.trade.waste import Reason
from labels.say import NOTHING, Said, say


class MustGo(msgspec.Struct, frozen=True, kw_only=True):
    """So much of a lot that may not be sold, why, and the reason it is thrown away for.

    ``tub`` names an open tub, "" for the whole lot. ``surely`` is False where something else may
    be done first: a stopped lot waits for its release, a tub may be measured again.
    """

    lot: str
    product: str
    unit: Unit
    amount: int
    reason: Reason
    why: Said
    do: Said
    surely: bool
    tub: str = ""
    words: str = ""


def must_go(ledger: Ledger, now: datetime, past_best_by: str) -> list[MustGo]:
    """Lots that may not be sold any more, then tubs of good lots; what surely goes comes first."""
    warm = {tub.lot for tub in ledger.open_tubs() if tub.mode != "cold"}
    found = [
        go
        for row in oldest_first(ledger.rows.values())
        for go in _lot(row, row.lot.lot in warm, now, past_best_by)
    ]
    lots = {go.lot for go in found}
    for tub in ledger.open_tubs():
        refusal = tub_refusal(tub, now, say("sell from tub {tub}", tub=tub.tub))
        if refusal is None or tub.lot in lots:
            continue
        reason = reason_gone(tub, now)
        late = now.timestamp() >= tub.ends and reason != "unmeasured"
        found.append(
            MustGo(
                lot=tub.lot,
                product=tub.product,
                unit="ml",
                amount=max(tub.level, 0),
                reason=reason,
                why=refusal.why,
                do=refusal.do,
                surely=late or tub.left_over,
                tub=tub.tub,
            )
        )
    return sorted(found, key=lambda go: not go.surely)


def _lot(row: LotRow, warm: bool, now: datetime, past_best_by: str) -> Iterator[MustGo]:
    """``warm``: it stands in a tub that is not cold, and that goes by its own clock."""
    lot, tried = row.lot, say("sell lot {lot}", lot=row.lot.lot)
    refusal = known = refusal_unfit(held_warm(lot), now, past_best_by, tried)
    if refusal is None and not (warm or refusal_frozen(lot, tried)):
        refusal = refusal_unfit(lot, now, past_best_by, tried)
    if refusal is None or not row.there:
        return
    reason: Reason = "stopped" if lot.stopped else "other" if lot.raw or not known else "date"
    if reason == "date" and out_too_long(lot, now, NOTHING):
        reason = "time" if lot.kind == "room" else "temperature"
    yield MustGo(
        lot=lot.lot,
        product=lot.product,
        unit=lot.unit,
        amount=row.there,
        reason=reason,
        why=refusal.why,
        do=refusal.do,
        surely=reason == "date",
        words=(lot.raw or refusal.why) if reason == "other" else "",
    )
