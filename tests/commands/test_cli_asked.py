"""What can hardly be, asked on the command line: one sentence, ``--sure``, and the answer shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from counter.shop import make_shop
from tests.commands.conftest import CommandLine
from tests.conftest import CATALOGUE, SETTINGS, Clock

pytestmark = pytest.mark.usefixtures("nobody_answers")
BATCH = ("batch", "firm", "--boiled", "10min", "--cooked-at", "09:00")
COLD = ("--cooled", "10:30,11:50")


@pytest.fixture
def typed(tmp_path: Path, clock: Clock) -> CommandLine:
    """The invented shop with lot 26328-01 of 48 firm blocks, cold; 12:00."""
    folder = tmp_path / "shop"
    make_shop(folder, SETTINGS, clock).products.load_catalogue(CATALOGUE)
    made = CommandLine(folder, clock)
    made.done(*BATCH, "--made", "48", *COLD)
    return made


def test_a_figure_ten_times_the_usual_is_written_with_sure_and_a_word(typed: CommandLine) -> None:
    sentence = typed.refused(1, *BATCH, "--made", "480", *COLD)
    assert sentence == (
        "Cannot log a batch of firm: 480 for the amount made of Firm Tofu, where about 48 is "
        "usual. If it is so, say so with a word why: add --sure made='a word why'."
    )
    typed.refused(1, *BATCH, "--made", "480", *COLD, "--sure", "made=y")
    typed.done(*BATCH, "--made", "480", *COLD, "--sure", "made=ten moulds for the fair")
    assert "where about 48 is usual: ten moulds for the fair" in typed.done("day")


@pytest.mark.parametrize(
    ("about", "words"),
    [
        (
            "cooled-5",
            [*BATCH, "--made", "48", "--cooled", "10:50,10:55", "--sure", "late=read on the slip"],
        ),
        ("amount.soybeans", [*BATCH, "--made", "48", *COLD, "--beans", "600kg"]),
        ("count.26328-01", ["count", "26328-01", "480"]),
        ("drawer", ["drawer", "float", "1500.00"]),
        ("cash", ["sell", "firm-block*4", "--cash", "2000.00"]),
    ],
)
def test_each_is_asked_by_its_name_and_done_when_answered(
    typed: CommandLine, about: str, words: list[str]
) -> None:
    assert typed.refused(1, *words).endswith(f"add --sure {about}='a word why'.")
    typed.done(*words, "--sure", f"{about}=it is so")


def test_the_first_record_of_a_day_says_the_day_and_a_skipped_one_asks(typed: CommandLine) -> None:
    typed.clock.set("2026-11-25 08:00")
    first = typed.run("sell", "firm-block", "--card")
    assert first.stderr.splitlines()[0] == "It is Wednesday, November 25, 2026."
    assert "It is" not in typed.run("sell", "firm-block", "--card").stderr
    typed.clock.set("2026-11-27 08:00")
    said = typed.refused(1, "sell", "firm-block", "--card")
    assert said == (
        "Cannot write into day 2026-11-27: it is Friday 2026-11-27, and the day written last is "
        "Wednesday 2026-11-25. If it is so, say so with a word why: add --sure day='a word why'."
    )
    told = typed.run("sell", "firm-block", "--card", "--sure", "day=shut for the feast")
    assert (told.exit_code, "It is Friday, November 27, 2026." in told.stderr) == (0, True)
    typed.done("sell", "firm-block", "--card")


def test_a_closing_asks_for_cash_counts_and_cooling_at_once(typed: CommandLine) -> None:
    typed.done(*BATCH, "--made", "24")
    sentence = typed.refused(1, "close", "--cash", "140.00")
    assert sentence == (
        "Cannot close day 2026-11-24: 10.00 is missing from the drawer; nobody counted 26328-01, "
        "26328-02; that it reached 5 °C / 41 °F is not noted of 26328-02. If it is so, say so with "
        "a word why: add --sure cash='a word why' --sure uncounted='a word why' "
        "--sure cooling='a word why'."
    )
    typed.done("count", "26328-01", "48", "26328-02", "24")
    said = typed.done(
        "close", "--cash", "140.00", "--explain", "cash=the ice man", "--sure",
        "cooling=it stands in the ice still", "--by", "Rosa",
    )  # fmt: skip
    assert "cash: the ice man" in said
    kept = (
        "that it reached 5 °C / 41 °F is not noted of 26328-02: it stands in the ice still (Rosa)"
    )
    assert kept in said
    assert kept in typed.done("day", "2026-11-24")


def test_a_closed_day_is_refused_with_the_day_the_computer_believes_in(typed: CommandLine) -> None:
    typed.done("count", "26328-01", "48")
    typed.done("close")
    assert "and this computer believes it is Tuesday 2026-11-24." in typed.refused(
        1, "sell", "firm-block", "--card"
    )
