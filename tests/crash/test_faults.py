"""Whatever call fails while a program sells or closes: nothing answered is lost, nothing twice."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.crash.faults import CASES, Case, sampled
from tests.crash.shops import Law, Program, stocked
from tests.crash.traced import before
from tests.often import often


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_call_that_fails_loses_and_doubles_nothing(case: Case, tmp_path: Path) -> None:
    sampled(case, often(12, 4), random.randrange(10**6), tmp_path)


@pytest.mark.parametrize("call", ["fdatasync", "pwrite64"])
def test_while_the_disk_refuses_the_shop_says_so_and_is_read_only(
    call: str, tmp_path: Path
) -> None:
    law, folder = Law(), stocked(tmp_path / "shop")
    inject = f"{call}:error=EIO:when={40 if call == 'pwrite64' else 6}+"
    with Program(folder, law, before(tmp_path / "log", folder, inject=inject)) as one:
        while "number" in one.ask("sell", f"k/{len(law.asked)}"):
            pass
        assert law.answered
        for key in ("new", *law.answered):  # not even what is there: it is no longer proved
            said = one.ask("sell", key)
            assert said["of"] == "DiskRefused"
            assert said["notices"]
        seen = one.ask("see")
        assert set(law.answered.values()) <= set(seen["sales"])
        assert seen["notices"]
        one.gone()
    law.judge(folder)
