"""The books of a shop: linked lines in SQLite, one line a commit, read and written with TinyDB."""

from counter.books.books import CATALOGUE, CLOSINGS, Books, Found
from counter.books.lines import Entry, Line
from counter.books.tables import BookTable, BookTables

__all__ = ["CATALOGUE", "CLOSINGS", "BookTable", "BookTables", "Books", "Entry", "Found", "Line"]
