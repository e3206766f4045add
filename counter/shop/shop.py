"""Shop: the one door to a shop's folder. Each command and each page calls one of its methods."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from counter.books import Books
from counter.errors import DiskRefused, Refused
from counter.shop.looking import Looking
from counter.shop.reporting import Reporting
from counter.shop.settling import Settling
from counter.trade.settings import parse_settings


class Shop(Settling, Reporting, Looking):
    """An opened shop. Open it with :meth:`Shop.open`, make a new one with :func:`make_shop`."""


def make_shop(
    folder: Path, settings_text: str, clock: Callable[[], datetime] | None = None
) -> Shop:
    """Make a shop folder with its ``shop.toml``. Refused where something is there already."""
    tried = f"make a shop in '{folder}'"
    parse_settings(settings_text)
    try:
        if folder.exists() and any(folder.iterdir()):
            raise Refused(tried, "the folder is not empty", "Name a new folder")
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "shop.toml").write_text(settings_text, "utf-8")
        Books.create(folder)
    except OSError as error:
        raise no_folder(tried, error) from None
    return Shop.open(folder, clock)


def no_folder(tried: str, error: OSError) -> DiskRefused:
    """The sentence for a folder that cannot be made or read."""
    why = (error.strerror or str(error)).lower()
    return DiskRefused(tried, why, "Name a folder that can be written")
