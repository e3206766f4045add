"""A shop put back from a copy, or from the lines of text in one: the whole shop or nothing."""

from __future__ import annotations

import re
import secrets
import shutil
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import date, datetime
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import NamedTuple

import msgspec

from counter.books import Books, Line
from counter.books.check import Checked, check_books
from counter.books.copies import (
    MANIFEST,
    TEXTS,
    Lock,
    Manifest,
    Progress,
    opened,
    safe_name,
    unpack,
    unsealed,
)
from counter.books.engine import FILE, RESTORED, refused
from counter.books.files import BLOCK, keep_private, sync_folder
from counter.books.lines import from_text
from counter.books.mend import build
from counter.books.workplace import Workplace
from counter.decoders import decoder_of
from counter.errors import BadArchive, BooksError, CounterError, DiskRefused
from counter.shop.sealing import Seal
from counter.shop.tables import found_by
from counter.trade.settings import parse_settings
from counter.trade.tables import TABLES
from labels.say import Said, join, say

_TEXT = re.compile(r"(?:.*/)?(?:catalogue|closings|lost|\d{4}-\d\d-\d\d)\.txt")
_OTHER = say("Take the lines of another copy")


class Restored(msgspec.Struct, frozen=True):
    """A shop put back from a copy of a day, ``age`` days ago, with the findings of its check.
    ``pins``: people had PINs, whose key no copy carries. ``built``: from so many lines of text."""

    path: str
    files: int
    size: int
    checked: Checked
    day: str
    age: int
    pins: bool
    built: int = 0

    @property
    def said(self) -> Said:
        """How old the copy is, and that PINs do not fit any more."""
        said = say(
            "It is of {date}, {n} days ago; what was sold since is not in it.",
            date=self.day,
            n=self.age,
        )
        if self.age < 1:
            said = say("It is of {date}, today; what was sold since is not in it.", date=self.day)
        elif self.age < 2:
            said = say(
                "It is of {date}, yesterday; what was sold since is not in it.", date=self.day
            )
        if self.built:
            more = say(
                "Its books are built up from {n} lines of text: compare the seal of the last"
                " closing with one on paper, with `counter check --seal SEAL`.",
                n=self.built,
            )
            said = join(" ", (said, more))
        if self.pins:
            more = say("No PIN fits any more: set the owner's anew with `counter pin PERSON`.")
            said = join(" ", (said, more))
        return said


class _Came(NamedTuple):
    files: int
    size: int
    day: str = ""
    built: int = 0


def restore_shop(
    path: Path,
    folder: Path,
    lock: Lock | None = None,
    progress: Progress | None = None,
    clock: Callable[[], datetime] | None = None,
    *,
    lines: bool = False,
) -> Restored:
    """Put a copy back into an empty or new ``folder``: the whole shop or nothing.

    Every byte is proved against the list of the copy, and every line of the books against the line
    before it; books that were damaged when they were copied are built up from their lines, where
    these are all there. With ``lines``, and from a folder, nothing but the lines of text and the
    files of the shop is looked for: the last resort. Raises BadArchive, DiskRefused, or BooksError
    for a folder that is not empty, or within that of another shop.
    """
    tried = say("restore {file} into '{folder}'", file=path.name, folder=folder)
    try:
        _check_place(folder, tried)
        folder.parent.mkdir(parents=True, exist_ok=True)
        with Workplace(f".{folder.name}.", folder.parent) as name:
            beside = Path(name)
            if lines or path.is_dir():
                came = _built(path, beside, lock, tried)
            else:
                came = _unpacked(path, beside, lock, progress)
            with closing(Books.open(beside, TABLES)) as books:
                checked = check_books(books)
                pins = books.last("pins") is not None
                last = max(books.days(), default=date.min)
            _mark(beside, last)
            keep_private(beside)
            if folder.exists():
                folder.rmdir()
            beside.rename(folder)
            sync_folder(folder.parent)
    except OSError as error:
        raise refused(tried, error) from error
    day = came.day or str(last)
    age = max(0, (_today(folder, clock) - date.fromisoformat(day)).days)
    return Restored(str(folder), came.files, came.size, checked, day, age, pins, came.built)


def _check_place(folder: Path, tried: Said) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BooksError(
            tried, say("it is not an empty folder"), say("Name a new or an empty folder")
        )
    for above in folder.resolve().parents:
        if (above / FILE).exists():
            why = say(
                "it lies in '{folder}', the folder of another shop, whose copies would carry it",
                folder=above,
            )
            raise BooksError(tried, why, say("Name a folder beside that one"))


def _unpacked(path: Path, beside: Path, lock: Lock | None, progress: Progress | None) -> _Came:
    made = unpack(path, beside, lock, progress, whole=True)
    if made.damaged:
        with suppress(BooksError), Workplace("lines-", beside) as name:
            with opened(path, lock) as (archive, _):
                books_of = [name for name in made.files if name.startswith(TEXTS)]
                lines = (from_text(text) for book in books_of for text in archive.open(book))
                build(Path(name), lines, TABLES, found_by)
            (Path(name) / FILE).replace(beside / FILE)
    return _Came(len(made.files), made.size, made.day)


# -- from the lines of text alone


def _built(path: Path, beside: Path, lock: Lock | None, tried: Said) -> _Came:
    """Build the books up from the lines of text in a folder or a zip, and take what else of the
    shop lies there. Raises BooksError for lines that are not all there, or without shop.toml."""
    with _members(path, beside, lock, tried) as members:
        texts = [one for name, one in members.items() if _TEXT.fullmatch(name)]
        own = {
            name.rpartition("shop/")[2]: one
            for name, one in members.items()
            if name.startswith("shop/") or "/shop/" in name
        }
        if "shop.toml" in members:
            own["shop.toml"] = members["shop.toml"]
        if not texts:
            why = say("there are no lines of a shop's books in it (such as books/catalogue.txt)")
            raise BadArchive(tried, why, say("Name a copy, or a folder that one was unpacked into"))
        if "shop.toml" not in own:
            do = say(
                "Put the shop's own beside the books, or one of `counter new`, then do it again"
            )
            raise BooksError(tried, say("shop.toml is missing in it"), do)
        size = sum(_copied(one, beside / name) for name, one in own.items() if _wanted(name))
        try:
            n, link = build(beside, _lines(texts), TABLES, found_by)
        except BooksError as error:
            raise BooksError(tried, error.why, error.do) from error
        for name, one in members.items():
            if name.rpartition("/")[2] == MANIFEST:
                _check_end(one.read_bytes(), n, link, tried)
    return _Came(len(own) + len(texts), size, built=n)


def _lines(texts: list[Traversable]) -> Iterator[Line]:
    for text in texts:
        with text.open("rb") as file:
            yield from (from_text(line) for line in file if line.strip())


@contextmanager
def _members(
    path: Path, beside: Path, lock: Lock | None, tried: Said
) -> Iterator[dict[str, Traversable]]:
    """The files in a folder or a zip, by their names in it."""
    if path.is_dir():
        yield dict(_walk(path))
        return
    try:
        with path.open("rb") as raw, zipfile.ZipFile(unsealed(raw, lock, tried)) as archive:
            size = 2 * sum(info.file_size for info in archive.infolist())  # lines become a database
            if size > (free := shutil.disk_usage(beside).free):
                why = say("it needs {needed} bytes and the disk has {free}", needed=size, free=free)
                raise DiskRefused(tried, why, say("Make room, or name a folder on another disk"))
            yield dict(_walk(zipfile.Path(archive)))
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        why = say("it is no archive that can be read ({why})", why=error)
        raise BadArchive(tried, why, _OTHER) from error


def _walk(place: Traversable, inside: str = "") -> Iterator[tuple[str, Traversable]]:
    for one in sorted(place.iterdir(), key=lambda one: one.name):
        if isinstance(one, Path) and one.is_symlink():
            continue  # it leads out of the folder
        if one.is_dir():
            yield from _walk(one, f"{inside}{one.name}/")
        else:
            yield f"{inside}{one.name}", one


def _wanted(name: str) -> bool:
    """Whether a file of a shop folder is one that a copy carries."""
    hidden = any(part.startswith(".") for part in name.split("/"))
    return safe_name(name) and not hidden and not name.startswith("books.")


def _copied(one: Traversable, to: Path) -> int:
    to.parent.mkdir(parents=True, exist_ok=True)
    with one.open("rb") as source, to.open("xb") as file:
        shutil.copyfileobj(source, file, BLOCK)
        return file.tell()


def _check_end(listed: bytes, n: int, link: str, tried: Said) -> None:
    """A list that names another last line than the one the lines end with."""
    with suppress(msgspec.MsgspecError, UnicodeDecodeError):
        manifest = decoder_of(Manifest).decode(listed)
        if (manifest.n, manifest.link) != (n, link):
            why = say(
                "its list names line {n} as the last, and its lines end with line {end}",
                n=manifest.n,
                end=n,
            )
            raise BooksError(tried, why, _OTHER)


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


def restore(
    archive: Path,
    folder: Path,
    progress: Progress | None = None,
    passphrase: str = "",
    clock: Callable[[], datetime] | None = None,
    *,
    lines: bool = False,
) -> Restored:
    """Put a copy into an empty folder, every byte and every line proved; or, the last resort, what
    its ``lines`` of text give."""
    lock = Seal(passphrase=passphrase) if passphrase else None
    return restore_shop(archive, folder, lock, progress, clock, lines=lines)
