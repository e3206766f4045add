"""A second, plain path to a day's figures: the lines of the day book, and sums in dictionaries.

Nothing of the program's own reckoning is used here, only the JSON as it stands in the file.
"""

from __future__ import annotations

import json
from collections import Counter
from datetime import date, datetime
from pathlib import Path
from typing import Any

from tests import lines as books

Rows = dict[str, list[dict[str, Any]]]


def us_clock(at: datetime) -> str:
    """``6:34 PM``, as a clock is read in the United States."""
    return f"{(at.hour - 1) % 12 + 1}:{at:%M} {'AM' if at.hour < 12 else 'PM'}"


def us_moment(at: datetime) -> str:
    """``11/26/26, 6:34 PM``."""
    return f"{at.month}/{at.day}/{at:%y}, {us_clock(at)}"


def us_date(day: date | str) -> str:
    """``Nov 26, 2026``."""
    day = date.fromisoformat(str(day))
    return f"{day:%b} {day.day}, {day.year}"


def rows_of(folder: Path, day: date) -> Rows:
    """All records of a day book by table."""
    found: Rows = {}
    for line in books.lines_of(folder, str(day)):
        for table, rows in json.loads(line)["records"].items():
            found.setdefault(table, []).extend(rows)
    return found


def carried_into(folder: Path, day: date) -> dict[str, int]:
    """What the closing before carried over, by lot."""
    before: dict[str, int] = {}
    for line in books.lines_of(folder, "closings"):
        for closing in json.loads(line)["records"].get("closings", []):
            if closing["day"] < str(day):
                before = {c["lot"]["lot"]: c["amount"] for c in closing["carried"]}
    return before


def draws_of(rows: Rows) -> Counter[str]:
    """Sold by lot, what came back on the shelf taken off."""
    sold: Counter[str] = Counter()
    for sale in rows.get("sales", []):
        for line in sale["lines"]:
            for draw in line["draws"]:
                sold[draw["lot"]] += draw["amount"]
    for refund in rows.get("refunds", []):
        for line in refund["lines"] if refund["restocked"] else []:
            for draw in line["draws"]:
                sold[draw["lot"]] -= draw["amount"]
    return sold


def by(rows: list[dict[str, Any]], key: str, figure: str) -> dict[str, int]:
    """Sums of one figure by one key."""
    found: Counter[str] = Counter()
    for row in rows:
        found[row[key]] += row[figure]
    return dict(found)


def lines_of(rows: Rows) -> list[dict[str, Any]]:
    return [line for sale in rows.get("sales", []) for line in sale["lines"]]
