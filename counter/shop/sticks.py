"""Copies on a stick: what goes in, what they are called, and which are kept."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import date
from pathlib import Path
from sqlite3 import Error

import msgspec

from counter.books import CATALOGUE, Books
from counter.books.copies import Lock, Page, Progress, opened, safe_name, write_copy
from counter.books.engine import Rows, refused
from counter.books.tables import lines_in
from counter.errors import BooksError, DiskRefused, SealedCopy
from counter.shop.comparing import compare_lines, unpacked
from counter.trade.mendings import Mending
from labels.say import NOTHING, Said, join, say

_NAME = re.compile(r"(.+)-(\d{4}-\d\d-\d\d)(?:-(\d{1,3}))?\.zip(?:\.sealed)?")

MARK = 6  # letters
_DAY_S = 24 * 3600


class Saved(msgspec.Struct, frozen=True):
    """A copy that was made and read back, with its seal, number and link of the last line.

    ``removed`` are older ones the rule let go; ``damaged`` what was damaged when it was copied;
    ``against`` what copies there say that is not so any more; ``apart`` why the program
    itself is not beside it."""

    path: str
    files: int
    size: int
    bytes: int
    n: int
    link: str
    removed: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()
    against: Said = NOTHING
    apart: Said = NOTHING

    @property
    def good(self) -> bool:
        return not (self.damaged or self.against)

    @property
    def said(self) -> Said:
        """One sentence, and more for what was wrong with what was copied."""
        said = [
            say(
                "Backup written and read back: {file}, {n} files, {size} bytes.",
                file=self.path,
                n=self.files,
                size=self.bytes,
            )
        ]
        if self.damaged:
            names = ", ".join(self.damaged)
            said.append(say("It holds what is damaged in the shop: {files}.", files=names))
            said.append(say("Run `counter check`."))
        if self.against:
            said.append(self.against)
        if self.apart:
            said += [say("The program is not beside it."), self.apart]
        return join(" ", said)


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
                why = say("the name {file} cannot be written on every system", file=inside)
                do = say("Rename the file, or move it out of the shop folder")
                raise BooksError(say("back up '{folder}'", folder=folder), why, do)
            found[inside] = path
    return found


def save_shop(
    books: Books,
    folder: Path,
    to: Path,
    page: Page,
    *,
    shop: str,
    day: date,
    without: Sequence[Path] = (),
    keep: tuple[int, int] | None = None,
    lock: Lock | None = None,
    progress: Progress | None = None,
) -> Saved:
    """Copy a shop folder into ``to`` as ``<shop>-<id>-<day>.zip``, prove it, compare the books with
    the copies there, then thin out by the rule.

    ``keep`` is (days, months): see :func:`let_go`; None keeps all. One that says what is not so any
    more is never let go, and none where the newest cannot be read. ``to`` must exist: a stick that
    is not in would otherwise be written beside, onto the disk it is to guard against. Raises
    BooksError.
    """
    if not to.is_dir():
        do = say("Put the stick in, or name another folder; then run `counter backup`")
        raise DiskRefused(
            say("back up into '{folder}'", folder=to), say("there is no such folder"), do
        )
    stem, end = stem_of(books, shop), ".zip.sealed" if lock else ".zip"
    against, apart = _apart(books, to, stem.removesuffix(mark_of(books)), lock)
    path, number = to / f"{stem}-{day}{end}", 1
    while path.exists() and _knows_more(path, books, lock):
        number += 1
        path = to / f"{stem}-{day}-{number}{end}"
    made = write_copy(
        books,
        survey(folder, without, mark_of(books)),
        path,
        page,
        shop=shop,
        day=str(day),
        lock=lock,
        progress=progress,
    )
    _clear(to, stem)
    removed = []
    unsure = made.damaged or (against and not apart)
    names = {p.name for p in to.iterdir()} - apart if not unsure else set()
    for name in let_go(names, stem, *keep) if keep else ():
        with suppress(OSError):  # it is only in the way
            (to / name).unlink()
            removed.append(name)
    return Saved(
        str(path),
        len(made.files),
        made.size,
        path.stat().st_size,
        made.n,
        made.link,
        tuple(removed),
        made.damaged,
        against,
    )


def _clear(to: Path, stem: str) -> None:
    """Remove what a copy left unfinished that was cut off a day ago or more."""
    for path in to.glob(f".{stem}-*.part"):
        with suppress(OSError):
            if time.time() - path.stat().st_mtime > _DAY_S:
                path.unlink()


_End = tuple[int, str, Path]  # number and link of the last line of a copy


def _apart(books: Books, to: Path, slug: str, lock: Lock | None) -> tuple[Said, set[str]]:
    """What the copies in a folder say that is not so any more, a sentence for each line of descent
    (of the longest), and the names of all copies that say so."""
    said, apart = list[Said](), set[str]()
    try:
        found = _differ(books, to, slug, lock, said)
    except OSError as error:
        raise refused(say("back up into '{folder}'", folder=to), error) from error
    while found:
        longest, of_it = found[0][2], found[:1]
        try:
            with unpacked(longest, lock) as (manifest, rows):
                compared = compare_lines(books, longest.name, manifest.n, rows)
                of_it += [one for one in found[1:] if _goes_on(rows, *one)]
            told = NOTHING if compared.kind == "same" else compared.said
        except BooksError as error:
            told = error.said
        if told:
            said.append(told)
            apart |= {path.name for *_, path in of_it}
        found = [one for one in found if one not in of_it]
    return join(" ", said), apart


def _differ(books: Books, to: Path, slug: str, lock: Lock | None, said: list[Said]) -> list[_End]:
    """The copies in a folder that do not end with a line of these books, the longest first. That
    one's link proves all lines before it: of all but the newest nothing else is read. One that was
    sealed with another passphrase says nothing. Where this shop has none, those of a shop of this
    name are looked at: whoever writes all of the books anew makes another shop of them."""
    found, newest = list[_End](), True
    for copy in reversed(copies_in(books, to) or _copies_named(to, slug)):
        try:
            with suppress(SealedCopy), opened(copy, lock, to_its_end=newest) as (_, manifest):
                newest = False
                if books.link_of(manifest.n) != manifest.link:
                    found.append((manifest.n, manifest.link, copy))
        except BooksError as error:
            said += [error.said] if newest else []
            newest = False
    return sorted(found, reverse=True)


def _goes_on(rows: Rows, n: int, link: str, _: Path) -> bool:
    """Whether a copy of these lines goes on from one that ends so."""
    with suppress(Error, BooksError):
        return any(line.link == link for line in lines_in(rows, "WHERE n = ?", [n]))
    return False


def stem_of(books: Books, shop: str) -> str:
    """What the names of a shop's copies begin with."""
    slug = re.sub(r"[^a-z0-9]+", "-", shop.lower()).strip("-")[:40] or "shop"
    return f"{slug}-{mark_of(books)}"


def mark_of(books: Books) -> str:
    """Six letters that two shops of one name do not share: from the catalogue's first commit, also
    where a mending could not bring it back."""
    mended = books.last("mendings")
    kept = mended.mark if isinstance(mended, Mending) else ""
    return kept or books.link_at(CATALOGUE, 1)[:MARK] or "new"


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
