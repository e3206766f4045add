"""The shelf: what is on hand, oldest first, and from which one sells, as a plain value."""

from __future__ import annotations

from datetime import date, datetime

import msgspec

from counter.trade.catalogue import Catalogue, Unit
from counter.trade.ledger import Ledger
from counter.trade.stock import Due, LotRow, due_of, oldest_first, scoop_refusal
from counter.trade.stock import refusal_for as lot_refusal
from counter.trade.temperatures import PlaceKind, Temperature
from counter.trade.tubs import MINUTES, Mode, Tub, minutes_left
from counter.trade.whereabouts import Place
from labels.say import say


class ShelfLot(msgspec.Struct, frozen=True):
    """One lot: ``amount`` on hand in the product's unit; ``refusal`` is "" when it may be sold;
    a ``reserve`` is frozen and not sold so. ``cooling`` is what is to be noted of it next."""

    lot: str
    amount: int
    kind: str
    day: date
    refusal: str = ""
    advice: str = ""
    last_day: bool = False
    oversold: bool = False
    cooling: Due | None = None
    place: str = ""
    reserve: bool = False


class ShelfBand(msgspec.Struct, frozen=True, kw_only=True):
    """A place that does not hold its food as it must, or one that is not chilled, and the lots that
    lie there with the minutes each has left; what cools still has no clock yet. ``reading`` is None
    where they brought it from elsewhere; ``good_at`` is when this place was last measured good."""

    place: str
    kind: PlaceKind
    lots: dict[str, int]
    reading: Temperature | None = None
    good_at: datetime | None = None


class ShelfTub(msgspec.Struct, frozen=True):
    """One open tub: ``level`` in ml, whole minutes left, cups left by portion."""

    tub: str
    lot: str
    mode: Mode
    level: int
    minutes: int
    until: datetime
    cups: dict[str, int]
    refusal: str = ""
    advice: str = ""


class ShelfProduct(msgspec.Struct, frozen=True):
    """A row of the shelf."""

    product: str
    name: str
    unit: Unit
    lots: tuple[ShelfLot, ...]
    tubs: tuple[ShelfTub, ...]
    sold_out_at: datetime | None = None


class Shelf(msgspec.Struct, frozen=True):
    """The whole shelf of a trading day; first what must be thrown away."""

    day: date
    throw_away: tuple[ShelfLot, ...]
    products: tuple[ShelfProduct, ...]
    bands: tuple[ShelfBand, ...] = ()


def lay_shelf(ledger: Ledger, catalogue: Catalogue, now: datetime, past_best_by: str) -> Shelf:
    """The shelf as it stands at ``now``: catalogue order, each product's lots oldest first."""
    keys = list(catalogue.products)
    keys += [r.lot.product for r in ledger.rows.values() if r.lot.product not in keys]
    products = []
    gone: list[ShelfLot] = []
    for key in dict.fromkeys(keys):
        lots = [
            _lot(row, now, past_best_by)
            for row in oldest_first(ledger.rows_of(key))
            if row.on_hand or row.oversold
        ]
        gone += [lot for lot in lots if lot.refusal and lot.amount > 0 and not lot.reserve]
        product = catalogue.products.get(key)
        unit: Unit = product.unit if product else ledger.rows_of(key)[0].lot.unit
        tubs = [_tub(tub, ledger, catalogue, now, past_best_by) for tub in ledger.open_tubs(key)]
        if lots or tubs or product:
            products.append(
                ShelfProduct(
                    key,
                    product.name if product else key,
                    unit,
                    tuple(lots),
                    tuple(tubs),
                    ledger.sold_out_at.get(key),
                )
            )
    return Shelf(ledger.day, tuple(gone), tuple(products), tuple(bands_of(ledger, now)))


def bands_of(ledger: Ledger, now: datetime) -> list[ShelfBand]:
    """The places that hold their lots badly, or not at all, as far as some of them is there."""
    found = []
    lots = [row.lot for row in oldest_first(ledger.rows.values()) if row.there]
    kinds = {lot.place: lot.kind for lot in lots if lot.place}
    for place in kinds:
        now_at = ledger.places[place].now() if place in ledger.places else Place(place=place)
        left = {
            lot.lot: max(0, MINUTES - lot.out_by(now))
            for lot in lots
            if lot.place == place and lot.out_since and lot.out_since.timestamp() <= now.timestamp()
        }
        if left or now_at.bad:
            found.append(
                ShelfBand(
                    place=place,
                    kind=kinds[place],
                    lots=left,
                    reading=now_at.bad,
                    good_at=now_at.good_at,
                )
            )
    return found


def _lot(row: LotRow, now: datetime, past_best_by: str) -> ShelfLot:
    refusal = lot_refusal(row.lot, now, past_best_by, say("sell lot {lot}", lot=row.lot.lot))
    return ShelfLot(
        lot=row.lot.lot,
        amount=row.on_hand,
        kind=row.lot.mark.kind,
        day=row.lot.mark.day,
        refusal=refusal.why if refusal else "",
        advice=refusal.do if refusal else "",
        last_day=row.lot.mark.day <= now.date(),
        oversold=row.oversold,
        cooling=due_of(row.lot, now),
        place=row.lot.place,
        reserve=row.lot.reserve,
    )


def _tub(
    tub: Tub, ledger: Ledger, catalogue: Catalogue, now: datetime, past_best_by: str
) -> ShelfTub:
    tried = say("sell from tub {tub}", tub=tub.tub)
    refusal = scoop_refusal(tub, ledger.rows[tub.lot].lot, now, past_best_by, tried)
    cups = {
        portion.key: max(0, tub.level // portion.draws)
        for portion in catalogue.portions_of(tub.product)
        if portion.draws
    }
    return ShelfTub(
        tub=tub.tub,
        lot=tub.lot,
        mode=tub.mode,
        level=tub.level,
        minutes=minutes_left(tub, now),
        until=tub.until,
        cups=cups,
        refusal=refusal.why if refusal else "",
        advice=refusal.do if refusal else "",
    )
