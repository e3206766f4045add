"""Copies of a shop on a stick: what they are called, which are kept, and how one comes back."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import date
from pathlib import Path

import msgspec

from counter.books.archive import survey, write_archive
from counter.books.archived import unpack_archive, verify_archive
from counter.books.books import CATALOGUE, Books
from counter.books.check import Checked, check_books
from counter.books.engine import FILE, RESTORED, refused
from counter.books.files import sync_folder
from counter.books.manifest import Manifest, Progress
from counter.errors import BooksError, DiskRefused

_NAME = re.compile(r"(.+)-(\d{4}-\d\d-\d\d)(?:-(\d{1,3}))?\.zip")


class Saved(msgspec.Struct, frozen=True):
    """A copy that was made and read back. ``removed`` are older ones the rule let go;
    ``damaged`` the books that were damaged when they were copied."""

    path: str
    files: int
    size: int
    bytes: int
    removed: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()

    @property
    def said(self) -> str:
        """One sentence, and one more for what was wrong with what was copied."""
        said = f"Backup written and read back: {self.path}, {self.files} files, {self.bytes} bytes."
        if self.damaged:
            said += (
                f" It holds damaged books, as the shop does: {', '.join(self.damaged)}."
                " Run `counter check`."
            )
        return said


class Restored(msgspec.Struct, frozen=True):
    """A shop put back, and what the check of its books found."""

    path: str
    files: int
    size: int
    checked: Checked


def save_shop(
    folder: Path, to: Path, shop: str, day: date, *, without: Sequence[Path] = (),
    keep: tuple[int, int] | None = None, progress: Progress | None = None,
    books: Books,
) -> Saved:  # fmt: skip
    """Copy a shop folder into ``to`` as ``<shop>-<id>-<day>.zip``, prove it, then thin out.

    What is copied is the shop as it stood at one moment; nobody has to wait for the copying.
    ``keep`` is (days, months):
    see :func:`let_go`; None keeps all. ``to`` must exist: a stick that is not in
    would otherwise be written beside, onto the disk it is to guard against. Raises BooksError.
    """
    if not to.is_dir():
        do = "Put the stick in, or name another folder; then run `counter backup`"
        raise DiskRefused(f"back up into '{to}'", "there is no such folder", do)
    stem = f"{_slug(shop)}-{mark_of(books)}"
    found = survey(folder, [*without, to])
    path, number = to / f"{stem}-{day}.zip", 1
    while path.exists() and _knows_more(path, books):
        number += 1
        path = to / f"{stem}-{day}-{number}.zip"
    with tempfile.TemporaryDirectory() as name:
        snapshot = Path(name) / FILE
        end = books.snapshot(snapshot)
        manifest = write_archive(folder, found, path, shop, end, snapshot, progress)
    removed = []
    for name in let_go((p.name for p in to.iterdir()), stem, *keep) if keep else ():
        with suppress(OSError):  # it is only in the way
            (to / name).unlink()
            removed.append(name)
    return Saved(
        str(path), len(manifest.files), manifest.size, path.stat().st_size, tuple(removed),
    )  # fmt: skip


def archives_of(books: Books, place: Path) -> list[Path]:
    """This shop's archives in ``place``, sorted, also from before it was given
    another name. Raises OSError where the place cannot be read."""
    mark = f"-{mark_of(books)}"
    named = ((path, _NAME.fullmatch(path.name)) for path in place.iterdir())
    return sorted(path for path, match in named if match and match[1].endswith(mark))


def let_go(names: Iterable[str], stem: str, days: int, months: int) -> list[str]:
    """The archives of one shop that the rule does not keep.

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
    archive: Path, folder: Path, types: Mapping[str, type[msgspec.Struct]],
    progress: Progress | None = None,
) -> Restored:  # fmt: skip
    """Put an archive back into an empty or new ``folder``: the whole shop or nothing.

    Every byte is proved against the archive's list, and every line of every book against the line
    before it. Raises BadArchive, DiskRefused, or BooksError for a folder that is not empty.
    """
    tried = f"restore {archive.name} into '{folder}'"
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BooksError(tried, "it is not an empty folder", "Name a new or an empty folder")
        manifest = verify_archive(archive)
        folder.parent.mkdir(parents=True, exist_ok=True)
        _must_fit(tried, manifest, folder.parent)
        beside = Path(
            tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}.", suffix=".part")
        )
    except OSError as error:
        raise refused(tried, error) from error
    try:
        unpack_archive(archive, beside, progress)
        checked = _check(beside, types)
        _mark(beside)
        try:
            beside.chmod(0o755)
            if folder.exists():
                folder.rmdir()
            beside.rename(folder)
            sync_folder(folder.parent)
        except OSError as error:
            raise refused(tried, error) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return Restored(str(folder), len(manifest.files), manifest.size, checked)


def _check(folder: Path, types: Mapping[str, type[msgspec.Struct]]) -> Checked:
    books = Books.open(folder, types)
    try:
        return check_books(books)
    finally:
        books.close()


def _mark(folder: Path) -> None:
    """Leave the last day that the copy knows, and what tells this restore from another: numbers of
    that day and since may be out. A mark that nobody answered stays where it is earlier."""
    mark = folder / RESTORED
    books = Books.open(folder, {})
    first = str(max(books.days(), default=date.min))
    books.close()
    if mark.is_file():
        first = min(first, mark.read_text("utf-8", "replace")[:10])
    mark.write_text(f"{first} {secrets.token_hex(4)}\n", "utf-8")


def _must_fit(tried: str, manifest: Manifest, place: Path) -> None:
    free = shutil.disk_usage(place).free
    if manifest.size > free:
        why = f"it needs {manifest.size} bytes and the disk has {free}"
        raise DiskRefused(tried, why, "Make room, or name a folder on another disk")


def _slug(shop: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", shop.lower()).strip("-")[:40] or "shop"


def mark_of(books: Books) -> str:
    """Six letters that two shops of one name do not share: from the catalogue's first commit."""
    return books.link_at(CATALOGUE, 1)[:6] or "new"


def _knows_more(path: Path, books: Books) -> bool:
    """Whether an archive holds lines of this shop that the folder has not: it is not replaced.

    So a shop restored from an old copy does not wipe out the newer copy of the same day.
    """
    try:
        manifest = verify_archive(path)
    except BooksError:
        return False  # it is of no use to anybody
    return manifest.n > 0 and books.link_of(manifest.n) != manifest.link
