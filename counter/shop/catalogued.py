"""The catalogue of a shop: loaded, checked, changed from the page, written back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from importlib.resources import files
from pathlib import Path

import msgspec

from counter.errors import BadInput, NotFound, Refused
from counter.shop.desk import Desk
from counter.trade.asking import still_open
from counter.trade.catalogue import Break, Catalogue, Portion
from counter.trade.catalogue_file import parse_catalogue
from counter.trade.catalogue_text import write_catalogue
from counter.trade.contents import generations, join_catalogues
from counter.trade.people import Pins
from counter.trade.production import Batch
from counter.trade.starting import RECIPES, refusal_for_new, same_recipes


class Catalogued(Desk):
    """What is made and sold."""

    _used: tuple[str, list[tuple[datetime, Catalogue]]] = "", []

    def catalogue_behind(self, *batches: Batch) -> Catalogue:
        """The catalogue for what is in these batches and in the lots within them: the one in use
        now, with the ingredients as they were when the oldest was made.
        """
        now = self.catalogue
        made = [one.at for batch in batches for one in generations(batch, self.batch)]
        last = self.books.catalogue.entries[-1:]
        if not made or (last and last[0].entered < min(made)):
            return now
        return join_catalogues(self._catalogues_since(min(made)) or [now])

    def _catalogues_since(self, moment: datetime) -> list[Catalogue]:
        """The catalogues in use from a moment on, the oldest first, those alike as one."""
        book = self.books.catalogue
        if self._used[0] != book.last_link:
            self._used = book.last_link, [
                (entry.entered, record)
                for _, _, entry in book.walk()
                for record in entry.records.get("catalogues", ())
                if isinstance(record, Catalogue)
            ]  # fmt: skip
        found: list[Catalogue] = []
        for entered, catalogue in self._used[1]:
            if entered < moment:
                found = []
            if found and _same_food(found[-1], catalogue):
                found[-1] = catalogue  # its prices may be others
            else:
                found.append(catalogue)
        return found

    def refusal_for_new(self, tried: str) -> Refused | None:
        """Why the shop neither prints nor sells yet: its name or its recipes are not confirmed."""
        examples = same_recipes(self.catalogue_as_read(), _example())
        known = examples and not still_open([RECIPES], self.confirmed())
        return refusal_for_new(tried, self.settings.shop, examples and not known)

    def refuse_new(self, tried: str) -> None:
        """Refused as long as the shop is as it was made."""
        if refusal := self.refusal_for_new(tried):
            raise refusal

    def confirm_recipes(self, by: str = "") -> None:
        """Keep that the recipes which came with the program are the shop's own, with a word."""
        if same_recipes(self.catalogue, _example()):
            self.confirm([RECIPES], by)

    def load_catalogue(self, text: str, file: str = "catalogue.toml") -> Catalogue:
        """Check a catalogue and put it to use. Sold things keep the prices they were sold at."""
        made = self._checked(text, file)
        with self.books.exclusive():
            self._keep_an_owner(made, file)
            self.books.commit_catalogue({"catalogues": [made]}, self.now())
        return made

    def _checked(self, text: str, file: str) -> Catalogue:
        told = self.settings
        return parse_catalogue(
            text, told.places, set(told.tax.classes), file, told.shop.market, told.layouts
        )

    def _keep_an_owner(self, made: Catalogue, file: str) -> None:
        """A shop with PINs is never left without an owner who has one: then anybody could come
        in as the owner."""
        pins = self.books.catalogue.last("pins")
        known = set(pins.pins) if isinstance(pins, Pins) else set()
        kept = [p for key, p in made.staff.items() if key in known and p.role == "owner"]
        if known & set(self.catalogue.staff) and not kept:
            raise Refused(
                f"put {file} to use", "no owner with a PIN would be left in its staff list",
                "Keep the owner in it, or take the PINs away first",
            )  # fmt: skip

    def change_portion(
        self, key: str, price: int, last_day_price: int | None = None,
        breaks: Sequence[tuple[int, int]] = (), off: bool = False,
    ) -> Portion:  # fmt: skip
        """Give a portion new prices, in minor units, or switch it off; a new catalogue, checked
        like the file. ``breaks`` are (how many, price for all of them). Sales keep their prices.
        """
        tried = f"change portion {key}"
        with self.books.exclusive():
            catalogue = self.catalogue
            old = catalogue.portion(key, tried)
            several = sorted(breaks)
            if len({n for n, _ in several}) < len(several):
                raise BadInput(tried, "two prices are for equally many", "Keep one of them")
            portion = msgspec.structs.replace(
                old, price=price, last_day_price=last_day_price, off=off,
                breaks=tuple(Break(n, money) for n, money in several),
            )  # fmt: skip
            if portion == old:
                return old
            wanted = msgspec.structs.replace(
                catalogue, portions={**catalogue.portions, key: portion}
            )
            made = self._checked(write_catalogue(wanted, self.settings.places), "the change")
            self.books.commit_catalogue({"catalogues": [made]}, self.now())
        return made.portions[key]

    def catalogue_text(self) -> str:
        """The catalogue in use as the TOML file that makes it again."""
        return write_catalogue(self.catalogue, self.settings.places)

    def load_catalogue_file(self, file: Path) -> Catalogue:
        """Load a catalogue from a TOML file."""
        try:
            text = file.read_text("utf-8")
        except FileNotFoundError:
            raise NotFound(f"load catalogue {file}", "file", str(file), ()) from None
        except (OSError, ValueError) as error:
            why = f"the file is not readable text ({type(error).__name__})"
            raise BadInput(f"load catalogue {file}", why, "Save it as UTF-8 text") from None
        return self.load_catalogue(text, file.name)


@cache
def _example() -> Catalogue:
    """The catalogue that a new shop begins with."""
    text = (files("counter") / "starters" / "catalogue.toml").read_text("utf-8")
    return parse_catalogue(text, 2, {"grocery", "prepared"})


def _same_food(old: Catalogue, new: Catalogue) -> bool:
    return old.ingredients == new.ingredients and old.products.keys() <= new.products.keys()
