"""What was made and where it went, as tables of a report: of a day, or of a span of days."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from counter.present import Presenter, decimals, exact, weight
from counter.reports.blocks import Column, Table, figures, table, words
from counter.reports.flows import Flow
from counter.reports.spans import ProductSpan, YieldSpan
from counter.reports.summary import LotFigures
from counter.reports.tubs import Measured, TubDay
from counter.trade.catalogue import Unit
from counter.trade.closing import LotDay, WasteDay, YieldDay
from counter.trade.tubs import words_of
from counter.trade.units import show_amount
from counter.trade.waste import WORDS
from labels.say import Said, figure, join, say, term

BALANCE = say(
    "in + made = sold + used + wasted + out + missing; below zero is more than the log has"
)


def balance(telling: Presenter, of: Callable[[Any], LotDay | Flow]) -> list[Column]:
    """Where all there was of a lot or of a product went."""

    def some(title: str, amount: Callable[[LotDay | Flow], int], wide: float = 1.5) -> Column:
        return figures(title, wide, lambda x: telling.some(amount(of(x)), of(x).unit))

    return [
        some("in", lambda x: x.carried_in),
        some("made", lambda x: x.made),
        some("sold", lambda x: x.sold),
        some("used", lambda x: x.used),
        some("wasted", lambda x: sum(x.wasted.values()), 1.8),
        some("out", lambda x: x.carried_out),
        some("missing", lambda x: x.variance),
    ]


def lots_table(lots: tuple[LotFigures, ...], telling: Presenter) -> Table:
    def remarks(lot: LotDay) -> str:
        found = [telling.reasons(lot.wasted, lot.unit)] if lot.wasted else []
        found += [say("oversold")] * lot.oversold
        found += [say("stopped: {why}", why=lot.stopped)] if lot.stopped else []
        found += [say("out of its temperature for {n} min", n=lot.out)] if lot.out else []
        found += [say("never was: {why}", why=lot.void)] if lot.void else []
        return join("; ", found + [say("not counted")] * lot.open_question)

    return table(
        say("Lots"),
        lots,
        words("lot", 1.7, lambda x: x.day.lot),
        words("product", 3.4, lambda x: telling.product(x.day.product)),
        words("until", 1.5, lambda x: telling.short_date(x.best) if x.best else "–"),
        *balance(telling, lambda x: x.day),
        figures("labels", 1.3, lambda x: x.labels or "–"),
        words("why wasted, and remarks", 5.2, lambda x: remarks(x.day)),
        aside=BALANCE,
        empty=say("No lot was there."),
    )


def products_table(products: Sequence[ProductSpan], telling: Presenter) -> Table:
    return table(
        say("Products"),
        products,
        words("product", 3.7, lambda p: telling.product(p.flow.product)),
        *balance(telling, lambda p: p.flow),
        figures("days", 1, lambda p: p.days),
        figures("sold out", 1.6, lambda p: p.sold_out or "–"),
        figures("brought", 2, lambda p: telling.money(p.net)),
        figures("wasted, cost", 1.9, lambda p: telling.money(p.wasted_cost)),
        figures("at price", 1.8, lambda p: telling.money(p.wasted_price)),
        aside=BALANCE,
        empty=say("Nothing was there."),
    )


def waste_table(waste: Sequence[WasteDay], units: Mapping[str, Unit], telling: Presenter) -> Table:
    """What was wasted and what it was worth, of a day or of a span."""
    money = telling.money
    sums = money(sum(w.cost for w in waste)), money(sum(w.price for w in waste))
    return table(
        say("Wasted"),
        waste,
        words("product", 3.6, lambda w: telling.product(w.product)),
        words("why", 3.4, lambda w: term(WORDS.get(w.reason, w.reason))),
        figures("amount", 1.6, lambda w: telling.some(w.amount, units.get(w.product, "piece"))),
        figures("at cost", 1.6, lambda w: money(w.cost)),
        figures("at price", 1.7, lambda w: money(w.price)),
        all_of=(say("*All"), "", "", *sums),
        empty=say("Nothing was wasted."),
    )


def yield_words(made: YieldDay) -> str:
    """What came of one kilogram of dry beans: ``3.09 kg``, ``7.4 l``, ``7.8`` pieces."""
    if made.beans_g <= 0:
        return "–"
    if made.weighs:
        return per_kilo(Decimal(made.weighs) / made.beans_g, made.liquid)
    return decimals(made.made * 1000 / made.beans_g, 1)


def per_kilo(found: Decimal, liquid: bool) -> Said:
    return figure(f"{decimals(found)} {'l' if liquid else 'kg'}")


def yields_table(yields: tuple[YieldDay, ...], telling: Presenter) -> Table:
    def beans(made: YieldDay) -> str:
        return figure(f"{'' if made.noted else '~'}{weight(made.beans_g)}") if made.beans_g else "–"

    in_order = sorted(yields, key=lambda y: y.lot)
    return table(
        say("Made, and what the beans gave"),
        in_order,
        words("lot", 1.8, lambda y: y.lot),
        words("product", 4.2, lambda y: telling.product(y.product)),
        figures("made", 1.9, lambda y: telling.some(y.made, y.unit)),
        figures("dry beans", 1.9, beans),
        figures("from 1 kg", 1.9, yield_words),
        figures("°Brix", 1.3, lambda y: exact(y.brix)),
        empty=say("Nothing was made."),
    )


def kilo_words(found: YieldSpan) -> str:
    if found.per_kilo is None:
        return "–"
    return per_kilo(found.per_kilo / 1000, found.liquid)


def yields_of_span(yields: Sequence[YieldSpan], telling: Presenter) -> Table:
    def brix(*values: Decimal | None) -> str:
        return join("–", ("" if v is None else decimals(v, 1) for v in values)) or "–"

    return table(
        say("Made of beans"),
        yields,
        words("product", 3.6, lambda y: telling.product(y.product)),
        figures("batches", 1.4, lambda y: y.batches),
        figures("beans", 1.8, lambda y: weight(y.beans_g)),
        figures("from 1 kg", 1.6, kilo_words),
        figures("°Brix", 1.2, lambda y: brix(y.brix)),
        figures("from–to", 1.9, lambda y: brix(y.brix_least, y.brix_most)),
        empty=say("Nothing was made."),
    )


def tubs_table(tubs: tuple[TubDay, ...], telling: Presenter) -> Table:
    return table(
        say("Tubs at the counter"),
        tubs,
        words("tub", 1.6, lambda tub: tub.tub),
        words("lot", 1.3, lambda tub: tub.lot),
        words("held", 1.2, lambda tub: words_of(tub.mode)),
        words("opened", 3.9, lambda tub: _opened(tub, telling)),
        words("checked", 5, lambda tub: _checks(tub, telling) or "–"),
        words("taken away", 3.4, lambda tub: _ended(tub, telling)),
    )


def _opened(tub: TubDay, telling: Presenter) -> str:
    when = f"{telling.short_date(tub.opened.date())} {telling.clock(tub.opened)}"
    level = show_amount(tub.level, "ml")
    if tub.celsius is None:
        return join(", ", (when, level))
    measured = telling.temperature(tub.celsius)
    return say("{when}, {level} at {temperature}", when=when, level=level, temperature=measured)


def _checks(tub: TubDay, telling: Presenter) -> str:
    def said(check: Measured) -> Said:
        measured = join(" ", (telling.clock(check.at), telling.temperature(check.celsius)))
        return measured if check.good else say("{measured} OUT OF RANGE", measured=measured)

    return join("  ·  ", map(said, tub.checks))


def _ended(tub: TubDay, telling: Presenter) -> str:
    if tub.ended is None:
        return say("stands")
    left, clock = show_amount(tub.left, "ml"), telling.clock(tub.ended)
    if tub.kept:
        return say("{clock}, {left} kept", clock=clock, left=left)
    return say("{clock}, {left} thrown away", clock=clock, left=left)
