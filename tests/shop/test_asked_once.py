"""What can hardly be is asked before it is written, once, and the answer stands beside it.

Common practice, no source, where a test names none.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

import pdfplumber
import pytest

from counter.errors import Asked, DaySealed, NotSafe
from counter.shop.production import BatchNote
from counter.trade.asking import Answer
from labels.units import parse_measure
from tests.conftest import ZONE, Maker, ShopInHand, kilos

pytestmark = pytest.mark.usefixtures("nobody_answers")
COOLED = {"cook_ended": time(2, 0), "cooled": (time(2, 50), time(3, 50))}
Deed = Callable[[ShopInHand], object]


def firm(**note: object) -> Deed:
    return lambda hand: hand.batch("firm", **{**COOLED, **note})  # type: ignore[arg-type]


def amended(**note: object) -> Deed:
    """A correction of a batch whose neighbour (26328-01) is as usual."""

    def deed(hand: ShopInHand) -> object:
        return hand.shop.amendments.amend_batch("26328-04", BatchNote(**note), "a slip")  # type: ignore[arg-type]

    return deed


IMPOSSIBLE: list[tuple[str, str, Deed]] = [
    ("cooled-21", "21 °C within ten minutes of the boil", firm(cooled=(time(2, 6), time(4, 0)))),
    ("cooled-5", "21 °C and 5 °C within ten minutes", firm(cooled=(time(3, 45), time(3, 50)))),
    ("amount.soybeans", "100 kg of beans for ten", firm(made=10, ingredients={"soybeans": kilos("100")})),
    ("made", "ten times the last batches", firm(made=480)),
    ("brix", "a tenth of the usual °Brix", firm(brix=Decimal("1.12"))),
    ("press", "ten times the usual press", firm(press_kpa=Decimal(4137))),
    ("cook", "ten times the minutes of the last cook", firm(boiled_minutes=100)),
    ("made", "the same by a correction", amended(made=480)),
    ("cooled-5", "cooling by a correction", amended(cooled=(time(3, 45), time(3, 50)))),
    ("count.26328-01", "more than was ever there", lambda h: h.shop.evening.count("26328-01", 49)),
    ("drawer", "ten times the usual float", lambda h: h.shop.evening.move_cash("float", 150_000)),
    ("drawer", "ten times put in", lambda h: h.shop.evening.move_cash("in", 150_000, "change")),
    ("cash", "two zeros too many in cash", lambda h: h.sell("firm-block*4", cash=200_000)),
    ("holds", "a tub of more than was made", lambda h: h.shop.tubs.open_tub("26328-02", "cold", 90_000, Decimal(4))),
    ("weight", "a pack of more than was made", lambda h: h.shop.labels.print_labels(
        [("26328-03", None)], Path(str(h.shop.desk.folder or "/nowhere")) / "p.pdf", weights=[parse_measure("9.5 lb")])),
]  # fmt: skip


@pytest.fixture
def made(make: Maker) -> ShopInHand:
    """Lots 26328-01 firm (48), -02 pudding (16 l), -03 pressed (4 kg), -04 firm; cold at 03:50."""
    hand = make()
    hand.batch("firm", 48, **COOLED)
    hand.batch("pudding", 16000, **COOLED)
    hand.batch("pressed", 4000, **COOLED)
    hand.batch("firm", 48, **COOLED)
    return hand


def answers_of(hand: ShopInHand) -> list[Answer]:
    return list(hand.shop.desk.ledger().answers)


@pytest.mark.parametrize(("about", "what", "deed"), IMPOSSIBLE, ids=[w for _, w, _ in IMPOSSIBLE])
def test_an_impossible_record_is_questioned_once_and_the_answer_is_kept(
    made: ShopInHand, about: str, what: str, deed: Deed
) -> None:
    end = made.shop.desk.books.end()
    with pytest.raises(Asked) as asked:
        deed(made)
    assert [q.about for q in asked.value.questions] == [about], what
    assert (made.shop.desk.books.end(), made.shop.desk.ledger().answers) == (
        end,
        [],
    )  # nothing is half done
    made.shop.desk.questions.given = {about: "it is so"}
    if about == "weight" and made.shop.desk.folder is None:
        return  # a shop without a folder prints nowhere
    deed(made)
    (kept,) = answers_of(made)
    assert (kept.about, kept.words, kept.asked) == (
        about,
        "it is so",
        asked.value.questions[0].text,
    )
    assert made.shop.desk.books.end()[0] == end[0] + 1  # in the very commit


def test_what_is_refused_is_not_asked_about(made: ShopInHand) -> None:
    made.shop.holds.hold("26328-01", True, "glass")
    with pytest.raises(NotSafe, match="glass"):
        made.sell("26328-01*4", cash=200_000)


def test_what_was_answered_before_a_correction_is_not_asked_again(made: ShopInHand) -> None:
    made.shop.desk.questions.given = {"brix": "watery, and sold as milk"}
    lot = made.batch("firm", brix=Decimal("1.1"), **COOLED).lot
    made.shop.desk.questions.given = {}
    made.shop.amendments.amend_batch(lot, BatchNote(notes="the kettle leaked"), "forgotten")
    assert len(answers_of(made)) == 1


def test_both_steps_tapped_one_after_the_other_are_asked_about(make: Maker) -> None:
    hand = make()
    lot = hand.batch(cook_ended=time(3, 0)).lot
    hand.shop.amendments.note_cooling(lot, "21", None)
    hand.clock.forward(minutes=4)
    with pytest.raises(Asked, match="went from 21 °C to 5 °C within 10 minutes"):
        hand.shop.amendments.note_cooling(lot, "5", None)


def test_counting_many_asks_for_each_and_writes_none(made: ShopInHand) -> None:
    with pytest.raises(Asked) as asked:
        made.shop.evening.count_lots([("26328-01", 47), ("26328-02", 17000), ("26328-03", 4100)])
    assert [q.about for q in asked.value.questions] == ["count.26328-02", "count.26328-03"]
    assert made.shop.desk.ledger().counts == {}


def test_waste_above_all_that_was_there_is_asked_after_such_a_count(made: ShopInHand) -> None:
    made.shop.desk.questions.given = {"count.26328-01": "a tray was never logged"}
    made.shop.evening.count("26328-01", 60)
    with pytest.raises(Asked, match="55 of lot 26328-01 is more than the 48 ever there"):
        made.shop.waste.throw_away("26328-01", 55, "broken")


# -- a cold tub (FDA Food Code 3-501.14, 3-501.16(A)(2))


def test_no_tub_is_opened_cold_before_its_lot_was_cold(make: Maker) -> None:
    hand = make()
    lot = hand.batch("pudding", 16000, cook_ended=time(2, 30), cooled=(time(3, 50), None)).lot
    with pytest.raises(NotSafe, match="that it reached 5 °C / 41 °F is not noted"):
        hand.shop.tubs.open_tub(lot, "cold", 8000, Decimal(4))
    with pytest.raises(NotSafe):  # nor by time, where it starts cold
        hand.shop.tubs.open_tub(lot, "time", 8000, Decimal(4))
    hand.clock.set("2026-11-24 06:00")
    hand.shop.amendments.note_cooling(lot, "5", time(5, 30))
    early = datetime(2026, 11, 24, 5, 0, tzinfo=ZONE)
    hand.shop.desk.questions.given = {"cold": "yes"}  # it is safety: no word helps
    with pytest.raises(NotSafe, match="it reached 5 °C / 41 °F only at 05:30"):
        hand.shop.tubs.open_tub(lot, "cold", 8000, Decimal(4), at=early)
    assert hand.shop.tubs.open_tub(lot, "cold", 8000, Decimal(4)).lot == lot


def test_a_later_5_c_than_the_tub_is_asked_about(made: ShopInHand) -> None:
    made.shop.tubs.open_tub("26328-02", "cold", 8000, Decimal(4))
    made.clock.set("2026-11-24 06:00")
    with pytest.raises(Asked, match="tub 26328-02/1 was opened cold at 04:10, before 05:30"):
        made.shop.amendments.amend_batch(
            "26328-02", BatchNote(cooled=(time(3, 0), time(5, 30))), "read wrongly"
        )


# -- the day


def closed(hand: ShopInHand) -> None:
    hand.shop.desk.questions.given = {"uncounted": "no time", "cooling": "it is"}
    hand.shop.evening.close_day()
    hand.shop.desk.questions.given = {}


def test_a_clock_a_day_ahead_is_asked_before_a_later_date_is_on_the_packs(made: ShopInHand) -> None:
    closed(made)
    made.clock.set("2026-11-25 04:10")
    made.batch("firm", 96)
    closed(made)
    made.clock.set("2026-11-27 04:10")  # it is the 26th
    with pytest.raises(Asked) as asked:
        made.batch("firm", 96)
    assert str(asked.value) == (
        "Cannot write into day 2026-11-27: it is Friday 2026-11-27, and you last closed Wednesday "
        "2026-11-25. If it is so, say so with a word why."
    )
    assert made.shop.desk.books.days()[-1] == date(2026, 11, 25)


def test_a_skipped_day_is_asked_once_and_then_no_more(made: ShopInHand) -> None:
    closed(made)
    made.clock.set("2026-11-27 04:10")
    made.shop.desk.questions.given = {"day": "we were shut for the feast"}
    made.batch("firm", 96)
    made.shop.desk.questions.given = {}
    made.batch("soft", 30)
    made.sell("firm-block")
    assert [(a.about, a.words) for a in answers_of(made)] == [("day", "we were shut for the feast")]


def test_the_day_after_is_not_asked_about_closed_or_not(made: ShopInHand) -> None:
    made.clock.set("2026-11-25 04:10")
    made.batch("firm", 48)
    assert answers_of(made) == []


def test_a_late_note_into_an_open_day_skips_nothing(made: ShopInHand) -> None:
    made.clock.set("2026-11-28 10:00")
    late = datetime(2026, 11, 24, 12, 0, tzinfo=ZONE)
    made.shop.waste.throw_away("26328-01", 1, "broken", at=late)
    with pytest.raises(Asked, match="the day written last is Tuesday 2026-11-24"):
        made.shop.waste.throw_away("26328-01", 1, "broken")


def test_a_clock_before_the_newest_record_is_asked_once_a_day(made: ShopInHand) -> None:
    made.clock.set("2026-11-25 06:00")  # wrong, and found out
    made.batch("firm", 48)
    made.clock.set("2026-11-24 07:00")
    with pytest.raises(Asked) as asked:
        made.sell("firm-block")
    assert asked.value.questions[0].text == (
        "it is Tuesday 2026-11-24 07:00 by this computer, and the newest record is of Wednesday "
        "2026-11-25 06:00"
    )
    made.shop.desk.questions.given = {"day": "it was a day ahead"}
    made.sell("firm-block")
    made.shop.desk.questions.given = {}
    made.clock.forward(minutes=1)
    made.sell("firm-block")
    assert len(answers_of(made)) == 1


def test_a_clock_set_back_within_the_day_is_asked_about(made: ShopInHand) -> None:
    made.clock.set("2026-11-24 12:00")
    made.sell("firm-block")
    made.clock.set("2026-11-24 11:57")  # clocks differ a little
    made.sell("firm-block")
    made.clock.set("2026-11-24 08:00")
    with pytest.raises(Asked, match="the newest record is of Tuesday 2026-11-24 11:57"):
        made.sell("firm-block")


def test_a_sale_sent_again_is_answered_whatever_the_clock_says(made: ShopInHand) -> None:
    sale = made.sell("firm-block", key="one")
    made.clock.set("2026-11-24 03:30")
    assert made.sell("firm-block", key="one") == sale


def test_the_first_record_of_a_day_says_which_day_it_is(made: ShopInHand) -> None:
    assert made.shop.desk.begun == date(2026, 11, 24)
    made.shop.desk.begun = None
    made.sell("firm-block")
    assert made.shop.desk.begun is None


def test_a_refusal_for_a_closed_day_names_the_day_the_computer_believes_in(
    made: ShopInHand,
) -> None:
    closed(made)
    for deed in (
        lambda: made.sell("firm-block"), made.shop.evening.close_day,
        lambda: made.shop.evening.count("26328-01", 1),
    ):  # fmt: skip
        with pytest.raises(DaySealed, match="and this computer believes it is Tuesday 2026-11-24"):
            deed()


def test_labels_of_a_skipped_day_are_asked_about_before_a_file_is_made(
    folder_shop: ShopInHand, tmp_path: Path
) -> None:
    lot = folder_shop.batch("firm", 48, **COOLED).lot
    folder_shop.clock.set("2026-11-26 04:10")
    file = tmp_path / "labels.pdf"
    with pytest.raises(Asked, match="it is Thursday 2026-11-26"):
        folder_shop.shop.labels.print_labels([(lot, 3)], file)
    assert not file.exists()


# -- the closing


@pytest.mark.parametrize(
    ("about", "words"),
    [
        ("cash", "5.00 is missing from the drawer"),
        ("uncounted", "nobody counted 26328-01"),
        ("cooling", "that it reached 5 °C / 41 °F is not noted of 26328-02"),
    ],
)
def test_a_closing_asks_once_and_keeps_the_answer(make: Maker, about: str, words: str) -> None:
    hand = make()
    cold = {} if about == "cooling" else COOLED
    hand.batch("firm", 48, **COOLED)
    if about == "cooling":
        hand.batch("soft", 30, cook_ended=time(3, 30), **cold)
        hand.shop.evening.count("26328-02", 30)
    if about != "uncounted":
        hand.shop.evening.count("26328-01", 48)
    cash = 14_500 if about == "cash" else 15_000
    with pytest.raises(Asked) as asked:
        hand.shop.evening.close_day(cash)
    assert [(q.about, q.text) for q in asked.value.questions] == [(about, words)]
    assert hand.shop.desk.sealed_until() is None
    hand.shop.desk.questions.given = {about: "looked at twice"}
    closing = hand.shop.evening.close_day(cash, by="Rosa")
    (kept,) = closing.answers
    assert (kept.about, kept.asked, kept.words, kept.by) == (
        about,
        words,
        "looked at twice",
        "Rosa",
    )
    lines = hand.shop.desk.records_of(closing.day)
    assert [a for commit in lines for a in commit.get("answers", ())] == [kept]
    assert hand.shop.audit.check().sound


def test_cash_too_much_and_cash_gone_overnight_are_differences(make: Maker) -> None:
    hand = make()
    hand.shop.evening.move_cash("float", 12_000)
    with pytest.raises(Asked, match="30.00 is missing from the drawer"):
        hand.shop.evening.close_day(12_000)
    with pytest.raises(Asked, match="10.00 too much is in the drawer"):
        hand.shop.evening.close_day(16_000)


@pytest.mark.parametrize(
    ("about", "what"),
    [("amount", {"lot": "26328-01", "amount": 480}), ("money", {"cash": -200_000})],
)
def test_a_correction_of_more_than_was_there_is_asked(
    made: ShopInHand, about: str, what: dict[str, object]
) -> None:
    closed(made)
    made.clock.set("2026-11-25 09:00")
    with pytest.raises(Asked) as asked:
        made.shop.closed_days.correct(date(2026, 11, 24), "found", **what)  # type: ignore[arg-type]
    assert [q.about for q in asked.value.questions] == [about]
    made.shop.desk.questions.given = {about: "a whole rack"}
    made.shop.closed_days.correct(date(2026, 11, 24), "found", **what)  # type: ignore[arg-type]
    assert [a.words for a in answers_of(made)] == ["a whole rack"]


def test_what_is_explained_is_answered_already(make: Maker) -> None:
    hand = make()
    hand.batch("firm", 48, **COOLED)
    why = {"cash": "a note was torn", "26328-01": "the freezer was locked"}
    closing = hand.shop.evening.close_day(14_000, explained=why)
    assert (closing.explained, closing.answers) == (why, ())


def test_a_closing_with_nothing_open_asks_nothing(make: Maker) -> None:
    hand = make()
    hand.batch("firm", 48, **COOLED)
    hand.shop.evening.count("26328-01", 48)
    assert hand.shop.evening.close_day(15_000).answers == ()


def test_the_closing_report_shows_what_was_asked_and_said(folder_shop: ShopInHand) -> None:
    folder_shop.batch("firm", 48, **COOLED)
    folder_shop.shop.desk.questions.given = {"uncounted": "Ida left early"}
    closing = folder_shop.shop.evening.close_day(15_000, by="Rosa")
    with pdfplumber.open(io.BytesIO(folder_shop.shop.reports.day_report(closing.day))) as paper:
        shown = " ".join(page.extract_text() for page in paper.pages)
    assert "nobody counted 26328-01: Ida left early (Rosa)" in shown
