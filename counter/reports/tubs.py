"""The tubs of a day: when opened, measured and taken away."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal

import msgspec

from counter.trade.tubs import Mode, Tub, TubCheck, TubEnded, TubOpened, keeps


class Measured(msgspec.Struct, frozen=True):
    """A temperature in a tub, and whether it keeps the tub safe."""

    at: datetime
    celsius: Decimal
    good: bool


class TubDay(msgspec.Struct, frozen=True):
    """One tub over the day. ``level`` is the millilitres it began the day with."""

    tub: str
    lot: str
    mode: Mode
    level: int
    opened: datetime
    celsius: Decimal | None
    checks: tuple[Measured, ...]
    ended: datetime | None
    left: int
    kept: bool


def tubs_of(
    records: Sequence[Mapping[str, Sequence[object]]], carried: Iterable[Tub]
) -> tuple[TubDay, ...]:
    """Tubs in the order they were opened, those that stood from the day before first."""
    tubs = {
        t.tub: TubDay(t.tub, t.lot, t.mode, t.level, t.opened, None, (), None, 0, False)
        for t in carried
    }
    for record in (r for commit in records for rows in commit.values() for r in rows):
        if isinstance(record, TubOpened):
            tubs[record.tub] = TubDay(
                record.tub,
                record.lot,
                record.mode,
                record.level,
                record.at,
                record.celsius,
                (),
                None,
                0,
                False,
            )
        elif isinstance(record, TubCheck) and record.tub in tubs:
            tub = tubs[record.tub]
            check = Measured(record.at, record.celsius, keeps(tub.mode, record.celsius))
            tubs[tub.tub] = msgspec.structs.replace(tub, checks=(*tub.checks, check))
        elif isinstance(record, TubEnded) and record.tub in tubs:
            tubs[record.tub] = msgspec.structs.replace(
                tubs[record.tub], ended=record.at, left=record.left, kept=record.kept
            )
    return tuple(tubs.values())
