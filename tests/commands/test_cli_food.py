"""The rules for food that may not be sold, as they are typed. Sources beside the rules' own tests."""

from __future__ import annotations

from tests.commands.conftest import CommandLine


def test_yesterdays_date_is_refused_at_night(line: CommandLine) -> None:
    line.clock.set("2026-11-29 02:30")
    assert line.refused(1, "sell", "26328-01", "--cash", "5.00") == (
        "Cannot sell lot 26328-01: its best-by date 2026-11-28 has passed. "
        "Throw it away under Waste."
    )
    assert "NOT FOR SALE: its best-by date 2026-11-28 has passed" in line.done("shelf")
