"""What is read when the door is shut: the closing report, weeks to years, and tomorrow's plan."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace

from counter.errors import NotFound, Refused
from counter.shop.closed_days import ClosedDays
from counter.shop.closings import Closings
from counter.shop.desk import LATEST_NOTE_DAYS, Desk
from counter.shop.facts import inside_lot
from counter.shop.files import Progress
from counter.shop.products import Products
from counter.shop.records import Records
from counter.trade.catalogue import Catalogue
from counter.trade.closing import Closing, Reopening
from counter.trade.corrections import Correction
from counter.trade.dayfigures import less_taken_back
from counter.trade.production import Hold
from counter.trade.recalling import Recall
from counter.trade.units import check_days
from counter.trade.waste import Waste
from labels.say import say, term

if TYPE_CHECKING:
    from counter.present import Presenter
    from counter.reports.spans import Kind, SpanSummary
    from counter.reports.summary import DaySummary


MOST_DAYS = 800  # an inspector's folder of more is a case for a van


READ = 0.15  # the share of reading the books in drawing up a folder; the rest is its pages


def part_of(progress: Progress | None, begin: float, end: float) -> Progress | None:
    """Progress of a part of the work, from ``begin`` to ``end``, told as that of the whole."""
    if progress is None:
        return None
    return lambda done, whole: progress(
        round(1000 * (begin + (end - begin) * done / (whole or 1))), 1000
    )


class Reports:
    """Summaries, reports on paper and the plan."""

    def __init__(
        self,
        desk: Desk,
        products: Products,
        closings: Closings,
        closed_days: ClosedDays,
        records: Records,
    ) -> None:
        self.desk = desk
        self.products = products
        self.closings = closings
        self.closed_days = closed_days
        self.records = records

    # -- paper

    def write_recall_sheet(self, recall: Recall, path: Path | None = None) -> Path:
        """The recall as PDF; in the shop's reports where no file is named."""
        from counter.reports.paper import draw_document
        from counter.reports.recall import recall_document
        from labels.files import write_whole

        path = self.desk.files.unused(path) or self.desk.files.new(
            "reports", f"recall-{recall.asked[0]}.pdf"
        )
        telling, second = self.telling(), self.desk.second_face()
        document = recall_document(recall, telling)
        data = draw_document(document, telling.paper, telling.locale, second)
        write_whole(path, data)
        return path

    def write_recall_csv(self, recall: Recall, path: Path) -> Path:
        """The recall as CSV: one row a sale, and what else is known of each lot."""
        from counter.reports.recall import recall_csv
        from labels.files import write_whole

        self.desk.files.unused(path)
        write_whole(path, "".join(recall_csv(recall, self.telling())).encode())
        return path

    def write_inspection(
        self,
        first: date,
        last: date,
        path: Path | None = None,
        lots: Sequence[str] = (),
        progress: Progress | None = None,
    ) -> Path:
        """The inspector's folder of a range of days as one PDF with contents.

        Traced are the lots stopped in these days and those named. ``progress`` is told how far the
        work has come, in thousandths.
        """
        from counter.reports.gathered import Commit, gather
        from counter.reports.inspector import Inspector
        from counter.reports.paper import draw_document
        from labels.files import write_whole

        check_days(first, last)
        tried = say("draw up the records from {first} to {last}", first=first, last=last)
        if (last - first).days >= MOST_DAYS:
            raise Refused(
                tried, say("more than {n} days are too many", n=MOST_DAYS), say("Name fewer days")
            )
        self.desk.files.unused(path)
        until = last + timedelta(days=LATEST_NOTE_DAYS)  # a batch may be corrected so long
        commits = self.closings.commits(first, until, part_of(progress, 0, READ))
        stops = self.desk.stops.apart(lambda at: first <= self.desk.day_of(at) <= last)
        gathered = gather(
            first,
            last,
            (Commit(d, c.entered, c.records) for d, c in commits),
            [(self.desk.day_of(hold.at), hold) for hold in stops],
        )
        if not gathered.days:
            raise Refused(tried, say("no day of them has a book"), say("Name other days"))
        stopped = [hold.lot for _, hold in gathered.of(Hold) if hold.stopped]
        recalls = [self.records.recall([lot]) for lot in dict.fromkeys([*stopped, *lots])]
        older = {waste.lot for _, waste in gathered.of(Waste)}
        older |= {made.lot for _, made in gathered.of(Correction) if made.lot}
        older |= {m.lot for b in gathered.batches for m in b.mixed}
        older -= {b.lot for b in gathered.batches}
        units = {lot: self.desk.batch(lot).unit for lot in sorted(older)}
        settings = self.desk.settings
        inside = [
            inside_lot(b, self.products.catalogue_behind(b), self.desk.batch)
            for b in gathered.batches
        ]
        telling = self.telling()
        document = Inspector(gathered, telling).document(
            recalls, units, self._lay_in(first, last), settings.holding, inside
        )
        path = path or self.desk.files.new("reports", f"inspection-{first}-{last}.pdf")
        second, told = self.desk.second_face(), part_of(progress, READ, 1)
        write_whole(path, draw_document(document, telling.paper, telling.locale, second, told))
        return path

    def _lay_in(self, first: date, last: date) -> dict[date, dict[str, str]]:
        """For each closing of some days and shortly before: where each lot lay it carried over."""
        closings = self.closings.between(first - timedelta(days=LATEST_NOTE_DAYS), last)
        return {
            closing.day: {c.lot.lot: c.lot.place for c in closing.carried if c.amount > 0}
            for closing in closings
        }

    # -- one day

    def day_summary(self, day: date) -> DaySummary:
        """The figures of a day, closed or still open. NotFound for a day without a book."""
        from counter.reports.summary import summarise_day

        closing = self.closings.of(day)
        catalogue = self.desk.catalogues.of(closing.at if closing.book_link else None)
        summary = summarise_day(
            closing,
            self.desk.records_of(day),
            catalogue,
            self._began_with(closing),
            self.closings.sale_before(day),
            self.closed_days.corrections_of(day),
        )
        return replace(summary, seal=self.closings.seal_of(day) if summary.sealed else "")

    def _began_with(self, closing: Closing) -> Closing | Reopening | None:
        """What the day began with: the closing before it."""
        return self.closings.before(closing.day)

    def telling(self, catalogue: Catalogue | None = None) -> Presenter:
        """How this shop writes its figures."""
        from counter.present import Presenter

        known = catalogue or self.desk.catalogues.of(None)
        return Presenter(self.desk.settings, known, minus="−")

    def day_report(self, day: date) -> bytes:
        """The closing report of a day as PDF; the same bytes at closing and ever after, until a
        correction of it is noted."""
        from counter.reports.report import draw_report

        summary = self.day_summary(day)
        catalogue = self.desk.catalogues.of(summary.at if summary.sealed else None)
        return draw_report(summary, self.telling(catalogue), self.desk.second_face())

    def keep_report(self, day: date, path: Path | None = None) -> Path:
        """Write the closing report, into ``reports/`` of the shop where no file is named."""
        from labels.files import write_whole

        data = self.day_report(day)
        path = self.desk.files.unused(path, data) or self.desk.files.new(
            "reports", f"{day}.pdf", data
        )
        write_whole(path, data)
        return path

    def keep_day_csv(self, day: date, path: Path) -> Path:
        """Write every figure of a day's summary as CSV."""
        from counter.reports.flat import csv_of
        from labels.files import write_whole

        data = csv_of(self.day_summary(day), self.desk.settings.places)
        self.desk.files.unused(path, data)
        write_whole(path, data)
        return path

    # -- weeks, months, years

    def span_summary(self, kind: Kind, day: date | None = None) -> SpanSummary:
        """The week, month or year that ``day`` (today) is in, from its closings alone."""
        from counter.reports.spans import span_of, summarise_span

        first, last = span_of(kind, day or self.desk.today())
        start, _ = span_of(kind, max(first, date.min + timedelta(days=1)) - timedelta(days=1))
        found = less_taken_back(self.closings.between(start, last))
        within = [c for c in found if c.day >= first]
        if not within:
            days = self.desk.books.days()
            do = (
                say("The books go from {first} to {last}", first=days[0], last=days[-1])
                if days
                else say("Close a day first")
            )
            raise NotFound(
                say("add up the {kind}", kind=term(kind)),
                "closed day from",
                say("{first} to {last}", first=first, last=last),
                (),
                do,
            )
        before = [c for c in found if c.day < first]
        return summarise_span(kind, first, last, within, before, self._corrected_in(first, last))

    def _corrected_in(self, first: date, last: date) -> list[Correction]:
        """Corrections about days of a span, also those written after it."""
        return self.closed_days.corrections_about(first, last)

    def span_report(self, summary: SpanSummary) -> bytes:
        """A week, month or year as PDF; same summary, same bytes."""
        from counter.reports.report import draw_report

        return draw_report(summary, self.telling(), self.desk.second_face())
