"""What to make and soak for a day, from what was sold."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from msgspec.structs import replace

from counter.errors import BadInput
from counter.plan.tomorrow import Hours, Past, ShopPlan, next_open_day, plan_shop
from counter.shop.closings import Closings
from counter.shop.desk import Desk
from counter.trade.catalogues import in_use
from counter.trade.closing import begin_day
from counter.trade.dayfigures import less_taken_back
from counter.trade.stock import Lot, refusal_for
from labels.say import say

if TYPE_CHECKING:
    from counter.plan.replay import Replayed

PLAN_DAYS = 1130
"""How far back the plan reads: a year for the weekdays, three for the holidays."""


class Plan:
    """What to make for a day, and how well that went."""

    def __init__(self, desk: Desk, closings: Closings) -> None:
        self.desk = desk
        self.closings = closings

    # -- tomorrow

    def for_day(self, target: date | None = None) -> ShopPlan:
        """What to make for a day, and the beans to soak the night before.

        ``target`` is by default the next day the shop opens. BadInput for a product without a cost
        and for a region without a calendar.
        """
        today = self.desk.today()
        days = self.desk.books.days(today - timedelta(days=PLAN_DAYS))
        target = target or next_open_day(today, days)
        if (target - today).days > 400:
            raise BadInput(
                say("plan {date}", date=target),
                say("it is more than a year ahead"),
                say("Check the date"),
            )
        past = replace(
            self.past(min(target, today)),
            tax=self.desk.settings.tax.at(target),
            catalogue=in_use(self.desk.catalogues.kept(), max(target, today)),
        )
        standing, open_day, day_share = self._standing_before(target, past.hours)
        plan = plan_shop(past, target, standing, open_day=open_day, day_share=day_share)
        warm = (p for day in self.desk.standing().places.values() if (p := day.now()).bad)
        return replace(plan, warm=tuple(warm))

    def past(self, until: date) -> Past:
        """What the plan knows of the shop up to ``until``."""
        from counter.plan.almanac import holidays_of

        first = until - timedelta(days=PLAN_DAYS)
        closings = less_taken_back(self.closings.between(first, until))
        settings = self.desk.settings
        years = range((closings[0].day if closings else until).year, until.year + 3)
        country, subdivision = settings.region
        holidays = holidays_of(country, subdivision, years)
        hours = Hours(settings.shop.opens, settings.shop.closes)
        return Past(tuple(closings), holidays, hours, self.desk.catalogue, settings.tax.at(until))

    def _standing_before(
        self, target: date, hours: Hours
    ) -> tuple[list[tuple[Lot, int]], date | None, float]:
        """What is on hand before ``target`` and may be sold then; the day before it, if that is
        still open, and how much of its opening hours is over."""
        policy, now = self.desk.settings.shop.past_best_by, self.desk.now()
        then = datetime.combine(target, self.desk.settings.shop.opens, self.desk.settings.zone)

        def as_it_is(lot: Lot) -> Lot:
            return replace(lot, cold_by=None, out_since=None)

        def sellable(lots: list[tuple[Lot, int]]) -> list[tuple[Lot, int]]:
            """What may be sold now, as far as its temperature goes, and then, by its date."""
            return [
                (lot, amount)
                for lot, amount in lots
                if amount > 0
                and refusal_for(lot, now, policy, say("plan")) is None
                and refusal_for(as_it_is(lot), then, policy, say("plan")) is None
            ]

        day, share = None, 0.0
        before = self.desk.books.days(last=target - timedelta(days=1))
        if before and not self.desk.is_closed(before[-1]):
            day = min(before[-1], self.desk.today())
            ledger = self.desk.fold(day)
            share = hours.share(self.desk.now()) if day == self.desk.today() else 1.0
        else:  # what was stopped since the closing stands in no book of a day
            ledger = begin_day(target, self.closings.before(target), 0, (), self.desk.stops.last())
        return sellable([(row.lot, row.on_hand) for row in ledger.rows.values()]), day, share

    def backtest(self) -> tuple[Replayed, ...]:
        """The shop's past replayed by the plan and by simple rules."""
        from counter.plan.replay import replay_shop

        return replay_shop(self.past(self.desk.today()))
