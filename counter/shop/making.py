"""What the maker does: batches, cooling, stops and releases."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import msgspec

from counter.errors import BadInput, DaySealed, Refused
from counter.shop.catalogued import Catalogued
from counter.shop.desk import Entry
from counter.trade.batch_note import BatchNote
from counter.trade.catalogue import Catalogue, Part, Product
from counter.trade.contents import told_of
from counter.trade.cooling import (
    Cooling,
    Step,
    check_cooling,
    check_step,
    cooling_time,
    night_time,
    still_cools,
    too_slow,
)
from counter.trade.dates import mark_date
from counter.trade.ledger import Ledger
from counter.trade.production import (
    RAW_MILK,
    Batch,
    Cook,
    Hold,
    Mixed,
    check_figures,
    check_left_out,
    fill_recipe,
    lot_code,
    lot_day,
    unusual,
    why_not_cooked,
)
from counter.trade.stock import refusal_for


class Preview(msgspec.Struct, frozen=True):
    """The batch as it would be written down, and why it would be stopped at once ("" if not)."""

    batch: Batch
    stopped: str = ""


class Making(Catalogued):
    """The production log."""

    def log_batch(
        self, product: str, note: BatchNote, at: datetime | None = None, by: str = ""
    ) -> Batch:
        """Write a batch down; it answers with lot and date. Cooled too slowly, it is stopped."""
        catalogue = self.catalogue
        made = catalogue.product(product, f"log a batch of '{product}'")
        with self.writing(at, by) as entry:
            start = entry.at if at is not None else None
            batch = self._batch(made, catalogue, note, entry, start)
            entry.add("batches", batch)
            self._stop_if_slow(batch, entry, start)
        return batch

    def preview_batch(
        self, product: str, note: BatchNote, at: datetime | None = None, by: str = ""
    ) -> Preview:
        """What :meth:`log_batch` would write: lot, date, warnings. Nothing is written.

        As long as the amount is not noted, one mould stands for it.
        """
        catalogue = self.catalogue
        made = catalogue.product(product, f"log a batch of '{product}'")
        if note.made is None:
            note = msgspec.structs.replace(note, made=made.mould)
            usual = {what: span for what, span in made.usual.items() if what != "yield"}
            made = msgspec.structs.replace(made, usual=usual)
        entry = self._as_if(at, by)
        start = entry.at if at is not None else None
        batch = self._batch(made, catalogue, note, entry, start)
        return Preview(batch, self._slow(batch, start))

    def _as_if(self, at: datetime | None, by: str) -> Entry:
        """An entry that nobody will write."""
        now = self.now()
        moment = self.check_moment(at, now)
        return Entry(self.ledger(self.day_of(moment)), moment, now, by[:60])

    def amend_batch(
        self, lot: str, note: BatchNote, why: str, at: datetime | None = None, by: str = ""
    ) -> Batch:
        """Correct or complete a batch (cooling times, say); the old record stays."""
        with self.writing(at, by) as entry:
            old = self.batch(lot)
            batch = self._amended(old, note, entry, why)
            entry.add("batches", batch)
            self._stop_if_slow(batch, entry, old.cook.ended if old.cook else None)
        return batch

    def preview_amended(self, lot: str, note: BatchNote, by: str = "") -> Preview:
        """What :meth:`amend_batch` would write, refused where that would be. Nothing is written."""
        old = self.batch(lot)
        batch = self._amended(old, note, self._as_if(None, by), "")
        return Preview(batch, self._slow(batch, old.cook.ended if old.cook else None))

    def note_cooling(
        self, lot: str, step: Step, clock: time | None, why: str, by: str = ""
    ) -> Batch:
        """The next step of a batch's cooling, 21 °C / 70 °F or 5 °C / 41 °F: reached now, or at
        ``clock``, also when the trading day has turned meanwhile.

        Refused out of turn, a second time, and for now when the batch is of a day before and more
        than 18 hours old.
        """
        tried = f"note the cooling of lot {lot}"
        with self.writing(None, by) as entry:
            old = self.batch(lot)
            check_step(tried, old.cooling, step)
            if clock is None:
                if not self.cools_still(old):
                    why_not = f"it was made on {lot_day(lot)}"
                    raise Refused(f"{tried} now", why_not, "Write the times under Correct")
                reached = entry.now.replace(second=0, microsecond=0)
            else:
                ended = old.cook.ended if old.cook else None
                after = old.cooling.to_21 if old.cooling else ended
                reached = self._reached(lot_day(lot) or entry.day, clock, after, old.at)
            cooling = Cooling(old.cooling.to_21, reached) if old.cooling else Cooling(reached)
            check_cooling(tried, cooling, old.cook.ended if old.cook else None)
            batch = self._amended(old, BatchNote(), entry, why, cooling)
            entry.add("batches", batch)
            self._stop_if_slow(batch, entry, old.cook.ended if old.cook else None)
        return batch

    def cools_still(self, batch: Batch) -> bool:
        """Whether it must be cooled, is not cold yet, and is young enough to be asked about now."""
        young = lot_day(batch.lot) == self.today() or still_cools(batch.at, self.now())
        return batch.uncooled and young

    def cooling_of_before(self) -> list[Batch]:
        """Batches of the day before today that cool still: the day has turned over them."""
        return [b for b in self.made_on(self.today() - timedelta(days=1)) if self.cools_still(b)]

    def _batch(
        self, product: Product, catalogue: Catalogue, note: BatchNote, entry: Entry,
        start: datetime | None,
    ) -> Batch:  # fmt: skip
        tried = f"log a batch of {product.key}"
        lots = [b for b in entry.ledger.batches if lot_day(b) == entry.day]
        lot = lot_code(entry.day, len(lots) + 1)
        cook = self._cook(tried, note, entry.day, start, entry.at)
        cooling = self._cooling(tried, note, entry.day, cook, start, entry.at)
        made = note.made or 0
        check_figures(tried, made, note.brix, cook)
        if product.cook is None and not note.mixed:
            why = "it is made from food that is already cooked, and no lot is named"
            raise Refused(tried, why, "Name the lot it was made from, with --from LOT:AMOUNT")
        mixed = self._mixed(tried, note, entry.ledger)
        dates = [(m.lot, entry.ledger.rows[m.lot].lot.mark.day) for m in mixed]
        noted = self._parts(tried, note, catalogue, product)
        parts = fill_recipe(product, made, noted, catalogue.coagulants)
        warnings = unusual(product, made, parts, note.brix, cook, note.press_kpa)
        coldest = (cooling.to_5 or cooling.to_21) if cooling else None
        if coldest and coldest.timestamp() > entry.now.timestamp() + 300:
            reached = "5 °C" if cooling and cooling.to_5 else "21 °C"
            warnings.append(f"{reached} at {coldest:%H:%M} has not come yet; noted as written")
        if cooling and start is None and (cook is None or cook.ended is None):
            warnings.append(
                "the end of the cook is not noted, so the first 2 hours are not checked"
            )
        raw = why_not_cooked(cook, product.cook)
        if raw:
            warnings.append(f"not for sale yet: {raw}. {RAW_MILK}")
        batch = Batch(
            lot=lot, product=product.key, unit=product.unit, made=made, at=entry.at,
            mark=mark_date(entry.day, product.keeping, self.settings.shop.market, dates),
            ingredients=parts, codes=dict(note.codes), brix=note.brix, cook=cook, cooling=cooling,
            press_kpa=note.press_kpa, press_minutes=note.press_minutes, mixed=mixed, raw=raw,
            chilled=product.cooled, by=entry.by, notes=(note.notes or "")[:1000],
        )  # fmt: skip
        warnings += told_of(batch, catalogue, self.batch)
        return msgspec.structs.replace(batch, warnings=tuple(warnings))

    def _amended(
        self, old: Batch, note: BatchNote, entry: Entry, why: str, cooling: Cooling | None = None
    ) -> Batch:
        """``old`` with what was noted; ``cooling`` is one whose moments are known already."""
        tried, catalogue = f"correct lot {old.lot}", self.catalogue_as_read()
        product = catalogue.product(old.product, tried)
        if lot_day(old.lot) != entry.day and (note.made is not None or note.mixed):
            raise DaySealed(
                f"change how much lot {old.lot} made", f"it was made on {lot_day(old.lot)}",
                "Count what is left instead",
            )  # fmt: skip
        day = lot_day(old.lot) or entry.day
        start = old.cook.ended if old.cook else None
        cook = self._cook(tried, note, day, start, old.at) or old.cook
        cooling = cooling or self._cooling(tried, note, day, cook, start, old.at) or old.cooling
        made = old.made if note.made is None else note.made
        brix = old.brix if note.brix is None else note.brix
        press = note.press_kpa or old.press_kpa
        check_figures(tried, made, brix, cook)
        parts = self._corrected_parts(tried, old, made, note, catalogue, product)
        if any(lot == old.lot for lot, _ in note.mixed):
            raise BadInput(tried, "it cannot go into itself", "Name the older lot that went in")
        mixed = self._mixed(tried, note, entry.ledger) or old.mixed
        mark = old.mark
        if note.mixed:
            dates = [(m.lot, entry.ledger.rows[m.lot].lot.mark.day) for m in mixed]
            mark = mark_date(day, product.keeping, self.settings.shop.market, dates)
        batch = msgspec.structs.replace(
            old, made=made, brix=brix, cook=cook, cooling=cooling, press_kpa=press, mark=mark,
            press_minutes=note.press_minutes or old.press_minutes, ingredients=parts, mixed=mixed,
            codes={**old.codes, **note.codes}, raw=why_not_cooked(cook, product.cook),
            notes=old.notes if note.notes is None else note.notes[:1000], by=entry.by or old.by,
            revision=old.revision + 1, why=why[:200],
        )  # fmt: skip
        warnings = unusual(product, made, parts, brix, cook, press)
        warnings += told_of(batch, catalogue, self.batch)
        return msgspec.structs.replace(batch, warnings=tuple(warnings))

    def _corrected_parts(
        self, tried: str, old: Batch, made: int, note: BatchNote, catalogue: Catalogue,
        product: Product,
    ) -> tuple[Part, ...]:  # fmt: skip
        """What went in after all; what is not in the recipe and is now 0 was never in it."""
        if not note.ingredients:
            return old.ingredients
        planned = {part.ingredient for part in product.recipe}
        known = {p.ingredient: p for p in old.ingredients if p.written}
        taken_back = {
            key for key, measure in note.ingredients.items()
            if not measure.amount and key in known and key not in planned
        }  # fmt: skip
        kept = {k: m for k, m in note.ingredients.items() if k not in taken_back}
        noted = self._parts(
            tried, msgspec.structs.replace(note, ingredients=kept), catalogue, product
        )
        known = {k: p for k, p in known.items() if k not in taken_back} | noted
        return fill_recipe(product, made, known, catalogue.coagulants)

    def _stop_if_slow(self, batch: Batch, entry: Entry, start: datetime | None) -> None:
        why = self._slow(batch, start)
        row = entry.ledger.rows.get(batch.lot)
        if why and not (row and row.lot.stopped):
            entry.add(
                "holds", Hold(batch.lot, True, f"cooled too slowly: {why}", entry.at, entry.by)
            )

    def _slow(self, batch: Batch, start: datetime | None) -> str:
        ended = batch.cook.ended if batch.cook else None
        return too_slow(batch.cooling, ended or start)

    def _parts(
        self, tried: str, note: BatchNote, catalogue: Catalogue, product: Product
    ) -> dict[str, Part]:
        found = {}
        for key, measure in note.ingredients.items():
            ingredient = catalogue.ingredient(key, tried)
            grams = measure.base
            if measure.kind == "volume":
                if ingredient.density is None:
                    why = f"{measure} of {key} is a volume, and its density is not known"
                    raise BadInput(tried, why, "Weigh it, or give its density in the catalogue")
                grams = measure.base * ingredient.density
            if grams <= 0:
                check_left_out(tried, key, product)
            found[key] = Part(key, grams, str(measure))
        return found

    def _cook(
        self, tried: str, note: BatchNote, day: date, start: datetime | None, about: datetime
    ) -> Cook | None:
        ended = start
        if note.cook_ended is not None:
            told = self.settings
            ended = night_time(day, note.cook_ended, about, told.day_starts, told.zone)
        if note.boiled_minutes is not None:
            return Cook(note.boiled_minutes, None, ended)
        if note.cook_celsius is None and note.cook_minutes is None:
            return None
        if note.cook_celsius is None or note.cook_minutes is None:
            raise BadInput(
                tried, "a cook needs its temperature and its minutes", "Write it as 95C,10min"
            )
        return Cook(note.cook_minutes, note.cook_celsius, ended)

    def _cooling(
        self, tried: str, note: BatchNote, day: date, cook: Cook | None, start: datetime | None,
        about: datetime,
    ) -> Cooling | None:  # fmt: skip
        if note.cooled is None:
            return None
        first, second = note.cooled
        begins = (cook.ended if cook else None) or start
        to_21 = self._reached(day, first, begins, about)
        to_5 = None if second is None else self._reached(day, second, to_21, about)
        cooling = Cooling(to_21, to_5)
        check_cooling(tried, cooling, begins)
        return cooling

    def _reached(self, day: date, clock: time, after: datetime | None, about: datetime) -> datetime:
        """When a batch of ``day`` was so cold: after the cook or the step before, where known."""
        starts, zone = self.settings.day_starts, self.settings.zone
        if after is None:
            return night_time(day, clock, about, starts, zone)
        return cooling_time(day, clock, after, self.now(), starts, zone)

    def _mixed(self, tried: str, note: BatchNote, ledger: Ledger) -> tuple[Mixed, ...]:
        """Older stock that goes in: it must itself be fit to be sold."""
        for lot, amount in note.mixed:
            row = ledger.row(lot, tried)
            refusal = refusal_for(row.lot, ledger.day, "refuse", f"use lot {lot}")
            if refusal:
                raise refusal
            if amount < 1:
                raise BadInput(tried, f"{amount} of lot {lot} is nothing", "Say how much went in")
        return tuple(Mixed(lot, amount) for lot, amount in note.mixed)

    def unit_of(self, lot: str) -> str:
        """The unit of a lot on the shelf."""
        return self._fold(self.today()).row(lot, f"use lot {lot}").lot.unit

    def made_on(self, day: date) -> list[Batch]:
        """The batches made on a trading day, each as last corrected, in the order of their lots."""
        made = {b.lot for b in self._written(day) if lot_day(b.lot) == day}
        return [self.batch(lot) for lot in sorted(made)]

    def recent_batches(self, product: str, count: int, days: int = 60) -> list[Batch]:
        """The last batches of a product, newest first, from the books of the last ``days`` days.

        Each as it was last corrected on the day it was made or a later one of those days.
        """
        found: dict[str, Batch] = {}
        for day in reversed(self.books.days(self.today() - timedelta(days=days), self.today())):
            if len(found) >= count:
                break
            for batch in reversed(self._written(day)):
                if batch.product == product:
                    found.setdefault(batch.lot, batch)
        newest = sorted(found.values(), key=lambda b: b.lot, reverse=True)
        return newest[:count]

    def _written(self, day: date) -> list[Batch]:
        """Every record of a batch in the book of a day, as written."""
        records = (r for commit in self.records_of(day) for r in commit.get("batches", ()))
        return [r for r in records if isinstance(r, Batch)]

    def hold(
        self, lot: str, stopped: bool, why: str, at: datetime | None = None, by: str = ""
    ) -> Hold:
        """Stop a lot everywhere, or release it, with who and why."""
        word = "stop" if stopped else "release"
        self.batch(lot)
        if not why.strip():
            raise BadInput(f"{word} lot {lot}", "no reason is given", "Say why, with --because")
        with self.writing(at, by) as entry:
            held = entry.ledger.held(lot)
            if held is not None and bool(held) == stopped:
                state = f"already stopped: {held}" if stopped else "not stopped"
                raise Refused(f"{word} lot {lot}", f"it is {state}")
            record = Hold(lot, stopped, why.strip()[:200], entry.at, entry.by)
            entry.add("holds", record)
        return record
