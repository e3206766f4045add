"""Which record stands in which table of the books, and the records of a type out of commits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

import msgspec

from counter.trade.asking import Answer, Answers
from counter.trade.catalogue import Catalogue
from counter.trade.closing import Closing, Reopening
from counter.trade.corrections import Correction
from counter.trade.drawer import DrawerMove
from counter.trade.ledger import Count, Printed
from counter.trade.mendings import Lost, Mending
from counter.trade.people import Pins
from counter.trade.production import Batch, Hold, Stops
from counter.trade.refunds import Refund
from counter.trade.sales import Sale
from counter.trade.settings import SettingsChange
from counter.trade.temperatures import Temperature, ThermometerCheck
from counter.trade.tubs import TubCheck, TubEnded, TubOpened
from counter.trade.waste import Waste
from counter.trade.whereabouts import Move

Records = Mapping[str, Sequence[Any]]
Record = TypeVar("Record", bound=msgspec.Struct)

TABLES: dict[str, type[msgspec.Struct]] = {
    "batches": Batch,
    "holds": Hold,
    "printed": Printed,
    "tubs": TubOpened,
    "checks": TubCheck,
    "ended": TubEnded,
    "sales": Sale,
    "refunds": Refund,
    "waste": Waste,
    "counts": Count,
    "drawer": DrawerMove,
    "temperatures": Temperature,
    "thermometers": ThermometerCheck,
    "moves": Move,
    "corrections": Correction,
    "answers": Answer,
    "catalogues": Catalogue,
    "confirmed": Answers,
    "pins": Pins,
    "settings": SettingsChange,
    "stops": Stops,
    "closings": Closing,
    "reopenings": Reopening,
    "lost": Lost,
    "mendings": Mending,
}
_NAMES = {kind: name for name, kind in TABLES.items()}


def table_of(kind: type[msgspec.Struct]) -> str:
    """The table that records of a type stand in."""
    return _NAMES[kind]


def records_in(kind: type[Record], commits: Iterable[Records]) -> list[Record]:
    """The records of a type in some commits, in the order written."""
    return [record for commit in commits for record in commit.get(_NAMES[kind], ())]
