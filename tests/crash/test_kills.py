"""A hundred kills (in CI) of command lines and servers: nothing answered is lost, nothing stands twice."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.crash.kills import run
from tests.often import often


@pytest.mark.parametrize(("who", "kills"), [("commands", often(75)), ("servers", often(25, 5))])
def test_programs_killed_at_any_moment_lose_and_double_nothing(
    who: str, kills: int, tmp_path: Path
) -> None:
    assert [*run(kills, random.randrange(10**6), tmp_path, who)]
