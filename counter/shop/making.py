"""What the maker does: catalogue, batches, stops and releases."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path

import msgspec

from counter.errors import BadInput, DaySealed, NotFound, Refused
from counter.shop.desk import Desk, Entry
from counter.trade.batch_note import BatchNote
from counter.trade.catalogue import Break, Catalogue, Part, Portion, Product
from counter.trade.catalogue_file import parse_catalogue
from counter.trade.catalogue_text import write_catalogue
from counter.trade.dates import mark_date
from counter.trade.ledger import Ledger
from counter.trade.people import Pins
from counter.trade.production import (
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
from counter.trade.stock import refusal_for
from counter.trade.units import clock_on


class Preview(msgspec.Struct, frozen=True):
    """The batch as it would be written down, and why it would be stopped at once ("" if not)."""

    batch: Batch
    stopped: str = ""


class Making(Desk):
    """Catalogue and production log."""

    def load_catalogue(self, text: str, file: str = "catalogue.toml") -> Catalogue:
        """Check a catalogue and put it to use. Sold things keep the prices they were sold at."""
        made = self._checked(text, file)
        with self.books.exclusive():
            self._keep_an_owner(made, file)
            self.books.commit_catalogue({"catalogues": [made]}, self.now())
        return made

    def _checked(self, text: str, file: str) -> Catalogue:
        told = self.settings
        return parse_catalogue(
            text, told.places, set(told.tax.classes), file, told.shop.market, told.layouts
        )

    def _keep_an_owner(self, made: Catalogue, file: str) -> None:
        """A shop with PINs is never left without an owner who has one: then anybody could come
        in as the owner."""
        pins = self.books.catalogue.last("pins")
        known = set(pins.pins) if isinstance(pins, Pins) else set()
        kept = [p for key, p in made.staff.items() if key in known and p.role == "owner"]
        if known & set(self.catalogue.staff) and not kept:
            raise Refused(
                f"put {file} to use", "no owner with a PIN would be left in its staff list",
                "Keep the owner in it, or take the PINs away first",
            )  # fmt: skip

    def change_portion(
        self, key: str, price: int, last_day_price: int | None = None,
        breaks: Sequence[tuple[int, int]] = (), off: bool = False,
    ) -> Portion:  # fmt: skip
        """Give a portion new prices, in minor units, or switch it off; a new catalogue, checked
        like the file. ``breaks`` are (how many, price for all of them). Sales keep their prices.
        """
        tried = f"change portion {key}"
        with self.books.exclusive():
            catalogue = self.catalogue
            old = catalogue.portion(key, tried)
            several = sorted(breaks)
            if len({n for n, _ in several}) < len(several):
                raise BadInput(tried, "two prices are for equally many", "Keep one of them")
            portion = msgspec.structs.replace(
                old, price=price, last_day_price=last_day_price, off=off,
                breaks=tuple(Break(n, money) for n, money in several),
            )  # fmt: skip
            if portion == old:
                return old
            wanted = msgspec.structs.replace(
                catalogue, portions={**catalogue.portions, key: portion}
            )
            made = self._checked(write_catalogue(wanted, self.settings.places), "the change")
            self.books.commit_catalogue({"catalogues": [made]}, self.now())
        return made.portions[key]

    def catalogue_text(self) -> str:
        """The catalogue in use as the TOML file that makes it again."""
        return write_catalogue(self.catalogue, self.settings.places)

    def load_catalogue_file(self, file: Path) -> Catalogue:
        """Load a catalogue from a TOML file."""
        try:
            text = file.read_text("utf-8")
        except FileNotFoundError:
            raise NotFound(f"load catalogue {file}", "file", str(file), ()) from None
        except (OSError, ValueError) as error:
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
        now = self.now()
        moment = self.check_moment(at, now)
        entry = Entry(self.ledger(self.day_of(moment)), moment, now, by[:60])
        start = entry.at if at is not None else None
        batch = self._batch(made, catalogue, note, entry, start)
        ended = batch.cook.ended if batch.cook else None
        return Preview(batch, too_slow(batch.cooling, ended or start))

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
        self, product: Product, catalogue: Catalogue, note: BatchNote, entry: Entry,
        start: datetime | None,
    ) -> Batch:  # fmt: skip
        tried = f"log a batch of {product.key}"
        lots = [b for b in entry.ledger.batches if lot_day(b) == entry.day]
        lot = lot_code(entry.day, len(lots) + 1)
        cook = self._cook(tried, note, entry.day, start)
        cooling = self._cooling(tried, note, entry.day, cook, start)
        made = note.made or 0
        check_figures(tried, made, note.brix, cook)
        if product.cook is None and not note.mixed:
            why = "it is made from food that is already cooked, and no lot is named"
            raise Refused(tried, why, "Name the lot it was made from, with --from LOT:AMOUNT")
        mixed = self._mixed(tried, note, entry.ledger)
        dates = [(m.lot, entry.ledger.rows[m.lot].lot.mark.day) for m in mixed]
        noted = self._parts(tried, note, catalogue)
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
        cooling = self._cooling(tried, note, day, cook, start) or old.cooling
        made = old.made if note.made is None else note.made
        brix = old.brix if note.brix is None else note.brix
        press = note.press_kpa or old.press_kpa
        check_figures(tried, made, brix, cook)
        parts = old.ingredients
        if note.ingredients:
            known = {p.ingredient: p for p in parts if p.written}
            known.update(self._parts(tried, note, catalogue))
            parts = fill_recipe(product, made, known, catalogue.coagulants)
        if any(lot == old.lot for lot, _ in note.mixed):
            raise BadInput(tried, "it cannot go into itself", "Name the older lot that went in")
        mixed = self._mixed(tried, note, entry.ledger) or old.mixed
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
        self, tried: str, note: BatchNote, day: date, cook: Cook | None, start: datetime | None
    ) -> Cooling | None:
        if note.cooled is None:
            return None
        first, second = (self._clock_time(day, t) for t in note.cooled)
        assert first is not None  # it is given
        cooling = Cooling(first, second)
        check_cooling(tried, cooling, (cook.ended if cook else None) or start)
        return cooling

    def _clock_time(self, day: date, clock: time | None) -> datetime | None:
        if clock is None:
            return None
        return clock_on(day, clock, self.settings.day_starts, self.settings.zone)

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
