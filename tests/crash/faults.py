"""The n-th call of a program on its books fails, for every n until a whole run passes."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import msgspec

from tests.crash.cuts import ANSWERS, Film, World
from tests.crash.shops import Law, Program, copy_of, row, stocked
from tests.crash.traced import WRITES, before, calls_in

# What a disk answers, by call. A read that fails is another thing than a write: nothing is lost.
ERRORS = {
    "fsync": ("EIO",), "fdatasync": ("EIO", "ENOSPC"), "pwrite64": ("EIO", "ENOSPC"),
    "ftruncate": ("EIO",), "unlink": ("EIO",), "openat": ("EIO", "EMFILE"), "pread64": ("EIO",),
}  # fmt: skip
TRIES = 40  # a burst of ten errors, and some of them at every try
HELD = "books.sqlite"


class Case(msgspec.Struct, frozen=True):
    """What is done while a call fails. ``beside``: another program has the shop open."""

    name: str
    act: Callable[[Program, Law], None]
    left: bool = False  # a program that was killed has left its log
    beside: bool = False


def until_done(program: Program, *words: str, done: str) -> None:
    """Have it done again until it is; every refusal is one sentence of the disk. What has no key
    may have been done although the disk refused it: then it is refused the next time for that."""
    for tried in range(TRIES):
        said = program.ask(*words)
        again = tried and "it is not closed" in said.get("refused", "")
        if done in said or said.get("of") == "DaySealed" or again:
            return
        if not said:
            program.gone()
            raise AssertionError(f"the program ended at '{' '.join(words)}'")
        assert said["refused"].startswith("Cannot "), said
        assert said["of"] in program.may_say, said
    raise AssertionError(f"'{' '.join(words)}' never works again: {said}")


def selling(program: Program, law: Law) -> None:
    """Three sales, each sent again until it is answered; then the shop says nothing of the disk."""
    for i in range(3):
        until_done(program, "sell", f"a/{len(law.asked)}/{i}", done="number")
    seen = program.ask("see")
    if "sales" in seen:
        assert seen["notices"] == [], "the disk is proved, and still said to refuse"
        assert seen["sold"] == [len(seen["sales"])]
        assert set(law.answered.values()) <= set(seen["sales"])


def closing(program: Program, law: Law) -> None:
    """The day closed, opened again, and one sold."""
    until_done(program, "close", done="closed")
    until_done(program, "reopen", done="reopened")
    until_done(program, "sell", f"a/{len(law.asked)}", done="number")


CASES = (
    Case("selling", selling),
    Case("selling after a kill", selling, left=True),
    Case("selling beside another", selling, beside=True),
    Case("closing", closing),
    Case("closing beside another", closing, beside=True),
)


class Start(msgspec.Struct):
    """A shop to begin every run with, as files."""

    folder: Path
    answered: Mapping[str, str]


def start(case: Case, work: Path) -> Start:
    """A shop with some sales; with ``left`` the log of a killed program beside it, so long that it
    is brought over in the run."""
    folder, law = stocked(work / "begun"), Law()
    with Program(folder, law) as program:
        for i in range(28 if case.left else 2):
            program.ask("sell", f"begun/{i}")
        if case.left:
            program.kill()
        program.gone()
    return Start(folder, law.answered)


def one_run(case: Case, begun: Start, work: Path, inject: str, chance: random.Random) -> bool:
    """One run with one failure, judged; whether a call did fail."""
    law = Law()
    law.answered |= begun.answered
    law.asked |= begun.answered.keys()
    folder, log, answers = copy_of(begun.folder, work / "shop"), work / "log", work / ANSWERS
    reading = inject.startswith("pread64") or not inject
    calls = f"{WRITES},pread64" if reading else WRITES
    tracing = before(log, folder, calls=calls, inject=inject, also=[answers])
    # The engine takes a page that the disk cannot read for a damaged one.
    may_say = ("DiskRefused", "BookDamaged") if reading else ("DiskRefused",)
    if case.beside:
        with Program(folder, law) as other, Program(folder, law, tracing, answers) as one:
            one.may_say = may_say
            other.ask("sell", "b/1")
            case.act(one, law)
            other.ask("sell", "b/2")
            seen = other.ask("see")
            assert set(law.answered.values()) <= set(seen["sales"]), "not seen by the other"
            assert seen["sold"] == [len(seen["sales"])], "the other counts what is not there"
            mine = one.ask("see")
            assert mine.get("sales", seen["sales"]) == seen["sales"], "the two see not the same"
            for program in (one, other):
                program.gone()
    else:
        with Program(folder, law, tracing, answers) as one:
            one.may_say = may_say
            case.act(one, law)
            one.gone()
    law.judge(folder)
    if not case.beside and not reading:
        cut_after(case, begun, law, work, chance)
    return "(INJECTED)" in log.read_text("ascii")


def cut_after(case: Case, begun: Start, law: Law, work: Path, chance: random.Random) -> None:
    """The power goes in the run with the failure, and behind it: a failed sync counts for nothing.
    What another program wrote is not in the film: so only of one that was alone."""
    taken = Film(World(begun.folder, begun.answered), work / "shop", list(calls_in(work / "log")))
    (work / "state").mkdir(exist_ok=True)
    for end in (len(taken.calls), chance.randrange(1, len(taken.calls) + 1)):
        found = taken.cut(end, chance, work / "state")
        law.judge(found.folder, answered=found.answered)


def sampled(case: Case, many: int, seed: int, work: Path) -> str:
    """Some of the failures, whichever: those of CI."""
    chance = random.Random(seed)
    begun = start(case, work)
    one_run(case, begun, work, "", chance)  # all goes well: so many calls there are
    done = Counter(call.name for call in calls_in(work / "log"))
    able = [(call, error, n + 1)
            for call, errors in ERRORS.items() for error in errors for n in range(done[call])]  # fmt: skip
    failed = sum(
        judged_run(case, begun, work, one, chance)
        for one in chance.sample(able, min(many, len(able)))
    )
    assert failed > many // 2, "hardly any call did fail"
    return row(case.name, failed=failed, lost=0, twice=0)


def judged_run(
    case: Case, begun: Start, work: Path, failing: tuple[str, str, int], chance: random.Random
) -> bool:
    """One run in which a call fails, once or ten times in a row; whether it did."""
    call, error, n = failing
    n += call == "openat"  # the first one opens the file for the answers
    inject = f"{call}:error={error}:when={f'{n}..{n + 9}' if chance.random() < 0.3 else n}"
    try:
        return one_run(case, begun, work, inject, chance)
    except Exception as broken:
        broken.add_note(f"{case.name}: {inject}")
        raise


def run(case: Case, seed: int, work: Path) -> Iterator[str]:
    """Fail every call of each kind, until a whole run passes; a line a kind."""
    chance = random.Random(seed)
    begun = start(case, work)
    for call, errors in ERRORS.items():
        runs = 0
        for error in errors:
            n = 1
            while judged_run(case, begun, work, (call, error, n), chance):
                n, runs = n + 1, runs + 1
        yield row(f"{case.name}: {call}", failed=runs, lost=0, twice=0)
