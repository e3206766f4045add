"""A power cut at any moment loses nothing that was answered, and the next sale works."""

from __future__ import annotations

import random
from pathlib import Path

import msgspec
import pytest

from tests.crash import cuts
from tests.crash.cuts import Kept, World, film, run
from tests.crash.shops import Law, stocked
from tests.often import often


def test_power_cuts_lose_and_double_nothing(tmp_path: Path) -> None:
    run(often(60, 20), random.randrange(10**6), tmp_path)


def test_a_program_that_does_not_sync_is_found_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cuts, "KINDS", ("alone",))
    chance, law = random.Random(1), Law()
    taken = film(World(stocked(tmp_path / "shop"), {}), tmp_path, law, chance)
    lazy = [call for call in taken.calls if not call.name.endswith("sync")]
    taken = msgspec.structs.replace(taken, calls=lazy)
    (tmp_path / "state").mkdir()
    lost = 0
    for _ in range(10):
        found = taken.cut(len(lazy) // 2, chance, tmp_path / "state")
        try:
            law.judge(found.folder, answered=found.answered)
        except Exception:  # gone, or damaged
            lost += 1
    assert lost > 5


def test_what_was_written_behind_the_last_sync_arrives_in_parts() -> None:
    file = Kept(b"a" * 2048)
    file.write(1, 0, b"b" * 2048)
    found = {file.after_cut(random.Random(seed)) for seed in range(60)}
    assert {b"a" * 2048, b"b" * 2048} < found
    assert all(len(set(one[at : at + 512])) == 1 for one in found for at in range(0, 2048, 512))
    file.synced(2)
    assert {file.after_cut(random.Random(seed)) for seed in range(60)} == {b"b" * 2048}


def test_what_a_failed_sync_forgot_is_not_brought_back_by_the_next() -> None:
    file = Kept(b"a" * 2048)
    file.write(1, 0, b"b" * 2048)
    file.failed(random.Random(3))
    file.synced(2)
    assert b"a" in file.safe
    assert b"b" in file.safe
    file.write(3, 0, b"b" * 2048)
    file.synced(4)
    assert {file.after_cut(random.Random(seed)) for seed in range(60)} == {b"b" * 2048}
