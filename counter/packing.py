"""Labels for what was made: refused for what may not be sold, recorded when printed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from counter.errors import BadInput, NotFound
from counter.ledger import Printed
from counter.making import Making
from counter.packs import facts_of
from counter.production import Batch, lot_day
from counter.stock import lot_of, refusal_for

if TYPE_CHECKING:
    from labels import Blank, Label

MOST_LABELS = 5000


class LabelRun(msgspec.Struct, frozen=True):
    """What came out: the file, how many labels on how many pages, for which lots."""

    path: str
    labels: int
    pages: int
    lots: tuple[str, ...]
    again: tuple[str, ...] = ()


class Packing(Making):
    """Labels."""

    def blank(self, name: str = "") -> Blank:
        """A blank by name: the shop's own first, then the common measures."""
        from labels import blank_named

        name = name or self.settings.labels.blank
        if name in self.settings.blanks:
            return self.settings.blanks[name]
        return blank_named(name)

    def label(self, lot: str, blank: str = "") -> Label:
        """The label of a lot, placed. Refused for a lot that may not be sold."""
        from labels import lay_out

        batch = self.batch(lot)
        self.refuse_unsafe(batch)
        product = self.catalogue.product(batch.product, f"label lot {lot}")
        facts = facts_of(batch, product, self.catalogue, self.settings)
        return lay_out(
            facts, market=self.settings.shop.market, blank=self.blank(blank or product.pack.blank)
        )

    def refuse_unsafe(self, batch: Batch) -> None:
        """No cook, no label; nor for a stopped lot or one past its date."""
        today = self.today()
        row = self._fold(today).rows.get(batch.lot)
        lot = row.lot if row else lot_of(batch, lot_day(batch.lot) or today)
        refusal = refusal_for(lot, today, "refuse", f"label lot {batch.lot}")
        if refusal:
            raise refusal

    def labels_for(self, batch: Batch) -> int:
        """How many labels a batch wants: one a piece, else one a tub or mould."""
        if batch.unit == "piece":
            return batch.made
        product = self.catalogue.products.get(batch.product)
        return -(-batch.made // product.mould) if product else 1

    def print_labels(
        self, wanted: Sequence[tuple[str, int | None]], path: Path | None = None,
        blank: str = "", start: int = 1, used: Sequence[int] = (),
        at: datetime | None = None, by: str = "",
    ) -> LabelRun:  # fmt: skip
        """Labels of lots as one PDF, ``(lot, how many or None for all it made)``, and a record.

        ``start`` is the first free position of a sheet, ``used`` positions are skipped. The file
        is whole and read back, or it is not there.
        """
        from labels import write_pdf

        runs = []
        for lot, count in wanted:
            label = self.label(lot, blank)
            number = self.labels_for(self.batch(lot)) if count is None else count
            if not 1 <= number <= MOST_LABELS:
                do = f"Ask for 1 to {MOST_LABELS}"
                raise BadInput(
                    f"print {number} labels of lot {lot}", "it is no number of labels", do
                )
            runs.append((label, number))
        if not runs:
            raise NotFound("print labels", "lot", "", self._fold(self.today()).rows)
        lots = [lot for lot, _ in wanted]
        if path is None:
            name = lots[0] if len(lots) == 1 else f"{self.today()}"
            path = self.file_place("labels") / f"{name}.pdf"
        printed = write_pdf(path, runs, start=start, used=tuple(used))
        with self.writing(at, by) as entry:
            before = {p.lot for p in entry.ledger.printed}
            for (lot, _), (label, number) in zip(wanted, runs, strict=True):
                entry.add("printed", Printed(
                    lot, number, label.blank.name, entry.at, path.name, lot in before, entry.by
                ))  # fmt: skip
        again = tuple(lot for lot in lots if lot in before)
        return LabelRun(str(path), printed.labels, printed.pages, tuple(lots), again)
