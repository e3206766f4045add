"""Flipped bits and cuts: nothing untrue goes unnoticed, and a mending brings back the rest."""

from __future__ import annotations

from tests.crash.flips import play, table
from tests.often import often


def test_no_flip_and_no_cut_is_shown_as_true_and_all_whole_lines_come_back() -> None:
    outcomes = play(often(40, 16))
    assert not [o for o in outcomes if o.faults], table(outcomes)
    assert not [o for o in outcomes if o.untrue and o.noticed == "nothing was hit"]
    assert len({o.noticed for o in outcomes}) > 2  # the damage is real
