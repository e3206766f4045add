"""One shop folder in one file: a zip with a list of what is in it, proved before it is believed.

``manifest.json`` names every file with its size and SHA-256, and for every book its last line and
that line's link. The comment of the zip is the SHA-256 of all bytes before it, so that a file cut
anywhere, or with one bit changed, says so itself. The same folder gives the same bytes: names are
sorted, and no clock and no system is written down.

An archive is a copy, not a seal: who can write it can also write another one that proves itself.
"""

from __future__ import annotations

import hashlib
import os
import stat
import tempfile
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, NamedTuple

import msgspec

from counter.books.archived import MEND_ARCHIVE, digest_of, verify_archive
from counter.books.engine import FILE, refused
from counter.books.files import BLOCK, sync_folder
from counter.books.manifest import (
    INSIDE,
    MANIFEST,
    MARK,
    Kept,
    Manifest,
    Progress,
    Teller,
    safe_name,
)
from counter.errors import BadArchive, BooksError

_EPOCH = (1980, 1, 1, 0, 0, 0)  # the first moment a zip can name


class Found(NamedTuple):
    """A file to be copied: its name in the folder, and how much of it (a book may grow)."""

    name: str
    size: int


def survey(folder: Path, without: Sequence[Path] = ()) -> list[Found]:
    """The files of a shop folder, sorted by name, and their sizes now.

    Left out are the lock, unfinished files of ours, and the folders in ``without``.
    BooksError for a name that not every system can write.
    """
    left_out = {path.resolve() for path in without}
    found = []
    for here, folders, names in os.walk(folder):
        place = Path(here)
        folders[:] = [f for f in folders if (place / f).resolve() not in left_out]
        for name in names:
            path = place / name
            inside = path.relative_to(folder).as_posix()
            unfinished = name.startswith(".") and name.endswith(".part")
            if (
                (inside.startswith(("books.", ".secret")) and inside != "books.sqlite")
                or unfinished
                or not path.is_file()
            ):
                continue
            if not safe_name(inside):
                why = f"the name {inside!a} cannot be written on every system"
                do = "Rename the file, or move it out of the shop folder"
                raise BooksError(f"back up '{folder}'", why, do)
            found.append(Found(inside, path.stat().st_size))
    return sorted(found)


def write_archive(
    folder: Path, found: Sequence[Found], to: Path, shop: str, end: tuple[int, str],
    books: Path, progress: Progress | None = None,
) -> Manifest:  # fmt: skip
    """Write an archive of ``found`` to ``to``: whole, on the disk and read back, or not at all.

    Raises DiskRefused when a disk refuses, BadArchive when what was read back is not what was
    written. What stood at ``to`` before is then still there.
    """
    whole = sum(f.size for f in found) or 1
    tell = Teller(progress, 2 * whole)
    temporary = Path()
    try:
        handle, name = tempfile.mkstemp(dir=to.parent, prefix=f".{to.name}.", suffix=".part")
        temporary = Path(name)
        with os.fdopen(handle, "w+b") as file:
            manifest = _write_zip(folder, found, file, shop, tell, books, end)
            _seal(file)
            os.fsync(file.fileno())
            if hasattr(os, "posix_fadvise"):  # what is read back comes from the disk
                os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        if verify_archive(temporary, lambda done, _: tell.at(whole + done)) != manifest:
            raise BadArchive(
                f"write {to}", "what was read back is not what was written", MEND_ARCHIVE
            )
        temporary.replace(to)
        with suppress(OSError):  # not every file system on a stick can do it
            sync_folder(to.parent)
    except OSError as error:
        raise refused(f"write {to.name} in {to.parent}", error) from error
    finally:
        if temporary.name:
            temporary.unlink(missing_ok=True)
    return manifest


def _write_zip(
    folder: Path, found: Sequence[Found], file: IO[bytes], shop: str, tell: Teller,
    books: Path, end: tuple[int, str],
) -> Manifest:  # fmt: skip
    kept = []
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        archive.comment = MARK + b"0" * 64
        for name, size in found:
            digest = hashlib.sha256()
            try:
                source = (books if name == FILE else folder / name).open("rb")
            except FileNotFoundError:
                continue  # a paper thrown away meanwhile
            with source, _member(archive, INSIDE + name) as member:
                size = os.fstat(source.fileno()).st_size
                rest = size
                while rest and (block := source.read(min(BLOCK, rest))):
                    rest -= len(block)
                    digest.update(block)
                    member.write(block)
                    tell.more(len(block))
            kept.append(Kept(name, size - rest, digest.hexdigest()))
        manifest = Manifest(1, shop, tuple(kept), *end)
        with _member(archive, MANIFEST) as member:
            member.write(msgspec.json.format(msgspec.json.encode(manifest), indent=1))
    return manifest


@contextmanager
def _member(archive: zipfile.ZipFile, name: str) -> Iterator[IO[bytes]]:
    info = zipfile.ZipInfo(name, _EPOCH)
    info.compress_type, info.create_system = zipfile.ZIP_DEFLATED, 3
    info.external_attr = (stat.S_IFREG | 0o644) << 16
    with archive.open(info, "w", force_zip64=True) as member:
        yield member


def _seal(file: IO[bytes]) -> None:
    """Write the digest of all that stands before it into the comment at the end."""
    file.flush()
    end = file.seek(0, os.SEEK_END) - 64
    digest = digest_of(file, end)
    file.seek(end)
    file.write(digest.encode())
    file.flush()
