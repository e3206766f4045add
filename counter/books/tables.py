"""TinyDB over a journal: its documented extension points, a storage and a table.

TinyDB's own storages rewrite the whole file at every change, its tables change documents in
place, and a document number is given again after the last document is removed. None of this may
happen to a shop's books: here inserting appends one line, documents are handed out read-only,
and whatever would change what is written raises NotAppendOnly.
"""

from __future__ import annotations

import threading
from bisect import bisect_left, bisect_right
from collections.abc import Callable, ItemsView, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NoReturn

import msgspec
from tinydb import TinyDB
from tinydb.storages import Storage
from tinydb.table import Document, Table

from counter.books.journal import Journal
from counter.errors import NotAppendOnly

Commit = Callable[[Mapping[str, Sequence[Mapping[str, Any]]]], int]
_CORRECT = "Write a new record that names the one it corrects"


class _Plain(msgspec.Struct):
    n: int
    records: dict[str, list[dict[str, Any]]]


_decode = msgspec.json.Decoder(_Plain).decode


def freeze(value: Any) -> Any:
    """Dictionaries become read-only mappings and lists tuples, all the way down."""
    if isinstance(value, dict):
        return MappingProxyType({key: freeze(v) for key, v in value.items()})
    if isinstance(value, list):
        return tuple(freeze(v) for v in value)
    return value


class BookDocument(Mapping[str, Any]):
    """A document handed out: read-only, whatever depth. ``doc_id`` is TinyDB's, never shown."""

    __slots__ = ("_fields", "doc_id")

    def __init__(self, fields: Mapping[str, Any], doc_id: int) -> None:
        self._fields, self.doc_id = fields, doc_id

    def __getitem__(self, key: str) -> Any:
        return self._fields[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._fields)

    def __len__(self) -> int:
        return len(self._fields)

    def __repr__(self) -> str:
        return f"BookDocument({dict(self._fields)}, doc_id={self.doc_id})"


class _RowItems(ItemsView[str, Mapping[str, Any]]):
    def __init__(self, rows: Rows) -> None:
        super().__init__(rows)
        self._rows = rows

    def __iter__(self) -> Iterator[tuple[str, Mapping[str, Any]]]:
        for i in range(len(self._rows)):
            yield str(i + 1), self._rows.at(i)


class Rows(Mapping[str, Mapping[str, Any]]):
    """One table as TinyDB wants it, number -> document, as it was at one moment.

    It looks at a list that only grows and remembers how far it went: nothing is copied, and a
    thread that searches does not stumble over one that inserts.
    """

    __slots__ = ("_documents", "_length")

    def __init__(self, documents: list[Mapping[str, Any]]) -> None:
        self._documents, self._length = documents, len(documents)

    def at(self, i: int) -> Mapping[str, Any]:
        return self._documents[i]

    def __getitem__(self, key: str) -> Mapping[str, Any]:
        if not (key.isascii() and key.isdecimal() and 1 <= int(key) <= self._length):
            raise KeyError(key)
        return self._documents[int(key) - 1]

    def __iter__(self) -> Iterator[str]:
        return (str(i + 1) for i in range(self._length))

    def __len__(self) -> int:
        return self._length

    def items(self) -> ItemsView[str, Mapping[str, Any]]:
        return _RowItems(self)


class JournalStorage(Storage):
    """The documents of a journal. ``commit`` writes; without it, TinyDB only reads here."""

    def __init__(self, journal: Journal, commit: Commit | None = None) -> None:
        self._journal, self._commit = journal, commit
        self._guard = threading.Lock()
        self._lines: list[bytes] | None = None
        self._upto = 0
        self._tables: dict[str, list[Mapping[str, Any]]] = {}
        self._written_in: dict[str, list[int]] = {}  # for each document, the line it came with

    def read(self) -> dict[str, Any] | None:
        """Table name -> its documents now. The dictionary is the caller's own."""
        self._journal.catch_up()
        with self._guard:
            self._take_new_lines()
            return {name: Rows(documents) for name, documents in self._tables.items()}

    def write(self, data: dict[str, dict[str, Any]]) -> NoReturn:
        """Raises NotAppendOnly: TinyDB would write all tables anew."""
        raise NotAppendOnly(f"rewrite {', '.join(data) or 'the book'}", "books are append-only")

    def insert(self, table: str, rows: Sequence[Mapping[str, Any]]) -> list[int]:
        """Append one commit and return the numbers of its documents."""
        if self._commit is None:
            do = "Write with Books.commit, which is told when it was entered"
            raise NotAppendOnly(f"insert into {table}", "this view only reads", do)
        n = self._commit({table: rows})
        with self._guard:
            self._take_new_lines()
            # Others may have appended meanwhile: ours are the documents of our line.
            lines = self._written_in[table]
            return list(range(bisect_left(lines, n) + 1, bisect_right(lines, n) + 1))

    def _take_new_lines(self) -> None:
        lines = self._journal.lines
        if lines is not self._lines:  # the file was read anew, from a backup perhaps
            self._lines, self._upto, self._tables, self._written_in = lines, 0, {}, {}
        for line in lines[self._upto :]:
            plain = _decode(line)
            for name, rows in plain.records.items():
                self._tables.setdefault(name, []).extend(freeze(row) for row in rows)
                self._written_in.setdefault(name, []).extend([plain.n] * len(rows))
            self._upto += 1


class BookTable(Table):
    """A TinyDB table that appends. Reading and querying are TinyDB's own."""

    document_class = BookDocument  # type: ignore[assignment] # TinyDB's is a dict, ours read-only

    def __init__(
        self, storage: Storage, name: str, cache_size: int = 0, persist_empty: bool = False
    ) -> None:
        # A cached answer is shared between callers and knows nothing of other processes' lines.
        super().__init__(storage, name, cache_size=0 * cache_size, persist_empty=persist_empty)

    def insert(self, document: Mapping[str, Any]) -> int:
        """Append one document, one commit. Costs the same whatever the book holds."""
        return self.insert_multiple([document])[0]

    def insert_multiple(self, documents: Iterable[Mapping[str, Any]]) -> list[int]:
        """Append documents in one commit: all of them or none."""
        rows = list(documents)
        if any(isinstance(row, Document | BookDocument) for row in rows):
            why = "a document that has a number already would be written twice"
            raise NotAppendOnly(f"insert into {self.name}", why, _CORRECT)
        if not rows:
            return []
        storage = self._storage
        assert isinstance(storage, JournalStorage)  # BookTables makes both
        return storage.insert(self.name, rows)

    def update(self, *_: Any, **__: Any) -> NoReturn:
        """Raises NotAppendOnly."""
        self._refuse("update")

    def update_multiple(self, *_: Any, **__: Any) -> NoReturn:
        """Raises NotAppendOnly."""
        self._refuse("update")

    def upsert(self, *_: Any, **__: Any) -> NoReturn:
        """Raises NotAppendOnly."""
        self._refuse("update")

    def remove(self, *_: Any, **__: Any) -> NoReturn:
        """Raises NotAppendOnly."""
        self._refuse("remove from")

    def truncate(self) -> NoReturn:
        """Raises NotAppendOnly."""
        self._refuse("empty")

    def _refuse(self, verb: str) -> NoReturn:
        raise NotAppendOnly(f"{verb} table '{self.name}'", "books are append-only", _CORRECT)


class BookTables(TinyDB):
    """A TinyDB whose tables append. Open it over a journal: ``BookTables(journal, commit)``."""

    table_class = BookTable
    default_storage_class = JournalStorage  # type: ignore[assignment] # TinyDB names its own
