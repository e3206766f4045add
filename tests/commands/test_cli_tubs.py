"""Tubs on the command line: measured, reheated, thrown away for their true reason."""

from tests.commands.conftest import CommandLine


def test_a_tub_is_measured_and_cold_food_reheated(line: CommandLine) -> None:
    # Food Code 3-501.16, 3-501.19(B) and 3-403.11(A),(D).
    open_hot = ("tub", "open", "26328-03", "--hot", "--temp", "62C")
    assert line.refused(2, "tub", "open", "26328-03", "--by-time") == (
        "Cannot open a tub of lot 26328-03 by time: its temperature is not measured. "
        "Measure it: allowed is 5 °C / 41 °F or below, or 57 °C / 135 °F or above."
    )
    assert "is not noted. Reheat it to 74 °C / 165 °F" in line.refused(1, *open_hot)
    assert "it was reheated to 70 °C" in line.refused(
        1, *open_hot, "--reheated", "70C", "--took", "40min"
    )
    said = line.done(*open_hot, "--reheated", "165F", "--took", "1h10")
    assert "Tub 26328-03/2 of Soft Tofu Pudding is open with 8 l." in said
    assert "26328-03/2,26328-03,hot,8000,62.00," in line.done("export", "tubs")
    assert ",73.89,70" in line.done("export", "tubs")


def test_what_is_noted_late_or_lost_whole_is_asked_once(line: CommandLine) -> None:
    # Food Code 3-501.19(B): nothing is good again by a word that nobody stands for.
    line.clock.set("2026-11-24 17:00")
    late = ("tub", "check", "26328-03/1", "4C", "--at", "2026-11-24 15:30")
    assert line.refused(1, *late) == (
        "Cannot check tub 26328-03/1: what is noted of 26328-03/1 is of 15:30, 1 h 30 min ago. "
        "If it is so, say so with a word why: add --sure late='a word why'."
    )
    line.done(*late, "--sure", "late=it stands on the list")
    end = ("tub", "end", "26328-03/1", "--left", "0")
    assert "8 l of tub 26328-03/1 lost in scooping" in line.refused(1, *end)
    line.done(*end, "--sure", "left=it fell down")
