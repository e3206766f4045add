"""The inspector's folder: what a shop must be able to show of some days, in one document.

Sections follow what is asked for: FDA Food Code 3-501.14 (cooling), 3-501.16 (holding), 3-501.17
(date marking), 3-501.19 (time as control). It shows what was written down, and where nothing was;
in front stands what follows from it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

from counter.reports.blocks import Block, Column, Document, Heading, Table, Text
from counter.reports.gathered import Gathered
from counter.reports.recall import lots_grid, sales_blocks
from counter.reports.verdict import Verdict
from counter.trade.asking import Answer
from counter.trade.catalogue import Catalogue
from counter.trade.corrections import Correction, goods_words
from counter.trade.inside import Inside
from counter.trade.production import Batch, Hold, lot_day
from counter.trade.recalling import Recall, accounted_for
from counter.trade.temperatures import PlaceKind, Temperature, ThermometerCheck
from counter.trade.tubs import TubCheck, TubEnded, TubOpened, holds, words_of
from counter.trade.units import show_amount, show_temperature
from counter.trade.waste import WORDS, Waste

CAUTION = (
    "These are the shop's own records, as written down and sealed day by day. They are no permit:"
    " the local food code and the inspector decide."
)
MEANS = (
    "Worked out from the records of these days and from nothing else: it says what was written"
    " down, and in capitals what was not. What was done and not written down does not stand here."
)


def allergens(inside: Sequence[Inside]) -> list[Block]:
    """What the labels of these lots name (21 USC 343(w); EU 1169/2011 Annex II), what may have got
    in, and what somebody said is not in it."""
    columns = (
        Column("lot", 1.3), Column("product", 2), Column("contains", 4),
        Column("may contain", 3), Column("said not to be in it", 4.6),
    )  # fmt: skip
    rows = tuple(
        (
            one.lot, one.name, ", ".join(one.contains) or ("none" if one.known else "NOT NOTED"),
            ", ".join(one.may_contain), "; ".join(f"{s}: {why}" for s, why in one.none.items()),
        )
        for one in inside
    )  # fmt: skip
    return [Table("", columns, rows, empty="No batch was logged.")]


class Inspector:
    """Sets the sections, in the shop's own words, units and clock."""

    def __init__(
        self, gathered: Gathered, catalogue: Catalogue, zone: ZoneInfo, fahrenheit: bool
    ) -> None:
        self.gathered, self.catalogue = gathered, catalogue
        self.zone, self.fahrenheit = zone, fahrenheit
        self.units = {b.lot: b.unit for b in gathered.batches}

    def document(
        self, shop: str, recalls: Sequence[Recall], more_units: Mapping[str, str],
        carried: Mapping[date, Mapping[str, str]], kinds: Mapping[str, PlaceKind],
        inside: Sequence[Inside] = (),
    ) -> Document:  # fmt: skip
        """The whole folder. ``more_units`` says the units of lots made before these days;
        ``carried`` and ``kinds`` are as for :class:`Verdict`."""
        self.units = {**more_units, **self.units}  # type: ignore[dict-item] # units are units
        first, last = self.gathered.first, self.gathered.last
        span = str(first) if first == last else f"{first} to {last}"
        blocks: list[Block] = []
        for title, section in (
            ("Verdict", partial(self._verdicts, carried, kinds)),
            ("Production log", self._production), ("Allergens", partial(allergens, inside)),
            ("Cook and cooling", self._cooking),
            ("Temperatures of fridge, display and hot well", self._places),
            ("Thermometers", self._thermometers),
            ("Holding at the counter", self._holding), ("Date marks", self._dates),
            ("Waste", self._waste), ("Lots stopped and released", self._holds),
            ("Corrections of sealed days", self._corrections),
            ("Asked and answered", self._answers),
        ):  # fmt: skip
            blocks += [Heading(title), *section()]
        blocks += [Heading("Traces"), *self._traces(recalls)]
        books = len(self.gathered.days)
        days = f"{books} day book" + ("s" if books != 1 else "")
        intro = (f"Records of {span}, {days}, {len(self.gathered.batches)} batches.", CAUTION)
        return Document(
            "Records for inspection", shop, span, tuple(blocks), f"{shop} · {span}", intro=intro,
            contents=True,
        )  # fmt: skip

    # -- sections

    def _verdicts(
        self, carried: Mapping[date, Mapping[str, str]], kinds: Mapping[str, PlaceKind]
    ) -> list[Block]:
        """What follows from the records, topic by topic, each line with the rule that asks."""
        verdict = Verdict(self.gathered, carried, kinds, self.moment, self.temperature)
        topics = verdict.topics()
        text = (
            f"Not written down: {len(topics[0][1])}. Measured out of limits: {verdict.out},"
            f" of these without a word of what was done: {verdict.silent}."
        )
        columns = Column("by the records", 11), Column("source (FDA Food Code)", 3.6)
        blocks: list[Block] = [Text(text, bold=True), Text(MEANS)]
        for title, lines in topics:
            rows = tuple((line.text, line.source) for line in lines)
            blocks += [Heading(title, 2), Table("", columns, rows, empty="None.")]
        return blocks

    def _production(self) -> list[Block]:
        columns = (
            Column("lot", 1.3), Column("product", 1.9), Column("made", 1, "right"),
            Column("at", 1.7), Column("what went in, supplier codes", 5.6), Column("°Brix", 0.8),
            Column("by, notes", 2.6),
        )  # fmt: skip
        rows = tuple(
            (
                b.lot, self.product(b.product), show_amount(b.made, b.unit), self.moment(b.at),
                self._parts(b), "" if b.brix is None else f"{b.brix.normalize():f}",
                "; ".join(x for x in (b.by, b.notes, corrected(b)) if x),
            )
            for b in self.gathered.batches
        )  # fmt: skip
        return [Table("", columns, rows, empty="No batch was logged.")]

    def _parts(self, batch: Batch) -> str:
        words = []
        for part in batch.ingredients:
            amount = part.written or f"~{show_amount(int(part.grams), 'g')}"
            code = batch.codes.get(part.ingredient)
            words.append(f"{part.ingredient} {amount}" + (f" [{code}]" if code else ""))
        words += [
            f"lot {m.lot}: {show_amount(m.amount, self.units.get(m.lot, ''))}".rstrip()
            for m in batch.mixed
        ]
        return "; ".join(words)

    def _cooking(self) -> list[Block]:
        columns = (
            Column("lot", 1.3), Column("product", 2), Column("cook", 2.2), Column("ended", 1.6),
            Column("at 21 °C / 70 °F", 1.7), Column("at 5 °C / 41 °F", 1.7), Column("verdict", 4),
        )  # fmt: skip
        rows = []
        for b in self.gathered.batches:
            cook, cool = b.cook, b.cooling
            how = "" if cook is None else f"boiled {cook.minutes} min"
            if cook is not None and cook.celsius is not None:
                how = f"{self.temperature(cook.celsius)} for {cook.minutes} min"
            rows.append((
                b.lot, self.product(b.product), how or ("not needed" if b.mixed else "NOT NOTED"),
                self.moment(cook.ended if cook else None),
                self.moment(cool.to_21 if cool else None), self.moment(cool.to_5 if cool else None),
                self._verdict(b),
            ))  # fmt: skip
        limits = "From 57 °C / 135 °F to 21 °C / 70 °F within 2 hours, to 5 °C / 41 °F within 6."
        return [Text(limits), Table("", columns, tuple(rows), empty="No batch was logged.")]

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

    def _places(self) -> list[Block]:
        columns = (
            Column("day", 1.3), Column("place", 2), Column("measured at", 1.8),
            Column("temperature", 1.4, "right"), Column("allowed", 2.6), Column("verdict", 1.6),
            Column("by, note", 3.4),
        )  # fmt: skip
        rows = tuple(
            (
                str(day), t.place, self.moment(t.at), self.temperature(t.celsius), t.limit,
                verdict(t.ok), "; ".join(x for x in (t.by, t.note) if x),
            )
            for day, t in self.gathered.of("temperatures")
            if isinstance(t, Temperature)
        )  # fmt: skip
        return [Table("", columns, rows, empty="No temperature was written down in these days.")]

    def _thermometers(self) -> list[Block]:
        columns = (
            Column("day", 1.3), Column("thermometer", 2), Column("in water", 1.2),
            Column("at", 1.8), Column("showed", 1.4, "right"), Column("verdict", 1.8),
            Column("by, note", 3.4),
        )  # fmt: skip
        rows = tuple(
            (
                str(day), t.thermometer, t.water, self.moment(t.at), self.temperature(t.celsius),
                "right" if t.ok else "NOT RIGHT", "; ".join(x for x in (t.by, t.note) if x),
            )
            for day, t in self.gathered.of("thermometers")
            if isinstance(t, ThermometerCheck)
        )  # fmt: skip
        return [Table("", columns, rows, empty="No thermometer was checked in these days.")]

    def _answers(self) -> list[Block]:
        columns = (
            Column("day", 1.3), Column("asked", 6), Column("answered", 4), Column("at", 1.8),
            Column("by", 1.6),
        )  # fmt: skip
        rows = tuple(
            (str(day), a.of, a.words, self.moment(a.at), a.by)
            for day, a in self.gathered.of("answers")
            if isinstance(a, Answer)
        )
        return [Table("", columns, rows, empty="Nothing was asked.")]

    def _holding(self) -> list[Block]:
        columns = (
            Column("day", 1.3), Column("tub", 1.6), Column("what", 4.2), Column("at", 1.8),
            Column("temperature", 1.5, "right"), Column("verdict", 1.6), Column("by", 1.6),
        )  # fmt: skip
        modes = {t.tub: t.mode for _, t in self.gathered.of("tubs") if isinstance(t, TubOpened)}
        rows: list[tuple[datetime, tuple[str, ...]]] = []
        for day, record in (
            *self.gathered.of("tubs"), *self.gathered.of("checks"), *self.gathered.of("ended"),
        ):  # fmt: skip
            mode = modes.get(record.tub, "cold")
            celsius: Decimal | None = getattr(record, "celsius", None)
            state = ""
            if isinstance(record, TubOpened):
                level = show_amount(record.level, "ml")
                what = f"opened {words_of(record.mode)} with {level} of lot {record.lot}"
                state = "" if celsius is None else verdict(True)  # else it was not opened
            elif isinstance(record, TubCheck):
                what = f"checked, held {words_of(mode)}"
                state = verdict(mode == "time" or holds(mode, record.celsius))
            else:
                assert isinstance(record, TubEnded)
                kept = "put back cold" if record.kept else "thrown away"
                what = f"taken away, {show_amount(record.left, 'ml')} left, {kept}"
            shown = "" if celsius is None else self.temperature(celsius)
            cells = (str(day), record.tub, what, self.moment(record.at), shown, state, record.by)
            rows.append((record.at, cells))
        rows.sort(key=lambda row: row[0].timestamp())
        return [Table("", columns, tuple(cells for _, cells in rows), empty="No tub was opened.")]

    def _dates(self) -> list[Block]:
        columns = (
            Column("lot", 1.3), Column("product", 2), Column("made on", 1.4), Column("mark", 1.2),
            Column("date", 1.4), Column("never sold after", 1.6), Column("why", 5),
        )  # fmt: skip
        rows = tuple(
            (
                b.lot, self.product(b.product), str(lot_day(b.lot) or ""), b.mark.kind,
                str(b.mark.day), str(b.mark.limit or ""), b.mark.reason,
            )
            for b in self.gathered.batches
        )  # fmt: skip
        return [Table("", columns, rows, empty="No batch was logged.")]

    def _waste(self) -> list[Block]:
        columns = (
            Column("day", 1.3), Column("lot", 1.3), Column("amount", 1.2, "right"),
            Column("reason", 3.2), Column("tub", 1.5), Column("at", 1.8), Column("by", 1.6),
        )  # fmt: skip
        rows = tuple(
            (
                str(day), w.lot, show_amount(w.amount, self.units.get(w.lot, "")).strip(),
                w.words or WORDS[w.reason], w.tub, self.moment(w.at), w.by,
            )
            for day, w in self.gathered.of("waste")
            if isinstance(w, Waste)
        )  # fmt: skip
        return [Table("", columns, rows, empty="Nothing was thrown away.")]

    def _holds(self) -> list[Block]:
        columns = (
            Column("day", 1.3), Column("lot", 1.3), Column("what", 1.3), Column("at", 1.8),
            Column("why", 5), Column("by", 1.8),
        )  # fmt: skip
        rows = tuple(
            (
                str(day),
                h.lot,
                "STOPPED" if h.stopped else "released",
                self.moment(h.at),
                h.why,
                h.by,
            )
            for day, h in self.gathered.of("holds")
            if isinstance(h, Hold)
        )
        return [Table("", columns, rows, empty="No lot was stopped or released.")]

    def _corrections(self) -> list[Block]:
        columns = (
            Column("written", 1.3), Column("number", 1.8), Column("corrects", 1.5),
            Column("what", 2.4), Column("how", 1.6), Column("why", 4), Column("by", 1.4),
        )  # fmt: skip
        rows = tuple(
            (
                str(day), c.number, str(c.corrects),
                " ".join(x for x in (c.what, c.sale or c.lot) if x),
                ", ".join(goods_words(c, self.temperature, self.units.get(c.lot, ""))),
                c.text, c.by,
            )
            for day, c in self.gathered.of("corrections")
            if isinstance(c, Correction)
        )  # fmt: skip
        return [Table("", columns, rows, empty="No sealed day was corrected.")]

    def _traces(self, recalls: Sequence[Recall]) -> list[Block]:
        names = {p.key: p.name for p in self.catalogue.products.values()}
        blocks: list[Block] = []
        for recall in recalls:
            blocks += [
                Heading(f"Lot {', '.join(recall.asked)}", 2), lots_grid(list(recall.lots), names),
                Text(accounted_for(recall, names)), *sales_blocks(recall, within=True),
            ]  # fmt: skip
        if not blocks:
            blocks.append(Text("No lot was stopped in these days, and none was asked for."))
        return blocks

    # -- words

    def product(self, key: str) -> str:
        product = self.catalogue.products.get(key)
        return product.name if product else key

    def moment(self, at: datetime | None) -> str:
        return "" if at is None else f"{at.astimezone(self.zone):%Y-%m-%d %H:%M}"

    def temperature(self, celsius: Decimal) -> str:
        return show_temperature(celsius, self.fahrenheit)


def verdict(ok: bool) -> str:
    return "within" if ok else "OUT OF LIMITS"


def corrected(batch: Batch) -> str:
    """That a batch was corrected, and the last reason."""
    if not batch.revision:
        return ""
    return f"corrected {batch.revision}x" + (f": {batch.why}" if batch.why else "")


__all__ = ["Inspector"]
