"""Whether what was made in some days was cooked, cooled and reheated, by the records alone.

Sources: FDA Food Code 3-401.11 (cook; number from memory), 3-501.14(A) (cooling), 3-403.11(A), (D)
(reheating for hot holding). The local food code and the inspector decide.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

from counter.present import Presenter
from counter.reports.gathered import Commit, Gathered, Remark
from counter.trade.asking import Answer
from counter.trade.cooling import Cooling, late_note
from counter.trade.production import Batch, lot_day
from counter.trade.tables import records_in
from counter.trade.tubs import TubOpened
from labels.say import NOTHING, Said, say

COOK, COOLING, REHEATING = "3-401.11", "3-501.14(A)", "3-403.11(A), (D)"


class Cooked:
    """Says what is noted of cook, cooling and reheating; ``miss`` is told of what is not, with the
    rule that asks for it."""

    def __init__(
        self, gathered: Gathered, telling: Presenter, miss: Callable[[Said, str], None]
    ) -> None:
        self.gathered, self.telling, self.miss = gathered, telling, miss
        self.opened = [tub for _, tub in gathered.of(TubOpened)]
        self.hot = {t.lot for t in self.opened if t.mode == "hot"}
        self.written = dict[str, list[tuple[Commit, Batch]]]()  # each batch as it was logged
        for commit in gathered.commits:
            for row in records_in(Batch, [commit.records]):
                self.written.setdefault(row.lot, []).append((commit, row))

    def cooling(self) -> Iterator[Remark]:
        whole = cold = 0
        for batch in self.gathered.batches:
            if batch.void:
                continue
            yield from self._cook(batch)
            if not batch.chilled:
                continue
            whole += 1
            yield from self._cooled(batch)
            cold += not batch.uncooled and not batch.slow and batch.seen
        if whole:
            yield Remark(
                say(
                    "{cold} of {whole} batches that must be cooled are noted as cold in time.",
                    cold=cold,
                    whole=whole,
                ),
                COOLING,
            )

    def _cook(self, batch: Batch) -> Iterator[Remark]:
        if batch.cook is None and batch.raw:
            self.miss(say("THE COOK OF lot {lot}", lot=batch.lot), COOK)
        elif batch.raw:
            yield Remark(
                say("Lot {lot} does not count as cooked: {raw}.", lot=batch.lot, raw=batch.raw),
                COOK,
            )
        elif batch.cook and batch.cook.ended is None and batch.chilled:
            self.miss(say("THE END OF THE COOK OF lot {lot}", lot=batch.lot), COOLING)

    def _cooled(self, batch: Batch) -> Iterator[Remark]:
        lot = say("lot {lot}", lot=batch.lot)
        if batch.lot in self.hot:
            lot = say("{lot} (a hot tub was opened of it)", lot=lot)
        if batch.cooling is None:
            self.miss(say("THE COOLING OF {lot}", lot=lot), COOLING)
            return
        if batch.cooling.to_5 is None:
            self.miss(say("WHEN {lot} WAS AT 5 °C / 41 °F", lot=lot), COOLING)
        if batch.slow:
            yield Remark(
                say("Lot {lot} cooled TOO SLOWLY: {slow}.", lot=batch.lot, slow=batch.slow), COOLING
            )
        elif not batch.seen:
            text = say(
                "Lot {lot}: when it began to cool is not noted before 21 °C / 70 °F,"
                " so its first 2 hours cannot be seen.",
                lot=batch.lot,
            )
            yield Remark(text, COOLING)
        old: Cooling | None = None
        for commit, row in self.written.get(batch.lot, ()):
            yield from self._late(row, old, commit)
            old = row.cooling

    def _late(self, batch: Batch, old: Cooling | None, commit: Commit) -> Iterator[Remark]:
        """A time of cooling that was written down long after it, with the words given."""
        start, entered = batch.cools_from, commit.entered
        for question in late_note(NOTHING, old, batch.cooling, start, entered):
            words = [a.words for a in records_in(Answer, [commit.records]) if a.about == "late"]
            why = say('the reason given: "{words}"', words="; ".join(words))
            why = why if words else say("NO REASON GIVEN")
            yield Remark(
                say("Lot {lot}: {text}; {why}.", lot=batch.lot, text=question.text, why=why),
                COOLING,
            )

    def reheating(self) -> Iterator[Remark]:
        batches = {b.lot: b for b in self.gathered.batches}
        for day, tub in self.gathered.of(TubOpened):
            if tub.mode != "hot":
                continue
            if tub.reheated is not None:
                celsius, n = self.telling.temperature(tub.reheated), tub.reheat_minutes
                text = say("Tub {tub}: reheated to {temperature}", tub=tub.tub, temperature=celsius)
                text = text if n is None else say("{text} in {n} minutes", text=text, n=n)
                yield Remark(say("{text}.", text=text), REHEATING)
            elif self._was_cooled(tub, day, batches.get(tub.lot)):
                self.miss(
                    say("THE REHEATING OF tub {tub}: its lot was cooled", tub=tub.tub), REHEATING
                )
            else:
                yield Remark(
                    say("Tub {tub}: hot from its cook, by the log.", tub=tub.tub), REHEATING
                )

    def _was_cooled(self, tub: TubOpened, day: date, batch: Batch | None) -> bool:
        """Whether a lot had left the heat when a tub of it was opened hot, by the log."""
        cooling, at = batch.cooling if batch else None, tub.at.timestamp()
        cold = (t for t in self.opened if t.lot == tub.lot and t.mode == "cold")
        return (
            (lot_day(tub.lot) or day) < day
            or (cooling is not None and cooling.to_21.timestamp() <= at)
            or any(t.at.timestamp() <= at for t in cold)
        )
