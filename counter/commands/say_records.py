"""Recalls, temperatures and corrections as lines of text for the command line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from counter.commands.say import table
from counter.trade.corrections import change_words
from counter.trade.recalling import CAUTION, accounted_for
from counter.trade.temperatures import what_to_do
from counter.trade.units import show_amount

if TYPE_CHECKING:
    from counter.commands.say import Words
    from counter.trade.catalogue_changes import CatalogueChange
    from counter.trade.corrections import Correction, Corrections
    from counter.trade.recalling import Recall
    from counter.trade.temperatures import Temperature, ThermometerCheck


def recall_lines(recall: Recall, words: Words) -> list[str]:
    """A recall: each lot, what is missing, the supplier codes, every sale."""
    head = (
        "lot",
        "product",
        "",
        "made",
        "corrected",
        "sold",
        "used",
        "wasted",
        "on hand",
        "missing",
        "too much",
        "state",
    )
    rows = [head]
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
        shown = [show_amount(n, lot.unit) if n else "-" for n in amounts]
        side = "" if lot.side == "asked" else lot.side
        rows.append((lot.lot, words.product(lot.product), side, *shown, lot.state))  # type: ignore[arg-type] # eight amounts
    lines = table(rows, right=range(3, 11))
    lines.append(accounted_for(recall, words.product))
    for ingredient, code, lots in recall.supplier_codes:
        lines.append(f"{ingredient} {code} went into {', '.join(lots)}")
        if others := recall.elsewhere.get(code):
            lines.append(f"  the same code is in {', '.join(others)}")
    units = {lot.lot: lot.unit for lot in recall.lots}
    for lead, sales in (("surely", recall.surely), ("may be", recall.may_be)):
        lines.append(f"{len(sales)} lines of sales, {lead}:")
        lines += table(
            [
                (
                    f"  {s.at:%Y-%m-%d %H:%M}",
                    s.sale,
                    s.named,
                    show_amount(s.amount, units[s.lot]),
                    s.paid,
                    f"by the log of {s.by_log}" if s.how == "assumed" else s.how,
                )
                for s in sales
            ],
            right=(3,),
        )
    return [*lines, CAUTION]


def reading_lines(found: Sequence[Temperature], words: Words, day: date) -> list[str]:
    """What was measured on a day."""
    if not found:
        return [f"No temperature is noted for {day}."]
    return table(
        [
            (
                words.clock(t.at),
                t.place,
                words.temperature(t.celsius),
                "" if t.ok else "OUT OF LIMITS",
                t.note,
                t.by,
            )
            for t in found
        ],
        right=(2,),
    )


def check_lines(found: Sequence[ThermometerCheck], words: Words) -> list[str]:
    """What thermometers showed in water."""
    return [
        f"{words.clock(t.at)}  Thermometer {t.thermometer} in {t.water} water:"
        f" {words.temperature(t.celsius)}, {'right' if t.ok else 'NOT RIGHT'}"
        for t in found
    ]


def correction_lines(made: Correction, words: Words) -> list[str]:
    """What a correction does and what it does not."""
    lines = [f"Correction {made.number} of day {made.corrects}: {made.text}"]
    change = change_words(made, words.money, words.temperature)
    if change and (made.lines or made.reading or made.taken or made.in_drawer):
        lines.append(f"On record: {change}.")
    if made.amount and made.on_shelf:
        more = "more" if made.amount > 0 else "less"
        lines.append(
            f"Lot {made.lot}: {show_amount(abs(made.amount), made.unit)} {more} on hand from now"
            " on; today's closing shows it as variance."
        )
    elif made.amount and made.lines:
        lines.append(f"Lot {made.lot} was counted since, or is gone: today's stock stays.")
    elif made.amount:
        lines.append(f"Lot {made.lot} is no longer on the shelf: today's stock stays as it is.")
    if made.taken or made.in_drawer:
        lines.append(
            "Today's drawer stays as it is. What is missing from it today is noted with"
            " `counter drawer in` or `counter drawer out`, given back with `counter refund`."
        )
    if made.reading and (advice := what_to_do(made.reading)):
        lines.append(advice)
    lines.append(f"Closed day {made.corrects} itself is not changed; reports of both show it.")
    return lines


def change_lines(change: CatalogueChange) -> list[str]:
    """What a catalogue would change, old → new; the days of those that wait behind it."""
    lines = []
    for one in change.lines:
        if one.what:
            lines.append(f"{one.kind} {one.name}: {one.what} {one.old} → {one.new}")
        else:
            lines.append(
                f"{one.kind} {one.key} {'comes' if one.new else 'goes'}: {one.new or one.old}"
            )
    lines = lines or ["Nothing changes."]
    return lines + [
        f"The catalogue that waits for {day} will take its place." for day in change.after
    ]


def day_corrections(noted: Corrections, words: Words) -> list[str]:
    """What was corrected of a day since, and what was corrected in it of other days."""
    lines = []
    for title, some in (
        ("Corrected since:", noted.about),
        ("Corrections of earlier days:", noted.written),
    ):
        if some:
            lines += ["", title]
        for one in some:
            change = change_words(one, words.money, words.temperature)
            about = f" of {one.corrects}" if some is noted.written else ""
            lines.append(f"  {one.number}{about}: {'; '.join(x for x in (change, one.text) if x)}")
    if noted.taken or noted.in_drawer:
        taken, drawer = words.money(noted.taken), words.money(noted.in_drawer)
        lines.append(f"  in all since: {taken} taken, {drawer} in the drawer")
    return lines
