"""Two servers, command lines, copies and closings at once on one folder."""

from __future__ import annotations

from pathlib import Path

from tests.crash.programs import run
from tests.often import often


def test_programs_at_once_lose_and_double_nothing(tmp_path: Path) -> None:
    run(often(6, 3), tmp_path)
