"""Copies of the whole shop: made, listed, read back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import msgspec

from counter.books.archived import verify_archive
from counter.books.backup import Saved, archives_of, save_shop
from counter.books.manifest import Manifest
from counter.errors import CounterError, DiskRefused, NotFound, Refused
from counter.shop.desk import Desk

Progress = Callable[[int, int], None]


class Copy(msgspec.Struct, frozen=True):
    """A copy in the folder. ``size`` in bytes."""

    name: str
    made: datetime
    size: int


class ClosingCopy(msgspec.Struct, frozen=True):
    """What became of the copy after a closing, in one sentence; ``good`` when it is whole."""

    said: str
    good: bool


class Copying(Desk):
    """Copies."""

    def back_up(
        self, to: Path | None = None, day: date | None = None, progress: Progress | None = None
    ) -> Saved:
        """Copy the whole shop into ``to``, or into the folder that shop.toml names; prove it.

        What is sold meanwhile waits for nothing, and is in the next copy.

        Refused where neither names a folder. Raises DiskRefused and BadArchive; then the older
        copies are still there.
        """
        kept = self.settings.backup
        tried = "back up the shop"
        if self.folder is None:
            raise Refused(tried, "this shop has no folder", "Work with a shop in a folder")
        if to is None and not kept.folder:
            do = "Name one with --to DIR, or write folder under [backup] in shop.toml"
            raise Refused(tried, "no folder is named", do)
        place = to or self._copies_place() or self.folder
        if to is None and place.resolve().is_relative_to(self.folder.resolve()):
            place.mkdir(parents=True, exist_ok=True)  # a folder of the shop's own
        papers = () if kept.papers else (self.folder / "labels", self.folder / "reports")
        return save_shop(
            self.folder, place, self.settings.shop.name, day or self.today(),
            without=(self.folder / "backups", *papers), keep=(kept.keep_days, kept.keep_months),
            progress=progress, books=self.books,
        )  # fmt: skip

    def back_up_after_closing(
        self, day: date, progress: Progress | None = None
    ) -> ClosingCopy | None:
        """The copy after a closing, where shop.toml asks for one; None without.

        A stick that fails never undoes the closing: its error is the sentence.
        """
        if not self.settings.backup.folder or self.folder is None:
            return None
        try:
            saved = self.back_up(None, day, progress)
        except (CounterError, OSError) as error:
            return ClosingCopy(f"The day is closed, but no backup was made. {error}", False)
        return ClosingCopy(saved.said, not saved.damaged)

    def _copies_place(self) -> Path | None:
        named = self.settings.backup.folder
        return self.folder / Path(named).expanduser() if named and self.folder else None

    def copies(self, to: Path | None = None) -> list[Copy]:
        """This shop's copies in ``to``, or in the folder that shop.toml names, the newest first.

        None in a folder inside the shop's own that is not made yet. Refused where shop.toml names
        no folder; raises DiskRefused where it cannot be read: a stick that is not in, say.
        """
        tried, place = "look at the copies", to or self._copies_place()
        if place is None or self.folder is None:
            do = "Name one with --to DIR, or write folder under [backup] in shop.toml"
            raise Refused(tried, "no folder is named for them", do)
        if not place.exists() and place.resolve().is_relative_to(self.folder.resolve()):
            return []
        try:
            found = [(path, path.stat()) for path in archives_of(self.books, place)]
        except OSError as error:
            why = f"{place} cannot be read ({(error.strerror or str(error)).lower()})"
            raise DiskRefused(tried, why, "Put the stick in, or name another folder") from error
        zone = self.settings.zone
        copies = [
            Copy(path.name, datetime.fromtimestamp(there.st_mtime, zone), there.st_size)
            for path, there in found
        ]
        return sorted(copies, key=lambda copy: (copy.made, copy.name), reverse=True)

    def prove_copy(self, name: str, progress: Progress | None = None) -> Manifest:
        """Read one of the copies back: every byte and every link of every book.

        NotFound for no such copy; BadArchive where it is not as it was written.
        """
        known = [copy.name for copy in self.copies()]
        place = self._copies_place()
        if place is None or name not in known:
            raise NotFound("read a copy back", "copy", name, known)
        return verify_archive(place / name, progress)
