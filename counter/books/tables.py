"""TinyDB over the lines of the books: its documented extension points, a storage and a table.

TinyDB's own storages rewrite the whole file at every change, its tables change documents in
place, and a document number is given again after the last document is removed. None of this may
happen to a shop's books: here inserting appends one line, documents are handed out read-only, and
whatever would change what is written raises NotAppendOnly.

A storage reads only the lines that an index leads to (a book, a span of days, a name, a key); what
is asked of them further are TinyDB's queries. Every line read is proved by its link.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from typing import Any, NoReturn, TypeVar, cast

import msgspec
from tinydb import TinyDB
from tinydb.queries import QueryLike
from tinydb.storages import Storage
from tinydb.table import Document, Table

from counter.books.engine import MEND, Engine, Rows
from counter.books.lines import ORIGIN, Entry, Line, Misfit, Types, unproved
from counter.errors import BookDamaged, NotAppendOnly
from labels.say import Said, say

LINES = "lines"  # the table whose documents are whole commits
_CORRECT = say("Write a new record that names the one it corrects")
_READ = """SELECT l.n, l.book, l.line, l.link, l.body, p.link FROM lines AS l
LEFT JOIN lines AS p ON p.n = l.n - 1"""

Record = TypeVar("Record", bound=msgspec.Struct)
Insert = Callable[[Sequence[Mapping[str, Any]]], list[int]]


class Fields(Mapping[str, Any]):
    """A commit or a record handed out: its fields, and theirs, typed and read-only, as TinyDB's
    queries look at them. ``record`` is the thing itself."""

    __slots__ = ("doc_id", "record")

    def __init__(self, record: Any, doc_id: int = 0) -> None:
        self.record, self.doc_id = record, doc_id

    def __getitem__(self, key: str) -> Any:
        if isinstance(self.record, dict):
            return _looked_at(self.record[key])
        if key not in self.record.__struct_fields__:
            raise KeyError(key)
        return _looked_at(getattr(self.record, key))

    def __iter__(self) -> Iterator[str]:
        fields = self.record if isinstance(self.record, dict) else self.record.__struct_fields__
        return iter(fields)

    def __len__(self) -> int:
        return sum(1 for _ in self)


def _looked_at(value: Any) -> Any:
    if isinstance(value, msgspec.Struct | dict):
        return Fields(value)
    if isinstance(value, list | tuple):
        return tuple(_looked_at(one) for one in value)
    return value


def proved(engine: Engine, sql: str, values: Sequence[object]) -> Iterator[Line]:
    """The lines that a question leads to, each proved by its link. BookDamaged at the first that
    does not follow."""
    for *row, before in engine.rows(f"{_READ} {sql}", values):
        read = line_in(*row)
        last = before.hex() if before is not None else ORIGIN if read.n == 1 else ""
        if why := unproved(read, last):
            raise damaged(read, why)
        yield read


def walk(rows: Rows, last: int = 0) -> Iterator[tuple[Line, Said]]:
    """Each line behind the ``last`` one, as far as it can be read, a hundred at a time where that
    goes; and why it does not follow from the one before, or ""."""
    before = "".join(line.link for line in lines_in(rows, "WHERE n = ?", [last])) or ORIGIN
    (end,) = rows("SELECT coalesce(max(n), 0) FROM lines")[0]
    at = last
    while at < end:
        try:
            found = lines_in(rows, "WHERE n > ? ORDER BY n LIMIT 100", [at])
            at = found[-1].n if found else end
        except (sqlite3.DatabaseError, BookDamaged) as error:
            if isinstance(error, sqlite3.OperationalError):
                raise  # the disk does not say
            found, numbers = [], range(at + 1, min(at + 100, end) + 1)
            for at in numbers:
                with suppress(sqlite3.DatabaseError, BookDamaged):
                    found += lines_in(rows, "WHERE n = ?", [at])
        for line in found:
            yield line, unproved(line, before if line.n == last + 1 else "", last + 1)
            last, before = line.n, line.link


def lines_in(rows: Rows, where: str, values: Sequence[object]) -> list[Line]:
    """The lines that are asked for, not proved."""
    sql = f"SELECT n, book, line, link, body FROM lines {where}"
    return [line_in(*row) for row in rows(sql, values)]


def line_in(n: int, book: Any, line: int, link: Any, body: Any) -> Line:
    """A line out of the database, whatever became of its row; of no number is line 0."""
    link, body = (one if isinstance(one, bytes) else b"" for one in (link, body))
    return Line(n, text_of(book), line if isinstance(line, int) else 0, link.hex(), body)


def text_of(found: Any) -> str:
    """A short text out of the database, whatever became of it."""
    return found.decode("utf-8", "replace") if isinstance(found, bytes) else str(found or "")


def damaged(line: Line, why: str) -> BookDamaged:
    """The sentence for a line that is not what was written."""
    tried = say("read book {book}", book=line.book)
    return BookDamaged(
        tried,
        say("line {n} of it is damaged: {why}", n=line.line, why=why),
        MEND,
        book=line.book,
        line=line.line,
    )


class BookStorage(Storage):
    """The lines that one question leads to, and the way to append. ``insert`` writes; without it,
    TinyDB only reads here."""

    def __init__(
        self,
        engine: Engine,
        types: Types,
        sql: str,
        values: Sequence[object] = (),
        insert: Insert | None = None,
    ) -> None:
        self._engine, self._types, self._insert = engine, types, insert
        self._sql, self._values = sql, values

    def read(self) -> dict[str, Any] | None:
        """Table name -> its documents now, those of the commits in ``lines``."""
        tables: dict[str, dict[int, Fields]] = {LINES: {}}
        for line in proved(self._engine, self._sql, self._values):
            try:
                entry = self._types.read(line)
            except Misfit as error:
                raise damaged(line, error.why) from None
            tables[LINES][line.n] = Fields(entry, line.n)
            for name, rows in entry.records.items():
                table = tables.setdefault(name, {})
                for number, record in enumerate(rows, len(table) + 1):
                    table[number] = Fields(record, number)
        return tables

    def write(self, _tables: dict[str, dict[str, Any]]) -> NoReturn:
        """Raises NotAppendOnly: TinyDB would write all tables anew."""
        raise NotAppendOnly(say("rewrite the book"), say("books are append-only"))

    def insert(self, lines: Sequence[Mapping[str, Any]]) -> list[int]:
        """Append commits, all of them or none; their numbers in the shop."""
        if self._insert is None:
            do = say("Insert into the table of all lines")
            raise NotAppendOnly(say("insert"), say("these are the answer to a question"), do)
        return self._insert(lines)


class BookTable(Table):
    """A TinyDB table that appends. Reading and querying are TinyDB's own."""

    def __init__(
        self, storage: Storage, name: str, cache_size: int = 0, persist_empty: bool = False
    ) -> None:
        # A cached answer is shared between callers and knows nothing of other programs' lines.
        super().__init__(storage, name, cache_size=0 * cache_size, persist_empty=persist_empty)

    # What is read is a document already, and read-only: TinyDB need not wrap it once more.
    document_class = staticmethod(lambda document, _: document)  # type: ignore[assignment]

    def insert(self, document: Mapping[str, Any]) -> int:
        """Append one commit; its number in the shop. Costs the same whatever the books hold."""
        return self.insert_multiple([document])[0]

    def insert_multiple(self, documents: Iterable[Mapping[str, Any]]) -> list[int]:
        """Append documents, all of them or none: records of one table in one commit."""
        rows = list(documents)
        if any(isinstance(row, (Document, Fields)) for row in rows):
            why = say("a document that has a number already would be written twice")
            raise NotAppendOnly(say("insert into {table}", table=self.name), why, _CORRECT)
        storage = self._storage
        assert isinstance(storage, BookStorage)  # BookTables makes both
        if self.name != LINES:
            rows = [{"records": {self.name: rows}}] if rows else []
        return storage.insert(rows)

    def update(self, *_: Any, **__: Any) -> NoReturn:
        """Raises NotAppendOnly, as whatever else would change what is written."""
        tried = say("change table '{table}'", table=self.name)
        raise NotAppendOnly(tried, say("books are append-only"), _CORRECT)

    update_multiple = upsert = remove = truncate = update


class BookTables(TinyDB):
    """A TinyDB whose tables append, over what one question leads to."""

    table_class = BookTable
    default_storage_class = BookStorage  # type: ignore[assignment] # TinyDB names its own

    def entries(self) -> list[Entry]:
        """The commits, typed."""
        return self.find(LINES, Entry)

    def find(self, table: str, kind: type[Record], query: QueryLike | None = None) -> list[Record]:
        """The records of one table that a query picks, or all of them, typed, in the order
        written."""
        found = self.table(table).search(query) if query else self.table(table).all()
        records = (cast(Fields, document).record for document in found)
        return [record for record in records if isinstance(record, kind)]
