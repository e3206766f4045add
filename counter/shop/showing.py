"""What is drawn up on paper for others: recall sheets, the inspector's folder."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Literal

from counter.errors import Refused
from counter.shop.copying import Progress
from counter.shop.desk import LATEST_NOTE_DAYS
from counter.shop.leaving import Leaving
from counter.shop.packs import inside_lot
from counter.shop.paying import Paying
from counter.trade.production import Hold
from counter.trade.recalling import Recall

MOST_DAYS = 800  # an inspector's folder of more is a case for a van


READ = 0.15  # the share of reading the books in drawing up a folder; the rest is its pages


def part_of(progress: Progress | None, begin: float, end: float) -> Progress | None:
    """Progress of a part of the work, from ``begin`` to ``end``, told as that of the whole."""
    if progress is None:
        return None
    return lambda done, whole: progress(
        round(1000 * (begin + (end - begin) * done / (whole or 1))), 1000
    )


class Papers(Leaving, Paying):
    """Files for others."""

    # -- paper

    @property
    def name_and_place(self) -> str:
        facts = self.settings.shop
        place = " ".join(x for x in (facts.city, facts.state, facts.zip) if x)
        return ", ".join(x for x in (facts.name, facts.street, place) if x)

    @property
    def paper(self) -> Literal["letter", "a4"]:
        return "letter" if self.settings.shop.market == "us" else "a4"

    def _second(self) -> Path | None:
        name = self.settings.fonts.get("second", "")
        return (self.folder or Path()) / name if name else None

    def write_recall_sheet(self, recall: Recall, path: Path | None = None) -> Path:
        """The recall as PDF; in the shop's reports where no file is named."""
        from counter.reports.paper import draw_document
        from counter.reports.recall import recall_document
        from labels.pdf import write_whole

        path = self.unused(path) or self.new_file("reports", f"recall-{recall.asked[0]}.pdf")
        document = recall_document(recall, self.product_names(), self.name_and_place)
        language = self.settings.label_language
        data = draw_document(document, self.paper, language, self._second())
        write_whole(path, data)
        return path

    def write_recall_csv(self, recall: Recall, path: Path) -> Path:
        """The recall as CSV: one row a sale, and what else is known of each lot."""
        from counter.reports.recall import recall_csv
        from labels.pdf import write_whole

        self.unused(path)
        write_whole(path, "".join(recall_csv(recall, self.product_names())).encode())
        return path

    def write_inspection(
        self, first: date, last: date, path: Path | None = None, lots: Sequence[str] = (),
        progress: Progress | None = None,
    ) -> Path:  # fmt: skip
        """The inspector's folder of a range of days as one PDF with contents.

        Traced are the lots stopped in these days and those named. ``progress`` is told how far the
        work has come, in thousandths.
        """
        from counter.reports.gathered import Commit, gather
        from counter.reports.inspector import Inspector
        from counter.reports.paper import draw_document
        from labels.pdf import write_whole

        tried = f"draw up the records from {first} to {last}"
        if (last - first).days >= MOST_DAYS:
            raise Refused(tried, f"more than {MOST_DAYS} days are too many", "Name fewer days")
        self.unused(path)
        until = last + timedelta(days=LATEST_NOTE_DAYS)  # a batch may be corrected so long
        commits = self.commits(first, until, part_of(progress, 0, READ))
        stops = self.stops_apart(lambda at: first <= self.day_of(at) <= last)
        gathered = gather(
            first, last, (Commit(d, c.entered, c.records) for d, c in commits),
            [(self.day_of(hold.at), hold) for hold in stops],
        )  # fmt: skip
        if not gathered.days:
            raise Refused(tried, "no day of them has a book", "Name other days")
        stopped = [h.lot for _, h in gathered.of("holds") if isinstance(h, Hold) and h.stopped]
        recalls = [self.recall([lot]) for lot in dict.fromkeys([*stopped, *lots])]
        older = {r.lot for _, r in (*gathered.of("waste"), *gathered.of("corrections")) if r.lot}
        older |= {m.lot for b in gathered.batches for m in b.mixed}
        older -= {b.lot for b in gathered.batches}
        units = {lot: self.batch(lot).unit for lot in sorted(older)}
        settings = self.settings
        inside = [inside_lot(b, self.catalogue_behind(b), self.batch) for b in gathered.batches]
        inspector = Inspector(gathered, self.catalogue_of(None), settings.zone, settings.fahrenheit)
        document = inspector.document(
            self.name_and_place, recalls, units, self._lay_in(first, last), settings.holding, inside
        )
        path = path or self.new_file("reports", f"inspection-{first}-{last}.pdf")
        language, told = settings.label_language, part_of(progress, READ, 1)
        write_whole(path, draw_document(document, self.paper, language, self._second(), told))
        return path

    def _lay_in(self, first: date, last: date) -> dict[date, dict[str, str]]:
        """For each closing of some days and shortly before: where each lot lay it carried over."""
        closings = self.closings(first - timedelta(days=LATEST_NOTE_DAYS), last)
        return {
            closing.day: {c.lot.lot: c.lot.place for c in closing.carried if c.amount > 0}
            for closing in closings
        }
