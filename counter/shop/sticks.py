"""Copies on a stick: what goes in, what they are called, which are kept, and how one comes back."""

from __future__ import annotations

import os
import re
import secrets
import shutil
import tempfile
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import closing, suppress
from datetime import date, datetime
from pathlib import Path

import msgspec

from counter.books import CATALOGUE, Books
from counter.books.check import Checked, check_books
from counter.books.copies import (
    TEXTS,
    Lock,
    Page,
    Progress,
    opened,
    safe_name,
    unpack,
    write_copy,
)
from counter.books.engine import FILE, RESTORED, refused
from counter.books.files import keep_private, sync_folder
from counter.books.mend import rebuild
from counter.errors import BooksError, CounterError, DiskRefused, SealedCopy
from counter.shop.comparing import compare
from counter.shop.tables import found_by
from counter.trade.settings import parse_settings
from counter.trade.tables import TABLES

_NAME = re.compile(r"(.+)-(\d{4}-\d\d-\d\d)(?:-(\d{1,3}))?\.zip(?:\.sealed)?")

_DAY_S = 24 * 3600


class Saved(msgspec.Struct, frozen=True):
    """A copy that was made and read back, with its seal, number and link of the last line.

    ``removed`` are older ones the rule let go; ``damaged`` what was damaged when it was copied;
    ``against`` what the newest copy there says that is not so any more; ``apart`` why the program
    itself is not beside it."""

    path: str
    files: int
    size: int
    bytes: int
    n: int
    link: str
    removed: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()
    against: str = ""
    apart: str = ""

    @property
    def good(self) -> bool:
        return not (self.damaged or self.against)

    @property
    def said(self) -> str:
        """One sentence, and more for what was wrong with what was copied."""
        said = f"Backup written and read back: {self.path}, {self.files} files, {self.bytes} bytes."
        if self.damaged:
            names = ", ".join(self.damaged)
            said += f" It holds what is damaged in the shop: {names}. Run `counter check`."
        if self.against:
            said += f" {self.against}"
        if self.apart:
            said += f" The program is not beside it. {self.apart}"
        return said


class Restored(msgspec.Struct, frozen=True):
    """A shop put back from a copy of a day, ``age`` days ago, with the findings of its check.
    ``pins``: people had PINs, whose key no copy carries."""

    path: str
    files: int
    size: int
    checked: Checked
    day: str
    age: int
    pins: bool

    @property
    def said(self) -> str:
        """How old the copy is, and that PINs do not fit any more."""
        said = f"It is of {self.day}, {self.age} days ago; what was sold since is not in it."
        if self.age < 2:
            ago = "today" if self.age < 1 else "yesterday"
            said = f"It is of {self.day}, {ago}; what was sold since is not in it."
        if self.pins:
            said += " No PIN fits any more: set the owner's anew with `counter pin PERSON`."
        return said


def survey(folder: Path, without: Sequence[Path], mark: str) -> dict[str, Path]:
    """The files of a shop folder that a copy carries, by their names in it.

    Left out are hidden files (the keys of this computer, and what is unfinished), what belongs to
    the database, copies of this shop by its ``mark``, and what is ``without``. BooksError for
    a name that not every system can write.
    """
    left_out = {path.resolve() for path in without}
    found = {}
    for here, folders, names in os.walk(folder):
        folders[:] = [f for f in folders if (Path(here) / f).resolve() not in left_out]
        for path in (Path(here) / name for name in names):
            inside = path.relative_to(folder).as_posix()
            if (
                path.name.startswith(".")
                or inside.startswith("books.")
                or path.resolve() in left_out
                or _NAME.sub(r"\1", path.name).endswith(f"-{mark}")
                or not path.is_file()
            ):
                continue
            if not safe_name(inside):
                why = f"the name {inside!a} cannot be written on every system"
                do = "Rename the file, or move it out of the shop folder"
                raise BooksError(f"back up '{folder}'", why, do)
            found[inside] = path
    return found


def save_shop(
    books: Books, folder: Path, to: Path, page: Page, *, shop: str, day: date,
    without: Sequence[Path] = (), keep: tuple[int, int] | None = None, lock: Lock | None = None,
    progress: Progress | None = None,
) -> Saved:  # fmt: skip
    """Copy a shop folder into ``to`` as ``<shop>-<id>-<day>.zip``, prove it, compare the books with
    the newest copy there, then thin out by the rule.

    ``keep`` is (days, months): see :func:`let_go`; None keeps all, and so does a shop that is not
    as it was. ``to`` must exist: a stick that is not in would otherwise be written beside, onto the
    disk it is to guard against. Raises BooksError.
    """
    if not to.is_dir():
        do = "Put the stick in, or name another folder; then run `counter backup`"
        raise DiskRefused(f"back up into '{to}'", "there is no such folder", do)
    slug = re.sub(r"[^a-z0-9]+", "-", shop.lower()).strip("-")[:40] or "shop"
    stem, end = f"{slug}-{mark_of(books)}", ".zip.sealed" if lock else ".zip"
    against = _against(books, to, f"{slug}-", lock)
    path, number = to / f"{stem}-{day}{end}", 1
    while path.exists() and _knows_more(path, books, lock):
        number += 1
        path = to / f"{stem}-{day}-{number}{end}"
    made = write_copy(
        books, survey(folder, without, mark_of(books)), path, page, shop=shop, day=str(day),
        lock=lock, progress=progress,
    )  # fmt: skip
    _clear(to, stem)
    removed = []
    names = [p.name for p in to.iterdir()] if not (against or made.damaged) else []
    for name in let_go(names, stem, *keep) if keep else ():
        with suppress(OSError):  # it is only in the way
            (to / name).unlink()
            removed.append(name)
    return Saved(
        str(path), len(made.files), made.size, path.stat().st_size, made.n, made.link,
        tuple(removed), made.damaged, against,
    )  # fmt: skip


def _clear(to: Path, stem: str) -> None:
    """Remove what a copy left unfinished that was cut off a day ago or more."""
    for path in to.glob(f".{stem}-*.part"):
        with suppress(OSError):
            if time.time() - path.stat().st_mtime > _DAY_S:
                path.unlink()


def _against(books: Books, to: Path, slug: str, lock: Lock | None) -> str:
    """What the newest copy in a folder says that is not so any more, in a sentence. One that was
    sealed with another passphrase says nothing. Where this shop has none, that of a shop of this
    name is looked at: whoever writes all of the books anew makes another shop of them."""
    try:
        for copy in reversed(copies_in(books, to) or _copies_named(to, slug)):
            with suppress(SealedCopy):
                compared = compare(books, copy, lock)
                return "" if compared.kind == "same" else compared.said
    except OSError as error:
        raise refused(f"back up into '{to}'", error) from error
    except BooksError as error:
        return str(error)
    return ""


def mark_of(books: Books) -> str:
    """Six letters that two shops of one name do not share: from the catalogue's first commit."""
    return books.link_at(CATALOGUE, 1)[:6] or "new"


def _knows_more(path: Path, books: Books, lock: Lock | None) -> bool:
    """Whether a copy holds lines of this shop that the folder has not, or nobody here can say: it
    is not replaced. So a shop restored from an old copy does not wipe out the newer one."""
    try:
        with opened(path, lock) as (_, manifest):
            return manifest.n > 0 and books.link_of(manifest.n) != manifest.link
    except BooksError as error:
        return isinstance(error, SealedCopy)  # else it is of no use to anybody


def copies_in(books: Books, place: Path) -> list[Path]:
    """This shop's copies in ``place``, the newest last, also from before it was given another name.
    Raises OSError where the place cannot be read."""
    mark = f"-{mark_of(books)}"
    return [path for path in _copies_named(place) if _NAME.sub(r"\1", path.name).endswith(mark)]


def _copies_named(place: Path, slug: str = "") -> list[Path]:
    named = ((path, _NAME.fullmatch(path.name)) for path in place.iterdir())
    found = [(m[2], int(m[3] or 1), path) for path, m in named if m and m[1].startswith(slug)]
    return [path for *_, path in sorted(found)]


def let_go(names: Iterable[str], stem: str, days: int, months: int) -> list[str]:
    """The copies of one shop that the rule does not keep.

    Kept are all of the last ``days`` days that have any, and the last one of each of the last
    ``months`` months that have any. Files of other names are never named here.
    """
    dated: list[tuple[date, int, str]] = []
    for name in names:
        match = _NAME.fullmatch(name)
        if match and match[1] == stem:
            with suppress(ValueError):
                dated.append((date.fromisoformat(match[2]), int(match[3] or 1), name))
    dated.sort()
    last_days = sorted({day for day, _, _ in dated})[-days:]
    last_of = {(day.year, day.month): name for day, _, name in dated}
    monthly = {last_of[month] for month in sorted(last_of)[-months:]} if months else set()
    return [name for day, _, name in dated if day not in last_days and name not in monthly]


def restore_shop(
    path: Path, folder: Path, lock: Lock | None = None, progress: Progress | None = None,
    clock: Callable[[], datetime] | None = None,
) -> Restored:  # fmt: skip
    """Put a copy back into an empty or new ``folder``: the whole shop or nothing.

    Every byte is proved against the list of the copy, and every line of the books against the line
    before it; books that were damaged when they were copied are built up from their lines, where
    these are all there. Raises BadArchive, DiskRefused, or BooksError for a folder not empty.
    """
    tried = f"restore {path.name} into '{folder}'"
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BooksError(tried, "it is not an empty folder", "Name a new or an empty folder")
        folder.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(
            tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}.", suffix=".part")
        )
    except OSError as error:
        raise refused(tried, error) from error
    try:
        made = unpack(path, beside, lock, progress, whole=True)
        if made.damaged:
            with suppress(BooksError), tempfile.TemporaryDirectory(dir=beside) as name:
                with opened(path, lock) as (archive, _):
                    books_of = [kept.name for kept in made.files if kept.name.startswith(TEXTS)]
                    lines = (line for book in books_of for line in archive.open(book))
                    rebuild(Path(name), lines, TABLES, found_by)
                (Path(name) / FILE).replace(beside / FILE)
        with closing(Books.open(beside, TABLES)) as books:
            checked = check_books(books)
            pins = books.last("pins") is not None
            _mark(beside, max(books.days(), default=date.min))
        keep_private(beside)
        if folder.exists():
            folder.rmdir()
        beside.rename(folder)
        sync_folder(folder.parent)
    except OSError as error:
        raise refused(tried, error) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    age = max(0, (_today(folder, clock) - date.fromisoformat(made.day)).days)
    return Restored(str(folder), len(made.files), made.size, checked, made.day, age, pins)


def _today(folder: Path, clock: Callable[[], datetime] | None) -> date:
    """The date at the shop that was put back."""
    if clock:
        return clock().date()
    zone = None
    with suppress(OSError, ValueError, CounterError):
        zone = parse_settings((folder / "shop.toml").read_text("utf-8")).zone
    return datetime.now(zone).astimezone(zone).date()


def _mark(folder: Path, last: date) -> None:
    """Leave the last day that the copy knows, and what tells this restore from another: numbers of
    that day and since may be out. A mark that nobody answered stays where it is earlier."""
    mark, first = folder / RESTORED, str(last)
    if mark.is_file():
        first = min(first, mark.read_text("utf-8", "replace")[:10])
    mark.write_text(f"{first} {secrets.token_hex(4)}\n", "utf-8")
