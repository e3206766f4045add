"""Whatever is written, in whatever order: it is read back equal, and the check finds nothing."""

from __future__ import annotations

import tempfile
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from counter.books import Books
from tests.books.shelf import MONDAY, Move, Sale, Shelf

sales = st.builds(
    Sale,
    number=st.integers(-(2**63), 2**63),
    lines=st.lists(st.text(max_size=12), max_size=4).map(tuple),
    note=st.text(st.characters(exclude_categories=["Cs"]), max_size=40),
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
days = st.integers(0, 5).map(lambda i: MONDAY + timedelta(days=i))


class AnyDays(RuleBasedStateMachine):
    """Two programs write into any days, close and reopen; a list says what must be there."""

    @initialize()
    def begin(self) -> None:
        self._place = tempfile.TemporaryDirectory() if type(self) is OnFiles else None
        self.shelf = Shelf(Path(self._place.name) if self._place else None)
        self.books = [self.shelf.open(), self.shelf.open()]
        self.written: dict[date, list[tuple[datetime, dict[str, list[object]]]]] = {}

    @rule(who=st.integers(0, 1), day=days, records=commits, entered=moments)
    def commit(
        self, who: int, day: date, records: dict[str, list[object]], entered: datetime
    ) -> None:
        so_far = self.written.setdefault(day, [])
        n = self.books[who].commit(day, records, entered)  # type: ignore[arg-type]
        so_far.append((entered, records))
        assert n == len(so_far)

    @rule(who=st.integers(0, 1), day=days, torn=st.binary(min_size=1, max_size=20))
    def power_cut(self, who: int, day: date, torn: bytes) -> None:
        if day in self.written:
            book = day.isoformat()
            self.shelf.put(book, self.shelf.bytes_of(book) + torn.replace(b"\n", b"\0"))
        self.books[who] = self.shelf.open()
        with self.books[who].exclusive():
            self.books[who].day(day)

    @rule(who=st.integers(0, 1))
    def reopen(self, who: int) -> None:
        self.books[who].close()
        self.books[who] = self.shelf.open()

    @invariant()
    def everybody_reads_what_was_written(self) -> None:
        for books in self.books:
            assert books.days() == sorted(self.written)
            for day, expected in self.written.items():
                entries = books.day(day).entries
                assert [(e.entered, e.records) for e in entries] == expected

    def teardown(self) -> None:
        findings = self.shelf.open().check().findings
        assert [f for f in findings if f.line is not None] == []
        for books in self.books:
            books.close()
        if self._place:
            self._place.cleanup()


class OnFiles(AnyDays):
    pass


class InMemory(AnyDays):
    pass


TestOnFiles = OnFiles.TestCase
TestOnFiles.settings = settings(max_examples=15, stateful_step_count=12, deadline=None)
TestInMemory = InMemory.TestCase
TestInMemory.settings = settings(max_examples=40, stateful_step_count=20, deadline=None)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(days, commits, moments), max_size=12))
def test_memory_and_files_hold_the_same_bytes(
    written: list[tuple[date, dict[str, list[object]], datetime]],
) -> None:
    with tempfile.TemporaryDirectory() as name:
        shelves = (Shelf(None), Shelf(Path(name)))
        opened: list[Books] = [shelf.open() for shelf in shelves]
        for day, records, entered in written:
            for books in opened:
                books.commit(day, records, entered)  # type: ignore[arg-type]
        assert shelves[0].names() == shelves[1].names()
        for name_ in shelves[0].names():
            assert shelves[0].read(name_) == shelves[1].read(name_)
        for books in opened:
            books.close()
