"""Copies of the whole shop: made, listed, read back, compared, sealed."""

from __future__ import annotations

import re
import tomllib
from datetime import date, datetime
from importlib.resources import files
from pathlib import Path

import msgspec

from counter.books import CLOSINGS
from counter.books.copies import PAGE, Manifest, Page, verify_copy
from counter.books.engine import RESTORED
from counter.errors import CounterError, DiskRefused, NotFound, Refused
from counter.shop.comparing import Compared, compare
from counter.shop.desk import Desk
from counter.shop.files import Progress
from counter.shop.sealing import Seal, forget_seal, keep_seal, kept_seal
from counter.shop.setup import Setup
from counter.shop.sticks import Saved, copies_in, save_shop, stem_of
from counter.trade.asking import still_open
from counter.trade.closing import Closing
from counter.trade.numbers import question_of
from labels.errors import LabelError, answer_of
from labels.files import write_whole
from labels.say import NOTHING, Said, at_terminal, full, say

_NAME_ONE = say(
    "Name one{how}, or write folder under [backup] in shop.toml", how=at_terminal(" with --to DIR")
)


class Copy(msgspec.Struct, frozen=True):
    """A copy in the folder. ``size`` in bytes."""

    name: str
    made: datetime
    size: int


class ClosingCopy(msgspec.Struct, frozen=True):
    """What became of the copy after a closing, in one sentence; ``good`` when it is whole."""

    said: Said
    good: bool


class Copies:
    """Copies."""

    def __init__(self, desk: Desk, setup: Setup) -> None:
        self.desk = desk
        self.setup = setup

    def back_up(
        self,
        to: Path | None = None,
        day: date | None = None,
        progress: Progress | None = None,
        *,
        program: bool = False,
    ) -> Saved:
        """Copy the whole shop into ``to``, or into the folder that shop.toml names; prove it, and
        put the ``program`` itself and the page what to do beside it.

        What is sold meanwhile waits for nothing, and is in the next copy. Sealed where the owner
        gave a passphrase. Refused where no folder is named. Raises DiskRefused and BadArchive;
        then the older copies are still there.
        """
        kept, folder = self.desk.settings.backup, self.setup._folder()
        if to is None and not kept.folder:
            do = _NAME_ONE
            raise Refused(say("back up the shop"), say("no folder is named"), do)
        place = to or self._copies_place() or folder
        own = place.resolve().is_relative_to(folder.resolve())
        if to is None and own:
            place.mkdir(parents=True, exist_ok=True)  # a folder of the shop's own
        without = [folder / "backups", *(folder / f for f in ("labels", "reports"))]
        if kept.papers:
            without = without[:1]
        if not self._asks_after_restore():
            without.append(folder / RESTORED)
        day = day or self.desk.today()
        page = self._page(day)
        saved = save_shop(
            self.desk.books,
            folder,
            place,
            page,
            shop=self.desk.settings.shop.name,
            day=day,
            without=without,
            keep=(kept.keep_days, kept.keep_months),
            lock=kept_seal(folder),
            progress=progress,
        )
        if not program or own:
            return saved
        # others copy here, too
        name = f"{stem_of(self.desk.books, self.desk.settings.shop.name)} {PAGE}"
        told = _beside(place, name, page(saved.n, saved.link))
        return msgspec.structs.replace(saved, apart=told)

    def _page(self, day: date) -> Page:
        """What to do with a copy, in English and in the shop's language."""
        shop, last = self.desk.settings.shop, self.desk.last_closing()
        texts = tomllib.loads((files("counter") / "starters" / "read-me.toml").read_text("utf-8"))
        languages = dict.fromkeys(("en", re.split("[-_]", shop.language)[0]))
        text = "\n".join(texts[language] for language in languages if language in texts)
        seal = "-"
        if isinstance(last, Closing):
            _, sealed = self.desk.books.head(CLOSINGS)
            seal = f"{last.day}\n{' '.join(sealed[i : i + 4] for i in range(0, 64, 4))}"
        stem = stem_of(self.desk.books, shop.name)
        told = {"shop": shop.name, "day": day, "seal": seal, "stem": stem}
        return lambda n, link: text.format(n=n, link=link, **told).lstrip()

    def _asks_after_restore(self) -> bool:
        """Whether nobody has said yet which numbers are out."""
        mark = self.setup._folder() / RESTORED
        if not mark.is_file():
            return False
        first, _, token = mark.read_text("utf-8", "replace").strip().partition(" ")
        return bool(still_open([question_of(first, token)], self.desk.questions.confirmed()))

    def back_up_after_closing(
        self, day: date, progress: Progress | None = None
    ) -> ClosingCopy | None:
        """The copy after a closing, where shop.toml asks for one; None without.

        A stick that fails never undoes the closing: its error is the sentence.
        """
        if not self.desk.settings.backup.folder or self.desk.folder is None:
            return None
        try:
            saved = self.back_up(None, day, progress, program=True)
        except (CounterError, OSError) as error:
            return ClosingCopy(
                say("The day is closed, but no backup was made. {why}", why=error), False
            )
        return ClosingCopy(saved.said, saved.good)

    def _copies_place(self) -> Path | None:
        named = self.desk.settings.backup.folder
        return (
            (self.desk.folder / Path(named).expanduser()).resolve()
            if named and self.desk.folder
            else None
        )

    def listed(self, to: Path | None = None) -> list[Copy]:
        """This shop's copies in ``to``, or in the folder that shop.toml names, the newest first.

        None in a folder inside the shop's own that is not made yet. Refused where shop.toml names
        no folder; raises DiskRefused where it cannot be read: a stick that is not in, say.
        """
        tried, place = say("look at the copies"), to or self._copies_place()
        if place is None or self.desk.folder is None:
            do = _NAME_ONE
            raise Refused(tried, say("no folder is named for them"), do)
        if not place.exists() and place.resolve().is_relative_to(self.desk.folder.resolve()):
            return []
        try:
            found = [(path, path.stat()) for path in copies_in(self.desk.books, place)]
        except OSError as error:
            why = say("{file} cannot be read ({why})", file=place, why=answer_of(error))
            raise DiskRefused(
                tried, why, say("Put the stick in, or name another folder")
            ) from error
        zone = self.desk.settings.zone
        copies = [
            Copy(path.name, datetime.fromtimestamp(there.st_mtime, zone), there.st_size)
            for path, there in found
        ]
        return sorted(copies, key=lambda copy: (copy.made, copy.name), reverse=True)

    def prove_copy(self, name: str, progress: Progress | None = None) -> Manifest:
        """Read one of the copies back: every byte and every link of every book.

        NotFound for no such copy; BadArchive where it is not as it was written.
        """
        known = [copy.name for copy in self.listed()]
        place = self._copies_place()
        if place is None or name not in known:
            raise NotFound(say("read a copy back"), "copy", name, known)
        return verify_copy(place / name, kept_seal(self.setup._folder()), progress)

    def compare_with(self, copy: Path, passphrase: str = "") -> Compared:
        """Whether each line of a copy stands in the books as it was; ``passphrase`` where it is
        sealed with another one than the copies are now. Raises BadArchive."""
        kept = kept_seal(self.desk.folder) if self.desk.folder else None
        return compare(self.desk.books, copy, Seal(passphrase=passphrase) if passphrase else kept)

    @property
    def copies_sealed(self) -> bool:
        """Whether copies are sealed with a passphrase."""
        return self.desk.folder is not None and kept_seal(self.desk.folder) is not None

    def seal_copies(self, passphrase: str) -> None:
        """Seal copies from now on. What is kept is a key made of the passphrase, on this computer.
        BadInput for one that is soon guessed."""
        keep_seal(self.setup._folder(), passphrase)

    def leave_copies_open(self) -> None:
        """Seal no more copies."""
        forget_seal(self.setup._folder())


def _beside(place: Path, name: str, page: str) -> Said:
    """Put the program and this shop's page beside the copies; "" or why it is not all there."""
    from counter.shop.wheels import carry_wheels

    try:
        write_whole(place / name, page.encode())
        carry_wheels(place)
    except (CounterError, LabelError) as error:
        return error.said
    except OSError as error:
        return full(answer_of(error))
    return NOTHING
