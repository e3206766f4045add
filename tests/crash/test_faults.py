"""Whatever call fails while a program sells or closes: nothing answered is lost, nothing twice."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.crash.faults import CASES, Case, sampled


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_call_that_fails_loses_and_doubles_nothing(case: Case, tmp_path: Path) -> None:
    sampled(case, 12, random.randrange(10**6), tmp_path)
