"""What is found out of a batch later: corrections, cooling, stops and releases.

A correction is a new record of the same lot. What it makes unsafe is stopped with it: the lot, and
the lots made from it that are still there (common practice, no source).
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import msgspec

from counter.errors import BadInput, DaySealed, Refused
from counter.shop.desk import Desk, Entry
from counter.shop.holds import Holds
from counter.shop.production import Preview, Production, refuse_unmixed, sooner
from counter.shop.products import Products
from counter.trade.batch_note import BatchNote
from counter.trade.catalogue import Catalogue, Part, Product
from counter.trade.contents import allergens_within, listed_of, named, taken_back, told_of
from counter.trade.cooling import Cooling, Step, check_cooling, check_step, must_have_come
from counter.trade.corrections import Correction
from counter.trade.dates import DateMark
from counter.trade.doubts import of_batch, of_void
from counter.trade.ledger import Count, correction_number
from counter.trade.production import (
    Batch,
    Cook,
    Hold,
    Mixed,
    check_figures,
    check_void,
    cooling_questions,
    lot_day,
    refill,
    unusual,
    why_not_cooked,
)
from labels.say import Said, join, say, say_n

STILL_COOKS = timedelta(hours=6)  # after it was logged; later a cook is of the day before


class Amendments:
    """Corrections of the production log."""

    def __init__(
        self, desk: Desk, products: Products, production: Production, holds: Holds
    ) -> None:
        self.desk = desk
        self.products = products
        self.production = production
        self.holds = holds

    def amend_batch(
        self, lot: str, note: BatchNote, why: str, at: datetime | None = None, by: str = ""
    ) -> Batch:
        """Correct or complete a batch (cooling times, say); the old record stays.

        What is unsafe by it is stopped at once: the lot, and the lots made from it. Refused for a
        day before the lot was made, and before what is already noted of it.
        """
        with self.desk.writing(at, by) as entry:
            old = self.desk.batch(lot)
            batch, stops = self._put_right(old, note, entry, why)
            entry.ask(*cooling_questions(say("correct lot {lot}", lot=lot), old, batch, entry.now))
            entry.add(batch)
            self.holds.stop_lots(entry, stops)
        return batch

    def void_batch(self, lot: str, why: str, at: datetime | None = None, by: str = "") -> Batch:
        """Say that a batch never was: nothing of it is on hand, none of it is waste, and what was
        sold or used of it is left over, to be explained. Its record and its number stay.

        In the book of a later day the stock follows by corrections, also of the lots that were
        said to have gone into it. What somebody counted of it today is asked about, and is none.
        """
        tried = say("void lot {lot}", lot=lot)
        with self.desk.writing(at, by) as entry:
            old, day = self.desk.batch(lot, tried), lot_day(lot) or entry.day
            self.refuse_out_of_turn(tried, lot, entry.day)
            check_void(tried, old, why, (t.tub for t in entry.ledger.open_tubs() if t.lot == lot))
            why = " ".join(why.split())[:200]
            batch = msgspec.structs.replace(
                old,
                made=0,
                mixed=(),
                void=why,
                why=why,
                by=entry.by,
                revision=old.revision + 1,
                warnings=tuple(self._left_of_void(lot)),
            )
            entry.add(batch)
            if asked := of_void(entry.ledger.rows.get(lot), tried):
                entry.ask(*asked)
                entry.add(Count(lot=lot, amount=0, at=entry.at, by=entry.by))
            wrong = [(lot, -old.made), *((m.lot, m.amount) for m in old.mixed)]
            for n, (which, amount) in enumerate(wrong if day != entry.day else ()):
                entry.add(
                    Correction(
                        number=correction_number(entry.ledger, n),
                        corrects=day,
                        what="lot" if which == lot else "other",
                        text=say("lot {lot} never was: {why}", lot=lot, why=why),
                        at=entry.at,
                        lot=which,
                        amount=amount,
                        by=entry.by,
                        on_shelf=which in entry.ledger.rows,
                        unit=self.desk.batch(which).unit,
                    )
                )
        return batch

    def _left_of_void(self, lot: str) -> list[Said]:
        """What a batch that never was leaves to be done."""
        labels, warnings = sum(run.labels for run in self.products.printed_of(lot)), list[Said]()
        if labels:
            warnings.append(
                say_n(
                    "{n} label of it is printed: destroy it",
                    "{n} labels of it are printed: destroy them",
                    n=labels,
                )
            )
        for one in self.holds.made_from(lot):
            warnings.append(say("lot {lot} says that it went in", lot=one.lot))
        return warnings

    def preview_amended(self, lot: str, note: BatchNote, by: str = "") -> Preview:
        """What :meth:`amend_batch` would write, refused where that would be. Nothing is written."""
        entry = self.production.as_if(None, by)
        batch, stops = self._put_right(self.desk.batch(lot), note, entry, "")
        own = join("; ", (hold.why for hold in stops if hold.lot == lot))
        return Preview(batch, own, tuple(q.text for q in entry.questions))

    def note_cooling(self, lot: str, step: Step, clock: time | None, by: str = "") -> Batch:
        """The next step of a batch's cooling, 21 °C / 70 °F or 5 °C / 41 °F: reached now, or at
        ``clock``, also when the trading day has turned meanwhile.

        Refused out of turn, a second time, and for now when the batch is of a day before and more
        than 18 hours old. Asked for a word where the clock time lies well behind.
        """
        tried = say("note the cooling of lot {lot}", lot=lot)
        with self.desk.writing(None, by) as entry:
            old = self.desk.batch(lot)
            check_step(tried, old.cooling, step)
            ended = old.cook.ended if old.cook else None
            if clock is None:
                if not self.production.cools_still(old):
                    why_not = say("it was made on {date}", date=lot_day(lot))
                    raise Refused(
                        say("note the cooling of lot {lot} now", lot=lot),
                        why_not,
                        say("Write the times under Correct"),
                    )
                reached = entry.now.replace(second=0, microsecond=0)
            else:
                after = old.cooling.to_21 if old.cooling else old.passed_57 or ended
                reached = self.production.reached(lot_day(lot) or entry.day, clock, after, old.at)
                must_have_come(tried, reached, entry.now)
            cooling = Cooling(old.cooling.to_21, reached) if old.cooling else Cooling(reached)
            check_cooling(tried, cooling, ended, old.passed_57)
            batch, stops = self._put_right(old, BatchNote(), entry, "", cooling)
            entry.ask(*cooling_questions(tried, old, batch, entry.now))
            entry.add(batch)
            self.holds.stop_lots(entry, stops)
        return batch

    def refuse_out_of_turn(self, tried: Said, lot: str, day: date) -> None:
        """Refuse to note of a lot what would come before its making, or before what is noted of it
        in a later day: the books are read in the order of days, and the later would hold."""
        made, do = lot_day(lot), say("Note it for that day or a later one")
        if made is not None and day < made:
            raise Refused(tried, say("lot {lot} was made on {date}", lot=lot, date=made), do)
        books = self.desk.books.days(day + timedelta(days=1))
        if books:
            self.desk.fold(books[-1])
        for later, _, ledger in self.desk.folded:
            noted = lot in ledger.batches or any(hold.lot == lot for hold in ledger.holds)
            if later > day and noted:
                why = say(
                    "something of lot {lot} is noted already in the book of {date}",
                    lot=lot,
                    date=later,
                )
                raise Refused(tried, why, do)

    # -- within

    def _put_right(
        self, old: Batch, note: BatchNote, entry: Entry, why: str, cooling: Cooling | None = None
    ) -> tuple[Batch, list[Hold]]:
        """A batch as corrected, with its warnings, and what is to be stopped because of it."""
        tried = say("correct lot {lot}", lot=old.lot)
        if old.void or note.lot not in ("", old.lot):
            why_not = say("the number stands on its packs")
            if old.void:
                why_not = say("it never was: {why}", why=old.void)
            raise Refused(tried, why_not, say("Log the right batch anew, under its own number"))
        self.refuse_out_of_turn(tried, old.lot, entry.day)
        catalogue = self.products.catalogue_behind(old)
        product = catalogue.product(old.product, tried)
        batch = self._amended(tried, old, note, entry, product, catalogue, cooling)
        batch = msgspec.structs.replace(batch, why=why[:200], by=entry.by or old.by)
        self._ask_of(old, batch, product, entry, tried)
        catalogue = self.products.catalogue_behind(old, batch)
        if listed_of(old) != listed_of(batch):
            self.production.refuse_unsaid(tried, product, batch, catalogue)
        stops = self._stops(old, batch, entry)
        warnings = unusual(
            product, batch.made, batch.ingredients, batch.brix, batch.cook, batch.press_kpa
        )
        warnings += told_of(batch, catalogue, self.desk.batch)
        warnings += taken_back(old, batch, catalogue, self.desk.batch)
        if listed_of(old) != listed_of(batch) and self.products.printed_of(old.lot):
            warnings.append(
                say("labels of it are printed that list something else: print new ones")
            )
        for lot in dict.fromkeys(hold.lot for hold in stops):
            if lot != batch.lot:
                warnings.append(say("lot {lot} was made from it and is stopped too", lot=lot))
        return msgspec.structs.replace(batch, warnings=tuple(warnings)), stops

    def _ask_of(
        self, old: Batch, batch: Batch, product: Product, entry: Entry, tried: Said
    ) -> None:
        """Ask what the correction makes doubtful; what was so before was asked before."""
        recent, tubs = self.production.others_of(old), entry.ledger.tubs.values()
        own = [tub for tub in tubs if tub.lot == old.lot]
        known = of_batch(old, product, recent, tried, own)
        asked = of_batch(batch, product, recent, tried, own)
        entry.ask(*(q for q in asked if q not in known))

    def _amended(
        self,
        tried: Said,
        old: Batch,
        note: BatchNote,
        entry: Entry,
        product: Product,
        catalogue: Catalogue,
        cooling: Cooling | None,
    ) -> Batch:
        """``old`` with what was noted; ``cooling`` is one whose moments are known already."""
        if lot_day(old.lot) != entry.day and (note.made is not None or note.mixed):
            raise DaySealed(
                say("change how much lot {lot} made", lot=old.lot),
                say("it was made on {date}", date=lot_day(old.lot)),
                say("Count what is left instead"),
                today=self.desk.today(),
            )
        day = lot_day(old.lot) or entry.day
        start = old.cook.ended if old.cook else None
        until = min(entry.now, old.at + STILL_COOKS, key=datetime.timestamp)
        cook = (
            self.production.cook_noted(tried, note, day, start, old.at, until, old.cook) or old.cook
        )
        passed = self.production.passed_57_noted(tried, note, day, cook, old.at) or old.passed_57
        cooling = (
            cooling
            or self.production.cooling_noted(tried, note, day, cook, start, old.at, passed)
            or old.cooling
        )
        if cooling:
            check_cooling(tried, cooling, cook.ended if cook else None, passed)
        made = old.made if note.made is None else note.made
        brix = old.brix if note.brix is None else note.brix
        check_figures(tried, made, brix, cook)
        mixed = self._mixed_after_all(tried, old, note, entry, product)
        mark, frozen_mark = self._mark_after_all(old, day, cook, mixed, product)
        return msgspec.structs.replace(
            old,
            made=made,
            brix=brix,
            cook=cook,
            cooling=cooling,
            mixed=mixed,
            press_kpa=note.press_kpa or old.press_kpa,
            press_minutes=note.press_minutes or old.press_minutes,
            mark=mark,
            frozen_mark=frozen_mark,
            ingredients=self._parts_after_all(tried, old, note, catalogue, product),
            codes={**old.codes, **note.codes},
            raw=why_not_cooked(cook, product.cook),
            notes=old.notes if note.notes is None else note.notes[:1000],
            revision=old.revision + 1,
            passed_57=passed,
        )

    def _mixed_after_all(
        self, tried: Said, old: Batch, note: BatchNote, entry: Entry, product: Product
    ) -> tuple[Mixed, ...]:
        """The older stock in it; a lot of which 0 is noted was never in it."""
        known = {m.lot for m in old.mixed}
        none = {lot for lot, amount in note.mixed if not amount and lot in known}
        some = tuple((lot, amount) for lot, amount in note.mixed if lot not in none)
        if any(lot == old.lot for lot, _ in some):
            raise BadInput(
                tried, say("it cannot go into itself"), say("Name the older lot that went in")
            )
        mixed = self.production.mixed_noted(tried, msgspec.structs.replace(note, mixed=some), entry)
        mixed = mixed or tuple(m for m in old.mixed if m.lot not in none)
        refuse_unmixed(tried, product, mixed)
        return mixed

    def _mark_after_all(
        self, old: Batch, day: date, cook: Cook | None, mixed: tuple[Mixed, ...], product: Product
    ) -> tuple[DateMark, DateMark | None]:
        """Its date, counted again where the end of the cook or the older stock is another."""
        same = mixed == old.mixed and self.production.cook_day(
            day, old.cook
        ) == self.production.cook_day(day, cook)
        if same and (old.frozen_mark is None) == (product.held != "frozen"):
            return old.mark, old.frozen_mark
        return self.production.mark_of(day, cook, mixed, product)

    def _parts_after_all(
        self, tried: Said, old: Batch, note: BatchNote, catalogue: Catalogue, product: Product
    ) -> tuple[Part, ...]:
        """What went in after all; what is not in the recipe and is now 0 was never in it."""
        if not note.ingredients:
            return old.ingredients
        planned = {part.ingredient for part in product.recipe}
        extra = {p.ingredient for p in old.ingredients if p.written} - planned
        never = {k for k, measure in note.ingredients.items() if k in extra and not measure.amount}
        kept = {k: m for k, m in note.ingredients.items() if k not in never}
        noted = self.production.parts_noted(
            tried,
            msgspec.structs.replace(note, ingredients=kept),
            catalogue,
            msgspec.structs.replace(product, recipe=old.ingredients),
        )
        there = tuple(p for p in old.ingredients if p.ingredient not in never)
        return refill(there, noted, catalogue.coagulants)

    def _stops(self, old: Batch, batch: Batch, entry: Entry) -> list[Hold]:
        """What a correction stops, and why: the batch itself, and the lots made from it."""
        lot, holds = batch.lot, list[Hold]()

        def because(which: str, why: Said) -> None:
            holds.append(Hold(lot=which, stopped=True, why=why, at=entry.at, by=entry.by, own=True))

        slow, was_slow = batch.slow, old.slow
        if batch.why_stopped:
            because(lot, batch.why_stopped)
        whys = [slow] * bool(slow and not was_slow) + [batch.raw] * bool(batch.raw and not old.raw)
        earlier, other = sooner(batch.mark, old.mark), listed_of(old) != listed_of(batch)
        if earlier and self.products.printed_of(lot):
            because(lot, say("its printed labels bear a later date than {date}", date=earlier))
        if other and (new := self._unnamed(old, batch, batch)):
            because(lot, say("its printed labels do not name {allergens}", allergens=new))
        for one in self.holds.made_from(lot) if whys or earlier or other else ():
            for why in whys:
                because(one.lot, say("lot {lot} went into it: {why}", lot=lot, why=why))
            if earlier and (until := sooner(batch.mark, one.mark)):
                because(
                    one.lot,
                    say("lot {lot} went into it and keeps only to {date}", lot=lot, date=until),
                )
            if other and (new := self._unnamed(old, batch, one)):
                because(one.lot, say("its printed labels do not name {allergens}", allergens=new))
        return holds

    def _unnamed(self, old: Batch, batch: Batch, one: Batch) -> str:
        """The allergens that a correction brings into ``one``, and that its printed labels do not
        name; "" where there are none."""
        before = old if one is batch else one

        def batch_of(lot: str) -> Batch:
            return batch if lot == batch.lot else self.desk.batch(lot)

        catalogue = self.products.catalogue_behind(before, batch)
        new = allergens_within(one, catalogue, batch_of)
        new -= allergens_within(before, catalogue, self.desk.batch)
        return named(sorted(new)) if new and self.products.printed_of(one.lot) else ""
