"""Best-by and use-by follow from the log."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.trade.dates import DateMark, Keeping, count_days, mark_date, trading_day

D = date.fromisoformat
WEST = ZoneInfo("America/Los_Angeles")


@pytest.mark.parametrize(
    ("made", "days", "day_one", "last"),
    [
        ("2026-10-01", 7, "made", "2026-10-07"),  # FDA Food Code 3-501.17(A): day made is day 1
        ("2016-01-01", 7, "made", "2016-01-07"),  # Conference for Food Protection, issue I-034
        ("2026-10-01", 7, "after", "2026-10-08"),
        ("2026-01-28", 5, "made", "2026-02-01"),  # over the end of a month
        ("2028-02-27", 3, "made", "2028-02-29"),  # a leap year
        ("2026-02-27", 3, "made", "2026-03-01"),  # none
        ("2026-12-30", 4, "after", "2027-01-03"),  # over New Year
        ("2026-11-24", 1, "made", "2026-11-24"),
    ],
)
def test_days_are_counted_both_ways(made: str, days: int, day_one: str, last: str) -> None:
    assert count_days(D(made), days, day_one) == D(last)  # type: ignore[arg-type]


def test_cold_food_in_the_us_is_cut_to_seven_days_and_says_so() -> None:
    mark = mark_date(D("2026-10-01"), Keeping(10), "us")
    assert (mark.day, mark.limit) == (D("2026-10-07"), D("2026-10-07"))
    assert mark.reason.endswith("cut to 7 days with the day made as day 1 (Food Code 3-501.17)")


def test_seven_days_counted_from_the_day_after_are_cut_by_one() -> None:
    assert mark_date(D("2026-10-01"), Keeping(7, "after"), "us").day == D("2026-10-07")


def test_a_named_study_supports_more_than_seven_days() -> None:
    mark = mark_date(D("2026-10-01"), Keeping(10, study="study 7"), "us")
    assert (mark.day, mark.limit) == (D("2026-10-10"), D("2026-10-10"))
    assert "by the study 'study 7'" in mark.reason


@pytest.mark.parametrize(
    ("keeping", "market", "day"),
    [
        (Keeping(10, held="frozen"), "us", "2026-10-10"),
        (Keeping(10, held="room"), "us", "2026-10-10"),
        (Keeping(10), "eu", "2026-10-10"),  # the seven days are the Food Code's, a US text
    ],
)
def test_the_cap_is_for_cold_food_in_the_us_only(keeping: Keeping, market: str, day: str) -> None:
    assert mark_date(D("2026-10-01"), keeping, market).day == D(day)


def test_a_shorter_date_keeps_the_seven_days_as_its_limit() -> None:
    mark = mark_date(D("2026-10-01"), Keeping(5), "us")
    assert (mark.day, mark.limit) == (D("2026-10-05"), D("2026-10-07"))


def marked(day: str) -> DateMark:
    return DateMark("best-by", D(day), None, "")


def test_a_mixed_batch_takes_the_earliest_date() -> None:
    # FDA Food Code 3-501.17(D).
    older = [("26270-01", marked("2026-10-03")), ("26271-01", marked("2026-10-04"))]
    mark = mark_date(D("2026-10-01"), Keeping(5), "us", older)
    assert (mark.day, mark.limit) == (D("2026-10-03"), D("2026-10-03"))
    assert mark.reason == "lot 26270-01 went into it and keeps only so long"


def test_a_use_by_date_is_its_own_limit() -> None:
    mark = mark_date(D("2026-10-01"), Keeping(5, kind="use-by"), "eu")
    assert mark.limit == mark.day == D("2026-10-05")


@pytest.mark.parametrize(
    ("moment", "day"),
    [
        ("2026-11-24 02:59", "2026-11-23"),
        ("2026-11-24 03:00", "2026-11-24"),
        ("2026-11-25 00:30", "2026-11-24"),
        ("2027-01-01 01:00", "2026-12-31"),
        ("2026-11-01 01:30", "2026-10-31"),  # shown twice when summer time ends
        ("2026-03-08 03:00", "2026-03-08"),  # the first minute after the clocks jump
    ],
)
def test_work_before_the_day_starts_belongs_to_the_day_before(moment: str, day: str) -> None:
    when = datetime.fromisoformat(moment).replace(tzinfo=WEST)
    assert trading_day(when, time(3)) == D(day)


@given(st.dates(), st.integers(1, 60), st.sampled_from(["made", "after"]))
def test_in_the_us_no_cold_food_without_a_study_outlives_its_seventh_day(
    made: date, days: int, day_one: str
) -> None:
    if made.year > 9000:
        return
    mark = mark_date(made, Keeping(days, day_one), "us")  # type: ignore[arg-type]
    assert made <= mark.day
    assert (mark.day - made).days <= 6


@pytest.mark.parametrize(
    ("keeping", "market", "older", "limit"),
    [
        (Keeping(2), "us", DateMark("best-by", D("2026-10-09"), D("2026-10-04"), ""), "2026-10-04"),
        (Keeping(2), "us", None, "2026-10-07"),  # the law's own seven days, however short it keeps
        (Keeping(9, study="s"), "us", DateMark("best-by", D("2026-10-05"), None, ""), "2026-10-05"),
        (Keeping(9), "eu", DateMark("use-by", D("2026-10-05"), D("2026-10-05"), ""), "2026-10-05"),
        (Keeping(9), "eu", DateMark("best-by", D("2026-10-05"), None, ""), None),
    ],
)
def test_a_batch_is_sold_no_longer_than_anything_in_it(
    keeping: Keeping, market: str, older: DateMark | None, limit: str | None
) -> None:
    mixed = [("26270-01", older)] if older else []
    mark = mark_date(D("2026-10-01"), keeping, market, mixed)
    assert mark.limit == (D(limit) if limit else None)
