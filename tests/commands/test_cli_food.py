"""The rules for food that may not be sold, as they are typed. Sources beside the rules' own tests."""

from __future__ import annotations

from tests.commands.conftest import COLD, CommandLine


def test_yesterdays_date_is_refused_at_night(line: CommandLine) -> None:
    line.clock.set("2026-11-29 02:30")
    assert line.refused(1, "sell", "26328-01", "--cash", "5.00") == (
        "Cannot sell lot 26328-01: its best-by date 2026-11-28 has passed. "
        "Throw it away under Waste."
    )
    assert "NOT FOR SALE: its best-by date 2026-11-28 has passed" in line.done("shelf")


def test_the_shelf_and_the_log_say_when_cooling_is_due_and_overdue(empty: CommandLine) -> None:
    empty.done("batch", "firm", "--made", "48", "--boiled", "10min", "--cooked-at", "11:30")
    assert "21 °C / 70 °F due by 1:30\xa0PM, 90 min left" in empty.done("shelf")
    empty.clock.set("2026-11-24 13:31")
    overdue = "21 °C / 70 °F IS OVERDUE since 1:30\xa0PM: measure it and note it"
    assert overdue in empty.done("shelf")
    assert overdue in empty.done("log")
    empty.clock.set("2026-11-24 17:31")
    assert "NOT FOR SALE: 5 °C / 41 °F is not noted, and was due by 17:30" in empty.done("shelf")
    assert empty.refused(1, "labels", "26328-01").startswith("Cannot label lot 26328-01: 5 °C")
    assert empty.refused(1, "labels", "26328-01", "--explain").startswith("Cannot label lot")


def test_the_log_of_a_day_knows_what_was_noted_of_its_batches_since(empty: CommandLine) -> None:
    empty.clock.set("2026-11-24 23:30")
    empty.done("batch", "firm", "--made", "48", "--boiled", "10min", "--cooked-at", "23:00")
    empty.clock.set("2026-11-25 04:30")  # the trading day has turned
    cooled = ("--cooled", "00:30,04:10", "--because", "it cooled over night")
    empty.done("batch", "firm", "--amend", "26328-01", *cooled)
    empty.clock.set("2026-11-25 06:00")
    said = empty.done("log", "2026-11-24")
    assert "cooled 12:30\xa0AM, 4:10\xa0AM" in said
    assert "OVERDUE" not in said
    assert empty.done("log") == "No batch is logged for 2026-11-25.\n"


def test_a_late_note_of_the_cooling_needs_a_word(empty: CommandLine) -> None:
    empty.done("batch", "firm", "--made", "48", "--boiled", "10min", "--cooked-at", "11:30")
    empty.clock.set("2026-11-24 18:00")
    late = ("batch", "firm", "--amend", "26328-01", "--cooled", "12:30,14:00", "--because", "read")
    assert empty.refused(1, *late).startswith(
        "Cannot correct lot 26328-01: 5 °C / 41 °F at 14:00 is noted late, 4 h 00 min after it."
    )
    empty.done(*late, "--sure", "late=measured 4 C, nobody had a hand free")
    empty.done("sell", "26328-01", "--cash", "5.00")


def test_57_degrees_can_be_noted(empty: CommandLine) -> None:
    said = empty.done(
        "batch", "firm", "--made", "48", "--boiled", "10min", "--cooked-at", "09:00",
        "--passed-57", "09:30", "--cooled", "11:10,11:50",
    )  # fmt: skip
    assert "57 °C at 9:30\xa0AM; cooled 11:10\xa0AM, 11:50\xa0AM" in said


def test_a_stop_takes_along_what_was_made_from_it(line: CommandLine) -> None:
    line.done("batch", "smoked", "--made", "8", "--from", "26328-01:6")
    said = line.done("stop", "26328-01", "--because", "glass in it", "--by", "Ida")
    assert [row.split()[1] for row in said.splitlines()] == ["26328-01", "26328-04"]
    assert line.refused(1, "release", "26328-04", "--because", "it is good", "--by", "Ida") == (
        "Cannot release lot 26328-04: the program stopped it, and Ida is no owner. Let an owner "
        "look at it and release it."
    )
    line.done("release", "26328-04", "--because", "made before", "--by", "Rosa")


def test_all_lots_of_a_code_are_stopped_with_one_command(empty: CommandLine) -> None:
    for product in ("firm", "soft"):
        empty.done("batch", product, "--made", "48", "--code", "soybeans=B-1207", *COLD)
    said = empty.done("stop", "--code", "B-1207", "--because", "the mill called")
    assert said.count("is stopped") == 2
    assert empty.refused(2, "stop", "--because", "x").startswith("Cannot stop a lot: ")
    assert empty.refused(1, "stop", "--code", "Z", "--because", "xyz").startswith(
        "Cannot stop lots: no lot has the supplier code 'Z'."
    )
