"""Shop: the one door to a shop's folder. Each command and each page calls one of its methods."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from datetime import datetime
from pathlib import Path

from counter.books import Books
from counter.errors import DiskRefused, Refused
from counter.shop.checking import Checking
from counter.shop.filing import replace_whole
from counter.shop.looking import Looking
from counter.shop.reporting import Reporting
from counter.shop.settling import Settling
from counter.trade.settings import parse_settings


class Shop(Settling, Reporting, Looking, Checking):
    """An opened shop. Open it with :meth:`Shop.open`, make a new one with :func:`make_shop`."""


def make_shop(
    folder: Path, settings_text: str, clock: Callable[[], datetime] | None = None,
    catalogue: str = "",
) -> Shop:  # fmt: skip
    """Make a shop folder with its ``shop.toml``, and with a ``catalogue.toml`` where one is given,
    in use at once. Refused where something is there already. What the disk refuses leaves nothing.
    """
    tried = f"make a shop in '{folder}'"
    parse_settings(settings_text)
    try:
        if folder.exists() and any(folder.iterdir()):
            raise Refused(tried, "the folder is not empty", "Name a new folder")
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise no_folder(tried, error) from None
    with ExitStack() as half_made:
        half_made.callback(_unmake, folder)
        try:
            replace_whole(folder / "shop.toml", settings_text.encode())
            Books.create(folder)
            shop = Shop.open(folder, clock)
            half_made.callback(shop.books.close)
            if catalogue:
                replace_whole(folder / "catalogue.toml", catalogue.encode())
                shop.load_catalogue(catalogue)
        except OSError as error:
            raise no_folder(tried, error) from None
        half_made.pop_all()
    return shop


def _unmake(folder: Path) -> None:
    for path in folder.iterdir():
        path.unlink(missing_ok=True)


def no_folder(tried: str, error: OSError) -> DiskRefused:
    """The sentence for a folder that cannot be made or read."""
    why = (error.strerror or str(error)).lower()
    return DiskRefused(tried, why, "Name a folder that can be written")
