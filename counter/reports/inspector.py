"""The inspector's folder: what a shop must be able to show of some days, in one document.

Sections follow what is asked for: FDA Food Code 3-501.14 (cooling), 3-501.16 (holding), 3-501.17
(date marking), 3-501.19 (time as control). It shows what was written down, and where nothing was;
in front stands what follows from it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from counter.present import Presenter, exact
from counter.reports.blocks import (
    Block,
    Column,
    Document,
    Heading,
    Table,
    Text,
    figures,
    in_cell,
    table,
    words,
)
from counter.reports.gathered import Gathered
from counter.reports.recall import lots_grid, sales_blocks
from counter.reports.verdict import Verdict
from counter.trade.asking import Answer
from counter.trade.corrections import Correction, goods_words
from counter.trade.inside import Inside
from counter.trade.production import Batch, Hold, lot_day
from counter.trade.recalling import Recall, accounted_for
from counter.trade.temperatures import PlaceKind, Temperature, ThermometerCheck
from counter.trade.tubs import Mode, TubCheck, TubEnded, TubOpened, keeps, words_of
from counter.trade.units import show_amount
from counter.trade.waste import WORDS, Waste
from labels.say import NOTHING, Said, figure, join, say, say_n, term, typed

CAUTION = say(
    "These are the shop's own records, as written down and sealed day by day. They are no permit:"
    " the local food code and the inspector decide."
)
UNNOTED, NO_BATCH = say("NOT NOTED"), say("No batch was logged.")
DAY = say("day")
LIMITS = say("From 57 °C / 135 °F to 21 °C / 70 °F within 2 hours, to 5 °C / 41 °F within 6.")
MEANS = say(
    "Worked out from the records of these days and from nothing else: it says what was written"
    " down, and in capitals what was not. What was done and not written down does not stand here."
)


def allergens(inside: Sequence[Inside]) -> Table:
    """What the labels of these lots name (21 USC 343(w); EU 1169/2011 Annex II), what may have got
    in, and what somebody said is not in it."""

    def contained(one: Inside) -> Said:
        return sources(one.contains) or (say("none") if one.known else UNNOTED)

    def said(one: Inside) -> Said:
        return told(join(": ", (source(key), why)) for key, why in one.none.items())

    return table(
        NOTHING,
        inside,
        words("lot", 1.3, lambda i: i.lot),
        words("product", 2, lambda i: i.name),
        words(
            "contains", 4, lambda i: sources(i.contains) or (say("none") if i.known else UNNOTED)
        ),
        words("may contain", 3, lambda i: sources(i.may_contain)),
        words("said not to be in it", 4.6, said),
        empty=NO_BATCH,
    )


def source(key: str) -> Said:
    """A source of allergens; a kind of it behind a colon: ``tree nuts:almonds``."""
    return join(":", map(term, key.split(":")))


def sources(keys: Iterable[str]) -> Said:
    return join(", ", map(source, keys))


def told(parts: Iterable[str]) -> Said:
    """What there is to say, each behind the other."""
    return join("; ", filter(None, parts))


class Inspector:
    """Sets the sections, in the shop's own words, units and clock."""

    def __init__(self, gathered: Gathered, telling: Presenter) -> None:
        self.gathered, self.telling = gathered, telling
        self.units = {b.lot: b.unit for b in gathered.batches}

    def document(
        self,
        recalls: Sequence[Recall],
        more_units: Mapping[str, str],
        carried: Mapping[dt.date, Mapping[str, str]],
        kinds: Mapping[str, PlaceKind],
        inside: Sequence[Inside] = (),
    ) -> Document:
        """The whole folder. ``more_units`` says the units of lots made before these days;
        ``carried`` and ``kinds`` are as for :class:`Verdict`."""
        self.units = {**more_units, **self.units}  # type: ignore[dict-item] # units are units
        first, last = self.gathered.first, self.gathered.last
        span, ended = typed(self.telling.date(first)), self.telling.date(last)
        if first != last:
            span = say("{first} to {last}", first=span, last=ended)
        sections: tuple[tuple[Said, list[Block]], ...] = (
            (say("Verdict"), self._verdicts(carried, kinds)),
            (say("Production log"), [self._production()]),
            (say("Allergens"), [allergens(inside)]),
            (say("Cook and cooling"), [Text(LIMITS), self._cooking()]),
            (say("Temperatures of fridge, display and hot well"), [self._places()]),
            (say("Thermometers"), [self._thermometers()]),
            (say("Holding at the counter"), [self._holding()]),
            (say("Date marks"), [self._dates()]),
            (say("Waste"), [self._waste()]),
            (say("Lots stopped and released"), [self._holds()]),
            (say("Corrections of sealed days"), [self._corrections()]),
            (say("Asked and answered"), [self._answers()]),
            (say("Traces"), self._traces(recalls)),
        )
        blocks = [block for title, found in sections for block in (Heading(title), *found)]
        books = say_n("{n} day book", "{n} day books", n=len(self.gathered.days))
        batches = say_n("{n} batch", "{n} batches", n=len(self.gathered.batches))
        what = say(
            "Records of {span}, {books}, {batches}.", span=span, books=books, batches=batches
        )
        return Document(
            say("Records for inspection"),
            self.telling.address,
            span,
            tuple(blocks),
            join(" · ", (self.telling.address, span)),
            intro=(what, CAUTION),
            contents=True,
        )

    # -- sections

    def _verdicts(
        self, carried: Mapping[dt.date, Mapping[str, str]], kinds: Mapping[str, PlaceKind]
    ) -> list[Block]:
        """What follows from the records, topic by topic, each line with the rule that asks."""
        verdict = Verdict(self.gathered, carried, kinds, self.telling)
        topics = verdict.topics()
        text = say(
            "Not written down: {missing}. Measured out of limits: {out},"
            " of these without a word of what was done: {silent}.",
            missing=len(topics[0][1]),
            out=verdict.out,
            silent=verdict.silent,
        )
        columns = (
            words("by the records", 11, lambda line: line.text),
            words("source (FDA Food Code)", 3.6, lambda line: line.source),
        )
        blocks: list[Block] = [Text(text, bold=True), Text(MEANS)]
        for title, lines in topics:
            blocks += [Heading(title, 2), table(NOTHING, lines, *columns, empty=say("None."))]
        return blocks

    def _records(self, kind: type[Any], *columns: Column, empty: Said, day: Said = DAY) -> Table:
        """The records of a table, after the day of the book in which each stands."""
        rows = (
            (self.telling.date(when), *(in_cell(c.of(row)) for c in columns))
            for when, row in self.gathered.of(kind)
        )
        return Table(NOTHING, (Column(day, 1.5), *columns), tuple(rows), empty=empty)

    def _production(self) -> Table:
        return table(
            NOTHING,
            self.gathered.batches,
            words("lot", 1.3, lambda b: b.lot),
            words("product", 1.9, lambda b: self.telling.product(b.product)),
            figures("made", 1, lambda b: show_amount(b.made, b.unit)),
            words("at", 2.4, lambda b: self.moment(b.at)),
            words("what went in, supplier codes", 5.3, self._parts),
            words("°Brix", 0.7, lambda b: "" if b.brix is None else exact(b.brix)),
            words("by, notes", 2.9, lambda b: told((b.by, b.notes, corrected(b)))),
            empty=NO_BATCH,
        )

    def _parts(self, batch: Batch) -> Said:
        parts = list[Said]()
        for part in batch.ingredients:
            amount = figure(part.written) or join("", ("~", show_amount(int(part.grams), "g")))
            code = f"[{batch.codes[part.ingredient]}]" if part.ingredient in batch.codes else ""
            parts.append(join(" ", filter(None, (part.ingredient, amount, code))))
        for mixed in batch.mixed:
            amount = show_amount(mixed.amount, self.unit(mixed.lot))
            parts.append(say("lot {lot}: {amount}", lot=mixed.lot, amount=amount))
        return told(parts)

    def _cooking(self) -> Table:
        return table(
            NOTHING,
            self.gathered.batches,
            words("lot", 1.3, lambda b: b.lot),
            words("product", 2, lambda b: self.telling.product(b.product)),
            words("cook", 1.8, self._cook),
            words("ended", 2.4, lambda b: self.moment(b.cook and b.cook.ended)),
            words("at 21 °C / 70 °F", 2.4, lambda b: self.moment(b.cooling and b.cooling.to_21)),
            words("at 5 °C / 41 °F", 2.4, lambda b: self.moment(b.cooling and b.cooling.to_5)),
            words("verdict", 3.2, self._verdict),
            empty=NO_BATCH,
        )

    def _cook(self, batch: Batch) -> Said:
        cook = batch.cook
        if cook is None:
            return say("not needed") if batch.mixed else UNNOTED
        if cook.celsius is None:
            return say("boiled {n} min", n=cook.minutes)
        celsius = self.telling.temperature(cook.celsius)
        return say("{temperature} for {n} min", temperature=celsius, n=cook.minutes)

    def _verdict(self, batch: Batch) -> Said:
        if batch.raw:
            return say("NOT FOR SALE: {why}", why=batch.raw)
        if batch.cooling is None:
            return say("COOLING NOT NOTED") if batch.chilled else say("not cooled")
        if batch.slow:
            return say("TOO SLOW: {why}", why=batch.slow)
        if batch.seen:
            return say("in time")
        return say("end of the cook not noted: the first 2 hours cannot be seen")

    def _places(self) -> Table:
        return self._records(
            Temperature,
            words("place", 2, lambda t: t.place),
            words("measured at", 2.4, lambda t: self.moment(t.at)),
            figures("temperature", 1.4, lambda t: self.telling.temperature(t.celsius)),
            words("allowed", 2.6, lambda t: t.limit),
            words("verdict", 1.6, lambda t: verdict(t.ok)),
            words("by, note", 3, lambda t: told((t.by, t.note))),
            empty=say("No temperature was written down in these days."),
        )

    def _thermometers(self) -> Table:
        return self._records(
            ThermometerCheck,
            words("thermometer", 2, lambda t: t.thermometer),
            words("in water", 1.2, lambda t: term(t.water)),
            words("at", 2.4, lambda t: self.moment(t.at)),
            figures("showed", 1.4, lambda t: self.telling.temperature(t.celsius)),
            words("verdict", 1.8, lambda t: say("right") if t.ok else say("NOT RIGHT")),
            words("by, note", 3, lambda t: told((t.by, t.note))),
            empty=say("No thermometer was checked in these days."),
        )

    def _answers(self) -> Table:
        return self._records(
            Answer,
            words("asked", 6, lambda a: a.of),
            words("answered", 4, lambda a: a.words),
            words("at", 2.4, lambda a: self.moment(a.at)),
            words("by", 1.6, lambda a: a.by),
            empty=say("Nothing was asked."),
        )

    def _holding(self) -> Table:
        modes = {t.tub: t.mode for _, t in self.gathered.of(TubOpened)}
        kinds: tuple[type[Any], ...] = (TubOpened, TubCheck, TubEnded)
        rows = [row for kind in kinds for row in self.gathered.of(kind)]
        return table(
            NOTHING,
            [
                (day, tub, *self._tub(tub, modes.get(tub.tub, "cold")))
                for day, tub in sorted(rows, key=lambda row: row[1].at.timestamp())
            ],
            words("day", 1.5, lambda row: self.telling.date(row[0])),
            words("tub", 1.6, lambda row: row[1].tub),
            words("what", 4.2, lambda row: row[2]),
            words("at", 2.4, lambda row: self.moment(row[1].at)),
            figures("temperature", 1.5, lambda row: self._celsius(row[1])),
            words("verdict", 1.6, lambda row: row[3]),
            words("by", 1.6, lambda row: row[1].by),
            empty=say("No tub was opened."),
        )

    def _tub(self, tub: TubOpened | TubCheck | TubEnded, mode: Mode) -> tuple[Said, Said]:
        """What was done with a tub, and whether what was measured is within the limits."""
        if isinstance(tub, TubOpened):
            what = say(
                "opened {mode} with {level} of lot {lot}",
                mode=words_of(tub.mode),
                level=show_amount(tub.level, "ml"),
                lot=tub.lot,
            )
            return what, NOTHING if tub.celsius is None else verdict(True)  # else not opened
        if isinstance(tub, TubCheck):
            held = say("checked, held {mode}", mode=words_of(mode))
            return held, verdict(keeps(mode, tub.celsius))
        left = show_amount(tub.left, "ml")
        if tub.kept:
            return say("taken away, {left} left, put back cold", left=left), NOTHING
        return say("taken away, {left} left, thrown away", left=left), NOTHING

    def _celsius(self, tub: TubOpened | TubCheck | TubEnded) -> str:
        measured = None if isinstance(tub, TubEnded) else tub.celsius
        return "" if measured is None else self.telling.temperature(measured)

    def _dates(self) -> Table:
        return table(
            NOTHING,
            self.gathered.batches,
            words("lot", 1.3, lambda b: b.lot),
            words("product", 2, lambda b: self.telling.product(b.product)),
            words("made on", 1.4, lambda b: self.date(lot_day(b.lot))),
            words("mark", 1.8, lambda b: term(b.mark.kind)),
            words("date", 1.4, lambda b: self.date(b.mark.day)),
            words("never sold after", 1.6, lambda b: self.date(b.mark.limit)),
            words("why", 4.4, lambda b: b.mark.reason),
            empty=NO_BATCH,
        )

    def _waste(self) -> Table:
        return self._records(
            Waste,
            words("lot", 1.3, lambda w: w.lot),
            figures("amount", 1.2, lambda w: show_amount(w.amount, self.unit(w.lot))),
            words("reason", 3.2, lambda w: w.words or WORDS[w.reason]),
            words("tub", 1.5, lambda w: w.tub),
            words("at", 2.4, lambda w: self.moment(w.at)),
            words("by", 1.6, lambda w: w.by),
            empty=say("Nothing was thrown away."),
        )

    def _holds(self) -> Table:
        return self._records(
            Hold,
            words("lot", 1.3, lambda h: h.lot),
            words("what", 1.3, lambda h: say("STOPPED") if h.stopped else say("released")),
            words("at", 2.4, lambda h: self.moment(h.at)),
            words("why", 5, lambda h: h.why),
            words("by", 1.8, lambda h: h.by),
            empty=say("No lot was stopped or released."),
        )

    def _corrections(self) -> Table:
        def how(correction: Correction) -> Said:
            unit = self.unit(correction.lot)
            return join(", ", goods_words(correction, self.telling.temperature, unit))

        return self._records(
            Correction,
            words("number", 1.8, lambda c: c.number),
            words("corrects", 1.5, lambda c: self.date(c.corrects)),
            words("what", 2.4, lambda c: join(" ", filter(None, (term(c.what), c.sale or c.lot)))),
            words("how", 1.6, how),
            words("why", 4, lambda c: c.text),
            words("by", 1.4, lambda c: c.by),
            empty=say("No sealed day was corrected."),
            day=say("written"),
        )

    def _traces(self, recalls: Sequence[Recall]) -> list[Block]:
        blocks: list[Block] = []
        for recall in recalls:
            blocks += [
                Heading(say("Lot {lot}", lot=", ".join(recall.asked)), 2),
                lots_grid(list(recall.lots), self.telling),
                Text(accounted_for(recall, self.telling.product)),
                *sales_blocks(recall, self.telling, within=True),
            ]
        if not blocks:
            none = say("No lot was stopped in these days, and none was asked for.")
            blocks.append(Text(none))
        return blocks

    # -- words

    def unit(self, lot: str) -> str:
        return self.units.get(lot, "")

    def moment(self, at: dt.datetime | None) -> str:
        return "" if at is None else self.telling.moment(at)

    def date(self, day: dt.date | None) -> str:
        return "" if day is None else self.telling.date(day)


def verdict(ok: bool) -> Said:
    return say("within") if ok else say("OUT OF LIMITS")


def corrected(batch: Batch) -> Said:
    """That a batch was corrected, and the last reason."""
    if not batch.revision:
        return NOTHING
    times = say("corrected {n}x", n=batch.revision)
    return join(": ", filter(None, (times, batch.why)))
