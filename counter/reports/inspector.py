"""The inspector's folder: what a shop must be able to show of some days, in one document.

Sections follow what is asked for: FDA Food Code 3-501.14 (cooling), 3-501.16 (holding), 3-501.17
(date marking), 3-501.19 (time as control). It shows what was written down, and where nothing was;
in front stands what follows from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from counter.present import Presenter, several
from counter.reports.blocks import (
    Block,
    Column,
    Document,
    Heading,
    Table,
    Text,
    figures,
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
from labels.say import say

CAUTION = (
    "These are the shop's own records, as written down and sealed day by day. They are no permit:"
    " the local food code and the inspector decide."
)
NOTHING, NO_BATCH = "NOT NOTED", "No batch was logged."
LIMITS = "From 57 °C / 135 °F to 21 °C / 70 °F within 2 hours, to 5 °C / 41 °F within 6."
MEANS = (
    "Worked out from the records of these days and from nothing else: it says what was written"
    " down, and in capitals what was not. What was done and not written down does not stand here."
)


def allergens(inside: Sequence[Inside]) -> Table:
    """What the labels of these lots name (21 USC 343(w); EU 1169/2011 Annex II), what may have got
    in, and what somebody said is not in it."""
    return table(
        "",
        inside,
        words("lot", 1.3, lambda i: i.lot),
        words("product", 2, lambda i: i.name),
        words("contains", 4, lambda i: ", ".join(i.contains) or ("none" if i.known else NOTHING)),
        words("may contain", 3, lambda i: ", ".join(i.may_contain)),
        words("said not to be in it", 4.6, lambda i: told(map(": ".join, i.none.items()))),
        empty=NO_BATCH,
    )


def told(parts: Iterable[str]) -> str:
    """What there is to say, each behind the other."""
    return "; ".join(part for part in parts if part)


class Inspector:
    """Sets the sections, in the shop's own words, units and clock."""

    def __init__(self, gathered: Gathered, telling: Presenter) -> None:
        self.gathered, self.telling = gathered, telling
        self.units = {b.lot: b.unit for b in gathered.batches}

    def document(
        self,
        recalls: Sequence[Recall],
        more_units: Mapping[str, str],
        carried: Mapping[date, Mapping[str, str]],
        kinds: Mapping[str, PlaceKind],
        inside: Sequence[Inside] = (),
    ) -> Document:
        """The whole folder. ``more_units`` says the units of lots made before these days;
        ``carried`` and ``kinds`` are as for :class:`Verdict`."""
        self.units = {**more_units, **self.units}  # type: ignore[dict-item] # units are units
        first, last = self.gathered.first, self.gathered.last
        span = str(first) if first == last else say("{figures} to {most}", figures=first, most=last)
        sections: tuple[tuple[str, list[Block]], ...] = (
            ("Verdict", self._verdicts(carried, kinds)),
            ("Production log", [self._production()]),
            ("Allergens", [allergens(inside)]),
            ("Cook and cooling", [Text(LIMITS), self._cooking()]),
            ("Temperatures of fridge, display and hot well", [self._places()]),
            ("Thermometers", [self._thermometers()]),
            ("Holding at the counter", [self._holding()]),
            ("Date marks", [self._dates()]),
            ("Waste", [self._waste()]),
            ("Lots stopped and released", [self._holds()]),
            ("Corrections of sealed days", [self._corrections()]),
            ("Asked and answered", [self._answers()]),
            ("Traces", self._traces(recalls)),
        )
        blocks = [block for title, found in sections for block in (Heading(title), *found)]
        books = several(len(self.gathered.days), "day book")
        batches = several(len(self.gathered.batches), "batch", "batches")
        intro = (f"Records of {span}, {books}, {batches}.", CAUTION)
        return Document(
            "Records for inspection",
            self.telling.address,
            span,
            tuple(blocks),
            f"{self.telling.address} · {span}",
            intro=intro,
            contents=True,
        )

    # -- sections

    def _verdicts(
        self, carried: Mapping[date, Mapping[str, str]], kinds: Mapping[str, PlaceKind]
    ) -> list[Block]:
        """What follows from the records, topic by topic, each line with the rule that asks."""
        verdict = Verdict(self.gathered, carried, kinds, self.telling)
        topics = verdict.topics()
        text = (
            f"Not written down: {len(topics[0][1])}. Measured out of limits: {verdict.out},"
            f" of these without a word of what was done: {verdict.silent}."
        )
        columns = (
            words("by the records", 11, lambda line: line.text),
            words("source (FDA Food Code)", 3.6, lambda line: line.source),
        )
        blocks: list[Block] = [Text(text, bold=True), Text(MEANS)]
        for title, lines in topics:
            blocks += [Heading(title, 2), table("", lines, *columns, empty="None.")]
        return blocks

    def _records(self, kind: type[Any], *columns: Column, empty: str, day: str = "day") -> Table:
        """The records of a table, after the day of the book in which each stands."""
        rows = [(str(when), *(c.of(row) for c in columns)) for when, row in self.gathered.of(kind)]
        shown = tuple(tuple(map(str, row)) for row in rows)
        return Table("", (Column(day, 1.3), *columns), shown, empty=empty)

    def _production(self) -> Table:
        return table(
            "",
            self.gathered.batches,
            words("lot", 1.3, lambda b: b.lot),
            words("product", 1.9, lambda b: self.telling.product(b.product)),
            figures("made", 1, lambda b: show_amount(b.made, b.unit)),
            words("at", 2, lambda b: self.moment(b.at)),
            words("what went in, supplier codes", 5.6, self._parts),
            words("°Brix", 0.7, lambda b: "" if b.brix is None else f"{b.brix.normalize():f}"),
            words("by, notes", 2.9, lambda b: told((b.by, b.notes, corrected(b)))),
            empty=NO_BATCH,
        )

    def _parts(self, batch: Batch) -> str:
        parts = []
        for part in batch.ingredients:
            amount = part.written or f"~{show_amount(int(part.grams), 'g')}"
            code = batch.codes.get(part.ingredient)
            parts.append(f"{part.ingredient} {amount}" + (f" [{code}]" if code else ""))
        for mixed in batch.mixed:
            parts.append(
                f"lot {mixed.lot}: {show_amount(mixed.amount, self.unit(mixed.lot))}".rstrip()
            )
        return told(parts)

    def _cooking(self) -> Table:
        return table(
            "",
            self.gathered.batches,
            words("lot", 1.3, lambda b: b.lot),
            words("product", 2, lambda b: self.telling.product(b.product)),
            words("cook", 2, self._cook),
            words("ended", 1.8, lambda b: self.moment(b.cook and b.cook.ended)),
            words("at 21 °C / 70 °F", 1.7, lambda b: self.moment(b.cooling and b.cooling.to_21)),
            words("at 5 °C / 41 °F", 1.7, lambda b: self.moment(b.cooling and b.cooling.to_5)),
            words("verdict", 4, self._verdict),
            empty=NO_BATCH,
        )

    def _cook(self, batch: Batch) -> str:
        cook = batch.cook
        if cook is None:
            return "not needed" if batch.mixed else NOTHING
        if cook.celsius is None:
            return f"boiled {cook.minutes} min"
        return f"{self.telling.temperature(cook.celsius)} for {cook.minutes} min"

    def _verdict(self, batch: Batch) -> str:
        if batch.raw:
            return f"NOT FOR SALE: {batch.raw}"
        if batch.cooling is None:
            return "COOLING NOT NOTED" if batch.chilled else "not cooled"
        if batch.slow:
            return f"TOO SLOW: {batch.slow}"
        return (
            "in time"
            if batch.seen
            else "end of the cook not noted: the first 2 hours cannot be seen"
        )

    def _places(self) -> Table:
        return self._records(
            Temperature,
            words("place", 2, lambda t: t.place),
            words("measured at", 1.8, lambda t: self.moment(t.at)),
            figures("temperature", 1.4, lambda t: self.telling.temperature(t.celsius)),
            words("allowed", 2.6, lambda t: t.limit),
            words("verdict", 1.6, lambda t: verdict(t.ok)),
            words("by, note", 3.4, lambda t: told((t.by, t.note))),
            empty="No temperature was written down in these days.",
        )

    def _thermometers(self) -> Table:
        return self._records(
            ThermometerCheck,
            words("thermometer", 2, lambda t: t.thermometer),
            words("in water", 1.2, lambda t: t.water),
            words("at", 1.8, lambda t: self.moment(t.at)),
            figures("showed", 1.4, lambda t: self.telling.temperature(t.celsius)),
            words("verdict", 1.8, lambda t: "right" if t.ok else "NOT RIGHT"),
            words("by, note", 3.4, lambda t: told((t.by, t.note))),
            empty="No thermometer was checked in these days.",
        )

    def _answers(self) -> Table:
        return self._records(
            Answer,
            words("asked", 6, lambda a: a.of),
            words("answered", 4, lambda a: a.words),
            words("at", 1.8, lambda a: self.moment(a.at)),
            words("by", 1.6, lambda a: a.by),
            empty="Nothing was asked.",
        )

    def _holding(self) -> Table:
        modes = {t.tub: t.mode for _, t in self.gathered.of(TubOpened)}
        kinds: tuple[type[Any], ...] = (TubOpened, TubCheck, TubEnded)
        rows = [row for kind in kinds for row in self.gathered.of(kind)]
        return table(
            "",
            [
                (day, tub, *self._tub(tub, modes.get(tub.tub, "cold")))
                for day, tub in sorted(rows, key=lambda row: row[1].at.timestamp())
            ],
            words("day", 1.3, lambda row: row[0]),
            words("tub", 1.6, lambda row: row[1].tub),
            words("what", 4.2, lambda row: row[2]),
            words("at", 1.8, lambda row: self.moment(row[1].at)),
            figures("temperature", 1.5, lambda row: self._celsius(row[1])),
            words("verdict", 1.6, lambda row: row[3]),
            words("by", 1.6, lambda row: row[1].by),
            empty="No tub was opened.",
        )

    def _tub(self, tub: TubOpened | TubCheck | TubEnded, mode: Mode) -> tuple[str, str]:
        """What was done with a tub, and whether what was measured is within the limits."""
        if isinstance(tub, TubOpened):
            level = show_amount(tub.level, "ml")
            what = f"opened {words_of(tub.mode)} with {level} of lot {tub.lot}"
            return what, "" if tub.celsius is None else verdict(True)  # else it was not opened
        if isinstance(tub, TubCheck):
            return f"checked, held {words_of(mode)}", verdict(keeps(mode, tub.celsius))
        kept = "put back cold" if tub.kept else "thrown away"
        return f"taken away, {show_amount(tub.left, 'ml')} left, {kept}", ""

    def _celsius(self, tub: TubOpened | TubCheck | TubEnded) -> str:
        measured = None if isinstance(tub, TubEnded) else tub.celsius
        return "" if measured is None else self.telling.temperature(measured)

    def _dates(self) -> Table:
        return table(
            "",
            self.gathered.batches,
            words("lot", 1.3, lambda b: b.lot),
            words("product", 2, lambda b: self.telling.product(b.product)),
            words("made on", 1.4, lambda b: lot_day(b.lot) or ""),
            words("mark", 1.2, lambda b: b.mark.kind),
            words("date", 1.4, lambda b: b.mark.day),
            words("never sold after", 1.6, lambda b: b.mark.limit or ""),
            words("why", 5, lambda b: b.mark.reason),
            empty=NO_BATCH,
        )

    def _waste(self) -> Table:
        return self._records(
            Waste,
            words("lot", 1.3, lambda w: w.lot),
            figures("amount", 1.2, lambda w: show_amount(w.amount, self.unit(w.lot)).strip()),
            words("reason", 3.2, lambda w: w.words or WORDS[w.reason]),
            words("tub", 1.5, lambda w: w.tub),
            words("at", 1.8, lambda w: self.moment(w.at)),
            words("by", 1.6, lambda w: w.by),
            empty="Nothing was thrown away.",
        )

    def _holds(self) -> Table:
        return self._records(
            Hold,
            words("lot", 1.3, lambda h: h.lot),
            words("what", 1.3, lambda h: "STOPPED" if h.stopped else "released"),
            words("at", 1.8, lambda h: self.moment(h.at)),
            words("why", 5, lambda h: h.why),
            words("by", 1.8, lambda h: h.by),
            empty="No lot was stopped or released.",
        )

    def _corrections(self) -> Table:
        def how(correction: Correction) -> str:
            return ", ".join(
                goods_words(correction, self.telling.temperature, self.unit(correction.lot))
            )

        return self._records(
            Correction,
            words("number", 1.8, lambda c: c.number),
            words("corrects", 1.5, lambda c: c.corrects),
            words("what", 2.4, lambda c: " ".join(x for x in (c.what, c.sale or c.lot) if x)),
            words("how", 1.6, how),
            words("why", 4, lambda c: c.text),
            words("by", 1.4, lambda c: c.by),
            empty="No sealed day was corrected.",
            day="written",
        )

    def _traces(self, recalls: Sequence[Recall]) -> list[Block]:
        blocks: list[Block] = []
        for recall in recalls:
            blocks += [
                Heading(f"Lot {', '.join(recall.asked)}", 2),
                lots_grid(list(recall.lots), self.telling),
                Text(accounted_for(recall, self.telling.product)),
                *sales_blocks(recall, within=True),
            ]
        if not blocks:
            blocks.append(Text("No lot was stopped in these days, and none was asked for."))
        return blocks

    # -- words

    def unit(self, lot: str) -> str:
        return self.units.get(lot, "")

    def moment(self, at: datetime | None) -> str:
        return "" if at is None else self.telling.moment(at)


def verdict(ok: bool) -> str:
    return "within" if ok else "OUT OF LIMITS"


def corrected(batch: Batch) -> str:
    """That a batch was corrected, and the last reason."""
    if not batch.revision:
        return ""
    return f"corrected {batch.revision}x" + (f": {batch.why}" if batch.why else "")
