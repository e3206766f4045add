"""Command lines of which a call fails: selling, closing, backing up, beginning a shop."""

from __future__ import annotations

import random
import re
import sqlite3
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path

import msgspec

from counter.books.copies import verify_copy
from counter.books.engine import FILE
from counter.shop import Shop
from tests.crash.faults import ERRORS, Start
from tests.crash.shops import COUNTER, ENV, PATIENCE_S, ROOT, Law, copy_of, row, sold_in, stocked
from tests.crash.traced import WRITES, before, calls_in, everywhere

SURE = [part for about in ("cash", "uncounted", "cooling") for part in ("--sure", f"{about}=test")]
WHEREVER = {
    **dict.fromkeys(("pwrite64", "write", "rename", "mkdir"), ("EIO", "ENOSPC")),
    **dict.fromkeys(("fsync", "fdatasync", "ftruncate", "unlink", "unlinkat"), ("EIO",)),
}
INJECTED = re.compile(r"(\w+)\((\d*).*\(INJECTED\)")


class Place(msgspec.Struct):
    """Where a command works: a shop, a stick with a copy of it, and a folder for a new one."""

    shop: Path
    stick: Path
    new: Path


def copies_are_whole(place: Place) -> None:
    """Each copy on the stick reads back, and nothing half made lies beside them."""
    copies = [*place.stick.glob("*.zip")]
    assert copies
    for copy in copies:
        verify_copy(copy)


def all_or_nothing(place: Place) -> None:
    """A shop with a catalogue that can be sold from, or an empty folder."""
    if [*place.new.glob("*")]:
        shop = Shop.open(place.new)
        assert shop.desk.catalogue.portions
        shop.desk.books.close()


def hit(place: Place) -> None:
    """Let the disk have lost the page of an index: no line is lost, and the books are damaged."""
    with closing(sqlite3.connect(place.shop / FILE)) as con:
        [(page,)] = con.execute("SELECT rootpage FROM sqlite_master WHERE name = 'keys'")
    with (place.shop / FILE).open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(bytes(4096))


class Command(msgspec.Struct, frozen=True):
    """A command line, and what must hold of its place after it, whatever it answered. ``wherever``:
    its calls fail on all files, not only on those of the shop's books. ``first`` is done to its
    place before it."""

    name: str
    words: Callable[[Place], Sequence[str]]
    then: Callable[[Place], object]
    wherever: bool = False
    first: Callable[[Place], None] | None = None

    @property
    def errors(self) -> dict[str, tuple[str, ...]]:
        return WHEREVER if self.wherever else ERRORS


COMMANDS = (
    Command("counter sell", lambda p: ("--shop", str(p.shop), "sell", "firm-block", "--card",
                                       "--key", "command"), lambda p: None),
    Command("counter close", lambda p: ("--shop", str(p.shop), "close", *SURE), lambda p: None),
    Command("counter backup",
            lambda p: ("--shop", str(p.shop), "backup", "--no-wheels", "--to", str(p.stick)),
            copies_are_whole, wherever=True),
    Command("counter mend", lambda p: ("--shop", str(p.shop), "mend"), lambda p: None,
            wherever=True, first=hit),
    Command("counter new", lambda p: ("new", str(p.new)), all_or_nothing, wherever=True),
)  # fmt: skip


def done(command: Command, place: Place, prefix: Sequence[str] = ()) -> tuple[int, str, str]:
    """Run it; its status and what it said. A traceback fails, and a refusal without a sentence."""
    program = subprocess.run(
        [*prefix, *COUNTER, *command.words(place)], capture_output=True, text=True, check=False,
        env=ENV, cwd=ROOT, stdin=subprocess.DEVNULL, timeout=PATIENCE_S,
    )  # fmt: skip
    return program.returncode, program.stdout, program.stderr


def prepared(work: Path) -> tuple[Start, Path]:
    """A shop with two sales, and a stick with the copy of a moment before."""
    folder, law = stocked(work / "begun"), Law()
    sold_in(folder, law, ("begun/1", "begun/2"))
    stick = work / "stick-begun"
    stick.mkdir()
    subprocess.run([*COUNTER, "--shop", str(folder), "backup", "--no-wheels", "--to", str(stick)], check=True,
                   env=ENV, cwd=ROOT, capture_output=True, timeout=PATIENCE_S)  # fmt: skip
    sold_in(folder, law, ("begun/3",))
    return Start(folder, law.answered), stick


def one_run(command: Command, begun: Start, stick: Path, work: Path, inject: str) -> bool:
    """One run with one failure, judged; whether a call did fail."""
    law = Law()
    law.answered |= begun.answered
    law.asked |= {*begun.answered, "command"}
    place = Place(
        copy_of(begun.folder, work / "shop"), copy_of(stick, work / "stick"), work / "new"
    )
    copy_of(work / "nothing", place.new)
    if command.first:
        command.first(place)
    log = work / "log"
    prefix = (
        everywhere(log, [*WHEREVER], inject) if command.wherever
        else before(log, place.shop, calls=f"{WRITES},pread64", inject=inject)
    )  # fmt: skip
    status, out, err = done(command, place, prefix)
    failed = INJECTED.search(log.read_text("ascii"))
    if failed and failed[1] == "write" and failed[2] in ("1", "2"):
        return True  # it could not speak: what it did is told at the next start
    assert "Traceback" not in err, err
    if status:
        assert failed, err
        assert "Cannot " in out + err, out + err
    if sale := re.search(r"^Sale (\S+)$", out, re.MULTILINE):
        law.answer("command", sale[1])
    command.then(place)
    if status:
        status, out, err = done(command, place)
        assert status == 0 or "closed already" in err or [*place.new.glob("*")], err
        command.then(place)
    law.judge(place.shop)
    return failed is not None


def failures(command: Command, begun: Start, stick: Path, work: Path) -> list[tuple[str, str, int]]:
    """Every call that can fail, counted in a run in which none does."""
    assert not one_run(command, begun, stick, work, "")
    calls = Counter(call.name for call in calls_in(work / "log"))
    return [
        (call, error, n + 1)
        for call, errors in command.errors.items() for error in errors for n in range(calls[call])
    ]  # fmt: skip


def run(seed: int, work: Path, most: int = 10**9) -> Iterator[str]:
    """Fail every call of each command, or as many as are wanted; a line a command."""
    chance = random.Random(seed)
    (work / "nothing").mkdir()
    begun, stick = prepared(work)
    for command in COMMANDS:
        able = failures(command, begun, stick, work)
        count = 0
        for call, error, n in chance.sample(able, min(most, len(able))):
            inject = f"{call}:error={error}:when={n}"
            try:
                count += one_run(command, begun, stick, work, inject)
            except Exception as broken:
                broken.add_note(f"{command.name}: {inject}")
                raise
        yield row(command.name, failed=count, lost=0, twice=0)
