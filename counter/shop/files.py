"""Where files for people go: what was printed before is never written over."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from counter.errors import Refused
from labels.say import say, term

Progress = Callable[[int, int], None]  # told of how many steps how many are done


class Files:
    """The shop's folders of labels and reports, and files that a person names."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder

    def place(self, kind: str) -> Path:
        """The folder for files made for people (labels, reports); Refused for a shop in memory."""
        if self.folder is None:
            raise Refused(
                say("keep {kind}", kind=term(kind)),
                say("this shop has no folder"),
                say("Name a file to write to"),
            )
        place = self.folder / kind
        place.mkdir(exist_ok=True)
        return place

    def new(self, kind: str, name: str, data: bytes | None = None) -> Path:
        """Where a file for others goes: what was printed before stays, and the new one bears a
        number. The file itself where it holds ``data`` already."""
        path = first = self.place(kind) / name
        number = 2
        while path.exists() and (data is None or path.read_bytes() != data):
            path = first.with_name(f"{first.stem}-{number}{first.suffix}")
            number += 1
        return path

    def unused(self, path: Path | None, data: bytes | None = None) -> Path | None:
        """A file that somebody named for others; Refused where one is that does not hold ``data``
        already: what was printed stays."""
        if path is not None and path.is_file() and (data is None or path.read_bytes() != data):
            why = say("there is such a file, and what was printed before stays")
            raise Refused(say("write {file}", file=path.name), why, say("Name another file"))
        return path


def replace_whole(file: Path, data: bytes) -> None:
    """Write a file beside the one of that name, for its owner alone, and put it in its place once
    the disk has it. Raises OSError; then all is as it was."""
    part = file.with_name(f".{file.name}.{os.urandom(4).hex()}.part")
    try:
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        part.replace(file)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def stamp_of(file: Path) -> tuple[int, int]:
    """When a file was changed, in nanoseconds, and its size in bytes. Raises OSError."""
    there = file.stat()
    return there.st_mtime_ns, there.st_size
