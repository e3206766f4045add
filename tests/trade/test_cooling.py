"""Which night a clock time belongs to, when a batch is cooked before the day's turn and cools past
it; and the steps of cooling."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import Refused
from counter.trade.cooling import Cooling, check_step, cooling_time, night_time, still_cools
from counter.trade.dates import DateMark
from counter.trade.production import Batch
from counter.trade.stock import cold_at, lot_of

ZONE = ZoneInfo("America/Los_Angeles")
DAY, STARTS = date(2026, 11, 24), time(3)
LATER = datetime(2026, 11, 26, 12, tzinfo=ZONE)


def at(text: str) -> datetime:
    """``24 23:30``: that day of November 2026."""
    return datetime.strptime(f"2026-11-{text}", "%Y-%m-%d %H:%M").replace(tzinfo=ZONE)


# The trading day of November 24 runs from 03:00 to 03:00; all batches here are of that day.
@pytest.mark.parametrize(
    ("clock", "after", "now", "is_"),
    [
        ("05:30", "24 04:10", "24 06:00", "24 05:30"),  # an ordinary morning
        ("01:00", "24 23:30", "25 01:05", "25 01:00"),  # past midnight, before the turn
        ("03:20", "25 01:30", "25 03:25", "25 03:20"),  # past the turn
        ("05:20", "24 23:30", "25 00:10", "25 05:20"),  # still to come, within the six hours
        ("09:00", "24 20:00", "25 09:10", "25 09:00"),  # forgotten overnight: 13 hours
        ("02:50", "24 02:30", "24 03:20", "24 02:50"),  # cooked and cooled before the turn
        ("06:00", "24 07:00", "24 08:00", "24 06:00"),  # a slip: before the cook, and refused so
        ("06:00", "24 07:00", "26 08:00", "24 06:00"),  # also when it is corrected days later
        ("09:00", "24 20:00", "24 20:30", "24 09:00"),  # 13 hours ahead: nobody knows that yet
    ],
)
def test_a_cooling_time_is_the_first_after_the_step_before_it(
    clock: str, after: str, now: str, is_: str
) -> None:
    found = cooling_time(DAY, time.fromisoformat(clock), at(after), at(now), STARTS, ZONE)
    assert found == at(is_)


@given(st.integers(0, 24 * 60 - 1), st.integers(0, 18 * 60))
def test_every_cooling_of_up_to_18_hours_is_found_from_its_clock_time(
    start: int, took: int
) -> None:
    after = at("24 03:00") + timedelta(minutes=start)
    reached = after + timedelta(minutes=took)
    assert cooling_time(DAY, reached.time(), after, LATER, STARTS, ZONE) == reached


@given(st.integers(0, 24 * 60 - 1), st.integers(0, 6 * 60))
def test_the_six_hours_that_are_allowed_may_be_noted_before_they_are_over(
    start: int, took: int
) -> None:
    after = at("24 03:00") + timedelta(minutes=start)
    reached = after + timedelta(minutes=took)
    assert cooling_time(DAY, reached.time(), after, after, STARTS, ZONE) == reached


@pytest.mark.parametrize(
    ("clock", "made", "is_"),
    [
        ("04:40", "24 04:10", "24 04:40"),
        ("04:40", "24 17:00", "24 04:40"),  # logged in the afternoon
        ("00:30", "24 23:50", "25 00:30"),  # over midnight: still the same trading day
        ("02:30", "24 03:20", "24 02:30"),  # cooked before the turn, logged behind it
        ("23:30", "24 03:20", "23 23:30"),  # cooked the evening before
        ("03:20", "25 01:30", "25 03:20"),  # made before the turn, cooled behind it
        ("15:00", "24 04:10", "24 15:00"),  # far ahead, and no night: as written
    ],
)
def test_a_clock_time_near_the_turn_of_the_day_is_of_the_night_of_the_batch(
    clock: str, made: str, is_: str
) -> None:
    assert night_time(DAY, time.fromisoformat(clock), at(made), STARTS, ZONE) == at(is_)


def test_when_the_clocks_go_back_the_hours_that_went_by_count() -> None:
    # 2026-11-01, 02:00 becomes 01:00: from 22:00 to 05:00 on the wall are eight hours.
    day, after = date(2026, 10, 31), datetime(2026, 10, 31, 22, tzinfo=ZONE)
    early = after + timedelta(hours=1)
    five = datetime(2026, 11, 1, 5, tzinfo=ZONE)
    assert cooling_time(day, time(5), after, five, STARTS, ZONE) == five
    assert cooling_time(day, time(5), after, early, STARTS, ZONE) != five
    four = datetime(2026, 11, 1, 3, tzinfo=ZONE)  # five on the wall, six in truth
    assert cooling_time(day, time(3), after, early, STARTS, ZONE) == four


@pytest.mark.parametrize(
    ("cooling", "step", "why"),
    [
        (None, "5", "when it reached 21 °C / 70 °F is not noted"),
        (Cooling(at("24 05:00")), "21", "that time is noted already"),
        (Cooling(at("24 05:00"), at("24 07:00")), "21", "that time is noted already"),
        (Cooling(at("24 05:00"), at("24 07:00")), "5", "that time is noted already"),
    ],
)
def test_a_step_out_of_turn_or_a_second_time_is_refused(
    cooling: Cooling | None, step: str, why: str
) -> None:
    with pytest.raises(Refused, match=why):
        check_step("note it", cooling, step)  # type: ignore[arg-type]


def test_the_next_step_is_taken() -> None:
    check_step("note it", None, "21")
    check_step("note it", Cooling(at("24 05:00")), "5")


def test_a_batch_is_asked_about_for_18_hours() -> None:
    assert still_cools(at("24 09:00"), at("25 03:00"))
    assert not still_cools(at("24 09:00"), at("25 03:01"))


# Clocks go back on Sunday 2026-11-01 at 02:00 in the United States: 15 U.S.C. 260a.
@pytest.mark.parametrize(
    ("now", "took"),
    [
        ("2026-11-01 08:50+00:00", 75),  # noted at once, at what was surely the first 01:45
        ("2026-11-01 20:00+00:00", 135),  # noted later: it may have been the second
    ],
)
def test_in_the_hour_that_comes_twice_food_is_not_taken_to_have_cooled_faster(
    now: str, took: int
) -> None:
    after = datetime(2026, 11, 1, 0, 30, tzinfo=ZONE)
    noted = datetime.fromisoformat(now).astimezone(ZONE)
    found = cooling_time(date(2026, 10, 31), time(1, 45), after, noted, STARTS, ZONE)
    assert (found.timestamp() - after.timestamp()) / 60 == took


@pytest.mark.parametrize(("day", "until"), [("2026-11-01", "04:30"), ("2027-03-14", "06:30")])
def test_six_hours_of_cooling_are_six_hours_also_where_the_clocks_change(
    day: str, until: str
) -> None:
    # FDA Food Code 3-501.14(A): food keeps real time, whatever the clock on the wall does.
    evening = datetime.fromisoformat(f"{day} 00:00").replace(tzinfo=ZONE) - timedelta(minutes=30)
    mark = DateMark("best-by", DAY, None, "")
    batch = Batch(lot="26328-01", product="firm", unit="piece", made=96, at=evening, mark=mark)
    due = datetime.fromisoformat(f"{day} {until}").replace(tzinfo=ZONE)
    assert cold_at(batch) == lot_of(batch, DAY).cold_by == due
