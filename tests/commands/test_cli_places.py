"""Where lots lie, on the command line: moved, stopped by a warm place, and said on every list."""

from tests.commands.conftest import CommandLine


def test_a_warm_place_stops_what_lies_in_it(line: CommandLine) -> None:
    # Food Code 3-501.16(A), with 3-501.19(B) as the measure: 4 hours from the last good reading.
    line.clock.set("2026-11-24 13:05")
    line.done("temperature", "fridge", "4C")
    line.clock.set("2026-11-24 15:05")
    line.done("temperature", "fridge", "9C")
    shown = line.done("shelf").splitlines()[0]
    assert shown.startswith(
        "fridge MEASURED 48.2 °F at 3:05\xa0PM, last good 1:05\xa0PM: 26328-03 120 min left, 26328-02 120 "
        "min left, 26328-01 120 min left"
    )
    assert "fridge measured 48.2 °F at 3:05\xa0PM: what lies there may have to go" in line.done(
        "plan"
    )
    line.clock.set("2026-11-24 17:05")
    assert line.refused(1, "sell", "firm-block@26328-01", "--card") == (
        "Cannot sell lot 26328-01: it was out of its temperature for 240 minutes in all, allowed "
        "are 240. Put it aside until it is released, or throw it away; the local food code decides."
    )
    closed = line.done("close", "--cash", "150")
    assert "out of its temperature for 240 min" in closed
    assert "fridge measured 48.2 °F last, at 3:05\xa0PM" in closed
    assert line.done("export", "closing_lots").splitlines()[-1].split(",")[16] == "240"


def test_a_lot_is_moved_and_measured(line: CommandLine) -> None:
    line.done("temperature", "fridge", "4C")
    assert (
        line.done("move", "26328-01", "display")
        == "Lot 26328-01 lies in display from 12:00\xa0PM.\n"
    )
    assert "it lies there already" in line.refused(1, "move", "26328-01", "display")
    assert line.refused(1, "move", "26328-01", "cellar").startswith(
        "Cannot move lot 26328-01: there is no place 'cellar'."
    )
    moved = line.done("export", "moves").splitlines()
    assert moved[-1].split(",")[3:7] == ["26328-01", "display", "cold", ""]


def test_a_lot_is_frozen_and_thawed(line: CommandLine) -> None:
    # Food Code 3-501.17, .18: the count of its date stands still.
    settings = line.folder / "shop.toml"
    places = '\n[holding]\nfridge = "cold"\nchest = "freezer"\n'
    settings.write_text(settings.read_text("utf-8") + places, "utf-8")
    line.done("labels", "26328-01", "--count", "9")
    line.done("move", "26328-01", "chest")
    assert line.refused(1, "sell", "firm-block@26328-01", "--card") == (
        "Cannot sell lot 26328-01: it lies frozen since 2026-11-24, and is not sold so. Thaw it "
        "first: `counter move 26328-01 PLACE`, to a fridge."
    )
    line.clock.set("2026-12-10 12:00")
    line.done("move", "26328-01", "fridge", "4C")
    assert "9 packs bear the labels of before it was thawed" in line.refused(
        1, "sell", "firm-block@26328-01", "--card"
    )
    line.done("labels", "26328-01", "--count", "9")
    assert "best-by 2026-12-13" in line.done("shelf")  # to Nov 28, and 15 days stood still
    line.done("sell", "firm-block@26328-01", "--card")


def test_what_thawed_in_its_freezer_is_not_sold_out_of_it(line: CommandLine) -> None:
    # Food Code 3-501.17: the date of what is not frozen runs on.
    settings = line.folder / "shop.toml"
    places = '\n[holding]\nfridge = "cold"\nchest = "freezer"\n'
    settings.write_text(settings.read_text("utf-8") + places, "utf-8")
    line.done("move", "26328-01", "chest")
    line.clock.set("2026-11-24 13:00")
    line.done("temperature", "chest", "3C")
    assert "it thawed in chest on 2026-11-24, which was measured above 0 °C" in line.refused(
        1, "sell", "firm-block@26328-01", "--card"
    )


def test_food_measured_warm_is_said_with_its_minutes(line: CommandLine) -> None:
    # Food Code 3-501.19(B) as the measure
    line.clock.set("2026-11-24 13:00")
    made = line.run("move", "26328-01", "fridge", "20C")
    assert made.exit_code == 0
    assert "It measures out of its range: " in made.stderr
    line.clock.set("2026-11-24 17:00")
    assert "out of its temperature for" in line.refused(1, "sell", "26328-01", "--card")
