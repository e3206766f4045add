"""What the maker does: the production log, and what would be written into it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

import msgspec

from counter.errors import BadInput, Refused
from counter.shop.desk import Desk, Entry
from counter.shop.products import Products
from counter.trade.allergens import refuse_unsaid
from counter.trade.batch_note import BatchNote
from counter.trade.catalogue import Catalogue, Part, Product
from counter.trade.contents import parts_within, told_of
from counter.trade.cooling import (
    Cooling,
    check_cooling,
    cooling_time,
    must_have_come,
    night_time,
    still_cools,
)
from counter.trade.dates import DateMark, marks_of
from counter.trade.doubts import HISTORY, HISTORY_DAYS, above_all, of_batch
from counter.trade.picking import refuse_out_of_tub
from counter.trade.production import (
    Batch,
    Cook,
    Hold,
    Mixed,
    check_figures,
    check_left_out,
    cooling_questions,
    fill_recipe,
    lot_day,
    new_lot,
    unusual,
    why_not_cooked,
)
from counter.trade.stock import Lot, lot_of, refusal_for
from counter.trade.units import CLOCKS_DIFFER, clock_on, minutes_between
from counter.trade.whereabouts import Move
from labels.say import NOTHING, Said, at_terminal, option, say


class Preview(msgspec.Struct, frozen=True):
    """The batch as it would be written down, why it would be stopped at once ("" if not),
    and what would be asked first."""

    batch: Batch
    stopped: Said = NOTHING
    asked: tuple[Said, ...] = ()


def refuse_unmixed(tried: Said, product: Product, mixed: Sequence[object]) -> None:
    """What has no cook of its own is made of lots that had theirs: one must be named."""
    if product.cook is None and not mixed:
        why = say("it is made from food that is already cooked, and no lot is named")
        do = say("Name the lot it was made from{how}", how=option("--from LOT:AMOUNT"))
        raise Refused(tried, why, do)


class Production:
    """The production log."""

    def __init__(self, desk: Desk, products: Products) -> None:
        self.desk = desk
        self.products = products

    def log_batch(
        self, product: str, note: BatchNote, at: datetime | None = None, by: str = ""
    ) -> Batch:
        """Write a batch down; it answers with lot and date. Cooled too slowly, it is stopped."""
        catalogue = self.desk.catalogues.at(at or self.desk.now())
        made = catalogue.product(product, say("log a batch of '{text}'", text=product))
        with self.desk.writing(at, by) as entry:
            start = entry.at if at is not None else None
            batch = self._batch(made, catalogue, note, entry, start)
            entry.add(batch)
            self._lay_down(batch, made, entry)
            tried = say("log a batch of {product}", product=product)
            entry.ask(*cooling_questions(tried, None, batch, entry.now))
            if why := batch.why_stopped:
                entry.add(
                    Hold(lot=batch.lot, stopped=True, why=why, at=entry.at, by=entry.by, own=True)
                )
        return batch

    def _lay_down(self, batch: Batch, product: Product, entry: Entry) -> None:
        """A new batch lies in the cold place of its product, else in the first one; in none where
        the shop has none. Nothing is taken as frozen that nobody noted."""
        holding = self.desk.settings.holding
        cold = [name for name, kind in holding.items() if kind == "cold"]
        place = product.place if product.place in cold else next(iter(cold), "")
        if place:
            entry.add(
                Move(lot=batch.lot, place=place, kind=holding[place], at=entry.at, by=entry.by)
            )

    def preview_batch(
        self, product: str, note: BatchNote, at: datetime | None = None, by: str = ""
    ) -> Preview:
        """What :meth:`log_batch` would write: lot, date, warnings. Nothing is written.

        As long as the amount is not noted, one mould stands for it.
        """
        catalogue = self.desk.catalogues.at(at or self.desk.now())
        made = catalogue.product(product, say("log a batch of '{text}'", text=product))
        known = note.made is not None
        if not known:
            note = msgspec.structs.replace(note, made=made.mould)
            usual = {what: span for what, span in made.usual.items() if what != "yield"}
            made = msgspec.structs.replace(made, usual=usual)
        entry = self.as_if(at, by)
        start = entry.at if at is not None else None
        batch = self._batch(made, catalogue, note, entry, start)
        # What goes into a mould that only stands for the amount says nothing.
        asked = (q.text for q in entry.questions if known or not q.about.startswith("amount."))
        return Preview(batch, batch.why_stopped, tuple(asked))

    def as_if(self, at: datetime | None, by: str) -> Entry:
        """An entry that nobody will write."""
        now = self.desk.now()
        moment = self.desk.check_moment(at, now)
        return Entry(self.desk.ledger(self.desk.day_of(moment)), moment, now, by[:60])

    def cools_still(self, batch: Batch) -> bool:
        """Whether it must be cooled, is not cold yet, and is young enough to be asked about now."""
        young = lot_day(batch.lot) == self.desk.today() or still_cools(batch.at, self.desk.now())
        return batch.uncooled and young

    def cooling_of_before(self) -> list[Batch]:
        """Batches of the day before today that cool still: the day has turned over them."""
        return [
            b for b in self.made_on(self.desk.today() - timedelta(days=1)) if self.cools_still(b)
        ]

    def _batch(
        self,
        product: Product,
        catalogue: Catalogue,
        note: BatchNote,
        entry: Entry,
        start: datetime | None,
    ) -> Batch:
        tried = say("log a batch of {product}", product=product.key)
        lot = new_lot(
            tried,
            entry.day,
            entry.ledger.batches,
            note.lot,
            self.desk.least_numbers(entry.day).lots,
        )
        cook = self.cook_noted(tried, note, entry.day, start, entry.at, entry.at)
        passed = self.passed_57_noted(tried, note, entry.day, cook, entry.at)
        cooling = self.cooling_noted(tried, note, entry.day, cook, start, entry.at, passed)
        made = note.made or 0
        check_figures(tried, made, note.brix, cook)
        refuse_unmixed(tried, product, note.mixed)
        mixed = self.mixed_noted(tried, note, entry)
        noted = self.parts_noted(tried, note, catalogue, product)
        parts = fill_recipe(product, made, noted, catalogue.coagulants)
        mark, frozen_mark = self.mark_of(entry.day, cook, mixed, product)
        warnings = unusual(product, made, parts, note.brix, cook, note.press_kpa)
        batch = Batch(
            lot=lot,
            product=product.key,
            unit=product.unit,
            made=made,
            at=entry.at,
            mark=mark,
            frozen_mark=frozen_mark,
            ingredients=parts,
            codes=dict(note.codes),
            brix=note.brix,
            cook=cook,
            cooling=cooling,
            press_kpa=note.press_kpa,
            press_minutes=note.press_minutes,
            mixed=mixed,
            raw=why_not_cooked(cook, product.cook),
            chilled=product.cooled,
            by=entry.by,
            notes=Said((note.notes or "")[:1000]),
            passed_57=passed,
        )
        if not batch.seen:
            warnings.append(
                say("the end of the cook is not noted, so the first 2 hours are not checked")
            )
        behind = self.products.catalogue_behind(batch)
        self.refuse_unsaid(tried, product, batch, behind)
        warnings += told_of(batch, behind, self.desk.batch)
        entry.ask(*of_batch(batch, product, self.others_of(batch), tried))
        return msgspec.structs.replace(batch, warnings=tuple(warnings))

    def refuse_unsaid(
        self, tried: Said, product: Product, batch: Batch, catalogue: Catalogue
    ) -> None:
        """Refused while a name of what is in a batch says an allergen that nothing names."""
        keys = [p.ingredient for p in parts_within(batch, self.desk.batch) if p.grams]
        refuse_unsaid(tried, product, keys, catalogue, self.desk.settings.shop.market)

    def parts_noted(
        self, tried: Said, note: BatchNote, catalogue: Catalogue, product: Product
    ) -> dict[str, Part]:
        found = {}
        for key, measure in note.ingredients.items():
            ingredient = catalogue.ingredient(key, tried)
            grams = measure.base
            if measure.kind == "volume":
                if ingredient.density is None:
                    why = say(
                        "{amount} of {ingredient} is a volume, and its density is not known",
                        amount=measure,
                        ingredient=key,
                    )
                    raise BadInput(
                        tried, why, say("Weigh it, or give its density in the catalogue")
                    )
                grams = measure.base * ingredient.density
            if grams <= 0:
                check_left_out(tried, key, product)
            found[key] = Part(key, grams, str(measure))
        return found

    def cook_noted(
        self,
        tried: Said,
        note: BatchNote,
        day: date,
        start: datetime | None,
        about: datetime,
        until: datetime,
        known: Cook | None = None,
    ) -> Cook | None:
        """The cook that is noted, None for none; its end alone is that of the one ``known``.

        An end after ``until``, when it is noted for, is of the day before, or refused.
        """
        ended = start
        if note.cook_ended is not None:
            told = self.desk.settings
            ended = night_time(day, note.cook_ended, about, told.shop.day_starts, told.zone)
            before = clock_on(
                day - timedelta(days=1), note.cook_ended, told.shop.day_starts, told.zone
            )
            late = minutes_between(until, ended) * 60 > CLOCKS_DIFFER.total_seconds()
            if late and still_cools(before, about):
                ended = before  # it was not long ago yesterday
            elif late:
                why = say(
                    "it is noted for {clock}, and its cook would end at {ended}",
                    clock=f"{until:%H:%M}",
                    ended=f"{ended:%H:%M}",
                )
                raise BadInput(tried, why, say("Write when the cook ended, once it has"))
        if note.boiled_minutes is not None:
            return Cook(minutes=note.boiled_minutes, celsius=None, ended=ended)
        if note.cook_celsius is None and note.cook_minutes is None:
            if note.cook_ended is None:
                return None
            if known is None:
                why = say("the end of the cook is noted, but not how long it was")
                raise BadInput(
                    tried,
                    why,
                    say("Write the cook too{how}", how=at_terminal(", such as --boiled 10")),
                )
            return msgspec.structs.replace(known, ended=ended)
        if note.cook_celsius is None or note.cook_minutes is None:
            raise BadInput(
                tried,
                say("a cook needs its temperature and its minutes"),
                say("Write it as 95C,10min"),
            )
        return Cook(minutes=note.cook_minutes, celsius=note.cook_celsius, ended=ended)

    def cooling_noted(
        self,
        tried: Said,
        note: BatchNote,
        day: date,
        cook: Cook | None,
        start: datetime | None,
        about: datetime,
        passed_57: datetime | None,
    ) -> Cooling | None:
        if note.cooled is None:
            return None
        first, second = note.cooled
        ended = cook.ended if cook else None
        begins = passed_57 or ended or start
        to_21 = self.reached(day, first, begins, about)
        to_5 = None if second is None else self.reached(day, second, to_21, about)
        cooling = Cooling(to_21, to_5)
        check_cooling(tried, cooling, ended or start, passed_57)
        must_have_come(tried, to_5 or to_21, self.desk.now())
        return cooling

    def passed_57_noted(
        self, tried: Said, note: BatchNote, day: date, cook: Cook | None, about: datetime
    ) -> datetime | None:
        """When the batch passed 57 °C / 135 °F as it cooled, where that is noted."""
        if note.passed_57 is None:
            return None
        passed = self.reached(day, note.passed_57, cook.ended if cook else None, about)
        must_have_come(tried, passed, self.desk.now())
        return passed

    def reached(self, day: date, clock: time, after: datetime | None, about: datetime) -> datetime:
        """When a batch of ``day`` was so cold: after the cook or the step before, where known."""
        starts, zone = self.desk.settings.shop.day_starts, self.desk.settings.zone
        if after is None:
            return night_time(day, clock, about, starts, zone)
        return cooling_time(day, clock, after, self.desk.now(), starts, zone)

    def mark_of(
        self, day: date, cook: Cook | None, mixed: Sequence[Mixed], product: Product
    ) -> tuple[DateMark, DateMark | None]:
        """The date of a batch of trading day ``day``, and that of one held frozen while it is: it
        counts from the day of the cook."""
        older = [(m.lot, self.as_it_lies(self.desk.batch(m.lot)).mark) for m in mixed]
        market = self.desk.settings.shop.market
        return marks_of(self.cook_day(day, cook), product.keeping, market, older)

    def lot_now(self, batch: Batch) -> Lot:
        """The lot of a batch, as it lies on the shelf today where it is still there."""
        row = self.desk.fold(self.desk.today()).rows.get(batch.lot)
        return row.lot if row else lot_of(batch, lot_day(batch.lot) or self.desk.today())

    def as_it_lies(self, batch: Batch) -> Batch:
        """A batch with the date that it has now: it stands still while it is frozen."""
        return msgspec.structs.replace(batch, mark=self.lot_now(batch).mark)

    def cook_day(self, day: date, cook: Cook | None) -> date:
        """The day a batch of trading day ``day`` was made, for its date: the calendar date on
        which its cook ended. Where that is not noted, the trading day, which is never later."""
        return cook.ended.date() if cook and cook.ended else day

    def mixed_noted(self, tried: Said, note: BatchNote, entry: Entry) -> tuple[Mixed, ...]:
        """Older stock that goes in: it must itself be fit to be sold. More than was ever there is
        asked about."""
        for lot, amount in note.mixed:
            row = entry.ledger.row(lot, tried)
            refusal = refusal_for(row.lot, entry.at, "refuse", say("use lot {lot}", lot=lot))
            if refusal:
                raise refusal
            if amount < 1:
                raise BadInput(
                    tried,
                    say("{amount} of lot {lot} is nothing", amount=amount, lot=lot),
                    say("Say how much went in"),
                )
            refuse_out_of_tub(entry.ledger, lot, amount, say("use lot {lot}", lot=lot), entry.at)
            entry.ask(*above_all(f"from.{lot}", row, amount, tried))
        return tuple(Mixed(lot, amount) for lot, amount in note.mixed)

    def unit_of(self, lot: str) -> str:
        """The unit of a lot on the shelf."""
        return self.desk.fold(self.desk.today()).row(lot, say("use lot {lot}", lot=lot)).lot.unit

    def made_on(self, day: date) -> list[Batch]:
        """The batches made on a trading day, each as last corrected, in the order of their lots."""
        made = {b.lot for b in self.desk.recorded(Batch, day) if lot_day(b.lot) == day}
        return [self.desk.batch(lot) for lot in sorted(made)]

    def recent_batches(self, product: str, count: int, days: int = 60) -> list[Batch]:
        """The last batches of a product, newest first, from the books of the last ``days`` days.

        Each as it was last corrected on the day it was made or a later one of those days.
        """
        found: dict[str, Batch] = {}
        for day in reversed(
            self.desk.books.days(self.desk.today() - timedelta(days=days), self.desk.today())
        ):
            if sum(not b.void for b in found.values()) >= count:
                break
            for batch in reversed(self.desk.recorded(Batch, day)):
                if batch.product == product:
                    found.setdefault(batch.lot, batch)
        were = (b for b in found.values() if not b.void)
        newest = sorted(were, key=lambda b: b.lot, reverse=True)
        return newest[:count]

    def others_of(self, batch: Batch) -> list[Batch]:
        """The last other batches of its product: what is usual."""
        recent = self.recent_batches(batch.product, HISTORY + 1, HISTORY_DAYS)
        return [b for b in recent if b.made and b.lot != batch.lot][:HISTORY]


def sooner(mark: DateMark, other: DateMark) -> date | None:
    """The date, or else the limit, of ``mark`` where it is before that of ``other``; None if it is
    not."""
    if mark.day < other.day:
        return mark.day
    if mark.limit and (other.limit is None or mark.limit < other.limit):
        return mark.limit
    return None
