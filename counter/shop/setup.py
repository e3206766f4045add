"""The settings of an opened shop: looked at, changed, and followed when the file has changed.

``shop.toml`` stays the one place where they stand. A change is written beside it, checked, and put
in its place whole; what was there before is kept as ``shop.toml.before``.
"""

from __future__ import annotations

import hashlib
from datetime import date
from pathlib import Path

import msgspec

from counter.books.engine import refused
from counter.books.files import sync_folder
from counter.errors import BadInput, CounterError, DiskRefused, Refused
from counter.shop.desk import Desk
from counter.shop.files import replace_whole, stamp_of
from counter.shop.labels import Labels
from counter.trade.catalogue_file import parse_catalogue, write_catalogue
from counter.trade.dates import trading_day
from counter.trade.money import minor_places
from counter.trade.schema import toml_table
from counter.trade.settings import Settings, SettingsChange, parse_settings
from counter.trade.settings_text import (
    Changes,
    SettingRefused,
    SettingsMoved,
    change_settings,
    said_changes,
)
from labels.blanks import BLANKS
from labels.errors import answer_of
from labels.say import NOTHING, full, say, term

FILE = "shop.toml"
TRIED = say("change the settings")
NEEDED = ("name", "street", "city", "zip")  # 21 CFR 101.5: maker and place stand on every label


class SettingsFile(msgspec.Struct, frozen=True):
    """``shop.toml`` as it stands on the disk. ``digest`` tells whether it is still the same."""

    text: str
    digest: str


class Setup:
    """The settings."""

    def __init__(self, desk: Desk, labels: Labels, settings_stamp: tuple[int, int]) -> None:
        self.desk = desk
        self.labels = labels
        self.settings_stamp = settings_stamp  # of shop.toml as it was read

    settings_fault = NOTHING  # why the file as it stands now is not in use; "" when it is

    def settings_file(self) -> SettingsFile:
        """The text of ``shop.toml`` and its digest. Refused for a shop in memory."""
        data = self._read()
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            raise BadInput(
                say("read {what}", what=term(FILE)),
                say("it is not text in UTF-8"),
                say("Save it as UTF-8"),
            ) from None
        return SettingsFile(text, hashlib.sha256(data).hexdigest()[:16])

    def follow_settings(self) -> bool:
        """Take over what somebody wrote into ``shop.toml``; whether anything changed.

        Costs one look at the file's time and size. A file that cannot be read or is not right
        changes nothing: ``settings_fault`` says why, and the shop goes on with what it knew.
        """
        if self.desk.folder is None:
            return False
        try:
            stamp = stamp_of(self.desk.folder / FILE)
            if stamp == self.settings_stamp:
                return False
            self.settings_stamp = stamp
            found = parse_settings(self.settings_file().text)
        except CounterError as error:
            self.settings_fault = error.said
            return False
        except OSError as error:
            self.settings_fault = full(answer_of(error))
            return False
        self.settings_fault = NOTHING
        if found == self.desk.settings:
            return False
        self._take(found)
        return True

    def change_settings(self, changes: Changes, digest: str, by: str = "") -> list[str]:
        """Change entries of ``shop.toml``; what changed, one line each, [] where nothing did.
        The books keep who changed what.

        ``digest`` is of the file that was looked at. SettingsMoved when it has changed since,
        BadEntry for what cannot be, SettingRefused for what cannot be in this shop: then the file
        is as it was. Holds from the next sale on; what is sold keeps its tax and its price.
        """
        placed = ""
        try:
            with self.desk.books.exclusive():
                there = self.settings_file()
                if there.digest != digest:
                    why = say(
                        "somebody else has changed {file} since this page was opened", file=FILE
                    )
                    do = say("Compare what stands there now, then keep it again")
                    raise SettingsMoved(TRIED, why, do)
                said = said_changes(toml_table(there.text, FILE), changes)
                if not said:
                    return []
                made = change_settings(there.text, changes)
                wanted = parse_settings(made)
                self._must_fit(wanted)
                self._put_in_place(there.text, made)
                placed = there.text
                change = SettingsChange(tuple(said), self.desk.now(), by[:60], wanted.tax)
                self.desk.catalogues.keep({"settings": [change]})
        except CounterError:
            if placed:
                self._put_in_place(placed, placed)  # what nobody can look up is not done
            raise
        self._take(wanted)
        return said

    def last_settings_change(self) -> SettingsChange | None:
        """Who changed what last, if anybody did."""
        last = self.desk.last_of(SettingsChange)
        return last if last and last.lines else None

    # -- what cannot be in this shop as it stands

    def _must_fit(self, wanted: Settings) -> None:
        for key in NEEDED:
            if getattr(self.desk.settings.shop, key) and not getattr(wanted.shop, key).strip():
                raise SettingRefused(
                    say("it stands on every label"), say("Fill it in"), path=f"shop.{key}"
                )
        self._must_keep_currency(wanted)
        self._must_keep_day(wanted)
        self._must_know_blanks(wanted)
        self._must_fit_catalogue(wanted)

    def _must_fit_catalogue(self, wanted: Settings) -> None:
        """A catalogue that a file edited by hand has put out of step is no reason to refuse a
        new telephone number: it is checked when something changes that it stands on."""
        old = self.desk.settings
        if (old.tax.classes.keys(), old.shop.market, old.layouts) == (
            wanted.tax.classes.keys(),
            wanted.shop.market,
            wanted.layouts,
        ):
            return
        try:
            for kept in self.desk.catalogues.kept():
                parse_catalogue(
                    write_catalogue(kept, old.places),
                    wanted.places,
                    set(wanted.tax.classes),
                    "the catalogue",
                    wanted.shop.market,
                    wanted.layouts,
                )
        except BadInput as error:
            do = say("Change the catalogue first, under Catalogue as a file")
            raise SettingRefused(
                say("the catalogue in use would not fit: {why}", why=error.why),
                do,
                path=self._blamed(wanted),
            ) from None

    def _blamed(self, wanted: Settings) -> str:
        """The setting because of which a catalogue that was right no longer is."""
        if wanted.shop.market != self.desk.settings.shop.market:
            return "shop.market"
        return "tax.classes" if wanted.tax != self.desk.settings.tax else "labels.restricted"

    def _must_keep_currency(self, wanted: Settings) -> None:
        old, new = self.desk.settings.cash.currency, wanted.cash.currency
        if new == old:
            return
        since = self._first_money()
        if since is not None:
            why = say(
                "{date} has sales or cash in {old}, and they would be read as {new}",
                date=since,
                old=old,
                new=new,
            )
            raise SettingRefused(why, say("Begin a new shop folder for it"), path="cash.currency")
        if self.desk.catalogue.portions and minor_places(old) != minor_places(new):
            why = say(
                "the prices of the catalogue are in {old}, which is divided otherwise", old=old
            )
            raise SettingRefused(
                why, say("Load a catalogue without them first"), path="cash.currency"
            )

    def _first_money(self) -> date | None:
        """A day on which money was taken, or None."""
        closed = self.desk.last_closing()
        if closed is not None:
            return closed.day
        for day in self.desk.books.days():
            ledger = self.desk.ledger(day)
            if ledger.sales or ledger.refunds or ledger.moves:
                return day
        return None

    def _must_keep_day(self, wanted: Settings) -> None:
        now = self.desk.now()
        today = self.desk.today()
        then = trading_day(now.astimezone(wanted.zone), wanted.shop.day_starts)
        if then == today:
            return
        moved = wanted.shop.day_starts != self.desk.settings.shop.day_starts
        why = say(
            "it is now {clock}, and what is written down today would belong to {date}",
            clock=f"{now:%H:%M}",
            date=then,
        )
        do = say("Change it at another time of the day, when both say the same date")
        raise SettingRefused(why, do, path="shop.day_starts" if moved else "shop.timezone")

    def _must_know_blanks(self, wanted: Settings) -> None:
        known = {**wanted.blanks, **BLANKS}
        if wanted.labels.blank not in known:
            why = say(
                "there is no blank '{blank}', and labels would be printed on it",
                blank=wanted.labels.blank,
            )
            raise SettingRefused(why, say("Choose another blank"), path="labels.blank")
        for product in self.desk.catalogue.products.values():
            name = product.pack.blank
            if name and name not in known and name in self.labels.blanks():
                why = say(
                    "{product} is labelled on blank '{blank}'", product=product.name, blank=name
                )
                raise SettingRefused(why, say("Change the catalogue first"), path=f"blanks.{name}")

    # -- the file

    def _read(self) -> bytes:
        try:
            return (self._folder() / FILE).read_bytes()
        except OSError as error:
            raise DiskRefused(
                say("read {what}", what=term(FILE)),
                answer_of(error),
                say("Look whether the file is there"),
            ) from None

    def _folder(self) -> Path:
        if self.desk.folder is None:
            raise Refused(TRIED, say("this shop has no folder"), say("Open one with --shop DIR"))
        return self.desk.folder

    def _put_in_place(self, before: str, made: str) -> None:
        """Keep the text from before, then put the new one in its place, whole or not at all."""
        folder = self._folder()
        try:
            for name, text in ((f"{FILE}.before", before), (FILE, made)):
                replace_whole(folder / name, text.encode())
            sync_folder(folder)
        except OSError as error:
            raise refused(TRIED, error) from None

    def _take(self, wanted: Settings) -> None:
        """Go on with other settings; days are folded anew, since coins and float may differ."""
        self.desk.settings = wanted
        self.desk.folded = []
        if self.desk.folder is not None:
            self.settings_stamp, self.settings_fault = stamp_of(self.desk.folder / FILE), NOTHING
