"""What a line of the books is found by later."""

from __future__ import annotations

import re

from counter.books import CATALOGUE, CLOSINGS, Found
from counter.books.lines import Records

# A lot, or the number of a sale or refund, where it begins a text of a line (a tub's name begins
# with its lot). It may find one too many, never one too few.
_NUMBERS = re.compile(rb'"(\d{5}-\d{2,3}|\d{4}-\d\d-\d\d/R?\d{3,})')


def code_name(code: str) -> str:
    """Under which name the lines are found that speak of a supplier's code."""
    return f"code {' '.join(code.split()).casefold()}"


def found_by(book: str, records: Records, body: bytes) -> Found:
    """What a line is found by: the lots and sales it speaks of, its keys; its tables in the
    catalogue, the day that a closing closes or a correction corrects, suppliers' codes, that a line
    was lost. A sale's own number says its book and needs no index."""
    if book == CATALOGUE:
        return Found((), tuple(records))
    sales = records.get("sales", ())
    if records.keys() == {"sales"}:  # as most commits are: their lots stand in one place
        lots = {draw.lot for sale in sales for line in sale.lines for draw in line.draws}
        return Found(tuple(s.key for s in sales if s.key), (), tuple(lots))
    spoken = {name.decode() for name in _NUMBERS.findall(body)} - {s.number for s in sales}
    lost = ("lost",) if "lost" in records else ()
    if book == CLOSINGS:
        days = (r.day for t in ("closings", "reopenings") for r in records.get(t, ()))
        return Found((), (*lost, *spoken, *(f"closed {day}" for day in days)))
    names = [*lost, *(f"corrects {c.corrects}" for c in records.get("corrections", ()))]
    names += [code_name(c) for b in records.get("batches", ()) for c in b.codes.values() if c]
    return Found(tuple(s.key for s in sales if s.key), tuple(names), tuple(spoken))
