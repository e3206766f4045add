"""A call of a command line fails: it says one sentence, loses nothing, and works the next time."""

from __future__ import annotations

import random
from pathlib import Path

from tests.crash.commands import COMMANDS, run
from tests.often import often


def test_a_command_of_which_a_call_fails_loses_nothing_and_works_the_next_time(
    tmp_path: Path,
) -> None:
    assert len([*run(random.randrange(10**6), tmp_path, most=often(6, 3))]) == len(COMMANDS)
