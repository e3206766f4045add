"""A year's report of a shop with ten years of closings, against the time it may take.

The closings are of full size: four weeks of the invented shop are played, and the last twelve of
them are written again and again under earlier dates until ten years are full.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from counter.shop import Shop, make_shop
from counter.trade.closing import Closing
from counter.trade.temperatures import Temperature
from demo_shop import make_demo

HERE = Path(__file__).parent
ZONE = ZoneInfo("America/Los_Angeles")
NOW = datetime(2026, 11, 24, 12, 0, tzinfo=ZONE)
LAST = date(2026, 11, 22)
YEARS = 10
CEILING = 0.5  # seconds, for a year's report with its PDF
Row = tuple[str, float, float]  # name, ours in seconds, what it may take


def shop_of_years(folder: Path, years: int = YEARS) -> Path:
    """A shop folder with so many years of closings; before the four weeks that were played, a day's
    book holds one temperature."""
    make_demo(folder / "played", NOW, days=28)
    played = Shop.open(folder / "played", lambda: NOW)
    real = {c.day: c for c in played.closings.between(date(2026, 10, 1), LAST)}
    pattern = list(real.values())[-12:]
    shop = make_shop(folder / "old", (folder / "played/shop.toml").read_text("utf-8"), lambda: NOW)
    shop.products.load_catalogue(played.products.catalogue_text())
    books = shop.desk.books
    with books.exclusive():
        for i in range(365 * years):
            day = date(2026, 11, 23) - timedelta(days=365 * years - i)
            if day.weekday() == 0:
                continue
            closing = real.get(day) or _on_day(pattern[i % len(pattern)], day)
            for entry in played.desk.books.entries(str(day)):
                books.commit(str(day), entry.records, entry.entered)
            if day not in real:
                reading = Temperature(
                    place="fridge", hot=False, celsius=Decimal(4), at=closing.at, ok=True
                )
                books.commit(str(day), {"temperatures": [reading]}, closing.at)
            books.commit("closings", {"closings": [closing]}, closing.at)
    books.close()
    played.desk.books.close()
    return folder / "old"


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
        folder = shop_of_years(Path(name))
        size = (folder / "books.sqlite").stat().st_size >> 20

        # A shop is opened anew each time: what a command pays.
        def opened() -> Shop:
            return Shop.open(folder, lambda: NOW)

        def year() -> bytes:
            shop = opened()
            return shop.reports.span_report(shop.reports.span_summary("year", date(2025, 6, 1)))

        def month() -> bytes:
            shop = opened()
            return shop.reports.span_report(shop.reports.span_summary("month", date(2025, 6, 1)))

        return [
            (
                f"a year's report, {YEARS} years ({size} MB) there / may take",
                best_of(year),
                CEILING,
            ),
            ("a month's report / may take", best_of(month), CEILING),
            (
                "tomorrow's plan / may take",
                best_of(lambda: opened().plan.for_day(NOW.date())),
                3 * CEILING,
            ),
            (
                "a closing report / may take",
                best_of(lambda: opened().reports.day_report(LAST)),
                CEILING,
            ),
        ]
