"""What nobody noted never counts as cold: cooling is due from the end of the cook, noted or not.

FDA Food Code 3-501.14(A): cooked food is cooled from 57 °C / 135 °F to 21 °C / 70 °F within 2 hours,
and to 5 °C / 41 °F within 6 hours in all. The local food code decides.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import time
from decimal import Decimal

import msgspec
import pytest

from counter.errors import Asked, BadInput, NotSafe
from counter.shop.production import BatchNote
from counter.trade.production import Batch
from counter.trade.shelf import ShelfLot
from counter.trade.stock import Lot, refusal_for
from tests.conftest import CATALOGUE, Maker, ShopInHand


def t(text: str) -> time:
    return time.fromisoformat(text)


def warm(hand: ShopInHand, product: str = "firm", made: int = 48, **note: object) -> Batch:
    """A batch whose cook ended at 04:00, at 04:10, and of which nothing else is noted."""
    return hand.batch(product, made, **{"cook_ended": t("04:00"), **note})


def on_shelf(hand: ShopInHand, lot: str) -> ShelfLot:
    return next(o for p in hand.shop.counter.shelf().products for o in p.lots if o.lot == lot)


def clock(hand: ShopInHand, text: str, day: str = "2026-11-24") -> None:
    hand.clock.set(f"{day} {text}")


# -- due, noted or not


def test_a_lot_that_nobody_notes_as_cold_is_sold_for_six_hours_and_no_longer(
    hand: ShopInHand,
) -> None:
    lot = warm(hand).lot
    clock(hand, "10:00")
    assert hand.sell("firm-block").lines[0].draws[0].lot == lot
    assert hand.shop.labels.label(lot)
    clock(hand, "10:01")
    sold: list[Callable[[], object]] = [
        lambda: hand.sell("firm-block"), lambda: hand.sell(lot), lambda: hand.shop.labels.label(lot),
        lambda: hand.shop.cards.explain_label(lot), lambda: hand.shop.labels.preview_labels([(lot, 1)]),
        lambda: hand.batch("smoked", 24, boiled_minutes=None, mixed=((lot, 20),)),
    ]  # fmt: skip
    for tried in sold:
        with pytest.raises(NotSafe) as refusal:
            tried()
        assert refusal.value.why == "5 °C / 41 °F is not noted, and was due by 10:00"
        assert refusal.value.do.startswith("Note when it was reached in the production log")
    hand.shop.evening.close_day()
    clock(hand, "09:00", "2026-11-26")  # the closing carries it
    with pytest.raises(NotSafe, match="was due by 10:00"):
        hand.sell(lot)


def test_no_labels_are_printed_of_it(folder_shop: ShopInHand) -> None:
    lot = warm(folder_shop).lot
    clock(folder_shop, "10:01")
    with pytest.raises(NotSafe, match="was due by 10:00"):
        folder_shop.shop.labels.print_labels([(lot, 1)])


def test_the_shelf_shows_what_is_due_and_the_minutes(hand: ShopInHand) -> None:
    lot = warm(hand).lot
    shown = []
    for text in ("04:10", "05:59", "06:00", "06:01", "10:00", "10:01"):
        clock(hand, text)
        due = on_shelf(hand, lot).cooling
        assert due is not None
        shown.append((due.step, f"{due.by:%H:%M}", due.minutes, bool(on_shelf(hand, lot).refusal)))
    assert shown == [
        ("21", "06:00", 110, False), ("21", "06:00", 1, False), ("21", "06:00", 0, False),
        ("21", "06:00", -1, False),  # overdue: said from two hours on
        ("21", "06:00", -240, False), ("21", "06:00", -241, True),
    ]  # fmt: skip
    clock(hand, "05:50")
    hand.shop.amendments.note_cooling(lot, "21", None)
    due = on_shelf(hand, lot).cooling
    assert due is not None
    assert (due.step, f"{due.by:%H:%M}", due.minutes) == ("5", "10:00", 250)
    clock(hand, "09:00")
    hand.shop.amendments.note_cooling(lot, "5", None)
    assert on_shelf(hand, lot).cooling is None


@pytest.mark.parametrize(
    ("note", "due"),
    [
        ({}, "10:00"),  # from the end of the cook
        ({"cook_ended": None, "cooled": None}, "10:10"),  # not noted: from when it was made, 04:10
        ({"passed_57": t("04:05")}, "10:05"),  # measured
    ],
)
def test_the_six_hours_count_from_what_is_known_best(
    hand: ShopInHand, note: dict[str, object], due: str
) -> None:
    lot = warm(hand, **note).lot
    clock(hand, "12:00")
    assert on_shelf(hand, lot).refusal == f"5 °C / 41 °F is not noted, and was due by {due}"


def test_what_was_made_of_cooked_food_cools_from_when_it_was_made(hand: ShopInHand) -> None:
    firm = hand.batch()
    smoked = hand.batch("smoked", 24, boiled_minutes=None, cooled=None, mixed=((firm.lot, 20),))
    clock(hand, "10:11")
    assert "was due by 10:10" in on_shelf(hand, smoked.lot).refusal


def test_food_that_is_not_kept_cold_has_no_such_clock(make: Maker) -> None:
    catalogue = CATALOGUE.replace("[products.puffs]\n", "[products.puffs]\ncooled = false\n")
    hand = make(catalogue=catalogue)
    lot = hand.batch("puffs", 20).lot
    clock(hand, "17:00")
    assert (on_shelf(hand, lot).cooling, on_shelf(hand, lot).refusal) == (None, "")


def test_a_lot_of_books_of_before_is_refused_the_day_after(hand: ShopInHand) -> None:
    """Closings of before carried no due time for a lot of which nothing was noted."""
    warm(hand)
    row = next(iter(hand.shop.desk.ledger().rows.values()))
    old = msgspec.structs.replace(row.lot, cold_by=None, to_21_by=None)
    clock(hand, "18:00")
    assert refusal_for(old, hand.shop.desk.now(), "refuse", "sell it") is None
    clock(hand, "08:00", "2026-11-25")
    refusal = refusal_for(old, hand.shop.desk.now(), "refuse", "sell it")
    assert refusal is not None
    assert refusal.why == "5 °C / 41 °F is not noted, and was due on 2026-11-24"
    assert isinstance(row.lot, Lot)


def test_what_must_go_names_it_until_it_is_noted_or_past_its_date(hand: ShopInHand) -> None:
    lot = warm(hand).lot
    clock(hand, "10:01")
    (go,) = hand.shop.waste.must_go()
    assert (go.lot, go.reason, go.surely) == (lot, "other", False)
    assert go.words == go.why == "5 °C / 41 °F is not noted, and was due by 10:00"
    clock(hand, "09:00", "2026-11-29")
    (go,) = hand.shop.waste.must_go()
    assert (go.reason, go.surely) == ("date", True)


# -- the minutes measured


def test_a_step_that_took_too_long_stops_the_lot_from_when_it_was_made(hand: ShopInHand) -> None:
    """Nobody noted the end of the cook: the two hours count from the batch, which is stricter."""
    lot = warm(hand, cook_ended=None, cooled=None).lot
    clock(hand, "06:11")
    hand.shop.amendments.note_cooling(lot, "21", None)
    assert hand.shop.desk.ledger().rows[lot].lot.stopped == (
        "cooled too slowly: it took 2 h 01 min to reach 21 °C / 70 °F, allowed are 2 h"
    )


def test_where_57_degrees_is_measured_the_two_hours_count_from_there(hand: ShopInHand) -> None:
    clock(hand, "06:40")
    times = (t("06:20"), t("06:35"))
    late = warm(hand, cooled=times)  # 2 h 20 min from the end of the cook
    assert late.slow.startswith("it took 2 h 20 min")
    good = warm(hand, cooled=times, passed_57=t("04:30"))
    assert good.slow == ""
    with pytest.raises(BadInput, match="57 °C at 03:30 is before the end of the cook, 04:00"):
        warm(hand, cooled=times, passed_57=t("03:30"))


def test_cooling_without_its_start_is_asked_once(hand: ShopInHand) -> None:
    clock(hand, "12:00")
    note = BatchNote(made=48, boiled_minutes=10, cooled=(t("08:10"), t("11:40")))
    with pytest.raises(Asked) as asked:
        hand.shop.production.log_batch("firm", note)
    (question,) = asked.value.questions
    assert (question.about, question.text) == (
        "cooked", "the end of the cook is not noted, so the first 2 hours are not checked",
    )  # fmt: skip
    hand.shop.desk.questions.given = {"cooked": "the clock of the kettle stood still"}
    made = hand.shop.production.log_batch("firm", note)
    answers = [
        a for c in hand.shop.desk.records_of(hand.shop.desk.today()) for a in c.get("answers", ())
    ]
    assert [a.words for a in answers] == ["the clock of the kettle stood still"]  # type: ignore[attr-defined]
    assert made.warnings == (question.text,)


# -- noted late


@pytest.mark.parametrize("way", ["tap", "correct", "log"])
def test_a_cooling_noted_long_after_it_was_read_is_asked_and_the_words_are_kept(
    hand: ShopInHand, way: str
) -> None:
    if way == "log":
        lot, times = "26328-01", BatchNote(made=9, boiled_minutes=10, cook_ended=t("04:00"),
                                           cooled=(t("05:00"), t("09:00")))  # fmt: skip
    else:
        lot = warm(hand).lot
        clock(hand, "05:00")
        hand.shop.amendments.note_cooling(lot, "21", None)
        times = BatchNote(cooled=(t("05:00"), t("09:00")))
    clock(hand, "12:00")
    before = hand.shop.desk.books.days()

    def noted() -> Batch:
        if way == "tap":
            return hand.shop.amendments.note_cooling(lot, "5", t("09:00"), "Teo")
        if way == "correct":
            return hand.shop.amendments.amend_batch(lot, times, "read", by="Teo")
        return hand.shop.production.log_batch("firm", times, by="Teo")

    with pytest.raises(Asked) as asked:
        noted()
    assert asked.value.questions[0].about == "late"
    assert asked.value.questions[0].text == (
        "5 °C / 41 °F at 09:00 is noted late, 3 h 00 min after it"
    )
    if way != "log":
        assert "was due by 10:00" in on_shelf(hand, lot).refusal  # nothing was written
    assert before in ([], hand.shop.desk.books.days())
    hand.shop.desk.questions.given = {"late": "measured 4.1 °C, the tablet was flat"}
    assert noted().cooling is not None
    assert on_shelf(hand, lot).refusal == ""
    answers = [
        a for c in hand.shop.desk.records_of(hand.shop.desk.today()) for a in c.get("answers", ())
    ]
    assert [(a.words, a.by) for a in answers] == [("measured 4.1 °C, the tablet was flat", "Teo")]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("now", "text", "asked"),
    [("10:00", "09:00", False), ("10:05", "09:35", False), ("10:05", "09:34", True)],
)
def test_a_note_is_late_past_the_six_hours_and_half_an_hour_after_the_reading(
    hand: ShopInHand, now: str, text: str, asked: bool
) -> None:
    lot = warm(hand).lot
    clock(hand, "05:00")
    hand.shop.amendments.note_cooling(lot, "21", None)
    clock(hand, now)
    if asked:
        with pytest.raises(Asked):
            hand.shop.amendments.note_cooling(lot, "5", t(text))
        return
    assert not hand.shop.amendments.note_cooling(lot, "5", t(text)).uncooled


def test_a_late_note_of_a_slow_cooling_stops_the_lot(hand: ShopInHand) -> None:
    lot = warm(hand).lot
    clock(hand, "05:00")
    hand.shop.amendments.note_cooling(lot, "21", None)
    clock(hand, "14:00")
    hand.shop.desk.questions.given = {"late": "the helper forgot"}
    hand.shop.amendments.note_cooling(lot, "5", t("11:00"))
    assert hand.shop.desk.ledger().rows[lot].lot.stopped == (
        "cooled too slowly: it took 7 h 00 min to reach 5 °C / 41 °F, allowed are 6 h in all"
    )


# -- what has not come yet


@pytest.mark.parametrize(
    ("note", "why"),
    [
        ({"cook_ended": t("06:30")}, "it is noted for 04:10, and its cook would end at 06:30"),
        ({"cooled": (t("05:00"), None)}, "it is only 04:10, and 05:00 has not come yet"),
        ({"cooled": (t("04:05"), t("07:00"))}, "it is only 04:10, and 07:00 has not come yet"),
        ({"passed_57": t("05:00")}, "it is only 04:10, and 05:00 has not come yet"),
    ],
)
def test_a_time_that_has_not_come_is_refused(
    hand: ShopInHand, note: dict[str, object], why: str
) -> None:
    texts = {"cook_ended": t("04:00"), **note}
    with pytest.raises(BadInput) as refused:
        hand.shop.production.log_batch("firm", BatchNote(made=9, boiled_minutes=10, **texts))  # type: ignore[arg-type]
    assert refused.value.why == why
    lot = warm(hand).lot
    with pytest.raises(BadInput, match=why):
        hand.shop.amendments.amend_batch(lot, BatchNote(**note), "read")  # type: ignore[arg-type]


def test_a_cooling_step_is_not_tapped_for_later(hand: ShopInHand) -> None:
    lot = warm(hand).lot
    with pytest.raises(BadInput, match="it is only 04:10, and 05:30 has not come yet"):
        hand.shop.amendments.note_cooling(lot, "21", t("05:30"))


@pytest.mark.parametrize(
    ("at", "now", "ended", "was"),
    [
        # A cook that lies after its own note is of the evening before, and never of tonight.
        ("2026-11-24 05:00", "2026-11-24 05:00", "23:10", "2026-11-23 23:10"),
        ("2026-11-24 05:30", "2026-11-24 23:30", "23:10", "2026-11-23 23:10"),
        ("2026-11-24 05:30", "2026-11-24 20:00", "23:10", "2026-11-23 23:10"),
        ("2026-11-24 05:00", "2026-11-24 12:00", "05:04", "2026-11-24 05:04"),
        ("2026-11-24 05:00", "2026-11-24 12:00", "06:00", None),
        ("2026-11-24 04:00", "2026-11-24 23:30", "20:00", "2026-11-23 20:00"),
        ("2026-11-24 18:00", "2026-11-24 23:55", "23:10", None),  # 18 hours ago: a slip of the pen
        ("2026-11-24 17:00", "2026-11-24 17:00", "21:00", None),
    ],
)
def test_a_cook_is_never_read_as_tonight(
    hand: ShopInHand, at: str, now: str, ended: str, was: str | None
) -> None:
    hand.clock.set(at)
    moment = hand.shop.desk.now()
    hand.clock.set(now)
    note = BatchNote(made=9, boiled_minutes=10, cook_ended=t(ended))
    if was is None:
        with pytest.raises(BadInput, match="and its cook would end at"):
            hand.shop.production.log_batch("firm", note, moment)
        return
    made = hand.shop.production.log_batch("firm", note, moment)
    assert made.cook is not None
    assert made.cook.ended is not None
    assert f"{made.cook.ended:%Y-%m-%d %H:%M}" == was


# -- tubs


def test_a_lot_never_noted_as_cold_is_not_opened_cold(hand: ShopInHand) -> None:
    lot = warm(hand, "pudding", 16000).lot
    with pytest.raises(NotSafe) as refusal:
        hand.shop.tubs.open_tub(lot, "cold", 8000, Decimal(4))
    assert str(refusal.value) == (
        f"Cannot open a tub of lot {lot} cold: that it reached 5 °C / 41 °F is not noted. Cool it "
        "first, and note in the production log when it was cold."
    )
    with pytest.raises(NotSafe, match="that it reached 5 °C / 41 °F is not noted"):
        hand.shop.tubs.open_tub(lot, "time", 8000, Decimal(4))


@pytest.mark.parametrize("mode", ["hot", "time"])
def test_what_stays_hot_follows_the_clock_of_its_tub(hand: ShopInHand, mode: str) -> None:
    lot = warm(hand, "pudding", 16000).lot
    clock(hand, "09:30")
    tub = hand.shop.tubs.open_tub(lot, mode, 8000, Decimal(63)).tub  # type: ignore[arg-type]
    clock(hand, "10:30")  # six hours and a half after the cook
    assert "was due by 10:00" in on_shelf(hand, lot).refusal
    assert hand.sell("cup-small").lines[0].draws[0].tub == tub
    shown = [t.refusal for p in hand.shop.counter.shelf().products for t in p.tubs]
    assert shown == [""]
    assert hand.shop.waste.must_go() == []
    clock(hand, "13:31")
    with pytest.raises(NotSafe):
        hand.sell("cup-small")
    reason = "unmeasured" if mode == "hot" else "time"
    assert [(go.tub, go.reason) for go in hand.shop.waste.must_go() if go.tub] == [(tub, reason)]


def test_a_tub_opened_hot_past_the_six_hours_is_asked_whether_it_stayed_hot(
    hand: ShopInHand,
) -> None:
    lot = warm(hand, "pudding", 16000).lot
    clock(hand, "10:30")
    with pytest.raises(Asked) as asked:
        hand.shop.tubs.open_tub(lot, "hot", 8000, Decimal(63))
    assert asked.value.questions[0].text == (
        "it was to be cold by 10:00, and nobody noted that it stayed hot"
    )
    hand.shop.desk.questions.given = {"hot": "in the kettle at 70 since the cook"}
    assert hand.shop.tubs.open_tub(lot, "hot", 8000, Decimal(63)).level == 8000


def test_what_began_to_cool_and_was_not_cold_in_time_is_not_opened_hot(hand: ShopInHand) -> None:
    lot = warm(hand, "pudding", 16000).lot
    clock(hand, "05:30")
    hand.shop.amendments.note_cooling(lot, "21", None)
    clock(hand, "10:30")
    with pytest.raises(NotSafe, match="was due by 10:00"):
        hand.shop.tubs.open_tub(
            lot, "hot", 8000, Decimal(75), reheated=Decimal(75), reheat_minutes=30
        )
