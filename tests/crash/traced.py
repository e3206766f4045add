"""What a program asks of the system for the files of a shop, and how to let it fail or end there.

By strace: it counts and notes system calls on the paths it is given, and can answer for the disk.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from tests.needs import lacking

BOOKS = ("books.sqlite", "books.sqlite-wal", "books.sqlite-shm", "books.sqlite-journal")
WRITES = "pwrite64,write,fsync,fdatasync,ftruncate,unlink,rename,openat"
_CALL = re.compile(r"(\d+) +(?:(\w+)\((.*)|<\.\.\. (\w+) resumed>(.*))$")
_DONE = re.compile(r"^(.*)\) += (-?\d+)")
_PATH = re.compile(r'^-?\w+<([^>]*)>|"([^"]*)"')
_DATA = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')


def strace() -> str:
    """The path of strace; without it, said loudly."""
    found = shutil.which("strace")
    return found or lacking("strace", "Install it (Debian: strace), the disk fails by it")


def before(
    log: Path, folder: Path, *, calls: str = WRITES, inject: str = "", also: Sequence[Path] = ()
) -> tuple[str, ...]:
    """What to put before a command, so that its calls on a shop's books are noted in ``log``, and
    one of them is ``inject``: ``pwrite64:error=EIO:when=3``."""
    paths = [*(folder / name for name in (*BOOKS, "books.last")), folder, *also]
    return (
        strace(), "-f", "--seccomp-bpf", "-qq", "-y", "-xx", "-s", "2000000", "-o", str(log),
        *(part for path in paths for part in ("-P", str(path))),
        "-e", f"trace={calls}", "-e", "signal=none", *(("-e", f"inject={inject}") if inject else ()),
    )  # fmt: skip


class Call(NamedTuple):
    """A system call: when it began it was the ``began``-th event of the log. ``answer`` is what it
    returned; ``done`` is False for one that the program did not survive."""

    name: str
    path: str
    text: str
    answer: int
    began: int
    pid: int

    @property
    def data(self) -> bytes:
        """The bytes that were written."""
        found = _DATA.search(self.text)
        return bytes.fromhex(found[1].replace("\\x", "")) if found else b""

    @property
    def number(self) -> int:
        """The last argument: an offset, or a length."""
        return int(self.text.rsplit(",", 1)[1])


def calls_in(log: Path) -> Iterator[Call]:
    """The calls of a log in the order in which they ended."""
    open_calls: dict[str, tuple[str, str, int]] = {}
    for event, line in enumerate(log.read_text("ascii").splitlines()):
        if not (found := _CALL.match(line)):
            continue
        pid, name, rest, resumed, tail = found.groups()
        began = event
        if resumed:
            name, head, began = open_calls.pop(pid)
            rest = head + tail
        elif rest.endswith(" <unfinished ...>"):
            open_calls[pid] = name, rest.removesuffix(" <unfinished ...>"), event
            continue
        if done := _DONE.match(rest):
            yield _call(name, done[1], int(done[2]), began, int(pid))


def _call(name: str, text: str, answer: int, began: int, pid: int) -> Call:
    places = [_plain(a) if a else _plain(b) for a, b in _PATH.findall(text)]
    if name == "openat":  # the folder it is relative to stands first
        places = places[1:]
    return Call(name, places[0] if places else "", text, answer, began, pid)


def _plain(text: str) -> str:
    return re.sub(r"\\x([0-9a-f]{2})", lambda one: chr(int(one[1], 16)), text)


def everywhere(log: Path, calls: Sequence[str], inject: str = "") -> tuple[str, ...]:
    """What to put before a command, so that one of its calls on whatever file is ``inject``."""
    return (
        strace(), "-f", "--seccomp-bpf", "-qq", "-s", "0", "-o", str(log),
        "-e", f"trace={','.join(calls)}", "-e", "signal=none",
        *(("-e", f"inject={inject}") if inject else ()),
    )  # fmt: skip
