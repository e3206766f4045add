"""A copy of a shop: one zip, proved by reading it back before it is called one.

In it stand ``READ ME.txt``; the files of the shop folder under ``shop/``, the database by the
engine's own online backup; every line as text (see :mod:`counter.books.lines`), UTF-8 and LF, under
``books/``; and ``manifest.json``: what is in it, and the seal, number and link of the last line.
The comment of the zip is the SHA-256 of all bytes before it. The same folder gives the same bytes:
no clock and no system is written down.

What comes from a stick may be cut, rotten or made to do harm: nothing is written outside the folder
named, and nothing grows beyond what the list says. A copy proves itself, not who wrote it: who can
write it can write another. What proves is its seal, compared with one that is kept elsewhere.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import sqlite3
import stat
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from hashlib import sha256
from pathlib import Path
from typing import IO, NamedTuple, Protocol

import msgspec

from counter.books.books import Books
from counter.books.engine import FILE, Rows, reading, refused
from counter.books.files import BLOCK, sync_folder
from counter.books.lines import ORIGIN, as_text
from counter.books.tables import lines_in, walk
from counter.books.workplace import Workplace
from counter.decoders import decoder_of
from counter.errors import BadArchive, DiskRefused, SealedCopy
from labels.errors import answer_of
from labels.say import Said, say

MANIFEST, PAGE, INSIDE, TEXTS = "manifest.json", "READ ME.txt", "shop/", "books/"
MARK = b"sha256="  # before the digest of the whole, at the very end
SEALED = b"tofu-counter sealed copy\n"  # a file that begins so opens with a passphrase
OTHER = say("Take another backup; this one cannot be trusted")
_EPOCH = (1980, 1, 1, 0, 0, 0)  # the first moment a zip can name
_MOST_FILES, _MOST_MANIFEST = 200_000, 1 << 26
_BOOK = re.compile(r"[a-z]+|\d{4}-\d\d-\d\d")

Progress = Callable[[int, int], None]
Page = Callable[[int, str], str]  # the text of READ ME.txt, from number and link of the last line


class Lock(Protocol):
    """What seals a copy with a passphrase and opens it again. SealedCopy where it does not fit."""

    def writing(self, file: IO[bytes]) -> AbstractContextManager[IO[bytes]]: ...

    def reading(self, file: IO[bytes], tried: Said) -> IO[bytes]: ...


class Manifest(msgspec.Struct, frozen=True, kw_only=True):
    """What a copy holds (the names of its files, and their bytes in all), the day it is of, its
    seal, and what was damaged when it was copied."""

    format: int = 2
    shop: str
    day: str
    n: int
    link: str
    files: tuple[str, ...]
    size: int
    damaged: tuple[str, ...] = ()


class Whole(NamedTuple):
    """What can be read of a database: the numbers of the lines of each book, the last line and its
    link, and what is damaged."""

    books: dict[str, list[int]]
    n: int
    link: str
    damaged: tuple[str, ...]


def read_whole(rows: Rows) -> Whole:
    """Read each line and prove it by the one before, and let the engine check itself."""
    books, damaged, last, sound = dict[str, list[int]](), set[str](), (0, ORIGIN), False
    with suppress(sqlite3.Error):
        for line, why in walk(rows):
            known = _BOOK.fullmatch(line.book)
            if known:
                books.setdefault(line.book, []).append(line.n)
            if why or not known:
                damaged.add(line.book if known else f"line {line.n}")
            last = line.n, line.link
        sound = rows("PRAGMA integrity_check(1)") == [(b"ok",)]
    return Whole(books, *last, tuple(sorted(damaged if sound else {*damaged, FILE})))


# -- writing


def write_copy(
    books: Books,
    files: Mapping[str, Path],
    path: Path,
    page: Page,
    *,
    shop: str,
    day: str,
    lock: Lock | None = None,
    progress: Progress | None = None,
) -> Manifest:
    """Write a copy of the books and of ``files``, named as in the shop folder, to ``path``: whole,
    on the disk and read back, or not at all; while others sell.

    Raises DiskRefused when a disk refuses, BadArchive when what was read back is not what was
    written. What stood at ``path`` before is then still there.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with Workplace("tofu-copy-") as place:
            files, made = {**files, FILE: Path(place) / FILE}, Path(place) / "zip"
            books.engine.copy(files[FILE])
            half = sum(file.stat().st_size for file in files.values() if file.exists())
            half += files[FILE].stat().st_size  # its lines as text

            def tell(done: int, size: int = half, begun: int = 0) -> None:
                if progress:
                    progress(begun + min(done * half // max(1, size), half), 2 * half)

            manifest = _write(made, files, page, shop, day, tell)
            part.touch(0o600, exist_ok=False)
            with made.open("r+b") as zipped, part.open("wb") as file:
                zipped.write(_digest(zipped))
                zipped.seek(0)
                with lock.writing(file) if lock else nullcontext(file) as sink:
                    shutil.copyfileobj(zipped, sink)
                file.flush()
                os.fsync(file.fileno())
                if hasattr(os, "posix_fadvise"):  # what is read back comes from the disk
                    os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        if verify_copy(part, lock, lambda done, size: tell(done, size, half)) != manifest:
            why = say("what was read back is not what was written")
            raise BadArchive(say("write {file}", file=path), why, OTHER)
        part.replace(path)
        with suppress(OSError):  # not every file system on a stick can do it
            sync_folder(path.parent)
    except OSError as error:
        tried = say("write {name} in {file}", name=path.name, file=path.parent)
        raise refused(tried, error) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return manifest


def _write(
    made: Path,
    files: Mapping[str, Path],
    page: Page,
    shop: str,
    day: str,
    tell: Callable[[int], None],
) -> Manifest:
    with zipfile.ZipFile(made, "w") as archive, reading(files[FILE]) as rows:
        archive.comment = MARK + b"0" * 64
        read, unread, names, size = read_whole(rows), list[str](), list[str](), 0

        def members() -> Iterator[tuple[str, Iterable[bytes]]]:
            yield PAGE, [page(read.n, read.link).encode()]
            for name, path in sorted(files.items()):
                yield INSIDE + name, _blocks(INSIDE + name, path, unread)
            for book, numbers in sorted(read.books.items()):
                year = f"{book[:4]}/" if book[0] < "a" else ""
                lines = (line for n in numbers for line in lines_in(rows, "WHERE n = ?", [n]))
                yield f"{TEXTS}{year}{book}.txt", (as_text(line) + b"\n" for line in lines)

        for name, blocks in members():
            names.append(name)
            tell(size := size + _put(archive, name, blocks))
        manifest = Manifest(
            shop=shop,
            day=day,
            n=read.n,
            link=read.link,
            files=tuple(names),
            size=size,
            damaged=(*read.damaged, *unread),
        )
        _put(archive, MANIFEST, [msgspec.json.format(msgspec.json.encode(manifest), indent=1)])
    return manifest


def _put(archive: zipfile.ZipFile, name: str, blocks: Iterable[bytes]) -> int:
    info = zipfile.ZipInfo(name, _EPOCH)
    info.compress_type, info.create_system = zipfile.ZIP_DEFLATED, 3
    info.external_attr = (stat.S_IFREG | 0o600) << 16
    with archive.open(info, "w", force_zip64=True) as member:
        return sum(map(member.write, blocks))


def _blocks(name: str, path: Path, unread: list[str]) -> Iterator[bytes]:
    try:  # a disk that fails at a paper does not keep the books from being copied
        with path.open("rb") as source:
            while block := source.read(BLOCK):
                yield block
    except FileNotFoundError:
        pass  # a paper thrown away meanwhile
    except OSError:
        unread.append(name)


def _digest(file: IO[bytes]) -> bytes:
    """The SHA-256 of all but the last 64 bytes, which hold it; there the file stands then."""
    left, digest = file.seek(0, os.SEEK_END) - 64, sha256()
    file.seek(0)
    while left > 0 and (block := file.read(min(BLOCK, left))):
        left -= len(block)
        digest.update(block)
    file.seek(file.tell())  # between reading and writing
    return digest.hexdigest().encode()


# -- reading back


def verify_copy(path: Path, lock: Lock | None = None, progress: Progress | None = None) -> Manifest:
    """Read a copy to its end and prove every byte and every link. BadArchive if one is off."""
    with Workplace("tofu-copy-") as place:
        return unpack(path, Path(place), lock, progress)


def unpack(
    path: Path,
    to: Path,
    lock: Lock | None = None,
    progress: Progress | None = None,
    *,
    whole: bool = False,
) -> Manifest:
    """Prove a copy, and put its database into the empty folder ``to``, or the ``whole`` shop."""
    tried, done = say("read backup {file}", file=path), 0
    with opened(path, lock) as (archive, manifest):
        size, free = manifest.size, shutil.disk_usage(to).free
        if size > free:
            why = say("it needs {n} bytes and the disk has {other}", n=size, other=free)
            raise DiskRefused(tried, why, say("Make room, or name a folder on another disk"))
        for inside in manifest.files:
            name = inside.removeprefix(INSIDE)
            wanted = name != inside and (whole or name == FILE)
            (to / name).parent.mkdir(parents=True, exist_ok=True) if wanted else None
            with (
                archive.open(inside) as member,
                (to / name).open("xb") if wanted else nullcontext() as file,
            ):
                while block := member.read(BLOCK):  # at its end the zip proves it
                    done += len(block)
                    if progress:
                        progress(done, size)
                    if file:
                        file.write(block)
                if file and whole:
                    file.flush()
                    os.fsync(file.fileno())
        with reading(to / FILE) as rows:
            read = read_whole(rows)
        damaged = tuple(name for name in manifest.damaged if not name.startswith(INSIDE))
        if (read.n, read.link, read.damaged) != (manifest.n, manifest.link, damaged):
            raise BadArchive(tried, say("its books are not those that its list names"), OTHER)
    return manifest


def unsealed(file: IO[bytes], lock: Lock | None, tried: Said) -> IO[bytes]:
    """A copy as the archive that it is. SealedCopy where the passphrase is not known."""
    if file.read(len(SEALED)) != SEALED:
        return file
    if lock is None:
        do = say("Give the passphrase that it was sealed with")
        raise SealedCopy(tried, say("it is sealed with a passphrase"), do)
    return lock.reading(file, tried)


@contextmanager
def opened(
    path: Path, lock: Lock | None = None, *, to_its_end: bool = True
) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """A copy whose outside is proved: its digest (``to_its_end``: all of it is read), its names,
    its sizes. SealedCopy for one whose passphrase is not known."""
    tried = say("read backup {file}", file=path)
    try:
        with path.open("rb") as raw:
            file = unsealed(raw, lock, tried)
            file.seek(max(0, file.seek(0, os.SEEK_END) - 64 - len(MARK)))
            if file.read(len(MARK)) != MARK:
                why = say("it is no backup of a shop, or it was cut off")
                raise BadArchive(tried, why, say("Name a .zip of `counter backup`"))
            if to_its_end and _digest(file) != file.read():
                raise BadArchive(tried, say("its bytes are not those that were written"), OTHER)
            with zipfile.ZipFile(file) as archive:
                yield archive, _manifest_of(archive, tried)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        why = say("it is no archive that can be read ({why})", why=error)
        raise BadArchive(tried, why, OTHER) from error
    except OSError as error:
        do = say("Name the archive, a .zip of `counter backup`")
        raise DiskRefused(tried, answer_of(error), do) from error


def _manifest_of(archive: zipfile.ZipFile, tried: Said) -> Manifest:
    infos = archive.infolist()
    listed = sum(info.file_size for info in infos if info.filename == MANIFEST)
    if not 0 < listed <= _MOST_MANIFEST or len(infos) > _MOST_FILES:
        raise BadArchive(tried, say("it has no list of what is in it"), OTHER)
    try:
        manifest = decoder_of(Manifest).decode(archive.read(MANIFEST))
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        raise BadArchive(tried, say("its list cannot be read ({why})", why=error), OTHER) from None
    if manifest.format != Manifest.__struct_defaults__[0]:
        why = say("its format {format} is not known to this program", format=manifest.format)
        raise BadArchive(tried, why, say("Use the program that wrote it, or a newer one"))
    names = sorted(info.filename for info in infos)
    once = len(manifest.files) == len(infos) - 1
    once &= manifest.size == sum(info.file_size for info in infos) - listed
    if not once or names != sorted({*manifest.files, INSIDE + FILE, MANIFEST}):
        raise BadArchive(tried, say("what is in it is not what its list names"), OTHER)
    for name in (name for name in manifest.files if not safe_name(name)):
        why = say("the name {name} leads out of the folder or cannot be written", name=name)
        raise BadArchive(tried, why, OTHER)
    return manifest


def safe_name(name: str) -> bool:
    """Whether a name stays inside its folder and can be written on any system."""
    parts = name.split("/")
    return (
        len(name) <= 1000
        and name.isprintable()
        and not set(name) & set('\\:*?"<>|')
        and all(part not in ("", ".", "..") and len(part) <= 240 for part in parts)
    )
