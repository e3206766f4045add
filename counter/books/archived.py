"""Reading an archive of a shop folder: every byte and every link is proved before it is believed.

What comes from a stick may be cut, rotten or made to do harm: nothing is written outside the folder
named, and nothing grows beyond what the archive's list says.
"""

from __future__ import annotations

import hashlib
import os
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import msgspec

from counter.books.engine import refused
from counter.books.files import BLOCK
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
from counter.errors import BadArchive, DiskRefused

_SEAL = len(MARK) + 64
_MOST_FILES, _MOST_BYTES, _MOST_MANIFEST = 200_000, 1 << 40, 1 << 26
_WORST_RATIO = 1100  # deflate reaches 1032; what promises more is no archive of ours
MEND_ARCHIVE = "Take another backup; this one cannot be trusted"


def verify_archive(path: Path, progress: Progress | None = None) -> Manifest:
    """Read an archive to its end and prove every byte and every link. BadArchive if one is off."""
    with _opened(path, f"read backup {path}") as (archive, manifest):
        tell = Teller(progress, manifest.size)
        for kept in manifest.files:
            for block in _proved(archive, kept, str(path)):
                tell.more(len(block))
        return manifest


def unpack_archive(path: Path, folder: Path, progress: Progress | None = None) -> Manifest:
    """Put the files of an archive into an empty ``folder``, each of them proved and lasting."""
    tried = f"restore {path}"
    with _opened(path, tried) as (archive, manifest):
        tell = Teller(progress, manifest.size)
        try:
            for kept in manifest.files:
                place = folder / kept.name
                place.parent.mkdir(parents=True, exist_ok=True)
                with place.open("xb") as file:
                    for block in _proved(archive, kept, str(path)):
                        file.write(block)
                        tell.more(len(block))
                    file.flush()
                    os.fsync(file.fileno())
        except OSError as error:
            raise refused(tried, error) from error
        return manifest


@contextmanager
def _opened(path: Path, tried: str) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """An archive whose outside is proved: its digest, its names, its sizes."""
    try:
        with path.open("rb") as file:
            _prove_whole(file, tried)
            with zipfile.ZipFile(file) as archive:
                yield archive, _manifest_of(archive, file, tried)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        why = f"it is no archive that can be read ({error})"
        raise BadArchive(tried, why, MEND_ARCHIVE) from error
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise DiskRefused(tried, why, "Name the archive, a .zip of `counter backup`") from error


def _prove_whole(file: IO[bytes], tried: str) -> None:
    size = file.seek(0, os.SEEK_END)
    seal = b""
    if size > _SEAL:
        file.seek(size - _SEAL)
        seal = file.read(_SEAL)
    if not seal.startswith(MARK):
        why = "it is no backup of a shop, or it was cut off"
        raise BadArchive(tried, why, "Name a .zip of `counter backup`")
    if seal[len(MARK) :] != digest_of(file, size - 64).encode():
        raise BadArchive(tried, "its bytes are not those that were written", MEND_ARCHIVE)


def _manifest_of(archive: zipfile.ZipFile, file: IO[bytes], tried: str) -> Manifest:
    infos = {info.filename: info for info in archive.infolist()}
    head = infos.get(MANIFEST)
    if head is None or head.file_size > _MOST_MANIFEST or len(infos) > _MOST_FILES:
        raise BadArchive(tried, "it has no list of what is in it", MEND_ARCHIVE)
    try:
        manifest = msgspec.json.decode(archive.read(head), type=Manifest)
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        raise BadArchive(tried, f"its list cannot be read ({error})", MEND_ARCHIVE) from None
    if manifest.format != 1:
        why = f"its format {manifest.format} is not known to this program"
        raise BadArchive(tried, why, "Use the program that wrote it, or a newer one")
    names = [INSIDE + kept.name for kept in manifest.files]
    if len(archive.infolist()) != len(infos) or {MANIFEST, *names} != set(infos):
        raise BadArchive(tried, "what is in it is not what its list names", MEND_ARCHIVE)
    if len(set(names)) != len(names):
        raise BadArchive(tried, "its list names a file twice", MEND_ARCHIVE)
    for kept in manifest.files:
        if not safe_name(kept.name):
            why = f"the name {kept.name!a} leads out of the folder or cannot be written"
            raise BadArchive(tried, why, MEND_ARCHIVE)
        if infos[INSIDE + kept.name].file_size != kept.size or kept.size < 0:
            raise BadArchive(
                tried, f"the size of {kept.name} is not the one its list names", MEND_ARCHIVE
            )
    size = file.seek(0, os.SEEK_END)
    if manifest.size > min(_MOST_BYTES, size * _WORST_RATIO):
        raise BadArchive(tried, f"{size} bytes cannot hold {manifest.size}", MEND_ARCHIVE)
    return manifest


def _proved(archive: zipfile.ZipFile, kept: Kept, path: str) -> Iterator[bytes]:
    """The blocks of one file; BadArchive after the last where they are not what was kept."""
    digest, size = hashlib.sha256(), 0
    with archive.open(INSIDE + kept.name) as member:
        while block := member.read(BLOCK):
            size += len(block)
            if size > kept.size:
                raise BadArchive(f"read backup {path}", f"{kept.name} is too long", MEND_ARCHIVE)
            digest.update(block)
            yield block
    if digest.hexdigest() != kept.sha256:
        raise BadArchive(f"read backup {path}", f"{kept.name} is not what was kept", MEND_ARCHIVE)


def digest_of(file: IO[bytes], end: int) -> str:
    file.seek(0)
    digest, rest = hashlib.sha256(), end
    while rest and (block := file.read(min(BLOCK, rest))):
        rest -= len(block)
        digest.update(block)
    return digest.hexdigest()
