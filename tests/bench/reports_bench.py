"""A year's report of a shop with ten years of closings, against the time it may take.

The closings are of full size: four weeks of the invented shop are played, and the last twelve of
them are written again and again under earlier dates until ten years are full.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from counter.books import Books
from counter.books.folder import MemoryFolder, file_of
from counter.shop import Shop
from counter.shop.desk import TABLES
from counter.trade.closing import Closing
from demo_shop import make_demo

HERE = Path(__file__).parent
ZONE = ZoneInfo("America/Los_Angeles")
NOW = datetime(2026, 11, 24, 12, 0, tzinfo=ZONE)
LAST = date(2026, 11, 22)
YEARS = 10
CEILING = 1.5  # seconds, for a year's report with its PDF
Row = tuple[str, float, float]  # name, ours in seconds, what it may take


def shop_of_years(folder: Path, years: int = YEARS) -> Path:
    """A shop folder whose closings fill so many years; day books are there by name only."""
    make_demo(folder, NOW, days=28)
    played = Shop.open(folder, lambda: NOW)
    real = {c.day: c for c in played.closings(date(2026, 10, 1), LAST)}
    pattern = list(real.values())[-12:]
    memory = MemoryFolder()
    books = Books(memory, TABLES)
    first = date(2026, 11, 23) - timedelta(days=365 * years)
    with books.exclusive():
        for i in range(365 * years):
            day = first + timedelta(days=i)
            if day.weekday() == 0:
                continue
            closing = real.get(day) or _on_day(pattern[i % len(pattern)], day)
            books.commit_closing({"closings": [closing]}, NOW)
            memory.files.setdefault(file_of(day.isoformat()), bytearray())
    played.books.close()
    (folder / "closings.jsonl").write_bytes(bytes(memory.files["closings.jsonl"]))
    for path in memory.files:
        file = folder / path
        if not file.exists():
            file.parent.mkdir(parents=True, exist_ok=True)
            file.touch()
    return folder


def _on_day(closing: Closing, day: date) -> Closing:
    at = closing.at + (day - closing.day)
    lots = tuple(
        msgspec.structs.replace(lot, lot=f"{day:%y%j}-{i + 1:02}")
        for i, lot in enumerate(closing.lots)
    )
    return msgspec.structs.replace(closing, day=day, at=at, lots=lots)


def best_of(do: Callable[[], object], times: int = 3) -> float:
    """The best of several runs: what the machine can do when nobody else uses it."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        do()
        taken.append(time.perf_counter() - start)
    return min(taken)


def run() -> list[Row]:
    with tempfile.TemporaryDirectory(dir=HERE) as name:
        folder = shop_of_years(Path(name) / "shop")
        size = (folder / "closings.jsonl").stat().st_size >> 20

        # A shop is opened anew each time: what a command pays.
        def opened() -> Shop:
            return Shop.open(folder, lambda: NOW)

        def year() -> bytes:
            shop = opened()
            return shop.span_report(shop.span_summary("year", date(2025, 6, 1)))

        def month() -> bytes:
            shop = opened()
            return shop.span_report(shop.span_summary("month", date(2025, 6, 1)))

        return [
            (
                f"a year's report, {YEARS} years ({size} MB) there / may take",
                best_of(year),
                CEILING,
            ),
            ("a month's report / may take", best_of(month), CEILING),
            ("tomorrow's plan / may take", best_of(lambda: opened().plan(NOW.date())), CEILING),
            ("a closing report / may take", best_of(lambda: opened().day_report(LAST)), CEILING),
        ]
