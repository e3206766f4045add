"""Pictures of a day: where the bars and points stand. Figures only; the templates draw them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import msgspec

from counter.shop import Shop
from counter.trade.catalogue import Range
from counter.trade.closing import Closing, HourDay, LotDay
from counter.trade.corrections import Corrections
from counter.trade.dayfigures import sales_by_hour
from counter.trade.lookback import BrixPoint, ProductDay, days_by_product, scale_of
from counter.trade.sales import Sale
from counter.trade.tracing import Trace
from counter.web.words import Wording

LONG = 1000  # a whole bar, in units of its drawing


class Bar(msgspec.Struct, frozen=True):
    """One hour: its name, how long its bar is, and what it says."""

    name: str
    long: int
    sales: int
    total: str


class Piece(msgspec.Struct, frozen=True):
    """One part of a bar: what it is, from where and how long, and how much in words."""

    kind: str
    start: int
    long: int
    says: str


class Way(msgspec.Struct, frozen=True):
    """Where all of a product, or of a lot, went: a bar in parts."""

    name: str
    there: str
    pieces: tuple[Piece, ...]


class Summary(msgspec.Struct, frozen=True):
    """What the summary of a day shows beside the closing itself. ``moved`` were paid on days that
    were closed before they were booked."""

    hours: tuple[Bar, ...]
    ways: tuple[Way, ...]
    names: dict[str, str]
    lots: tuple[LotDay, ...]
    corrections: Corrections
    moved: tuple[Sale, ...] = ()


def hour_bars(hours: Sequence[HourDay], words: Wording) -> tuple[Bar, ...]:
    """Every hour from the first to the last, also those without a sale."""
    if not hours:
        return ()
    most = max(1, *(hour.total for hour in hours))
    found: list[Bar] = []
    for before, hour in zip((None, *hours), hours, strict=False):
        gap = (hour.hour - before.hour - 1) % 24 if before else 0
        found += [
            Bar(hour_name((before.hour + n) % 24), 0, 0, words.money(0))
            for n in range(1, gap + 1)
            if before
        ]
        long = max(0, hour.total) * LONG // most
        found.append(Bar(hour_name(hour.hour), long, hour.sales, words.money(hour.total)))
    return tuple(found)


def hour_name(hour: int) -> str:
    return f"{hour:02d}:00"


def parts(there: int, amounts: dict[str, int], unit: str, words: Wording) -> tuple[Piece, ...]:
    """The parts of a bar, side by side; their lengths add up to the whole bar."""
    whole = max(there, sum(a for a in amounts.values() if a > 0), 1)
    found, start = [], 0
    for kind, amount in amounts.items():
        if not amount:
            continue
        long = max(0, amount) * LONG // whole
        says = words.t(f"records.way_{kind}", amount=words.amount(abs(amount), unit))
        found.append(Piece(kind, start, long, says))
        start += long
    return tuple(found)


def way_of(product: ProductDay, name: str, words: Wording) -> Way:
    amounts = {
        "sold": product.sold, "used": product.used, "wasted": product.wasted,
        "missing": max(0, product.variance), "left": product.left,
        "over": min(0, product.variance),
    }  # fmt: skip
    there = words.t("records.there", amount=words.amount(product.there, product.unit))
    return Way(name, there, parts(product.there, amounts, product.unit, words))


def way_of_lot(trace: Trace, words: Wording) -> Way:
    """Where a lot went over all its days."""
    unit = trace.batch.unit
    whole = trace.made + trace.corrected
    amounts = {
        "sold": trace.sold, "used": trace.used, "wasted": trace.wasted, "missing": trace.missing,
        "left": trace.left, "over": -trace.over,
    }  # fmt: skip
    there = words.t("records.made_so", amount=words.amount(trace.made, unit))
    if trace.corrected:
        there += words.t("records.corrected_so", amount=f"{trace.corrected:+d}")
    return Way(trace.lot, there, parts(whole, amounts, unit, words))


def summary_of(closing: Closing, shop: Shop, words: Wording) -> Summary:
    """The pictures of a day and the names of its products."""
    names = shop.product_names()
    sales = shop.recorded(Sale, closing.day)
    return Summary(
        hour_bars(closing.hours or sales_by_hour(sales), words),
        tuple(
            way_of(p, names.get(p.product, p.product), words) for p in days_by_product(closing.lots)
        ),
        names, tuple(lot for lot in closing.lots if stirred(lot)),
        shop.closed_days.corrections_of(closing.day), tuple(sale for sale in sales if sale.moved),
    )  # fmt: skip


def stirred(lot: LotDay) -> bool:
    """Whether there is anything to say of a lot on that day."""
    return bool(
        lot.carried_in or lot.made or lot.sold or lot.used or lot.wasted or lot.variance
        or lot.carried_out or lot.counted or lot.stopped or lot.void
    )  # fmt: skip


class Dot(msgspec.Struct, frozen=True):
    """One batch in the picture of strengths."""

    x: int
    y: int
    lot: str
    says: str


class BrixPicture(msgspec.Struct, frozen=True):
    """Points over time on a field 600 by 240, the usual band, and the scale at the left."""

    dots: tuple[Dot, ...]
    line: str
    band: tuple[int, int] | None
    marks: tuple[tuple[int, str], ...]
    first: str
    last: str


def brix_picture(
    points: Sequence[BrixPoint], usual: Range | None, words: Wording
) -> BrixPicture | None:
    """°Brix by batch in the order made; None where nothing was measured."""
    if not points:
        return None
    scale = scale_of(points, usual)
    high = scale.most - scale.least

    def place(brix: Decimal) -> int:
        return int(220 - (brix - scale.least) / high * 200)

    step = Decimal(520) / max(1, len(points) - 1)
    dots = tuple(
        Dot(
            int(60 + n * step), place(p.brix), p.lot,
            f"{p.lot}, {words.date(p.day)}: {words.number(p.brix)} °Brix",
        )
        for n, p in enumerate(points)
    )  # fmt: skip
    band = (place(usual.most), place(usual.least)) if usual else None
    middle = (scale.least + scale.most) / 2
    marks = tuple((place(v), words.number(v)) for v in (scale.least, middle, scale.most))
    return BrixPicture(
        dots, " ".join(f"{d.x},{d.y}" for d in dots), band, marks,
        words.date(points[0].day), words.date(points[-1].day),
    )  # fmt: skip
