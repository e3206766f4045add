"""What is read when the door is shut: the closing report, weeks to years, and tomorrow's plan."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from counter.errors import BadInput, CounterError, NotFound
from counter.plan.tomorrow import Hours, Past, ShopPlan, next_open_day, plan_shop
from counter.shop.looking import Looking
from counter.shop.showing import Papers
from counter.trade.catalogue import Catalogue
from counter.trade.catalogues import in_use
from counter.trade.closing import Closing, Reopening
from counter.trade.corrections import Correction
from counter.trade.dayfigures import less_taken_back
from counter.trade.stock import Lot, refusal_for
from labels.errors import LabelError

if TYPE_CHECKING:
    from counter.plan.replay import Replayed
    from counter.reports.spans import Kind, SpanSummary
    from counter.reports.summary import DaySummary
    from counter.reports.telling import Telling

PLAN_DAYS = 1130
"""How far back the plan reads: a year for the weekdays, three for the holidays."""


class Reporting(Papers, Looking):
    """Summaries, reports on paper and the plan."""

    report_trouble = ""
    """Why the report of the last closing was not kept, or ""; the day is closed all the same."""

    # -- one day

    def day_summary(self, day: date) -> DaySummary:
        """The figures of a day, closed or still open. NotFound for a day without a book."""
        from counter.reports.summary import summarise_day

        closing = self.closing(day)
        catalogue = self.catalogue_of(closing.at if closing.book_link else None)
        summary = summarise_day(
            closing, self.records_of(day), catalogue, self._began_with(closing),
            self.sale_before(day), self.corrections_of(day),
        )  # fmt: skip
        return replace(summary, seal=self.seal_of(day) if summary.sealed else "")

    def _began_with(self, closing: Closing) -> Closing | Reopening | None:
        """What the day began with: the closing before it."""
        return self._closing_before(closing.day)

    def telling(self, catalogue: Catalogue | None = None) -> Telling:
        """How this shop writes its figures."""
        from counter.reports.telling import telling_of

        return telling_of(self.settings, catalogue or self.catalogue_of(None))

    def day_report(self, day: date) -> bytes:
        """The closing report of a day as PDF; the same bytes at closing and ever after, until a
        correction of it is noted."""
        from counter.reports.daypages import draw_day

        summary = self.day_summary(day)
        catalogue = self.catalogue_of(summary.at if summary.sealed else None)
        return draw_day(summary, self.telling(catalogue), self._second())

    def keep_report(self, day: date, path: Path | None = None) -> Path:
        """Write the closing report, into ``reports/`` of the shop where no file is named."""
        from labels.pdf import write_whole

        data = self.day_report(day)
        path = self.unused(path, data) or self.new_file("reports", f"{day}.pdf", data)
        write_whole(path, data)
        return path

    def keep_day_csv(self, day: date, path: Path) -> Path:
        """Write every figure of a day's summary as CSV."""
        from counter.reports.flat import csv_of
        from labels.pdf import write_whole

        write_whole(path, csv_of(self.day_summary(day), self.settings.places))
        return path

    def close_day(self, *given: Any, **named: Any) -> Closing:
        """As :meth:`.Evening.close_day`; then the report is kept in ``reports/``.

        A report that cannot be written never undoes a closing: see :attr:`report_trouble`.
        """
        closing = super().close_day(*given, **named)
        self.report_trouble = ""
        if self.folder is not None:
            try:
                self.keep_report(closing.day)
            except (CounterError, LabelError, OSError) as error:
                self.report_trouble = str(error)
        return closing

    # -- weeks, months, years

    def span_summary(self, kind: Kind, day: date | None = None) -> SpanSummary:
        """The week, month or year that ``day`` (today) is in, from its closings alone."""
        from counter.reports.spans import span_of, summarise_span

        first, last = span_of(kind, day or self.today())
        start, _ = span_of(kind, max(first, date.min + timedelta(days=1)) - timedelta(days=1))
        found = less_taken_back(self.closings(start, last))
        within = [c for c in found if c.day >= first]
        if not within:
            days = self.books.days()
            do = f"The books go from {days[0]} to {days[-1]}" if days else "Close a day first"
            raise NotFound(f"add up the {kind}", "closed day from", f"{first} to {last}", (), do)
        before = [c for c in found if c.day < first]
        return summarise_span(kind, first, last, within, before, self._corrected_in(first, last))

    def _corrected_in(self, first: date, last: date) -> list[Correction]:
        """Corrections about days of a span, also those written after it."""
        return self.corrections_about(first, last)

    def span_report(self, summary: SpanSummary) -> bytes:
        """A week, month or year as PDF; same summary, same bytes."""
        from counter.reports.spanpages import draw_span

        return draw_span(summary, self.telling(), self._second())

    # -- tomorrow

    def plan(self, target: date | None = None) -> ShopPlan:
        """What to make for a day, and the beans to soak the night before.

        ``target`` is by default the next day the shop opens. BadInput for a product without a cost
        and for a region without a calendar.
        """
        today = self.today()
        days = self.books.days(today - timedelta(days=PLAN_DAYS))
        target = target or next_open_day(today, days)
        if (target - today).days > 400:
            raise BadInput(f"plan {target}", "it is more than a year ahead", "Check the date")
        past = replace(
            self.past(min(target, today)), tax=self.settings.tax.at(target),
            catalogue=in_use(self.kept_catalogues(), max(target, today)),
        )  # fmt: skip
        standing, open_day, day_share = self._standing_before(target, past.hours)
        plan = plan_shop(past, target, standing, open_day=open_day, day_share=day_share)
        warm = (p for day in self.standing().places.values() if (p := day.now()).bad)
        return replace(plan, warm=tuple(warm))

    def past(self, until: date) -> Past:
        """What the plan knows of the shop up to ``until``."""
        from counter.plan.almanac import holidays_of

        first = until - timedelta(days=PLAN_DAYS)
        closings = less_taken_back(self.closings(first, until))
        settings = self.settings
        years = range((closings[0].day if closings else until).year, until.year + 3)
        country, subdivision = settings.region
        holidays = holidays_of(country, subdivision, years)
        hours = Hours(settings.opens, settings.closes)
        return Past(tuple(closings), holidays, hours, self.catalogue, settings.tax.at(until))

    def _standing_before(
        self, target: date, hours: Hours
    ) -> tuple[list[tuple[Lot, int]], date | None, float]:
        """What is on hand before ``target`` and may be sold then; the day before it, if that is
        still open, and how much of its opening hours is over."""
        policy, now = self.settings.shop.past_best_by, self.now()
        then = datetime.combine(target, self.settings.opens, self.settings.zone)

        def as_it_is(lot: Lot) -> Lot:
            return replace(lot, cold_by=None, out_since=None)

        def sellable(lots: list[tuple[Lot, int]]) -> list[tuple[Lot, int]]:
            """What may be sold now, as far as its temperature goes, and then, by its date."""
            return [
                (lot, amount)
                for lot, amount in lots
                if amount > 0 and refusal_for(lot, now, policy, "plan") is None
                and refusal_for(as_it_is(lot), then, policy, "plan") is None
            ]  # fmt: skip

        before = self.books.days(last=target - timedelta(days=1))
        sealed = self.sealed_until()
        if before and (sealed is None or before[-1] > sealed):
            day = min(before[-1], self.today())
            ledger = self._fold(day)
            lots = [(row.lot, row.on_hand) for row in ledger.rows.values()]
            share = hours.share(self.now()) if day == self.today() else 1.0
            return sellable(lots), day, share
        closing = self._closing_before(target)
        if closing is None:
            return [], None, 0.0
        return sellable([(c.lot, c.amount) for c in closing.carried]), None, 0.0

    def backtest(self) -> tuple[Replayed, ...]:
        """The shop's past replayed by the plan and by simple rules."""
        from counter.plan.replay import replay_shop

        return replay_shop(self.past(self.today()))
