"""The files of a shop: linked lines of text, one line a commit, never rewritten."""

from counter.books.books import Books, DayBook
from counter.books.check import Checked, Finding
from counter.books.journal import Journal
from counter.books.lines import Entry
from counter.books.tables import BookTable, BookTables, JournalStorage

__all__ = [
    "BookTable",
    "BookTables",
    "Books",
    "Checked",
    "DayBook",
    "Entry",
    "Finding",
    "Journal",
    "JournalStorage",
]
