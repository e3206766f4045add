"""The production log: batches, lot codes, the cook gate, and what was left out.

Raw soy milk is not for eating: it must be cooked before anybody eats it (common practice, no
source). What is kept here helps the maker and shows the record; it is no permit: the local food
code and the inspector decide.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

import msgspec

from counter.errors import BadInput, Refused
from counter.trade.asking import Question
from counter.trade.catalogue import Cooking, Part, Product, Range, Unit
from counter.trade.cooling import Cooling, due_by, late_note, too_slow
from counter.trade.dates import DateMark
from labels.say import NOTHING, Said, figure, join, option, say, term

COLDEST_COOK = Decimal(60)  # below it nothing was cooked; a slip of the pen or of the unit
HOTTEST_COOK = Decimal(260)
TENTH = Decimal("0.1")  # of a gram, to which a recipe is filled in
LOT = re.compile(r"([0-9]{2})([0-9]{3})-([0-9]{2})")
RAW_MILK = say("Raw soy milk must be cooked before anybody eats it; the local food code decides")


class Cook(msgspec.Struct, frozen=True, kw_only=True):
    """Boiled for ``minutes``, or held at ``celsius`` for ``minutes``; ``ended`` if noted."""

    minutes: int
    celsius: Decimal | None = None
    ended: datetime | None = None

    @property
    def boiled(self) -> bool:
        return self.celsius is None


class Mixed(msgspec.Struct, frozen=True):
    """So much of another lot went into this batch, in that lot's unit."""

    lot: str
    amount: int


class Batch(msgspec.Struct, frozen=True, kw_only=True):
    """One making of one product, as logged. ``made`` is in the product's unit.

    ``raw`` says why it does not count as cooked ("" when it does), by the rule of that day;
    ``chilled`` that it must be cooled. ``revision`` counts from 0; a correction is a new record of
    the same lot, and ``why`` says what was wrong. ``frozen_mark`` is the date of what is held
    frozen, as long as it is noted to be; ``passed_57`` is when it passed 57 °C / 135 °F as it
    cooled, where that was measured.
    """

    lot: str
    product: str
    unit: Unit
    made: int
    at: datetime
    mark: DateMark
    ingredients: tuple[Part, ...] = ()
    codes: dict[str, str] = {}
    brix: Decimal | None = None
    cook: Cook | None = None
    cooling: Cooling | None = None
    press_kpa: Decimal | None = None
    press_minutes: int | None = None
    mixed: tuple[Mixed, ...] = ()
    raw: Said = NOTHING
    chilled: bool = True
    by: str = ""
    notes: Said = NOTHING
    revision: int = 0
    warnings: tuple[Said, ...] = ()
    why: Said = NOTHING
    void: Said = NOTHING  # why it never was: logged by mistake, its number stays taken
    frozen_mark: DateMark | None = None
    passed_57: datetime | None = None

    @property
    def cools_from(self) -> datetime:
        """From when its cooling counts: when it passed 57 °C / 135 °F; where that was not measured,
        the end of its cook; where that is not noted, when it was made. Each is stricter."""
        ended = self.cook.ended if self.cook else None
        return self.passed_57 or ended or self.at

    @property
    def told(self) -> tuple[Said, ...]:
        """What is said as it is logged: that it is raw, and what is unusual."""
        if not self.raw:
            return self.warnings
        raw = say("not for sale yet: {raw}. {raw_milk}", raw=self.raw, raw_milk=RAW_MILK)
        return (raw, *self.warnings)

    @property
    def slow(self) -> Said:
        """Why it cooled too slowly, or ""."""
        return too_slow(self.cooling, self.cools_from if self.seen else None)

    def late_by(self, now: datetime) -> bool:
        """Whether its cooling was too slow, or the next step of it is overdue by ``now``."""
        due = due_by(self.cooling, self.cools_from) if self.chilled else (None, None)
        return bool(self.slow) or any(by and _later(now, by) for by in due)

    @property
    def why_stopped(self) -> Said:
        """Why it is stopped as soon as it is written down, or ""."""
        return say("cooled too slowly: {why}", why=self.slow) if self.slow else NOTHING

    @property
    def seen(self) -> bool:
        """Whether its cooling can be judged from its start on."""
        begun = self.cools_from.timestamp()
        return self.cooling is None or begun <= self.cooling.to_21.timestamp()

    @property
    def uncooled(self) -> bool:
        """It must be cooled, and 5 °C / 41 °F is not noted."""
        cold = self.cooling is not None and self.cooling.to_5 is not None
        return self.chilled and not cold and not self.void


class Hold(msgspec.Struct, frozen=True, kw_only=True):
    """A lot stopped or released, by whom and why. ``own``: the program itself stopped it, or has
    done so before and nobody released it since."""

    lot: str
    stopped: bool
    why: Said
    at: datetime
    by: str = ""
    own: bool = False
    reasons: tuple[Said, ...] = ()

    @property
    def all_reasons(self) -> tuple[Said, ...]:
        """What ``why`` says, reason by reason; in records of before they were kept, as one."""
        return self.reasons or (self.why,)


class Stops(msgspec.Struct, frozen=True, kw_only=True):
    """The last stop or release of each lot, in the order they were really written: whatever day the
    clock believed in, and whatever day's book it stands in. The last record counts."""

    stops: dict[str, Hold]
    at: datetime
    by: str = ""


def must_have_reason(tried: Said, why: str) -> Said:
    """Why something is done, as it is kept. BadInput without a reason."""
    if not why.strip():
        raise BadInput(
            tried, say("no reason is given"), say("Say why{how}", how=option("--because"))
        )
    return Said(why.strip()[:200])


def stopped_by(hold: Hold | None) -> Said:
    """Why a lot is stopped by its last hold, "" where it is not."""
    return hold.why if hold is not None and hold.stopped else NOTHING


def stops_added(held: Said, known: Hold | None, new: Sequence[Hold]) -> Hold | None:
    """A stop of a lot for the reasons it is ``held`` for already and all ``new`` ones of it; None
    where none is new. ``known`` is its last stop or release. What the program says is new also
    where a person stopped it in the very same words: it takes an owner to release."""
    before = known if known is not None and known.stopped else None
    standing = before.all_reasons if before else (held,) if held else ()
    by_person = before is not None and not before.own
    new = [h for h in new if (h.own and by_person) or not set(h.all_reasons) <= set(standing)]
    if not new:
        return None
    whys = tuple(dict.fromkeys((*standing, *(why for hold in new for why in hold.all_reasons))))
    own = any(hold.own for hold in new) or (before is not None and before.own)
    return msgspec.structs.replace(new[0], why=join("; ", whys), own=own, reasons=whys)


def lot_code(day: date, number: int) -> str:
    """``YYDDD-NN`` of the day's ``number``-th batch, from 1.

    >>> lot_code(date(2026, 11, 24), 1)
    '26328-01'
    """
    if not 1 <= number <= 99:
        tried = say("name batch {n} of {date}", n=number, date=day)
        why = say("a day's lot codes end at 99")
        raise Refused(tried, why, say("Log it tomorrow, or give it a number that is free"))
    return f"{day:%y%j}-{number:02d}"


def new_lot(tried: Said, day: date, lots: Iterable[str], named: str = "", least: int = 0) -> str:
    """The lot code of a new batch: the one that stands on its packs, where it is ``named``, else
    the number behind the highest of the day, over ``least``.

    ``lots`` are all that are known. Refused where the named one is taken or of another day.
    """
    taken = {lot: int(lot[-2:]) for lot in lots if lot_day(lot) == day}
    if not named:
        return lot_code(day, max(least, *taken.values(), 0) + 1)
    if lot_day(named) is None or named[-2:] == "00":
        why = say("'{text}' is no lot code", text=named)
        raise BadInput(tried, why, say("Write it as {n}", n=lot_code(day, 7)))
    if lot_day(named) != day:
        why = say(
            "lot {lot} is of {date}, and this is written into the day {day}",
            lot=named,
            date=lot_day(named),
            day=day,
        )
        raise BadInput(
            tried, why, say("Check the number, or say when it was made{how}", how=option("--at"))
        )
    if named in taken:
        why = say("lot {lot} is logged already", lot=named)
        raise Refused(tried, why, say("Look at the number on the packs"))
    return named


def lot_day(lot: str) -> date | None:
    """The trading day on which a lot was made, or None where the text is no lot code.

    >>> lot_day("24366-01").isoformat()
    '2024-12-31'
    """
    match = LOT.fullmatch(lot) if lot.isascii() else None
    if match is None:
        return None
    day = date(2000 + int(match[1]), 1, 1) + timedelta(int(match[2]) - 1)
    return day if f"{day:%y%j}" == match[1] + match[2] else None


def fill_recipe(
    product: Product, made: int, noted: Mapping[str, Part], coagulants: Collection[str] = ()
) -> tuple[Part, ...]:
    """What went in: what the maker noted, and the rest by the recipe in the same proportion.

    The scale comes from the heaviest noted ingredient that the recipe knows (the beans), else
    from the amount made. Parts out of the recipe carry no ``written``. A noted one of the
    ``coagulants`` that the recipe does not know stands in place of the recipe's own.
    """
    scale = Decimal(made) / product.recipe_makes
    planned = {part.ingredient: part.grams for part in product.recipe}
    known = [p for p in noted.values() if planned.get(p.ingredient) and p.grams]
    lead = heaviest(known)
    if lead:
        scale = lead.grams / planned[lead.ingredient]
    replaced = any(key in coagulants and key not in planned for key in noted)
    filled = {
        part.ingredient: Part(part.ingredient, scaled(part.grams, scale))
        for part in product.recipe
        if not (part.ingredient in coagulants and replaced)
    }
    filled.update(noted)
    return tuple(filled.values())


def scaled(grams: Decimal, scale: Decimal) -> Decimal:
    """Grams in proportion, to a tenth. What is in a recipe never rounds to nothing: 0 g means that
    it was left out, and takes it off the label."""
    if not grams * scale:
        return Decimal(0)
    return max(TENTH, (grams * scale).quantize(TENTH))


def refill(
    old: Sequence[Part], noted: Mapping[str, Part], coagulants: Collection[str] = ()
) -> tuple[Part, ...]:
    """What went into a batch, corrected by what was ``noted``; whatever today's recipe says.

    Parts that nobody noted follow what the food is made of (the beans), where that is corrected. A
    noted one of the ``coagulants`` that was not in it stands in place of one that nobody noted.
    """
    lead, scale = heaviest(old), Decimal(1)
    if lead and lead.grams and lead.ingredient in noted:
        scale = noted[lead.ingredient].grams / lead.grams
    there = {part.ingredient for part in old}
    replaced = any(key in coagulants and key not in there for key in noted)
    found = {
        part.ingredient: part
        if part.written or not part.grams
        else Part(part.ingredient, scaled(part.grams, scale))
        for part in old
        if part.written or not (replaced and part.ingredient in coagulants)
    }
    return tuple((found | dict(noted)).values())


def heaviest(parts: Sequence[Part]) -> Part | None:
    """What food is made of: its heaviest part but for water; the water where it is alone."""
    dry = [p for p in parts if p.ingredient != "water"] or parts
    return max(dry, key=lambda p: p.grams, default=None)


def check_left_out(tried: Said, key: str, product: Product) -> None:
    """Refuse to leave out what is not in the recipe, and what the product is made of.

    A 0 in place of a 10 would take the beans, and soy as an allergen, off the label.
    """
    lead = heaviest(product.recipe)
    if lead is not None and lead.ingredient == key:
        why = say(
            "0 g of {name} is nothing, and {product} is made of it", name=key, product=product.name
        )
        raise BadInput(tried, why, say("Say how much went in"))
    if key not in {part.ingredient for part in product.recipe}:
        why = say("0 g of {name} is nothing, and the recipe has none to leave out", name=key)
        raise BadInput(tried, why, say("Say how much went in, or write nothing"))


def check_figures(tried: Said, made: int, brix: Decimal | None, cook: Cook | None) -> None:
    """Refuse what cannot be: figures no kitchen ever saw."""
    if not 0 < made <= 10_000_000:
        why = say("{amount} made is no amount", amount=made)
        raise BadInput(tried, why, say("Say how much came out{how}", how=option("--made")))
    if brix is not None and not 0 <= brix <= 40:
        why = say("{amount} °Brix is not possible for soy milk", amount=brix)
        raise BadInput(tried, why, say("Expected is 0 to 40, mostly 5 to 15"))
    if cook is None:
        return
    if not 1 <= cook.minutes <= 1440:
        why = say("a cook of {n} minutes is none", n=cook.minutes)
        raise BadInput(tried, why, say("Say how long it was held"))
    if cook.celsius is not None and not COLDEST_COOK <= cook.celsius <= HOTTEST_COOK:
        why = say(
            "a cook at {amount} °C is none: expected is {least} to {most} °C",
            amount=figure(cook.celsius),
            least=COLDEST_COOK,
            most=HOTTEST_COOK,
        )
        raise BadInput(tried, why, RAW_MILK)


def check_void(tried: Said, batch: Batch, why: str, tubs: Iterable[str]) -> None:
    """Refuse to void a batch without a reason, twice, or while open ``tubs`` hold some of it."""
    if len(said := must_have_reason(tried, why)) < 3:
        do = say("Say why it never was{how}", how=option("--because"))
        raise BadInput(tried, say("'{text}' is no reason", text=said), do)
    if batch.void:
        raise Refused(tried, say("it is void already: {text}", text=batch.void))
    for tub in tubs:
        do = say("Take the tub away first, and keep what is in it")
        raise Refused(tried, say("tub {tub} of it stands open", tub=tub), do)


def cooling_questions(tried: Said, old: Batch | None, new: Batch, now: datetime) -> list[Question]:
    """What is asked of a cooling that is noted: long after it was read, without its start, or from
    a later start where it was overdue or too slow by the one noted before."""
    known = old.cooling if old else None
    found = late_note(tried, known, new.cooling, new.cools_from, now)
    moved = old and not old.raw and old.late_by(now) and _later(new.cools_from, old.cools_from)
    if old and moved and not found:
        text = say(
            "it cooled from {clock} by what was noted, and is overdue by that",
            clock=f"{old.cools_from:%H:%M}",
        )
        clause = "FDA Food Code 3-501.14(A)"
        found.append(Question(about="late", tried=tried, text=text, clause=clause))
    if known is None and not new.seen:
        text = say("the end of the cook is not noted, so the first 2 hours are not checked")
        clause = "FDA Food Code 3-501.14(A)(1)"
        found.append(Question(about="cooked", tried=tried, text=text, clause=clause))
    return found


def _later(one: datetime, other: datetime) -> bool:
    """Whether a moment is after another on the time line, in the hour shown twice too."""
    return one.timestamp() > other.timestamp()


def why_not_cooked(cook: Cook | None, least: Cooking | None) -> Said:
    """Why a batch does not count as cooked, or "". ``least`` None: made from cooked food."""
    if least is None:
        return NOTHING
    if cook is None:
        return say("no cook is recorded")
    needed = say("{amount} °C for {n} min", amount=figure(least.celsius), n=least.minutes)
    if cook.minutes < least.minutes:
        return say("its cook of {n} min is shorter than {needed}", n=cook.minutes, needed=needed)
    if cook.celsius is not None and cook.celsius < least.celsius:
        return say(
            "its cook at {amount} °C is cooler than {needed}",
            amount=figure(cook.celsius),
            needed=needed,
        )
    return NOTHING


def unusual(
    product: Product,
    made: int,
    parts: Sequence[Part],
    brix: Decimal | None,
    cook: Cook | None,
    press_kpa: Decimal | None,
) -> list[Said]:
    """Sentences about figures outside the product's usual range. They warn, they never stop."""
    beans = next((p.grams for p in parts if p.ingredient == "soybeans"), Decimal(0))
    found = {
        "brix": (brix, "°Brix"),
        "press": (press_kpa, "kPa"),
        "cook": (cook.celsius if cook else None, "°C"),
        "yield": (
            made * 1000 / beans if beans else None,
            say("{unit} a kg of beans", unit=term(product.unit)),
        ),
    }
    words = []
    for what, (value, unit) in found.items():
        usual: Range | None = product.usual.get(what)
        if usual is None or value is None or usual.least <= value <= usual.most:
            continue
        words.append(
            say(
                "{amount} {unit} is unusual for {name}: mostly {least} to {most}",
                amount=figure(f"{round(value, 1):f}"),
                unit=unit,
                name=product.name,
                least=figure(usual.least),
                most=figure(usual.most),
            )
        )
    return words
