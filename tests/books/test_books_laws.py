"""Whatever is written, by whom and in whatever order: everybody reads it back equal, in order."""

from __future__ import annotations

import tempfile
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from tinydb import where as field

from counter.books.lines import ORIGIN, Line, as_text, from_text, unproved
from tests.books.shelf import MONDAY, Move, Sale, Shelf
from tests.often import examples

sales = st.builds(
    Sale,
    number=st.integers(-(2**63), 2**63),
    lines=st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=12), max_size=4).map(
        tuple
    ),
    note=st.sampled_from(["", "late", "soft", "豆腐"]),
)
moves = st.builds(Move, amount=st.integers(-(10**9), 10**9))
commits = st.fixed_dictionaries(
    {},
    optional={
        "sales": st.lists(sales, min_size=1, max_size=3),
        "drawer": st.lists(moves, min_size=1, max_size=3),
    },
).filter(bool)
zones = st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))
moments = st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1), timezones=zones)  # noqa: DTZ001
days = st.integers(0, 4).map(lambda i: str(date.fromisoformat(MONDAY) + timedelta(days=i)))
books_of = st.one_of(days, st.just("catalogue"))


class Stop(Exception):
    """Somebody thinks better of it in the middle of a transaction."""


class AnyBooks(RuleBasedStateMachine):
    """Two programs on one folder write into any books; a list says what must be there."""

    @initialize()
    def begin(self) -> None:
        self._place = tempfile.TemporaryDirectory() if type(self) is OnFiles else None
        self.shelf = Shelf(Path(self._place.name) if self._place else None)
        self.books = [self.shelf.open(), self.shelf.open()]
        self.written: list[tuple[str, datetime, dict[str, list[Any]]]] = []

    @rule(who=st.integers(0, 1), book=books_of, records=commits, entered=moments)
    def commit(self, who: int, book: str, records: dict[str, list[Any]], entered: datetime) -> None:
        entry = self.books[who].commit(book, records, entered)
        self.written.append((book, entered, records))
        assert (entry.entered, entry.records) == (entered, records)
        assert entry.n == sum(1 for where, *_ in self.written if where == book)

    @rule(who=st.integers(0, 1), days=st.lists(days, min_size=1, max_size=3), records=commits,
          keep=st.booleans(), entered=moments)  # fmt: skip
    def transaction(
        self, who: int, days: list[str], records: dict[str, list[Any]], keep: bool,
        entered: datetime,
    ) -> None:  # fmt: skip
        """Several lines, all or none; and none leaves nothing, neither here nor there."""
        books, before = self.books[who], [books.end() for books in self.books]
        try:
            with books.exclusive():
                for day in days:
                    books.commit(day, records, entered)
                if not keep:
                    raise Stop
            self.written += [(day, entered, records) for day in days]
        except Stop:
            assert [books.end() for books in self.books] == before

    @rule(who=st.integers(0, 1))
    def reopen(self, who: int) -> None:
        self.books[who].close()
        self.books[who] = self.shelf.open()

    @rule(who=st.integers(0, 1))
    def look_again_without_others_having_written(self, who: int) -> None:
        epoch = self.books[who].refresh()
        assert self.books[who].refresh() == epoch

    @invariant()
    def everybody_reads_what_was_written(self) -> None:
        for books in self.books:
            begun = {where for where, *_ in self.written}
            assert books.days() == sorted(map(date.fromisoformat, begun - {"catalogue"}))
            assert books.end()[0] == len(self.written)
            for book in begun:
                expected = [(e, r) for where, e, r in self.written if where == book]
                entries = books.entries(book)
                assert [(e.entered, e.records) for e in entries] == expected
                assert [e.n for e in entries] == list(range(1, len(expected) + 1))
                assert books.head(book) == (entries[-1].n, entries[-1].link)
                assert books.last_entry(book) == entries[-1]
                assert books.entries(book, len(expected) - 1) == entries[-1:]
            late = [
                sale
                for where, _, records in self.written
                for sale in records.get("sales", ())
                if where != "catalogue" and sale.note == "late"
            ]
            assert books.select(name="late").find("sales", Sale, field("note") == "late") == late

    def teardown(self) -> None:
        before = ORIGIN
        rows = self.books[0].engine.rows("SELECT n, book, line, link, body FROM lines ORDER BY n")
        for n, book, line, link, body in rows:
            read = Line(n, book.decode(), line, link.hex(), body)
            assert unproved(read, before) == ""
            assert from_text(as_text(read)) == read
            before = read.link
        for books in self.books:
            books.close()
        if self._place:
            self._place.cleanup()


class OnFiles(AnyBooks):
    pass


class InMemory(AnyBooks):
    pass


TestOnFiles = OnFiles.TestCase
TestOnFiles.settings = examples(15, stateful_step_count=12)
TestInMemory = InMemory.TestCase
TestInMemory.settings = examples(30, stateful_step_count=16)
