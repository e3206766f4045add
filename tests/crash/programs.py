"""Many programs on one folder: servers, command lines, copies and closings, all at once."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from counter.books import CLOSINGS
from counter.shop import Shop
from counter.trade.closing import Closing
from tests.crash.driver import SAID
from tests.crash.kills import Server, Till, command, heard, started
from tests.crash.shops import COUNTER, PATIENCE_S, Law, Program, row, stocked


def closes(folder: Path, law: Law, stop: threading.Event, counts: dict[str, int]) -> None:
    """The owner, who closes the day and opens it again, until told to stop."""
    with Program(folder, law) as owner:
        while not stop.wait(0.3):
            for act, done in (("close", "closed"), ("reopen", "reopened")):
                said = owner.ask(act)
                assert done in said, said
            counts["closings"] += 1
        owner.gone()


def copies(folder: Path, stick: Path, stop: threading.Event, counts: dict[str, int]) -> None:
    """A copy after the other, each read back by the program that makes it."""
    while not stop.wait(0.1):
        program = started(
            [*COUNTER, "--shop", str(folder), "backup", "--no-wheels", "--to", str(stick)]
        )
        out, err = program.communicate(timeout=PATIENCE_S)
        assert program.returncode == 0, out + err
        counts["copies"] += 1


def sells(folder: Path, law: Law, stop: threading.Event, counts: dict[str, int]) -> None:
    """One command line after the other; refused ones are sent again while the day is closed."""
    while not stop.is_set():
        key = f"command/{counts['commands']}"
        law.asked.add(key)
        if heard(started(command(folder, key)), key, law):
            counts["commands"] += 1


def every_closing_counts_what_it_seals(folder: Path) -> int:
    """Each closing has the sales that stand before its seal, and no other; how many there are."""
    shop = Shop.open(folder)
    shop.desk.questions.given = SAID
    closings = shop.desk.books.select(CLOSINGS).find("closings", Closing)
    for closing in closings:
        entries = shop.desk.books.entries(str(closing.day))[: closing.book_lines]
        assert entries[-1].link == closing.book_link
        assert closing.sales == sum(len(entry.records.get("sales", ())) for entry in entries)
    shop.desk.books.close()
    return len(closings)


def guarded(errors: list[str], work: Callable[[], object]) -> threading.Thread:
    """Work in a thread, whose error is not lost with it."""

    def run_it() -> None:
        try:
            work()
        except BaseException as error:
            errors.append(repr(error))

    thread = threading.Thread(target=run_it)
    thread.start()
    return thread


def run(seconds: float, work: Path) -> str:
    """All at once for some seconds, then what must hold; a line of counts."""
    folder, stick, law, errors = stocked(work / "shop"), work / "stick", Law(), list[str]()
    stick.mkdir()
    stop, paid, counts = threading.Event(), threading.Event(), dict.fromkeys(COUNTED, 0)
    tills = [Till(f"till-{i}", law, may_refuse="closed") for i in range(4)]
    with Server(folder) as one, Server(folder) as two:
        threads = [guarded(errors, lambda: closes(folder, law, stop, counts)),
                   guarded(errors, lambda: copies(folder, stick, stop, counts)),
                   guarded(errors, lambda: sells(folder, law, stop, counts))]  # fmt: skip
        threads += [
            guarded(errors, partial(till.sell, (one, two)[i % 2].port, stop, paid))
            for i, till in enumerate(tills)
        ]
        time.sleep(seconds)
        stop.set()
        for thread in threads:
            thread.join(PATIENCE_S)
    assert not errors, errors
    assert not [text for till in tills for text in till.refused]
    law.judge(folder)
    assert every_closing_counts_what_it_seals(folder) == counts["closings"]
    return row("programs at once", answered=len(law.answered), lost=0, twice=0, **counts)


COUNTED = ("commands", "copies", "closings")
