"""Shop: the one door to a shop's folder. Each command and each page calls one of its methods."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from counter.errors import Refused
from counter.evening import Evening
from counter.making import BatchNote
from counter.packing import Packing
from counter.selling import Selling
from counter.settings import parse_settings


class Shop(Packing, Selling, Evening):
    """An opened shop. Open it with :meth:`Shop.open`, make a new one with :func:`make_shop`."""


def make_shop(
    folder: Path, settings_text: str, clock: Callable[[], datetime] | None = None
) -> Shop:
    """Make a shop folder with its ``shop.toml``. Refused where something is there already."""
    tried = f"make a shop in '{folder}'"
    parse_settings(settings_text)
    if folder.exists() and any(folder.iterdir()):
        raise Refused(tried, "the folder is not empty", "Name a new folder")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shop.toml").write_text(settings_text, "utf-8")
    return Shop.open(folder, clock)


__all__ = ["BatchNote", "Shop", "make_shop"]
