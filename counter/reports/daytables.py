"""The record in a closing report: lots, waste, yields, tubs, and what happens on some days only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from counter.present import Presenter, decimals, weight
from counter.reports.blocks import Block, Column, Table
from counter.reports.summary import DaySummary, LotFigures
from counter.reports.tubs import TubDay
from counter.trade.catalogue import Unit
from counter.trade.closing import WasteDay, YieldDay
from counter.trade.corrections import Correction, change_words
from counter.trade.tubs import words_of
from counter.trade.units import show_amount
from counter.trade.waste import WORDS


def lots_table(lots: tuple[LotFigures, ...], telling: Presenter) -> Table:
    def row(figures: LotFigures) -> tuple[str, ...]:
        lot = figures.day

        def show(amount: int) -> str:
            return telling.some(amount, lot.unit)

        remarks = [telling.reasons(lot.wasted, lot.unit)] if lot.wasted else []
        remarks += ["oversold"] * lot.oversold
        remarks += [f"stopped: {lot.stopped}"] if lot.stopped else []
        remarks += [f"out of its temperature for {lot.out} min"] if lot.out else []
        remarks += [f"never was: {lot.void}"] if lot.void else []
        remarks += ["not counted"] if lot.open_question else []
        labels = str(figures.labels) if figures.labels else "–"
        return (
            lot.lot, telling.product(lot.product), f"{figures.best:%m-%d}" if figures.best else "–",
            show(lot.carried_in), show(lot.made), show(lot.sold), show(lot.used),
            show(sum(lot.wasted.values())), show(lot.carried_out), show(lot.variance), labels,
            "; ".join(remarks),
        )  # fmt: skip

    figures = [
        Column(title, 1.5, "right")
        for title in ("in", "made", "sold", "used", "wasted", "out", "missing")
    ]
    columns = (
        Column("lot", 1.7), Column("product", 3.7), Column("until", 1.2), *figures,
        Column("labels", 1.2, "right"), Column("why wasted, and remarks", 5.2),
    )  # fmt: skip
    return Table(
        "Lots", columns, tuple(row(lot) for lot in lots),
        "in + made = sold + used + wasted + out + missing; below zero is more than the log has",
        empty="No lot was there.",
    )  # fmt: skip


def waste_table(waste: Sequence[WasteDay], units: Mapping[str, Unit], telling: Presenter) -> Table:
    """What was wasted and what it was worth, of a day or of a span."""
    rows: list[tuple[str, ...]] = [
        (telling.product(w.product), WORDS.get(w.reason, w.reason),
         telling.some(w.amount, units.get(w.product, "piece")),
         telling.money(w.cost), telling.money(w.price))
        for w in waste
    ]  # fmt: skip
    if rows:
        money = telling.money
        cost, price = sum(w.cost for w in waste), sum(w.price for w in waste)
        rows.append(("*All", "", "", money(cost), money(price)))
    columns = (
        Column("product", 3.6), Column("why", 3.4), Column("amount", 1.6, "right"),
        Column("at cost", 1.6, "right"), Column("at price", 1.7, "right"),
    )  # fmt: skip
    return Table("Wasted", columns, tuple(rows), empty="Nothing was wasted.")


def yield_words(made: YieldDay) -> str:
    """What came of one kilogram of dry beans: ``3.09 kg``, ``7.4 l``, ``7.8`` pieces."""
    if made.beans_g <= 0:
        return "–"
    if made.weighs:
        return f"{decimals(Decimal(made.weighs) / made.beans_g)} {'l' if made.liquid else 'kg'}"
    return decimals(made.made * 1000 / made.beans_g, 1)


def yields_table(yields: tuple[YieldDay, ...], telling: Presenter) -> Table:
    rows = tuple(
        (y.lot, telling.product(y.product), telling.some(y.made, y.unit),
         (weight(y.beans_g) if y.noted else f"~{weight(y.beans_g)}") if y.beans_g else "–",
         yield_words(y), f"{y.brix.normalize():f}" if y.brix is not None else "–")
        for y in sorted(yields, key=lambda y: y.lot)
    )  # fmt: skip
    columns = (
        Column("lot", 1.8), Column("product", 4.2), Column("made", 1.9, "right"),
        Column("dry beans", 1.9, "right"), Column("from 1 kg", 1.9, "right"),
        Column("°Brix", 1.3, "right"),
    )  # fmt: skip
    return Table("Made, and what the beans gave", columns, rows, empty="Nothing was made.")


def tubs_table(tubs: tuple[TubDay, ...], telling: Presenter) -> Table:
    columns = (
        Column("tub", 1.6), Column("lot", 1.3), Column("held", 0.9), Column("opened", 3.6),
        Column("checked", 5.6), Column("taken away", 3.4),
    )  # fmt: skip
    rows = tuple(
        (tub.tub, tub.lot, words_of(tub.mode), _opened(tub, telling), _checks(tub, telling) or "–",
         _ended(tub, telling))
        for tub in tubs
    )  # fmt: skip
    return Table("Tubs at the counter", columns, rows)


def _opened(tub: TubDay, telling: Presenter) -> str:
    first = f" at {telling.temperature(tub.celsius)}" if tub.celsius is not None else ""
    level = show_amount(tub.level, "ml")
    return f"{tub.opened:%m-%d} {telling.clock(tub.opened)}, {level}{first}"


def _checks(tub: TubDay, telling: Presenter) -> str:
    return "  ·  ".join(
        f"{telling.clock(c.at)} {telling.temperature(c.celsius)}"
        + ("" if c.good else " OUT OF RANGE")
        for c in tub.checks
    )


def _ended(tub: TubDay, telling: Presenter) -> str:
    if tub.ended is None:
        return "stands"
    what = "kept" if tub.kept else "thrown away"
    return f"{telling.clock(tub.ended)}, {show_amount(tub.left, 'ml')} {what}"


def remarks(summary: DaySummary, telling: Presenter) -> list[Block]:
    """What happened only on some days, each in a table of its own."""
    units = {lot.day.lot: lot.day.unit for lot in summary.lots}
    found: list[Block] = []
    if summary.discounted:
        found.append(discounts_table(summary, telling))
    if summary.refunds:
        found.append(refunds_table(summary, telling))
    if summary.kept:
        found.append(kept_table(summary, telling))
    if summary.holds:
        found.append(holds_table(summary, telling))
    for title, noted in (
        ("Corrections of earlier days, noted today", summary.corrections),
        ("Corrected since", summary.corrected),
    ):
        if noted:
            found.append(corrections_table(title, noted, units, telling))
    notes = [summary.notes] if summary.notes else []
    notes += [f"{what}: {words}" for what, words in summary.explained.items()]
    if notes:
        found.append(lines("Notes", notes))
    if summary.answers:
        said = (
            f"{telling.clock(a.at)} {a.of}: {a.words}{a.by and f' ({a.by})'}"
            for a in summary.answers
        )
        found.append(lines("Asked, and what was said", said))
    return found


def lines(title: str, texts: Iterable[str]) -> Table:
    """Sentences under a title."""
    return Table(title, (Column("", 1),), tuple((text,) for text in texts), heads=False)


def discounts_table(summary: DaySummary, telling: Presenter) -> Table:
    columns = (
        Column("sale", 2), Column("off", 1.3, "right"), Column("why", 6), Column("by", 1),
    )  # fmt: skip
    rows = tuple((d.sale, telling.money(d.amount), d.why, d.by or "–") for d in summary.discounted)
    return Table("Discounts", columns, rows)


def refunds_table(summary: DaySummary, telling: Presenter) -> Table:
    columns = (
        Column("refund", 2), Column("of sale", 2), Column("by", 1.2),
        Column("amount", 1.3, "right"), Column("goods", 2.2), Column("why", 4),
    )  # fmt: skip
    rows = tuple(
        (r.number, r.sale, "card, cash" if r.by_card else r.kind, telling.money(r.amount),
         "back on the shelf" if r.restocked else "stay sold", r.why)
        for r in summary.refunds
    )  # fmt: skip
    return Table("Refunds", columns, rows)


def kept_table(summary: DaySummary, telling: Presenter) -> Table:
    """Sales that were paid before they were booked. Of one whose day was closed by then, that
    day's count has money and goods already, and this day's lacks them: the two differences cancel.
    """

    def moment(at: datetime) -> str:
        return f"{telling.short_date(at.date())} {telling.clock(at)}"

    columns = (
        Column("sale", 2), Column("amount", 1.3, "right"), Column("paid", 1.8),
        Column("booked", 1.8), Column("taken by", 1.2), Column("sent by", 1.2), Column("", 3),
    )  # fmt: skip
    rows = tuple(
        (k.sale, telling.money(k.amount), moment(k.paid), moment(k.booked), k.by or "–",
         k.sent_by or "–", "its own day was closed" if k.day else "")
        for k in summary.kept
    )  # fmt: skip
    return Table("Paid before they were booked", columns, rows)


def holds_table(summary: DaySummary, telling: Presenter) -> Table:
    columns = (
        Column("lot", 1.4), Column("", 1.4), Column("at", 1), Column("by", 1.4), Column("why", 7),
    )  # fmt: skip
    rows = tuple(
        (h.lot, "stopped" if h.stopped else "released", telling.clock(h.at), h.by or "–", h.why)
        for h in summary.holds
    )
    return Table("Stopped and released", columns, rows)


def corrections_table(
    title: str, noted: tuple[Correction, ...], units: Mapping[str, Unit], telling: Presenter
) -> Table:
    """Corrections with what they change, each with its own number; ``units`` are those of lots
    whose correction does not say."""

    def row(correction: Correction) -> tuple[str, ...]:
        about = correction.lot or correction.sale or correction.what
        unit = units.get(correction.lot, "piece")
        change = change_words(correction, telling.money, telling.temperature, unit)
        return (
            correction.number, f"{correction.corrects}", about, change or "–", correction.text,
            correction.by or "–",
        )  # fmt: skip

    columns = (
        Column("number", 1.8), Column("of day", 1.4), Column("about", 1.7), Column("change", 3.6),
        Column("why", 4.1), Column("by", 1),
    )  # fmt: skip
    return Table(title, columns, tuple(row(c) for c in noted))
