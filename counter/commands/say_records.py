"""Traces, recalls, temperatures and corrections as lines of text for the command line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from counter.commands.say import table, within
from counter.trade.corrections import change_words
from counter.trade.recalling import CAUTION, accounted_for
from counter.trade.temperatures import what_to_do
from counter.trade.units import show_amount
from counter.trade.waste import WORDS
from labels.say import NOTHING, Said, join, say, say_n, term, typed

if TYPE_CHECKING:
    from counter.commands.say import Words
    from counter.trade.catalogue_changes import CatalogueChange
    from counter.trade.corrections import Correction, Corrections
    from counter.trade.recalling import Recall
    from counter.trade.temperatures import Temperature, ThermometerCheck
    from counter.trade.tracing import Trace, TracedSale


def trace_lines(trace: Trace, words: Words) -> list[Said]:
    """Where a lot came from and where it went."""
    batch, unit = trace.batch, trace.batch.unit
    lines = words.batch(batch)
    if batch.by or batch.notes:
        maker = say("by {name}", name=batch.by or say("nobody named"))
        lines.append(join("; ", filter(None, (maker, batch.notes))))
    lines += [
        say("supplier code of {name}: {code}", name=k, code=v) for k, v in batch.codes.items()
    ]
    if n := len(trace.batches) - 1:
        lines.append(say_n("corrected {n} time", "corrected {n} times", n))
    for h in trace.holds:
        at, by = words.moment(h.at), h.by or "?"
        held = say("released {moment} by {name}: {why}", moment=at, name=by, why=h.why)
        if h.stopped:
            held = say("STOPPED {moment} by {name}: {why}", moment=at, name=by, why=h.why)
        lines.append(held)
    lines += [
        say(
            "{amount} went into lot {lot}",
            amount=show_amount(trace.parts.get(lot, 0), unit),
            lot=lot,
        )
        for lot in trace.went_into
    ]
    for c in trace.corrections:
        if c.on_shelf and not c.lines:
            at = words.moment(c.at)
            more = f"{c.amount:+d}"
            lines.append(
                say("{amount} corrected {moment}: {why}", amount=more, moment=at, why=c.text)
            )
    return [*lines, *_went(trace, words), *_counted(trace, words)]


def _went(trace: Trace, words: Words) -> list[Said]:
    """Where a lot went: labels, amounts, every line of a sale."""
    unit, n = trace.batch.unit, sum(p.labels for p in trace.printed)
    labels = say_n("{n} label", "{n} labels", n=n)
    runs = say_n("{n} run", "{n} runs", n=len(trace.printed))
    lines = [say("{labels} printed in {runs}", labels=labels, runs=runs)]
    amounts = (
        (trace.made, say("made")),
        (trace.corrected, say("corrected")),
        (trace.over, say("more than was made")),
        (trace.sold, say("sold")),
        (trace.used, say("used")),
        (trace.wasted, say("wasted")),
        (trace.left, say("left")),
        (trace.missing, say("missing")),
    )
    lines.append(join(", ", (join(" ", (show_amount(n, unit), w)) for n, w in amounts if n)))
    sure, assumed = show_amount(trace.sold - trace.assumed, unit), len(trace.may_be)
    lines.append(say("{amount} surely sold, in {n} lines:", amount=sure, n=len(trace.surely)))
    lines += table([_traced(s, unit, words) for s in trace.surely], right=(2,))
    lines.append(
        say(
            "{n} lines of sales that may be of it; the log took {amount} from it:",
            n=assumed,
            amount=show_amount(trace.assumed, unit),
        )
    )
    return lines + table([_traced(s, unit, words) for s in trace.may_be], right=(2,))


def _counted(trace: Trace, words: Words) -> list[Said]:
    """What was thrown away of a lot, and what was counted."""
    unit = trace.batch.unit
    wasted = [
        say(
            "{amount} wasted {moment}: {why}",
            amount=show_amount(w.amount, unit),
            moment=words.moment(w.at),
            why=w.words or term(WORDS[w.reason]),
        )
        for w in trace.waste
    ]
    return wasted + [
        say(
            "counted {amount} {moment}",
            amount=show_amount(c.amount, unit),
            moment=words.moment(c.at),
        )
        for c in trace.counts
    ]


def _traced(sale: TracedSale, unit: str, words: Words) -> tuple[str, ...]:
    how = term(sale.how)
    if sale.how == "assumed":
        how = say("by the log of {lot}", lot=sale.lot)
    amount = show_amount(sale.amount, unit)
    return f"  {words.moment(sale.at)}", sale.sale, amount, sale.portion, how


def recall_lines(recall: Recall, words: Words) -> list[Said]:
    """A recall: each lot, what is missing, the supplier codes, every sale."""
    head = (
        say("lot"),
        say("product"),
        NOTHING,
        say("made"),
        say("corrected"),
        say("sold"),
        say("used"),
        say("wasted"),
        say("on hand"),
        say("missing"),
        say("too much"),
        say("state"),
    )
    rows: list[Sequence[str]] = [head]
    for lot in recall.lots:
        amounts = (
            lot.made,
            lot.corrected,
            lot.sold,
            lot.used,
            lot.wasted,
            lot.left,
            lot.missing,
            lot.over,
        )
        shown = [show_amount(n, lot.unit) if n else Said("-") for n in amounts]
        side = NOTHING if lot.side == "asked" else term(lot.side)
        rows.append((lot.lot, words.product(lot.product), side, *shown, lot.state))
    lines = table(rows, right=range(3, 11))
    lines.append(typed(accounted_for(recall, words.product)))
    for ingredient, code, lots in recall.supplier_codes:
        part = f"{ingredient} {code}"
        lines.append(say("{part} went into {lots}", part=part, lots=", ".join(lots)))
        if others := recall.elsewhere.get(code):
            lines.append(within(say("the same code is in {lots}", lots=", ".join(others))))
    units = {lot.lot: lot.unit for lot in recall.lots}
    sure = say("{n} lines of sales, surely:", n=len(recall.surely))
    maybe = say("{n} lines of sales, may be:", n=len(recall.may_be))
    for lead, sales in ((sure, recall.surely), (maybe, recall.may_be)):
        lines.append(lead)
        lines += table(
            [
                (
                    f"  {words.moment(s.at)}",
                    s.sale,
                    s.named,
                    show_amount(s.amount, units[s.lot]),
                    s.paid,
                    say("by the log of {lot}", lot=s.by_log) if s.how == "assumed" else term(s.how),
                )
                for s in sales
            ],
            right=(3,),
        )
    return [*lines, typed(CAUTION)]


def reading_lines(found: Sequence[Temperature], words: Words, day: date) -> list[Said]:
    """What was measured on a day."""
    if not found:
        return [say("No temperature is noted for {date}.", date=day)]
    return table(
        [
            (
                words.clock(t.at),
                t.place,
                words.temperature(t.celsius),
                NOTHING if t.ok else say("OUT OF LIMITS"),
                t.note,
                t.by,
            )
            for t in found
        ],
        right=(2,),
    )


def check_lines(found: Sequence[ThermometerCheck], words: Words) -> list[Said]:
    """What thermometers showed in water."""
    return [
        say(
            "{clock}  Thermometer {name} in {water} water: {temperature}, {verdict}",
            clock=words.clock(t.at),
            name=t.thermometer,
            water=term(t.water),
            temperature=words.temperature(t.celsius),
            verdict=say("right") if t.ok else say("NOT RIGHT"),
        )
        for t in found
    ]


def correction_lines(made: Correction, words: Words) -> list[Said]:
    """What a correction does and what it does not."""
    number, day, lot = made.number, made.corrects, made.lot
    lines = [
        say("Correction {number} of day {date}: {text}", number=number, date=day, text=made.text)
    ]
    change = change_words(made, words.money, words.temperature)
    if change and (made.lines or made.reading or made.taken or made.in_drawer):
        lines.append(say("On record: {change}.", change=change))
    if made.amount and made.on_shelf:
        off = show_amount(abs(made.amount), made.unit)
        more = say("{off} more", off=off) if made.amount > 0 else say("{off} less", off=off)
        lines.append(
            say(
                "Lot {lot}: {more} on hand from now on; today's closing shows it as variance.",
                lot=lot,
                more=more,
            )
        )
    elif made.amount and made.lines:
        lines.append(say("Lot {lot} was counted since, or is gone: today's stock stays.", lot=lot))
    elif made.amount:
        lines.append(
            say("Lot {lot} is no longer on the shelf: today's stock stays as it is.", lot=lot)
        )
    if made.taken or made.in_drawer:
        lines.append(
            say(
                "Today's drawer stays as it is. What is missing from it today is noted with"
                " `counter drawer in` or `counter drawer out`, given back with `counter refund`."
            )
        )
    if made.reading and (advice := what_to_do(made.reading)):
        lines.append(typed(advice))
    lines.append(say("Closed day {date} itself is not changed; reports of both show it.", date=day))
    return lines


def change_lines(change: CatalogueChange) -> list[Said]:
    """What a catalogue would change, old → new; the days of those that wait behind it."""
    lines = list[Said]()
    for one in change.lines:
        kind = term(one.kind)
        if one.what:
            what = join(" ", (term(one.what), one.old, "→", one.new))
            lines.append(join("", (kind, " ", one.name, ": ", what)))
        elif one.new:
            lines.append(say("{kind} {key} comes: {name}", kind=kind, key=one.key, name=one.new))
        else:
            lines.append(say("{kind} {key} goes: {name}", kind=kind, key=one.key, name=one.old))
    return (lines or [say("Nothing changes.")]) + [
        say("The catalogue that waits for {date} will take its place.", date=day)
        for day in change.after
    ]


def day_corrections(noted: Corrections, words: Words) -> list[Said]:
    """What was corrected of a day since, and what was corrected in it of other days."""
    lines = list[Said]()
    for title, some in (
        (say("Corrected since:"), noted.about),
        (say("Corrections of earlier days:"), noted.written),
    ):
        if some:
            lines += [NOTHING, title]
        for one in some:
            number: str = one.number
            if some is noted.written:
                number = say("{number} of {date}", number=number, date=one.corrects)
            change = change_words(one, words.money, words.temperature)
            text = join("; ", filter(None, (change, one.text)))
            lines.append(within(join(": ", (number, text))))
    if noted.taken or noted.in_drawer:
        taken, drawer = words.money(noted.taken), words.money(noted.in_drawer)
        lines.append(
            within(
                say(
                    "in all since: {taken} taken, {drawer} in the drawer",
                    taken=taken,
                    drawer=drawer,
                )
            )
        )
    return lines
