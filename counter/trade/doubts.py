"""What can hardly be: figures, moments, counts and cash that somebody must say are so.

A slip of the pen has a zero too many or too few, a step noted late is put beside the one before, a
clock is a day ahead. Nothing here forbids: each answers with the questions that a person answers
with a word, and which are kept with the record. Common practice, no source, where none is named;
the one refusal is for safety (:func:`refuse_not_cold`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal

from counter.errors import NotSafe
from counter.trade.asking import Question
from counter.trade.catalogue import Product
from counter.trade.closing import Closing
from counter.trade.cooling import NOTED_LATE_MINUTES, span_words
from counter.trade.drawer import Move
from counter.trade.money import said_money
from counter.trade.payments import Payment
from counter.trade.production import Batch
from counter.trade.stock import LotRow
from counter.trade.tubs import Tub
from counter.trade.units import minutes_between, show_amount
from labels.say import Said, figure, say, term
from labels.units import Measure

TIMES = 8  # a zero too many, of a figure that may itself be a fifth below the usual
MOULDS = 20  # where nothing was made of a product lately, so many at once are asked about
HISTORY, HISTORY_DAYS = 5, 14  # the last batches, whose median is the usual, and how far back
ENOUGH = 3  # batches before a small one is asked about: with fewer it may be the others
APART = 10  # minutes between the end of a cook and 21 °C, or 21 °C and 5 °C: no bath is so fast
PAID = 10  # times the total in cash, and more change than the largest note: nobody hands that over


def far_off(value: Decimal | int, usual: Decimal | int | None) -> bool:
    """Whether a figure is some ten times, or a tenth, of the usual. 0 and no usual never are."""
    if usual is None or usual <= 0 or value <= 0:
        return False
    return value >= usual * TIMES or value * TIMES <= usual


# -- the production log


def of_batch(
    batch: Batch, product: Product, recent: Sequence[Batch], tried: Said, tubs: Iterable[Tub] = ()
) -> list[Question]:
    """Figures of a batch that are far off: from the ``recent`` batches of the product, from its
    usual ranges, from its recipe for the amount made; and cooling that is too fast."""
    cook = batch.cook.minutes if batch.cook else None
    cooked = _usual(b.cook.minutes for b in recent if b.cook)
    pressed = _usual(b.press_minutes for b in recent)
    brix = _middle(product, "brix") or _usual(b.brix for b in recent)
    press = _middle(product, "press") or _usual(b.press_kpa for b in recent)
    made = _usual(b.made for b in recent)
    if made is None and 1 < product.mould <= batch.made / MOULDS:
        made = Decimal(product.mould)
    elif made and batch.made < made and len(recent) < ENOUGH:
        made = None
    figures: list[tuple[str, Said, Decimal | int | None, Decimal | None, str]] = [
        ("made", term("the amount made"), batch.made, made, batch.unit),
        ("brix", Said("°Brix"), batch.brix, brix, ""),
        ("cook", term("the cook"), cook, cooked, "min"),
        ("press", term("the press"), batch.press_kpa, press, "kPa"),
        ("press-minutes", term("the time in the press"), batch.press_minutes, pressed, "min"),
    ]
    for part in batch.ingredients:
        planned = _planned(part.ingredient, batch, product, recent) if part.written else None
        about = f"amount.{part.ingredient}"
        figures.append((about, Said(part.ingredient), part.grams, planned, "g"))
    return [
        Question(
            about=about,
            tried=tried,
            text=say(
                "{amount} for {what} of {name}, where about {usual} is usual",
                amount=_shown(value, unit),
                what=what,
                name=product.name,
                usual=_shown(usual, unit),
            ),
        )
        for about, what, value, usual, unit in figures
        if value is not None and usual is not None and far_off(value, usual)
    ] + of_cooling(batch, tried, tubs)


def of_cooling(batch: Batch, tried: Said, tubs: Iterable[Tub] = ()) -> list[Question]:
    """Steps of the cooling that were noted one after the other later, as if they were one; and a
    5 °C that comes after one of the ``tubs`` was opened cold."""
    cooling, ended = batch.cooling, batch.cook.ended if batch.cook else None
    if cooling is None:
        return []
    found, cold = [], cooling.to_5
    if ended and minutes_between(ended, cooling.to_21) <= APART:
        text = say(
            "lot {lot} reached 21 °C / 70 °F within {n} minutes of its cook", lot=batch.lot, n=APART
        )
        found.append(Question(about="cooled-21", tried=tried, text=text))
    early = [t for t in tubs if cold and t.mode == "cold" and minutes_between(t.opened, cold) > 0]
    if cold and minutes_between(cooling.to_21, cold) <= APART:
        text = say("lot {lot} went from 21 °C to 5 °C within {n} minutes", lot=batch.lot, n=APART)
        found.append(Question(about="cooled-5", tried=tried, text=text))
    elif cold and early:
        text = say(
            "tub {tub} was opened cold at {clock}, before {cold_at}",
            tub=early[0].tub,
            clock=f"{early[0].opened:%H:%M}",
            cold_at=f"{cold:%H:%M}",
        )
        found.append(Question(about="cooled-5", tried=tried, text=text))
    return found


def _usual(values: Iterable[Decimal | int | None]) -> Decimal | None:
    """The median; None where nothing is known."""
    known = sorted(Decimal(value) for value in values if value)
    return known[len(known) // 2] if known else None


def _middle(product: Product, what: str) -> Decimal | None:
    found = product.usual.get(what)
    return (found.least + found.most) / 2 if found else None


def _planned(key: str, batch: Batch, product: Product, recent: Sequence[Batch]) -> Decimal | None:
    """Grams of an ingredient for the amount made, by the recipe, else as in the last batches."""
    per = [p.grams / product.recipe_makes for p in product.recipe if p.ingredient == key]
    per = per or [p.grams / b.made for b in recent for p in b.ingredients if p.ingredient == key]
    usual = _usual(per)
    return usual * batch.made if usual else None


def _shown(value: Decimal | int, unit: str) -> Said:
    if unit in ("piece", "ml", "g"):
        return show_amount(round(value), unit)
    return figure(f"{round(Decimal(value), 1).normalize():f} {unit}".rstrip())


def refuse_not_cold(batch: Batch, at: datetime, tried: Said) -> NotSafe | None:
    """Why a tub cannot have been cold at ``at``: its lot was not, by what is noted; that it is cold
    now does not say that it cooled in time (FDA Food Code 3-501.14, .16)."""
    cold = batch.cooling.to_5 if batch.cooling else None
    if not batch.chilled or (cold and cold.timestamp() <= at.timestamp()):
        return None
    why = say("that it reached 5 °C / 41 °F is not noted")
    if cold:
        why = say("it reached 5 °C / 41 °F only at {clock}", clock=f"{cold:%H:%M}")
    do = say("Cool it first, and note in the production log when it was cold")
    return NotSafe(tried, why, do, lot=batch.lot)


def of_packs(
    weights: Sequence[Measure], net: Measure | None, batch: Batch, tried: Said
) -> list[Question]:
    """Packs far off the weight they should have, or else the other packs; or heavier than all
    that was made."""
    grams = [weight.base for weight in weights]
    usual = net.base if net and net.kind == "mass" else _usual(grams)
    for weight in weights:
        if batch.unit == "g" and weight.base > batch.made:
            text = say(
                "a pack of {amount} is more than the {made} of lot {lot}",
                amount=figure(weight),
                made=show_amount(batch.made, "g"),
                lot=batch.lot,
            )
            return [Question(about="weight", tried=tried, text=text)]
        if far_off(weight.base, usual):
            text = say(
                "a pack of {amount}, where about {usual} is usual",
                amount=figure(weight),
                usual=_shown(usual or 0, "g"),
            )
            return [Question(about="weight", tried=tried, text=text)]
    return []


def noted_late(name: str, at: datetime, now: datetime, tried: Said) -> list[Question]:
    """A measuring or a move of a tub, place or lot that is noted long after it, and lets go what
    is refused without it."""
    late = minutes_between(at, now)
    if late <= NOTED_LATE_MINUTES:
        return []
    text = say(
        "what is noted of {name} is of {clock}, {span} ago",
        name=name,
        clock=f"{at:%H:%M}",
        span=span_words(late),
    )
    return [Question(about="late", tried=tried, text=text, clause="the shop's own rule")]


# -- counts and waste


def above_all(about: str, row: LotRow, amount: int, tried: Said) -> list[Question]:
    """More of a lot than was ever there: carried in, made, corrected."""
    lot, unit = row.lot.lot, row.lot.unit
    ever = max(0, row.carried_in + row.made + row.corrected)
    if amount <= ever:
        return []
    text = say(
        "{amount} of lot {lot} is more than the {ever} ever there",
        amount=show_amount(amount, unit),
        lot=lot,
        ever=show_amount(ever, unit),
    )
    return [Question(about=about, tried=tried, text=text)]


def above_log(row: LotRow, amount: int, there: int, tried: Said) -> list[Question]:
    """More put into a tub than the log has beside the open ones."""
    if amount <= there:
        return []
    return [Question(about="holds", tried=tried, text=_log_has(row, amount, there))]


def _log_has(row: LotRow, amount: int, there: int) -> Said:
    return say(
        "{amount} of lot {lot}, where the log has {there}",
        amount=show_amount(amount, row.lot.unit),
        lot=row.lot.lot,
        there=show_amount(there, row.lot.unit),
    )


def of_scooping(tub: Tub, held: int, left: int, tried: Said) -> list[Question]:
    """More than half of what a tub ``held`` lost in scooping: it may be too old or too warm."""
    if (lost := tub.level - left) * 2 <= held:
        return []
    text = say(
        "{amount} of tub {tub} lost in scooping", amount=show_amount(lost, "ml"), tub=tub.tub
    )
    return [Question(about="left", tried=tried, text=text)]


def of_count(row: LotRow, amount: int, tried: Said) -> list[Question]:
    """More than was ever there, or some ten times what the log has; what is missing is variance."""
    about = f"count.{row.lot.lot}"
    found = above_all(about, row, amount, tried)
    if not found and 0 < row.on_hand * TIMES <= amount:
        text = _log_has(row, amount, row.on_hand)
        found = [Question(about=about, tried=tried, text=text)]
    return found


def of_void(row: LotRow | None, tried: Said) -> list[Question]:
    """A batch that never was, where somebody counted some of it today."""
    if row is None or row.left is None or row.left <= 0:
        return []
    text = say(
        "{amount} of lot {lot} were counted, and of a batch that never was there is none",
        amount=show_amount(row.left, row.lot.unit),
        lot=row.lot.lot,
    )
    return [Question(about="counted", tried=tried, text=text)]


def of_correction(
    closing: Closing, lot: str, amount: int, money: int, places: int, tried: Said
) -> list[Question]:
    """More of a lot, or more money, than all there was of it on the day that is corrected."""
    found = []
    there = sum(n.carried_in + n.made for n in closing.lots if n.lot == lot)
    if amount > there:
        text = say(
            "{amount} more of lot {lot}, and {there} were there that day",
            amount=amount,
            lot=lot,
            there=there,
        )
        found.append(Question(about="amount", tried=tried, text=text))
    moved = closing.total + closing.cash.start + closing.cash.moved_in
    if abs(money) > moved:
        more, all_of_it = said_money(abs(money), places), said_money(moved, places)
        text = say("{money}, and {there} were there that day", money=more, there=all_of_it)
        found.append(Question(about="money", tried=tried, text=text))
    return found


# -- cash


def of_move(kind: Move, amount: int, *, usual: int, places: int, tried: Said) -> list[Question]:
    """A start, or money put in, far off the usual float. What is taken out is never more than what
    is there."""
    if kind == "out" or not far_off(amount, usual):
        return []
    if kind == "in" and amount < usual:
        return []
    money, floats = said_money(amount, places), said_money(usual, places)
    text = say("{money}, where the drawer usually starts with {usual}", money=money, usual=floats)
    return [Question(about="drawer", tried=tried, text=text)]


def of_tender(
    payments: Iterable[Payment], values: Sequence[int], places: int, total: int
) -> list[Question]:
    """Cash that nobody hands over: ten times what is paid with it, and more change than the
    largest of the ``values`` of notes and coins, at a sale of ``total``. A note of 100 for 6.00 is
    never asked about."""
    for paid in payments:
        if not paid.given or paid.given < PAID * paid.amount:
            continue
        if paid.given - paid.amount >= max(values, default=10 ** (places + 2)):
            given, due = said_money(paid.given, places), said_money(paid.amount, places)
            text = say("{money} in cash for {due}", money=given, due=due)
            tried = say("book a sale of {money}", money=said_money(total, places))
            return [Question(about="cash", tried=tried, text=text)]
    return []


# -- the day


def of_day(
    day: date, now: datetime, last: date | None, closed: bool, newest: datetime | None, tried: Said
) -> list[Question]:
    """Whether a day is skipped since the ``last`` one that has a book (``closed`` or not), or the
    clock stands before the ``newest`` record: each None where it is as it should be."""
    if newest is not None:
        text = say(
            "it is {weekday} {date} {clock} by this computer, and the newest record is of "
            "{last_weekday} {last_date} {last_clock}",
            weekday=term(f"{now:%A}"),
            date=day,
            clock=f"{now:%H:%M}",
            last_weekday=term(f"{newest:%A}"),
            last_date=newest.date(),
            last_clock=f"{newest:%H:%M}",
        )
        return [Question(about="day", tried=tried, text=text, basis=newest.isoformat())]
    if last is None:
        return []
    days = {"weekday": term(f"{day:%A}"), "date": day}
    days |= {"last_weekday": term(f"{last:%A}"), "last_date": last}
    text = say(
        "it is {weekday} {date}, and the day written last is {last_weekday} {last_date}", **days
    )
    if closed:
        text = say("it is {weekday} {date}, and you last closed {last_weekday} {last_date}", **days)
    return [Question(about="day", tried=tried, text=text, basis=str(last))]


# -- the closing


def of_closing(closing: Closing, explained: Mapping[str, str], places: int) -> list[Question]:
    """A difference in cash, lots that nobody counted, cooling that is still open. What is
    ``explained`` (by lot, or ``cash``) is answered already."""
    tried, cash, found = say("close day {date}", date=closing.day), closing.cash, []
    if (off := cash.variance + cash.start_missing) and "cash" not in explained:
        money = said_money(abs(off), places)
        text = say("{money} is missing from the drawer", money=money)
        if off < 0:
            text = say("{money} too much is in the drawer", money=money)
        found.append(Question(about="cash", tried=tried, text=text))
    uncounted = [n.lot for n in closing.lots if n.open_question and n.lot not in explained]
    if uncounted:
        text = say("nobody counted {names}", names=", ".join(uncounted))
        found.append(Question(about="uncounted", tried=tried, text=text))
    warm = [c.lot.lot for c in closing.carried if c.amount and c.lot.uncooled and not c.lot.stopped]
    if warm:
        text = say("that it reached 5 °C / 41 °F is not noted of {names}", names=", ".join(warm))
        clause = "Food Code 3-501.14"
        found.append(Question(about="cooling", tried=tried, text=text, clause=clause))
    return found
