"""Looking back: a day's sales and batches, the strengths over weeks, a word in the notes."""

from __future__ import annotations

from datetime import date, timedelta

from tinydb import where

from counter.errors import BadInput
from counter.shop.evening import Evening
from counter.trade.lookback import BrixPoint, Found, brix_over_time, find_in_closing, find_in_day
from counter.trade.production import Batch

MOST_FOUND = 100


class Looking(Evening):
    """Records of days, read only."""

    def days(self) -> list[date]:
        """The days that have a book, oldest first; known from the file names alone."""
        return list(self.books.days())

    def brix_of(self, product: str, first: date, last: date) -> list[BrixPoint]:
        """The strengths of a product's batches that were written down between two days."""
        batches = self.records(Batch, first, last, where("product") == product)
        return brix_over_time(batches, product)

    def find_word(self, word: str, first: date, last: date) -> list[Found]:
        """Notes and reasons with a word in them, the newest first, at most 100."""
        if len(word.strip()) < 2:
            do = "Write at least two letters"
            raise BadInput(f"look for '{word}'", "that is in nearly every note", do)
        closings = {c.day: c for c in self.closings(first, last)}
        found: list[Found] = []
        for day in reversed(self.books.days(first, last)):
            found += find_in_day(word.strip(), day, self.records_of(day))
            if day in closings:
                found += find_in_closing(word.strip(), closings[day])
            if len(found) >= MOST_FOUND:
                break
        return found[:MOST_FOUND]

    def day_near(self, day: date, step: int) -> date | None:
        """The next day (``step`` 1) or the one before (-1) that has a book."""
        if step < 0:
            before = self.books.days(last=day - timedelta(days=1))
            return before[-1] if before else None
        after = self.books.days(day + timedelta(days=1))
        return after[0] if after else None
