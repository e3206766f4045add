"""What the maker does: catalogue, batches, stops and releases."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

import msgspec

from counter.catalogue import Catalogue, Part, Product
from counter.catalogue_file import parse_catalogue
from counter.dates import mark_date
from counter.desk import Desk, Entry
from counter.errors import BadInput, DaySealed, NotFound, Refused
from counter.ledger import Ledger
from counter.production import (
    RAW_MILK,
    Batch,
    Cook,
    Cooling,
    Hold,
    Mixed,
    check_cooling,
    check_figures,
    fill_recipe,
    lot_code,
    lot_day,
    too_slow,
    unusual,
    why_not_cooked,
)
from counter.stock import refusal_for
from counter.units import clock_on
from labels.units import Measure


class BatchNote(msgspec.Struct, frozen=True):
    """What the maker writes down of a batch; clock times are on the shop's clock.

    ``made`` and ``mixed`` amounts are in the product's own unit. None leaves a figure as it was
    when a batch is corrected.
    """

    made: int | None = None
    ingredients: Mapping[str, Measure] = {}
    codes: Mapping[str, str] = {}
    brix: Decimal | None = None
    boiled_minutes: int | None = None
    cook_celsius: Decimal | None = None
    cook_minutes: int | None = None
    cook_ended: time | None = None
    cooled: tuple[time, time] | None = None
    press_kpa: Decimal | None = None
    press_minutes: int | None = None
    mixed: tuple[tuple[str, int], ...] = ()
    notes: str | None = None


class Making(Desk):
    """Catalogue and production log."""

    def load_catalogue(self, text: str, file: str = "catalogue.toml") -> Catalogue:
        """Check a catalogue and put it to use. Sold things keep the prices they were sold at."""
        tax_classes = set(self.settings.tax.classes)
        made = parse_catalogue(text, self.settings.places, tax_classes, file)
        with self.books.exclusive():
            self.books.commit_catalogue({"catalogues": [made]}, self.now())
        return made

    def load_catalogue_file(self, file: Path) -> Catalogue:
        """Load a catalogue from a TOML file."""
        try:
            text = file.read_text("utf-8")
        except FileNotFoundError:
            raise NotFound(f"load catalogue {file}", "file", str(file), ()) from None
        except (OSError, UnicodeDecodeError) as error:
            why = f"the file is not readable text ({type(error).__name__})"
            raise BadInput(f"load catalogue {file}", why, "Save it as UTF-8 text") from None
        return self.load_catalogue(text, file.name)

    def log_batch(
        self, product: str, note: BatchNote, at: datetime | None = None, by: str = ""
    ) -> Batch:
        """Write a batch down; it answers with lot and date. Cooled too slowly, it is stopped."""
        catalogue = self.catalogue
        made = catalogue.product(product, f"log a batch of '{product}'")
        with self.writing(at, by) as entry:
            lots = [b for b in entry.ledger.batches if lot_day(b) == entry.day]
            lot = lot_code(entry.day, len(lots) + 1)
            start = entry.at if at is not None else None
            batch = self._batch(lot, made, catalogue, note, entry, start)
            entry.add("batches", batch)
            self._stop_if_slow(batch, entry, start)
        return batch

    def amend_batch(
        self, lot: str, note: BatchNote, why: str, at: datetime | None = None, by: str = ""
    ) -> Batch:
        """Correct or complete a batch (cooling times, say); the old record stays."""
        old = self.batch(lot)
        catalogue = self.catalogue
        product = catalogue.product(old.product, f"correct lot {lot}")
        with self.writing(at, by) as entry:
            if lot_day(lot) != entry.day and (note.made is not None or note.mixed):
                raise DaySealed(
                    f"change how much lot {lot} made", f"it was made on {lot_day(lot)}",
                    "Count what is left instead",
                )  # fmt: skip
            start = old.cook.ended if old.cook else None
            batch = self._amended(old, product, catalogue, note, entry, why)
            entry.add("batches", batch)
            self._stop_if_slow(batch, entry, start)
        return batch

    def _batch(
        self, lot: str, product: Product, catalogue: Catalogue, note: BatchNote, entry: Entry,
        start: datetime | None,
    ) -> Batch:  # fmt: skip
        tried = f"log a batch of {product.key}"
        cook = self._cook(tried, note, entry.day, start)
        cooling = self._cooling(tried, note, entry, cook, start)
        made = note.made or 0
        check_figures(tried, made, note.brix, cook)
        mixed = self._mixed(tried, note, entry.ledger, product)
        dates = [(m.lot, entry.ledger.rows[m.lot].lot.mark.day) for m in mixed]
        parts = fill_recipe(product, made, self._parts(tried, note, catalogue))
        warnings = unusual(product, made, parts, note.brix, cook, note.press_kpa)
        if cooling and cooling.to_5.timestamp() > entry.now.timestamp() + 300:
            warnings.append(f"5 °C at {cooling.to_5:%H:%M} has not come yet; noted as written")
        if cooling and start is None and (cook is None or cook.ended is None):
            warnings.append(
                "the end of the cook is not noted, so the first 2 hours are not checked"
            )
        raw = why_not_cooked(cook, product.cook)
        if raw:
            warnings.append(f"not for sale yet: {raw}. {RAW_MILK}")
        return Batch(
            lot=lot, product=product.key, unit=product.unit, made=made, at=entry.at,
            mark=mark_date(entry.day, product.keeping, self.settings.shop.market, dates),
            ingredients=parts, codes=dict(note.codes), brix=note.brix, cook=cook, cooling=cooling,
            press_kpa=note.press_kpa, press_minutes=note.press_minutes, mixed=mixed, raw=raw,
            chilled=product.cooled, by=entry.by, notes=(note.notes or "")[:1000],
            warnings=tuple(warnings),
        )  # fmt: skip

    def _amended(
        self, old: Batch, product: Product, catalogue: Catalogue, note: BatchNote, entry: Entry,
        why: str,
    ) -> Batch:  # fmt: skip
        tried = f"correct lot {old.lot}"
        day = lot_day(old.lot) or entry.day
        start = old.cook.ended if old.cook else None
        cook = self._cook(tried, note, day, start) or old.cook
        cooling = self._cooling(tried, note, entry, cook, start) or old.cooling
        made = old.made if note.made is None else note.made
        brix = old.brix if note.brix is None else note.brix
        press = note.press_kpa or old.press_kpa
        check_figures(tried, made, brix, cook)
        parts = old.ingredients
        if note.ingredients:
            known = {p.ingredient: p for p in parts if p.written}
            known.update(self._parts(tried, note, catalogue))
            parts = fill_recipe(product, made, known)
        mixed = self._mixed(tried, note, entry.ledger, product) or old.mixed
        mark = old.mark
        if note.mixed:
            dates = [(m.lot, entry.ledger.rows[m.lot].lot.mark.day) for m in mixed]
            mark = mark_date(day, product.keeping, self.settings.shop.market, dates)
        return msgspec.structs.replace(
            old, made=made, brix=brix, cook=cook, cooling=cooling, press_kpa=press, mark=mark,
            press_minutes=note.press_minutes or old.press_minutes, ingredients=parts, mixed=mixed,
            codes={**old.codes, **note.codes}, raw=why_not_cooked(cook, product.cook),
            notes=old.notes if note.notes is None else note.notes[:1000], by=entry.by or old.by,
            revision=old.revision + 1, why=why[:200],
            warnings=tuple(unusual(product, made, parts, brix, cook, press)),
        )  # fmt: skip

    def _stop_if_slow(self, batch: Batch, entry: Entry, start: datetime | None) -> None:
        ended = batch.cook.ended if batch.cook else None
        why = too_slow(batch.cooling, ended or start)
        row = entry.ledger.rows.get(batch.lot)
        if why and not (row and row.lot.stopped):
            entry.add(
                "holds", Hold(batch.lot, True, f"cooled too slowly: {why}", entry.at, entry.by)
            )

    def _parts(self, tried: str, note: BatchNote, catalogue: Catalogue) -> dict[str, Part]:
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
                raise BadInput(tried, f"{measure} of {key} is nothing", "Say how much went in")
            found[key] = Part(key, grams, str(measure))
        return found

    def _cook(self, tried: str, note: BatchNote, day: date, start: datetime | None) -> Cook | None:
        ended = self._clock_time(day, note.cook_ended) or start
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
        self, tried: str, note: BatchNote, entry: Entry, cook: Cook | None, start: datetime | None
    ) -> Cooling | None:
        if note.cooled is None:
            return None
        first, second = (self._clock_time(entry.day, t) for t in note.cooled)
        assert first is not None and second is not None  # noqa: PT018 - both times are given
        cooling = Cooling(first, second)
        check_cooling(tried, cooling, (cook.ended if cook else None) or start)
        return cooling

    def _clock_time(self, day: date, clock: time | None) -> datetime | None:
        if clock is None:
            return None
        return clock_on(day, clock, self.settings.day_starts, self.settings.zone)

    def _mixed(
        self, tried: str, note: BatchNote, ledger: Ledger, product: Product
    ) -> tuple[Mixed, ...]:
        """Older stock that goes in: it must itself be fit to be sold."""
        if product.cook is None and not note.mixed and note.made is not None:
            why = "it is made from food that is already cooked, and no lot is named"
            raise Refused(tried, why, "Name the lot it was made from, with --from LOT:AMOUNT")
        for lot, amount in note.mixed:
            row = ledger.row(lot, tried)
            refusal = refusal_for(row.lot, ledger.day, "refuse", f"use lot {lot}")
            if refusal:
                raise refusal
            if amount < 1:
                raise BadInput(tried, f"{amount} of lot {lot} is nothing", "Say how much went in")
        return tuple(Mixed(lot, amount) for lot, amount in note.mixed)

    def batch(self, lot: str) -> Batch:
        """A batch as last corrected, of any day. NotFound with near matches."""
        tried = f"look up lot {lot}"
        ledger = self._fold(self.today())
        if lot in ledger.batches:
            return ledger.batches[lot]
        day = lot_day(lot)
        if day is None or day not in self.books.days():
            raise NotFound(tried, "lot", lot, ledger.rows)
        found: Batch | None = None
        for d in self.days_of(lot, day):
            for commit in self.records_of(d):
                for batch in commit.get("batches", []):
                    if isinstance(batch, Batch) and batch.lot == lot:
                        found = batch
        if found is None:
            raise NotFound(tried, "lot", lot, ledger.rows)
        return found

    def hold(
        self, lot: str, stopped: bool, why: str, at: datetime | None = None, by: str = ""
    ) -> Hold:
        """Stop a lot everywhere, or release it, with who and why."""
        word = "stop" if stopped else "release"
        self.batch(lot)
        if not why.strip():
            raise BadInput(f"{word} lot {lot}", "no reason is given", "Say why, with --because")
        with self.writing(at, by) as entry:
            row = entry.ledger.rows.get(lot)
            if row is not None and bool(row.lot.stopped) == stopped:
                state = f"already stopped: {row.lot.stopped}" if stopped else "not stopped"
                raise Refused(f"{word} lot {lot}", f"it is {state}")
            record = Hold(lot, stopped, why.strip()[:200], entry.at, entry.by)
            entry.add("holds", record)
        return record
