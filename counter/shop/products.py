"""The catalogue of a shop: loaded, checked, changed from the page, written back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
from tinydb import where

from counter.books import CATALOGUE
from counter.errors import BadInput, NotFound, Refused
from counter.shop.desk import Desk
from counter.trade.asking import Question, still_open
from counter.trade.catalogue import Break, Catalogue, Product
from counter.trade.catalogues import in_use, waiting
from counter.trade.contents import allergens_within, generations, join_catalogues, named
from counter.trade.ledger import Printed
from counter.trade.money import show_money
from counter.trade.people import Pins, owner_among
from counter.trade.production import Batch
from counter.trade.starting import RECIPES, refusal_for_new, same_recipes
from counter.trade.stock import LotRow
from labels.say import Said, say

if TYPE_CHECKING:
    from counter.trade.catalogue_changes import CatalogueChange


class Products:
    """What is made and sold."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def product_of(self, batch: Batch) -> Product:
        """The product as it is in the catalogue, or as it last was."""
        found = self.desk.catalogues.with_left(self.desk.catalogue, [batch.product])
        return found.product(batch.product, say("label lot {lot}", lot=batch.lot))

    def catalogue_behind(self, *batches: Batch) -> Catalogue:
        """The catalogue for what is in these batches and in the lots within them: the one in use
        now, with the ingredients as they were when the oldest was made, and the products of the
        batches that have left it.
        """
        now = self.desk.catalogues.with_left(
            self.desk.catalogue, (batch.product for batch in batches)
        )
        made = [one.at for batch in batches for one in generations(batch, self.desk.batch)]
        last = self.desk.books.last_entry(CATALOGUE, "catalogues")
        if not made or (last and not last.records["catalogues"][1:] and last.entered < min(made)):
            return now
        return join_catalogues([*self._catalogues_since(min(made)), now])

    def printed_of(self, lot: str) -> list[Printed]:
        """The labels printed of a lot so far, in order."""
        return self.desk.books.select(about=lot).find("printed", Printed, where("lot") == lot)

    def _catalogues_since(self, moment: datetime) -> list[Catalogue]:
        """The catalogues in use from a moment on, the oldest first, those alike as one."""
        found: list[Catalogue] = []
        now = self.desk.now().timestamp()
        for came, catalogue in self.desk.catalogues.every():
            if catalogue.since and came.timestamp() > now:
                continue  # it waits yet
            if came < moment:
                found = []
            if found and _same_food(found[-1], catalogue):
                found[-1] = catalogue  # its prices may be others
            else:
                found.append(catalogue)
        return found

    def refusal_for_new(self, tried: Said) -> Refused | None:
        """Why the shop neither prints nor sells yet: its name or its recipes are not confirmed."""
        return refusal_for_new(
            tried, self.desk.settings.shop, self._is_example(self.desk.catalogue)
        )

    def _is_example(self, catalogue: Catalogue) -> bool:
        """Whether a catalogue has the recipes that came with the program, and nobody said yes."""
        alike = same_recipes(catalogue, _example())
        return alike and bool(still_open([RECIPES], self.desk.questions.confirmed()))

    def refuse_new(self, tried: Said) -> None:
        """Refused as long as the shop is as it was made."""
        if refusal := self.refusal_for_new(tried):
            raise refusal

    def confirm_recipes(self, by: str = "") -> None:
        """Keep that the recipes which came with the program are the shop's own, with a word."""
        if same_recipes(self.desk.catalogue, _example()):
            self.desk.questions.confirm([RECIPES], by)

    def look_at_catalogue(
        self, text: str, file: str = "catalogue.toml", since: date | None = None
    ) -> CatalogueChange:
        """What loading a catalogue would change, line by line, and what would be asked. Nothing is
        written; refused as loading it would be."""
        made, today = self._checked(text, file), self.desk.now().date()
        if since is not None and since < today:
            why = say("{date} has passed, and what was sold keeps its price", date=since)
            raise BadInput(
                say("put {file} to use", file=file), why, say("Name a day to come, or none")
            )
        if since is not None and since > today:
            made = msgspec.structs.replace(made, since=since)
        self._keep_an_owner(made, file)
        return self._change_to(made, say("put {file} to use", file=file))

    def _change_to(self, made: Catalogue, tried: Said) -> CatalogueChange:
        from counter.trade.catalogue_changes import CatalogueChange, asked_of, changes

        today, kept = self.desk.now().date(), self.desk.catalogues.kept()
        old = in_use(kept, made.since or today)
        sold = kept and not self._is_example(old)  # by the example nothing is sold
        rows = [
            row
            for row in self.desk.standing().rows.values()
            if made.since is None or row.lot.mark.day >= made.since
        ]
        questions = asked_of(old, made, tried, self._money, rows) if sold else ()
        return CatalogueChange(
            made=made,
            lines=changes(old, made, self.desk.settings.places),
            questions=(*questions, *self._unnamed_on_packs(made, rows, tried)),
            after=tuple(c.since for c in waiting(kept, made.since or today) if c.since),
        )

    def _unnamed_on_packs(
        self, made: Catalogue, rows: Sequence[LotRow], tried: Said
    ) -> Iterator[Question]:
        """The lots on hand whose printed labels do not name what ``made`` says is in them."""
        from counter.trade.catalogue_changes import ALLERGEN_LAW

        for lot in (row.lot.lot for row in rows if row.there > 0):
            batch = self.desk.batch(lot)
            known = self.catalogue_behind(batch)
            then = allergens_within(batch, join_catalogues([known, made]), self.desk.batch)
            new = then - allergens_within(batch, known, self.desk.batch)
            names = named(sorted(new))
            if new and self.printed_of(lot):
                yield Question(
                    about=f"printed.{lot}",
                    tried=tried,
                    clause=ALLERGEN_LAW,
                    text=say(
                        "the printed labels of lot {lot} do not name {allergens}",
                        lot=lot,
                        allergens=names,
                    ),
                )

    def _money(self, minor: int) -> str:
        return show_money(minor, self.desk.settings.cash.currency, self.desk.settings.shop.language)

    def load_catalogue(
        self, text: str, file: str = "catalogue.toml", since: date | None = None, by: str = ""
    ) -> Catalogue:
        """Check a catalogue and put it to use, from the day ``since`` on where that is to come.
        Sold things keep the prices they were sold at; what is on hand can be sold to the end.

        Asked for what :func:`.asked_of` names; the answers stand in the same commit.
        """
        with self.desk.books.exclusive():
            change = self.look_at_catalogue(text, file, since)
            self._put_to_use(change, by)
        return change.made

    def _put_to_use(self, change: CatalogueChange, by: str) -> None:
        answers = self.desk.questions.answered(change.questions, by[:60])
        made = msgspec.structs.replace(change.made, by=by[:60])
        self.desk.catalogues.keep({"answers": answers} if answers else {}, made)

    def waiting_catalogues(self) -> list[Catalogue]:
        """The catalogues that wait for their day."""
        return waiting(self.desk.catalogues.kept(), self.desk.now().date())

    def take_back_catalogue(self, since: date) -> None:
        """Let a catalogue that waits for its day never come into use. NotFound for none."""
        with self.desk.books.exclusive():
            days = [c.since for c in self.waiting_catalogues()]
            if since not in days:
                tried = say("take back the catalogue of {date}", date=since)
                raise NotFound(tried, "waiting catalogue", str(since), map(str, days))
            kept = [c for c in self.desk.catalogues.kept() if c.since != since]
            self.desk.catalogues.keep({"catalogues": kept})

    def _checked(self, text: str, file: str) -> Catalogue:
        from counter.trade.catalogue_file import parse_catalogue

        told = self.desk.settings
        return parse_catalogue(
            text, told.places, set(told.tax.classes), file, told.shop.market, told.layouts
        )

    def _keep_an_owner(self, made: Catalogue, file: str) -> None:
        """A shop with PINs is never left without an owner who has one: then anybody could come
        in as the owner."""
        pins = self.desk.last_of(Pins)
        known = set(pins.pins) if pins else set()
        if known & set(self.desk.catalogue.staff) and not owner_among(known, made.staff):
            raise Refused(
                say("put {file} to use", file=file),
                say("no owner with a PIN would be left in its staff list"),
                say("Keep the owner in it, or take the PINs away first"),
            )

    def change_portion(
        self,
        key: str,
        price: int,
        last_day_price: int | None = None,
        breaks: Sequence[tuple[int, int]] = (),
        off: bool = False,
        by: str = "",
    ) -> CatalogueChange:
        """Give a portion new prices, in minor units, or switch it off; a new catalogue, checked
        and asked about like the file. ``breaks`` are (how many, price for all of them). Sales keep
        their prices. A catalogue that waits for its day has its own.
        """
        from counter.trade.catalogue_file import write_catalogue

        tried = say("change portion {name}", name=key)
        with self.desk.books.exclusive():
            catalogue = self.desk.catalogue
            old = catalogue.portion(key, tried)
            several = sorted(breaks)
            if len({n for n, _ in several}) < len(several):
                raise BadInput(
                    tried, say("two prices are for equally many"), say("Keep one of them")
                )
            portion = msgspec.structs.replace(
                old,
                price=price,
                last_day_price=last_day_price,
                off=off,
                breaks=tuple(Break(n, money) for n, money in several),
            )
            wanted = msgspec.structs.replace(
                catalogue, portions={**catalogue.portions, key: portion}
            )
            made = self._checked(write_catalogue(wanted, self.desk.settings.places), "the change")
            change = self._change_to(made, tried)
            if portion != old:
                self._put_to_use(change, by)
        return change

    def catalogue_text(self) -> str:
        """The catalogue in use as the TOML file that makes it again."""
        from counter.trade.catalogue_file import write_catalogue

        return write_catalogue(self.desk.catalogue, self.desk.settings.places)

    def read_catalogue_file(self, file: Path) -> str:
        """The text of a TOML file that is to be loaded."""
        try:
            return file.read_text("utf-8")
        except FileNotFoundError:
            raise NotFound(say("load catalogue {file}", file=file), "file", str(file), ()) from None
        except (OSError, ValueError) as error:
            why = say("the file is not readable text ({why})", why=type(error).__name__)
            raise BadInput(
                say("load catalogue {file}", file=file), why, say("Save it as UTF-8 text")
            ) from None


@cache
def _example() -> Catalogue:
    """The catalogue that a new shop begins with."""
    from importlib.resources import files

    from counter.trade.catalogue_file import parse_catalogue

    text = (files("counter") / "starters" / "catalogue.toml").read_text("utf-8")
    return parse_catalogue(text, 2, {"grocery", "prepared"})


def _same_food(old: Catalogue, new: Catalogue) -> bool:
    return (old.ingredients, old.may_contain) == (new.ingredients, new.may_contain) and all(
        key in new.products and new.products[key].may_contain == product.may_contain
        for key, product in old.products.items()
    )
