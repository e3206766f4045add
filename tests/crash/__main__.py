"""``python -m tests.crash WHAT [N]``: the long runs, each with a table of what was done.

kills N      so many programs killed (1,000); a bare number means this
faults       every call of every kind fails, selling, closing, backing up, beginning
cuts N       so many states after a power cut (500)
programs N   all programs at once for so many seconds (60)
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.crash import commands, cuts, faults, kills, programs


def all_faults(_: int, seed: int, work: Path) -> Iterator[str]:
    for i, case in enumerate(faults.CASES):
        place = work / str(i)
        place.mkdir()
        yield from faults.run(case, seed, place)
    yield from commands.run(seed, work)


Run = Callable[[int, int, Path], Iterator[str]]
RUNS: dict[str, tuple[int, Run]] = {
    "kills": (1000, kills.run),
    "faults": (0, all_faults),
    "cuts": (500, lambda n, seed, work: iter([cuts.run(n, seed, work)])),
    "programs": (60, lambda n, _, work: iter([programs.run(n, work)])),
}


def main(words: list[str]) -> None:
    if words and words[0].isdigit():
        words = ["kills", *words]
    if not words or words[0] not in RUNS:
        sys.exit(__doc__)
    usual, work_of = RUNS[words[0]]
    many, seed = int(words[1]) if len(words) > 1 else usual, time.time_ns() % 10**6
    print(f"{words[0]}, seed {seed}", flush=True)
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="crash-") as work:
        for line in work_of(many, seed, Path(work)):
            print(line, flush=True)
    print(f"{time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main(sys.argv[1:])
