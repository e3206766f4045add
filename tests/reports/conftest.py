"""A week of the invented shop, played once for all tests that only read."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from counter.shop import Shop
from demo_shop import make_demo

NOW = datetime(2026, 11, 24, 12, 0, tzinfo=ZoneInfo("America/Los_Angeles"))
LAST = date(2026, 11, 22)
FIRST = LAST - timedelta(days=6)


@pytest.fixture(scope="session")
def week_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nine days behind it, the last of them a Sunday; a Tuesday morning is open."""
    folder = tmp_path_factory.mktemp("week") / "shop"
    make_demo(folder, NOW, days=9)
    return folder


@pytest.fixture
def week(week_folder: Path) -> Shop:
    return Shop.open(week_folder, lambda: NOW)
