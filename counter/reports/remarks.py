"""What happened on some days only, as tables of the closing report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from counter.present import Presenter
from counter.reports.blocks import Table, figures, table, untitled, words
from counter.reports.summary import DaySummary, Discounted, KeptSale, Refunded
from counter.trade.asking import Answer
from counter.trade.catalogue import Unit
from counter.trade.corrections import Correction, change_words
from counter.trade.production import Hold
from labels.say import Said, join, say, term


def remarks(summary: DaySummary, telling: Presenter) -> list[Table]:
    """What happened only on some days, each in a table of its own."""
    units = {lot.day.lot: lot.day.unit for lot in summary.lots}
    earlier = say("Corrections of earlier days, noted today")
    notes = [summary.notes] if summary.notes else []
    notes += [join(": ", (term(what), why)) for what, why in summary.explained.items()]
    said = (
        say("{clock} {asked}: {answer}", clock=telling.clock(a.at), asked=a.of, answer=by_whom(a))
        for a in summary.answers
    )
    found = (
        discounts_table(summary.discounted, telling),
        refunds_table(summary.refunds, telling),
        kept_table(summary.kept, telling),
        holds_table(summary.holds, telling),
        corrections_table(earlier, summary.corrections, units, telling),
        corrections_table(say("Corrected since"), summary.corrected, units, telling),
        lines(say("Notes"), notes),
        lines(say("Asked, and what was said"), said),
    )
    return [one for one in found if one.rows]


def by_whom(answer: Answer) -> str:
    return f"{answer.words} ({answer.by})" if answer.by else answer.words


def lines(title: Said, texts: Iterable[str]) -> Table:
    """Sentences under a title."""
    return Table(title, (untitled(1),), tuple((text,) for text in texts), heads=False)


def discounts_table(discounted: Sequence[Discounted], telling: Presenter) -> Table:
    return table(
        say("Discounts"),
        discounted,
        words("sale", 2, lambda d: d.sale),
        figures("off", 1.3, lambda d: telling.money(d.amount)),
        words("why", 6, lambda d: d.why),
        words("by", 1, lambda d: d.by or "–"),
    )


def refunds_table(refunds: Sequence[Refunded], telling: Presenter) -> Table:
    goods = (say("stay sold"), say("back on the shelf"))
    return table(
        say("Refunds"),
        refunds,
        words("refund", 2, lambda r: r.number),
        words("of sale", 2, lambda r: r.sale),
        words("by", 1.2, lambda r: say("card, cash") if r.by_card else term(r.kind)),
        figures("amount", 1.3, lambda r: telling.money(r.amount)),
        words("goods", 2.2, lambda r: goods[r.restocked]),
        words("why", 4, lambda r: r.why),
    )


def kept_table(kept: Sequence[KeptSale], telling: Presenter) -> Table:
    """Sales that were paid before they were booked. Of one whose day was closed by then, that
    day's count has money and goods already, and this day's lacks them: the two differences cancel.
    """

    def moment(at: datetime) -> str:
        return f"{telling.short_date(at.date())} {telling.clock(at)}"

    return table(
        say("Paid before they were booked"),
        kept,
        words("sale", 2, lambda k: k.sale),
        figures("amount", 1.3, lambda k: telling.money(k.amount)),
        words("paid", 1.8, lambda k: moment(k.paid)),
        words("booked", 1.8, lambda k: moment(k.booked)),
        words("taken by", 1.2, lambda k: k.by or "–"),
        words("sent by", 1.2, lambda k: k.sent_by or "–"),
        words("", 3, lambda k: say("its own day was closed") if k.day else ""),
    )


def holds_table(holds: Sequence[Hold], telling: Presenter) -> Table:
    return table(
        say("Stopped and released"),
        holds,
        words("lot", 1.4, lambda h: h.lot),
        words("", 1.4, lambda h: say("stopped") if h.stopped else say("released")),
        words("at", 1, lambda h: telling.clock(h.at)),
        words("by", 1.4, lambda h: h.by or "–"),
        words("why", 7, lambda h: h.why),
    )


def corrections_table(
    title: Said, noted: Sequence[Correction], units: Mapping[str, Unit], telling: Presenter
) -> Table:
    """Corrections with what they change, each with its own number; ``units`` are those of lots
    whose correction does not say."""

    def change(correction: Correction) -> str:
        unit = units.get(correction.lot, "piece")
        return change_words(correction, telling.money, telling.temperature, unit) or "–"

    return table(
        title,
        noted,
        words("number", 1.8, lambda c: c.number),
        words("of day", 1.4, lambda c: telling.date(c.corrects)),
        words("about", 1.7, lambda c: c.lot or c.sale or term(c.what)),
        words("change", 3.6, change),
        words("why", 4.1, lambda c: c.text),
        words("by", 1, lambda c: c.by or "–"),
    )
