"""A copy of a shop: one zip, proved by reading it back before it is called one.

In it stand ``READ ME.txt``; the files of the shop folder under ``shop/``, the database by the
engine's own online backup; every line as text (see :mod:`counter.books.lines`), UTF-8 and LF, under
``books/``; and ``manifest.json``: each member with size and SHA-256, and the seal, number and link
of the last line. The comment of the zip is the SHA-256 of all bytes before it. The same folder
gives the same bytes: no clock and no system is written down.

What comes from a stick may be cut, rotten or made to do harm: nothing is written outside the folder
named, and nothing grows beyond what the list says. A copy proves itself, not who wrote it: who can
write it can write another. What proves is its seal, compared with one that is kept elsewhere.
"""

from __future__ import annotations

import os
import secrets
import shutil
import stat
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, Literal, Protocol

import msgspec

from counter.books.books import Books
from counter.books.engine import FILE, refused
from counter.books.files import BLOCK, sync_folder
from counter.books.lines import Line, Misfit, as_text, read_line
from counter.books.texts import ROWS, database, line_in, line_of, lines_to, read_whole, snapshot
from counter.errors import BadArchive, DiskRefused, SealedCopy

MANIFEST, PAGE, INSIDE, TEXTS = "manifest.json", "READ ME.txt", "shop/", "books/"
MARK = b"sha256="  # before the digest of the whole, at the very end
SEALED = b"tofu-counter sealed copy\n"  # a file that begins so opens with a passphrase
_EPOCH = (1980, 1, 1, 0, 0, 0)  # the first moment a zip can name
_MOST_FILES, _MOST_MANIFEST = 200_000, 1 << 26
OTHER = "Take another backup; this one cannot be trusted"

Progress = Callable[[int, int], None]
Page = Callable[[int, str], str]  # the text of READ ME.txt, from number and link of the last line
Kind = Literal["same", "shorter", "changed", "apart", "other"]


class Lock(Protocol):
    """What seals a copy with a passphrase and opens it again. SealedCopy where it does not fit."""

    def writing(self, file: IO[bytes]) -> AbstractContextManager[IO[bytes]]: ...

    def reading(self, file: IO[bytes], tried: str) -> IO[bytes]: ...


class Kept(msgspec.Struct, frozen=True):
    """A member of the zip."""

    name: str
    size: int
    sha256: str


class Manifest(msgspec.Struct, frozen=True, kw_only=True):
    """What a copy holds, the day it is of, its seal, and what was damaged when it was copied."""

    format: int = 2
    shop: str
    day: str
    n: int
    link: str
    files: tuple[Kept, ...]
    damaged: tuple[str, ...] = ()

    @property
    def size(self) -> int:
        return sum(kept.size for kept in self.files)


class Compared(msgspec.Struct, frozen=True, kw_only=True):
    """A copy of ``n`` lines beside the books. ``same``: each of them stands there as it was; else
    ``lines`` of them do not, from ``first`` on, which is ``line`` of ``book``. ``known``,
    ``here`` and ``there``: when the line before it was entered, and that line in either."""

    copy: str
    kind: Kind
    n: int
    first: int = 0
    lines: int = 0
    book: str = ""
    line: int = 0
    known: str = ""
    here: str = ""
    there: str = ""

    @property
    def said(self) -> str:
        """One sentence."""
        first = f"line {self.first} (line {self.line} of {self.book}, {self.there})"
        match self.kind:
            case "same":
                return f"{self.copy}: all {self.n} of its lines stand in the books as they were."
            case "other":
                return f"{self.copy} is a copy of another shop."
            case "shorter":
                return f"{self.copy} goes on where the books end: from {first} up to line {self.n}."
            case "changed":
                more = f"the first of {self.lines} in {self.copy}"
                return f"No longer as it was is {first}, {more}."
        begun = f"Two computers wrote on from line {self.first - 1} ({self.known})"
        return f"{begun}: this one at {self.here}, that of {self.copy} at {self.there}."


def compare(books: Books, path: Path, lock: Lock | None = None) -> Compared:
    """Whether each line of a copy stands in the books as it was. Raises BadArchive for a copy that
    cannot be trusted, BookDamaged where the books cannot be read."""
    known: Line | None = None
    here = there = known
    with TemporaryDirectory(prefix="copy-") as place:
        manifest = unpack(path, Path(place), lock)
        (end, _), lines, first = books.end(), 0, 0
        with database(Path(place) / FILE) as con:
            for n, then in lines_to(con, manifest.n):
                now = next(map(line_in, books.engine.rows(f"{ROWS} WHERE n = ?", [n])), None)
                if then is None or now == then:
                    known = known if first else now
                    continue
                lines += now is None or now.body != then.body
                if not first:
                    first, here, there = n, now, then
    same = _entered(here) in ("", _entered(there))  # else two people wrote two things
    kind: Kind = "changed" if same else "apart"
    kind = "same" if not first else "other" if first == 1 and end else kind
    return Compared(
        copy=path.name, kind="shorter" if first > end else kind, n=manifest.n, first=first,
        lines=max(1, lines), book=there.book if there else "", line=there.line if there else 0,
        known=_entered(known), here=_entered(here), there=_entered(there),
    )  # fmt: skip


def _entered(line: Line | None) -> str:
    with suppress(Misfit):
        return f"{read_line(line.body).entered:%Y-%m-%d %H:%M:%S}" if line else ""
    return "?"


# -- writing


class _Out:
    """Writes on and keeps the digest; the last 64 bytes, which hold its place, wait for it."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file, self._digest, self._last = file, sha256(), b""

    def write(self, data: bytes) -> int:
        whole = self._last + data
        self._last = whole[-64:]
        self._digest.update(whole[:-64])
        self._file.write(whole[:-64])
        return len(data)

    def flush(self) -> None:
        pass

    def finish(self) -> None:
        self._file.write(self._digest.hexdigest().encode())


def write_copy(
    books: Books, files: Mapping[str, Path], path: Path, page: Page, *, shop: str, day: str,
    lock: Lock | None = None, progress: Progress | None = None,
) -> Manifest:  # fmt: skip
    """Write a copy of the books and of ``files``, named as in the shop folder, to ``path``: whole,
    on the disk and read back, or not at all; while others sell.

    Raises DiskRefused when a disk refuses, BadArchive when what was read back is not what was
    written. What stood at ``path`` before is then still there.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with TemporaryDirectory(prefix="copy-") as place:
            files = {**files, FILE: Path(place) / FILE}
            snapshot(books, files[FILE])
            half = sum(file.stat().st_size for file in files.values() if file.exists())
            half += files[FILE].stat().st_size  # its lines as text

            def tell(done: int, size: int = half, begun: int = 0) -> None:
                if progress:
                    progress(begun + min(done * half // max(1, size), half), 2 * half)

            with part.open("xb") as file:
                with lock.writing(file) if lock else nullcontext(file) as sink:
                    manifest = _write(_Out(sink), files, page, shop, day, tell)
                file.flush()
                os.fsync(file.fileno())
                if hasattr(os, "posix_fadvise"):  # what is read back comes from the disk
                    os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        if verify_copy(part, lock, lambda done, size: tell(done, size, half)) != manifest:
            why = "what was read back is not what was written"
            raise BadArchive(f"write {path}", why, OTHER)
        part.replace(path)
        with suppress(OSError):  # not every file system on a stick can do it
            sync_folder(path.parent)
    except OSError as error:
        raise refused(f"write {path.name} in {path.parent}", error) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return manifest


def _write(
    out: _Out, files: Mapping[str, Path], page: Page, shop: str, day: str,
    tell: Callable[[int], None],
) -> Manifest:  # fmt: skip
    # Written from front to end, never back, so that it can be sealed on the way.
    with zipfile.ZipFile(out, "w") as archive, database(files[FILE]) as con:  # type: ignore[call-overload]
        archive.comment = MARK + b"0" * 64
        read, unread, kept, done = read_whole(con), list[str](), list[Kept](), 0

        def members() -> Iterator[tuple[str, Iterable[bytes]]]:
            yield PAGE, [page(read.n, read.link).encode()]
            for name, path in sorted(files.items()):
                yield INSIDE + name, _blocks(INSIDE + name, path, unread)
            for book, numbers in sorted(read.books.items()):
                year = f"{book[:4]}/" if book[0] < "a" else ""
                lines = filter(None, (line_of(con, n) for n in numbers))
                yield f"{TEXTS}{year}{book}.txt", (as_text(line) + b"\n" for line in lines)

        for name, blocks in members():
            kept.append(_put(archive, name, blocks))
            done += kept[-1].size
            tell(done)
        manifest = Manifest(
            shop=shop, day=day, n=read.n, link=read.link, files=tuple(kept),
            damaged=(*read.damaged, *unread),
        )  # fmt: skip
        _put(archive, MANIFEST, [msgspec.json.format(msgspec.json.encode(manifest), indent=1)])
    out.finish()
    return manifest


def _put(archive: zipfile.ZipFile, name: str, blocks: Iterable[bytes]) -> Kept:
    info = zipfile.ZipInfo(name, _EPOCH)
    info.compress_type, info.create_system = zipfile.ZIP_DEFLATED, 3
    info.external_attr = (stat.S_IFREG | 0o600) << 16
    digest, size = sha256(), 0
    with archive.open(info, "w", force_zip64=True) as member:
        for block in blocks:
            digest.update(block)
            size += member.write(block)
    return Kept(name, size, digest.hexdigest())


def _blocks(name: str, path: Path, unread: list[str]) -> Iterator[bytes]:
    try:  # a disk that fails at a paper does not keep the books from being copied
        with path.open("rb") as source:
            while block := source.read(BLOCK):
                yield block
    except FileNotFoundError:
        pass  # a paper thrown away meanwhile
    except OSError:
        unread.append(name)


# -- reading back


def verify_copy(path: Path, lock: Lock | None = None, progress: Progress | None = None) -> Manifest:
    """Read a copy to its end and prove every byte and every link. BadArchive if one is off."""
    with TemporaryDirectory(prefix="copy-") as place:
        return unpack(path, Path(place), lock, progress)


def unpack(
    path: Path, to: Path, lock: Lock | None = None, progress: Progress | None = None, *,
    whole: bool = False,
) -> Manifest:  # fmt: skip
    """Prove a copy, and put its database into the empty folder ``to``, or the ``whole`` shop."""
    tried, done = f"read backup {path}", 0
    with opened(path, lock) as (archive, manifest):
        size, free = manifest.size, shutil.disk_usage(to).free
        if size > free:
            why = f"it needs {size} bytes and the disk has {free}"
            raise DiskRefused(tried, why, "Make room, or name a folder on another disk")
        for kept in manifest.files:
            name = kept.name.removeprefix(INSIDE)
            wanted = name != kept.name and (whole or name == FILE)
            (to / name).parent.mkdir(parents=True, exist_ok=True) if wanted else None
            digest = sha256()
            with (
                archive.open(kept.name) as member,
                (to / name).open("xb") if wanted else nullcontext() as file,
            ):
                while block := member.read(BLOCK):
                    digest.update(block)
                    done += len(block)
                    if progress:
                        progress(done, size)
                    if file:
                        file.write(block)
                if file and whole:
                    file.flush()
                    os.fsync(file.fileno())
            if digest.hexdigest() != kept.sha256:
                raise BadArchive(tried, f"{kept.name} is not what was kept", OTHER)
        with database(to / FILE) as con:
            read = read_whole(con)
        damaged = tuple(name for name in manifest.damaged if not name.startswith(INSIDE))
        if (read.n, read.link, read.damaged) != (manifest.n, manifest.link, damaged):
            raise BadArchive(tried, "its books are not those that its list names", OTHER)
    return manifest


@contextmanager
def opened(path: Path, lock: Lock | None = None) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """A copy whose outside is proved: its digest, its names, its sizes. SealedCopy for one whose
    passphrase is not known."""
    tried = f"read backup {path}"
    try:
        with path.open("rb") as raw:
            file: IO[bytes] = raw
            if raw.read(len(SEALED)) == SEALED:
                if lock is None:
                    do = "Give the passphrase that it was sealed with"
                    raise SealedCopy(tried, "it is sealed with a passphrase", do)
                file = lock.reading(raw, tried)
            _prove_whole(file, tried)
            with zipfile.ZipFile(file) as archive:
                yield archive, _manifest_of(archive, tried)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        why = f"it is no archive that can be read ({error})"
        raise BadArchive(tried, why, OTHER) from error
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise DiskRefused(tried, why, "Name the archive, a .zip of `counter backup`") from error


def _prove_whole(file: IO[bytes], tried: str) -> None:
    size = file.seek(0, os.SEEK_END) - 64
    file.seek(max(0, size - len(MARK)))
    mark, digest, said = file.read(len(MARK)), sha256(), file.read(64)
    if size < len(MARK) or mark != MARK:
        why = "it is no backup of a shop, or it was cut off"
        raise BadArchive(tried, why, "Name a .zip of `counter backup`")
    file.seek(0)
    while size and (block := file.read(min(BLOCK, size))):
        size -= len(block)
        digest.update(block)
    if said != digest.hexdigest().encode():
        raise BadArchive(tried, "its bytes are not those that were written", OTHER)


def _manifest_of(archive: zipfile.ZipFile, tried: str) -> Manifest:
    infos = {info.filename: info for info in archive.infolist()}
    head = infos.pop(MANIFEST, None)
    if head is None or head.file_size > _MOST_MANIFEST or len(infos) > _MOST_FILES:
        raise BadArchive(tried, "it has no list of what is in it", OTHER)
    try:
        manifest = msgspec.json.decode(archive.read(head), type=Manifest)
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        raise BadArchive(tried, f"its list cannot be read ({error})", OTHER) from None
    if manifest.format != 2:
        why = f"its format {manifest.format} is not known to this program"
        raise BadArchive(tried, why, "Use the program that wrote it, or a newer one")
    listed = {kept.name: kept.size for kept in manifest.files}
    if not len(archive.infolist()) - 1 == len(infos) == len(manifest.files) or (
        listed != {name: info.file_size for name, info in infos.items()}
    ):
        raise BadArchive(tried, "what is in it is not what its list names", OTHER)
    for name in listed:
        if not safe_name(name):
            why = f"the name {name!a} leads out of the folder or cannot be written"
            raise BadArchive(tried, why, OTHER)
    if INSIDE + FILE not in listed:
        raise BadArchive(tried, "it holds no books", OTHER)
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
