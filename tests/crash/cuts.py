"""Power cuts: a disk that keeps what is written and what is synced apart.

The calls of programs at work are noted and played again on a disk in memory. At a cut it holds what
was synced, and of what was written since, each sector or not, in any order; a name that was not
synced may be there or not. A sync that failed counts for nothing, and what was waiting for it may
never come, however often it is synced later: so do disks and systems behave.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import msgspec

from tests.crash.shops import Law, Program, copy_of, row, stocked
from tests.crash.traced import Call, before, calls_in

SECTOR = 512  # the least that a disk writes whole


class Kept:
    """A file on that disk: the bytes that are safe, and what was written since."""

    def __init__(self, data: bytes = b"") -> None:
        self.safe = bytearray(data)
        self.waiting: list[tuple[int, int, bytes | int]] = []  # when, offset, bytes or new length
        self.doomed: list[tuple[int, int, bytes]] = []  # what a failed sync forgot

    def write(self, event: int, offset: int, data: bytes | int) -> None:
        """What is written over is no longer what a failed sync forgot."""
        if isinstance(data, bytes):
            self.doomed = [
                piece for piece in self.doomed
                if piece[1] + len(piece[2]) <= offset or offset + len(data) <= piece[1]
            ]  # fmt: skip
        self.waiting.append((event, offset, data))

    def synced(self, began: int) -> None:
        """A sync that began at that event has ended: what was written before it is safe."""
        for _, offset, data in (one for one in self.waiting if one[0] < began):
            put(self.safe, offset, data)
        self.waiting = [one for one in self.waiting if one[0] >= began]

    def failed(self, chance: random.Random) -> None:
        """A sync has failed: what waited for it may be counted as written, and never be."""
        keep = list[tuple[int, int, bytes | int]]()
        for event, offset, data in self.waiting:
            for at, piece in sectors(offset, data):
                if isinstance(piece, int) or chance.random() < 0.5:
                    keep.append((event, at, piece))
                else:
                    self.doomed.append((event, at, piece))
        self.waiting = keep

    def after_cut(self, chance: random.Random) -> bytes:
        """What is found of it: of what was not safe any part, in any order."""
        data, parts = bytearray(self.safe), list[tuple[int, bytes | int]]()
        share = chance.choice((0.0, 0.3, 0.7, 0.97, 1.0))
        for _, offset, what in (*self.doomed, *self.waiting):
            for piece in sectors(offset, what):
                if chance.random() < share:
                    parts.append(piece)
        if chance.random() < 0.7:
            chance.shuffle(parts)
        for offset, what in parts:
            put(data, offset, what)
        return bytes(data)


def put(data: bytearray, offset: int, what: bytes | int) -> None:
    """Write bytes at an offset, or bring it to a length."""
    if isinstance(what, int):
        data[what:] = bytes(max(0, what - len(data)))
        return
    data.extend(bytes(max(0, offset - len(data))))
    data[offset : offset + len(what)] = what


def sectors(offset: int, what: bytes | int) -> Iterator[tuple[int, bytes | int]]:
    """A write as the pieces of which each may arrive alone."""
    if isinstance(what, int):
        yield offset, what
        return
    at = 0
    while at < len(what):
        end = min(len(what), at + SECTOR - (offset + at) % SECTOR)
        yield offset + at, what[at:end]
        at = end


class Disk:
    """The files of a folder on that disk, and their names, safe and as programs see them."""

    def __init__(self, start: Path, folder: Path, chance: random.Random) -> None:
        self._chance = chance
        self._folder = str(folder)
        self.safe = {p.name: Kept(p.read_bytes()) for p in start.iterdir() if p.is_file()}
        self.seen = dict(self.safe)
        self._names: list[tuple[str, Kept | None]] = []  # what became of names since a sync
        self._places: dict[tuple[int, int], int] = {}  # how far a file opened is written
        self._event = 0

    def play(self, call: Call) -> None:
        """What a call did to it."""
        self._event = max(self._event, call.began)
        if call.path == self._folder and call.name in ("fsync", "fdatasync"):
            if call.answer == 0:
                self._names, self.safe = [], dict(self.seen)
            return
        folder, _, name = call.path.rpartition("/")
        if folder != self._folder or name.endswith("-shm") or (call.answer < 0 and not _sync(call)):
            return
        self._play(call, name)

    def _play(self, call: Call, name: str) -> None:
        match call.name:
            case "openat":
                self._places[call.pid, call.answer] = 0
                if "O_CREAT" in call.text and name not in self.seen:
                    self._name(name, Kept())
            case "unlink":
                self._name(name, None)
            case "pwrite64":
                data = call.data[: call.answer]
                self.seen[name].write(self._event, call.number, data)
            case "ftruncate":
                self.seen[name].write(self._event, 0, call.number)
            case "fsync" | "fdatasync" if call.answer < 0:
                self.seen[name].failed(self._chance)
            case "fsync" | "fdatasync":
                self.seen[name].synced(call.began)
            case "write":  # one after the other from the start on: we seek only to write anew
                place = call.pid, int(call.text.partition("<")[0])
                data = call.data[: call.answer]
                self.seen[name].write(self._event, self._places[place], data)
                self._places[place] += len(data)
            case "rename":
                raise AssertionError(f"this disk does not know {call.name} of {name}")

    def _name(self, name: str, file: Kept | None) -> None:
        self._names.append((name, file))
        if file is None:
            self.seen.pop(name, None)
        else:
            self.seen[name] = file

    def cut(self, to: Path) -> None:
        """Put into ``to`` what is found when the power is back."""
        names = dict(self.safe)
        share = self._chance.choice((0.0, 0.5, 1.0))
        for name, file in self._names:
            if self._chance.random() >= share:
                continue
            names[name] = file or names.pop(name, Kept())
            if file is None:
                del names[name]
        for path in to.iterdir():
            if path.is_file():
                path.unlink()
        for name, kept in names.items():
            (to / name).write_bytes(kept.after_cut(self._chance))
        # The shared memory of the log is a file, but of no use after a cut: gone, or anything.
        if self._chance.random() < 0.7:
            size = self._chance.choice((0, 3, 4096, 32768))
            (to / "books.sqlite-shm").write_bytes(self._chance.randbytes(size))


def _sync(call: Call) -> bool:
    return call.name in ("fsync", "fdatasync")


def answered_by(call: Call) -> dict[str, str]:
    """The sale that a call answered with, by its key."""
    if call.name != "write" or not call.path.endswith(f"/{ANSWERS}") or call.answer <= 0:
        return {}
    said = msgspec.json.decode(call.data)
    return {said["key"]: said["number"]} if "number" in said else {}


class World(msgspec.Struct):
    """A shop folder as it is found, and what was answered in it."""

    folder: Path
    answered: Mapping[str, str]


class Film(msgspec.Struct):
    """What programs did in a shop: the world before, and the calls since."""

    start: World
    folder: Path
    calls: Sequence[Call]

    def cut(self, end: int, chance: random.Random, to: Path) -> World:
        """The world that is found when the power goes behind so many calls."""
        disk, answered = Disk(self.start.folder, self.folder, chance), dict(self.start.answered)
        for call in self.calls[:end]:
            disk.play(call)
            answered |= answered_by(call)
        disk.cut(to)
        return World(to, answered)


ANSWERS = "answers"
KINDS = ("alone", "two", "killed", "short", "closing")


def film(world: World, work: Path, law: Law, chance: random.Random) -> Film:
    """Let programs work in a shop, and note what they ask of the system: one that sells, alone or
    with another beside it, that is killed or ends, that closes the day; now and then a sync fails.
    """
    start = World(copy_of(world.folder, work / "start"), world.answered)
    log, answers, kind = work / "log", work / ANSWERS, chance.choice(KINDS)
    keys = [f"{chance.randrange(16**8):08x}/{i}" for i in range(chance.randrange(25, 60))]
    inject = f"fdatasync:error=EIO:when={chance.randrange(2, 30)}" if chance.random() < 0.4 else ""
    tracing = before(log, world.folder, inject=inject, also=[answers])
    with Program(world.folder, law, tracing, answers) as one:
        if kind == "two":
            others = [f"{key}/beside" for key in keys]
            law.asked.update(others)
            one.ask("beside", *others)
        for key in keys[: 4 if kind == "short" else None]:
            one.ask("sell", key)
        if kind == "closing":
            for act in ("close", "reopen", f"sell {keys[0]}/reopened"):
                one.ask(*act.split())
        if kind == "killed":
            one.kill()
        one.gone()
    return Film(start, world.folder, list(calls_in(log)))


def run(many: int, seed: int, work: Path) -> str:
    """So many states of a disk after a power cut, judged; a table."""
    chance, law = random.Random(seed), Law()
    world, films, calls = World(stocked(work / "shop"), {}), 0, 0
    while law.states < many:
        taken = film(world, work, law, chance)
        films, calls = films + 1, calls + len(taken.calls)
        (work / "state").mkdir(exist_ok=True)
        for _ in range(min(20, many - law.states)):
            found = taken.cut(chance.randrange(1, len(taken.calls) + 1), chance, work / "state")
            law.judge(found.folder, answered=found.answered)
        # The next program starts from what the power cut left, and meets the next one.
        for name in ("books.sqlite", "books.sqlite-wal", "books.sqlite-shm", "books.last"):
            (world.folder / name).unlink(missing_ok=True)
            if (work / "state" / name).exists():
                shutil.copy(work / "state" / name, world.folder / name)
        world = World(world.folder, found.answered)
    return row("power cuts", states=law.states, runs=films, calls=calls, answered=len(law.answered),
               lost=0, twice=0, found_unanswered=law.found)  # fmt: skip
