"""A day and its cash, as the command line says them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counter.commands.say import table, takings_lines, within
from counter.present import FLOW
from counter.trade.units import show_amount
from counter.trade.waste import WORDS
from labels.say import NOTHING, Said, join, say, say_n, term

if TYPE_CHECKING:
    from counter.commands.say import Words
    from counter.trade.closing import CashDay, Closing, LotDay


def lot_row(words: Words, lot: LotDay) -> tuple[str, ...]:
    def show(amount: int) -> Said:
        return show_amount(amount, lot.unit) if amount else Said("-")

    remarks = []
    if lot.wasted:
        wasted = (join(" ", (term(WORDS[r]), show(n))) for r, n in lot.wasted.items())
        remarks.append(join(", ", wasted))
    if lot.oversold:
        remarks.append(say("oversold"))
    if lot.stopped:
        remarks.append(say("stopped: {why}", why=lot.stopped))
    if lot.out:
        remarks.append(say("out of its temperature for {n} min", n=lot.out))
    if lot.void:
        remarks.append(say("never was: {why}", why=lot.void))
    return (
        lot.lot,
        words.product(lot.product),
        show(lot.carried_in),
        show(lot.made),
        show(lot.sold),
        show(lot.used),
        show(sum(lot.wasted.values())),
        show(lot.carried_out),
        join(" ", (show(lot.variance), "?")) if lot.open_question else show(lot.variance),
        join("; ", remarks),
    )


def closing_lines(words: Words, closing: Closing) -> list[Said]:
    head = (say("lot"), say("product"), *FLOW, NOTHING)
    busy = [
        n for n in closing.lots if n.made or n.sold or n.used or n.wasted or n.carried_out or n.void
    ]
    busy.sort(key=lambda n: (words.product(n.product), n.lot))
    lines = [say("Day {date}", date=closing.day)]
    lines += table([head, *(lot_row(words, lot) for lot in busy)], range(2, 9))
    if any(n.open_question for n in busy):
        lines.append(say("? not counted: what the log expects goes over"))
    lines += [
        NOTHING,
        *table(
            [(f"{p.quantity} x", p.name, words.money(p.net)) for p in closing.portions],
            right=(0, 2),
        ),
        *taken_lines(words, closing),
    ]
    for place in closing.places:
        if place.bad:
            lines.append(
                say(
                    "{place} measured {temperature} last, at {clock}",
                    place=place.place,
                    temperature=words.temperature(place.bad.celsius),
                    clock=words.clock(place.bad.at),
                )
            )
    lines += cash_lines(words, closing.cash)
    lines += [join(": ", (term(what), why)) for what, why in closing.explained.items()]
    for answer in closing.answers:
        line = join(": ", (answer.of, answer.words))
        lines.append(join("", (line, f" ({answer.by})")) if answer.by else line)
    return lines


def taken_lines(words: Words, closing: Closing) -> list[Said]:
    """The sales of a day, how they were paid, and what of it is tax."""
    total = words.money(closing.total)
    lines = [
        say_n("{n} sale, {money} in all", "{n} sales, {money} in all", closing.sales, money=total)
    ]
    lines += [
        within(join(" ", (term(kind), words.money(amount))))
        for kind, amount in closing.payments.items()
    ]
    back: dict[str, int] = {}
    for one in closing.by_rate:
        back[one.tax_class] = back.get(one.tax_class, 0) + one.refunded
    for kind, amount in closing.taxes.items():
        tax = say("tax {name} {money}", name=kind or term("none"), money=words.money(amount))
        if given := back.get(kind):
            tax = say("{tax}, {money} of it given back", tax=tax, money=words.money(given))
        lines.append(within(tax))
    if closing.discounts:
        lines.append(within(say("discounts {money}", money=words.money(closing.discounts))))
    return lines + [within(line) for line in takings_lines(closing.takings, words.money)]


def cash_lines(words: Words, cash: CashDay) -> list[Said]:
    money = words.money
    lines = [
        say(
            "Cash: {start} at the start, {expected} expected",
            start=money(cash.start),
            expected=money(cash.expected),
        )
    ]
    if cash.start_missing and cash.opening is not None:
        left, off = money(cash.opening), money(abs(cash.start_missing))
        found = say("{left} was left before: {off} more at the start", left=left, off=off)
        if cash.start_missing > 0:
            found = say("{left} was left before: {off} missing at the start", left=left, off=off)
        lines.append(within(found))
    if cash.counted is not None:
        diff = cash.variance
        word = say("exact")
        if diff:
            off = money(abs(diff))
            word = say("{off} missing", off=off) if diff > 0 else say("{off} over", off=off)
        counted = say("{money} counted: {word}", money=money(cash.counted), word=word)
        left, take = money(cash.left), money(cash.counted - cash.left)
        stays = say("{left} stays, {money} to take out", left=left, money=take)
        lines += [within(counted), within(stays)]
    return lines
