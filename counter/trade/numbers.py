"""Numbers after a shop was put back from a copy: what may be out already is not given again.

A pack and a receipt keep their number, and the books of the copy do not know it. So the owner says
which are out; for a day of which he names none, numbers go on behind so many that no day reaches
them (a day has at most 99 lots; that a morning has fewer than 50 batches and a day fewer than 5,000
sales is our own assumption).
"""

from __future__ import annotations

import re
from datetime import date

import msgspec

from counter.errors import Refused
from counter.trade.asking import Answer, Question
from counter.trade.production import LOT, lot_day
from labels.say import say

ABOUT = "restored"
_SALE = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})/([0-9]{1,6})")


class Least(msgspec.Struct, frozen=True):
    """The numbers of a day behind which new ones go on."""

    lots: int = 0
    sales: int = 0
    refunds: int = 0


GAP = Least(50, 5000, 500)


def question_of(first: str, mark: str) -> Question:
    """What is asked once after a restore. ``first`` is the last day that the copy knows, ``mark``
    tells one restore from another."""
    return Question(
        about=ABOUT,
        tried=say("write anything down"),
        text=say(
            "this shop was put back from a copy that ends on {date}: name the highest lot and sale "
            "number that are out since, or say that there are none",
            date=first,
        ),
        basis=f"{first} {mark}",
    )


def check_answerer(by: str, owners: frozenset[str] | None) -> None:
    """Refuse an answer of somebody who is no owner; ``owners`` None where nobody has a PIN."""
    if owners is not None and by not in owners:
        do = say("Let {names} say which numbers are out", names=", ".join(sorted(owners)))
        raise Refused(say("go on after a restore"), say("'{text}' is no owner", text=by), do)


def least_after(answer: Answer | None, day: date, answered_on: date) -> Least:
    """Behind which numbers a day goes on: those that the owner named of it, else the gap. Nothing
    for a day before the copy ended or after the answer, since numbers of it are in the books."""
    if answer is None or not date.fromisoformat(answer.basis[:10]) <= day <= answered_on:
        return Least()
    lots = [int(m[3]) for m in LOT.finditer(answer.words) if lot_day(m[0]) == day]
    sales = [int(m[2]) for m in _SALE.finditer(answer.words) if m[1] == str(day)]
    return Least(max(lots, default=GAP.lots), max(sales, default=GAP.sales), GAP.refunds)


def next_number(last: str, least: int) -> int:
    """The number behind ``last``, such as ``2026-11-24/0017`` or ``2026-11-24/R003`` ("" where
    there is none), and over ``least``.

    >>> next_number("2026-11-24/R003", 0), next_number("", 500)
    (4, 501)
    """
    return max(int(last.rpartition("/")[2].lstrip("R") or 0), least) + 1
