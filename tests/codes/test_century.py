"""Six-digit dates: century, day 00, times, and the day a lot code names."""

from __future__ import annotations

import datetime as dt

import biip.gs1_element_strings as biip_elements
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.century import full_year, read_date, read_lot_day, read_minute
from labels.errors import BadSymbol


@pytest.mark.parametrize(
    ("yy", "expected"),
    [(70, 2070), (76, 2076), (77, 1977), (0, 2000), (26, 2026), (75, 2075), (99, 1999)],
)
def test_two_digits_mean_the_year_that_the_century_rule_says(yy: int, expected: int) -> None:
    # GS1 General Specifications 7.12, read in 2026 (arithmetic)
    assert full_year(yy, 2026) == expected


@given(st.integers(0, 99), st.integers(1900, 2199))
def test_the_century_rule_reaches_from_49_years_back_to_50_ahead(yy: int, year: int) -> None:
    full = full_year(yy, year)
    assert full % 100 == yy
    assert -49 <= full - year <= 50


@pytest.mark.parametrize("year", [2000, 2026, 2049, 2050, 2051, 2077, 2099])
def test_the_century_rule_agrees_with_another_implementation(
    year: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Now(dt.datetime):
        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> Now:
            return cls(year, 7, 1, tzinfo=tz)

    class Clock:
        UTC, date, datetime = dt.UTC, dt.date, Now

    monkeypatch.setattr(biip_elements, "dt", Clock)
    for yy in range(100):
        element = biip_elements.GS1ElementString.extract(f"17{yy:02}0701")
        assert element.date is not None
        assert element.date.year == full_year(yy, year)


@pytest.mark.parametrize(
    ("digits", "expected"),
    [
        ("130200", dt.date(2013, 2, 28)),  # GS1 General Specifications 3.4
        ("160200", dt.date(2016, 2, 29)),  # GS1 General Specifications 3.4
        ("210526", dt.date(2021, 5, 26)),  # biip documentation
        ("700101", dt.date(2070, 1, 1)),  # 7.12; the C library's pivot would give 1970
        ("991225", dt.date(1999, 12, 25)),
    ],
)
def test_six_digits_are_read_as_a_date(digits: str, expected: dt.date) -> None:
    assert read_date(digits, 2026) == expected


@pytest.mark.parametrize(
    ("digits", "why"),
    [
        ("261301", "there is no month 13"),
        ("260001", "there is no month 00"),
        ("260230", "month 02 of 2026 has 28 days"),
        ("26022", "it is not six digits YYMMDD"),
        ("26O229", "it is not six digits YYMMDD"),
        ("２60228", "it is not six digits YYMMDD"),
    ],
)
def test_what_is_no_date_is_refused(digits: str, why: str) -> None:
    with pytest.raises(BadSymbol) as refusal:
        read_date(digits, 2026)
    assert str(refusal.value) == f"Cannot read date '{digits}': {why}."


@pytest.mark.parametrize(
    ("digits", "expected"),
    [
        ("26112918", "2026-11-29T18:00:00"),
        ("2611291830", "2026-11-29T18:30:00"),
        ("261129183059", "2026-11-29T18:30:59"),
    ],
)
def test_a_time_is_read_with_as_much_as_is_given(digits: str, expected: str) -> None:
    assert read_minute(digits, 2026).isoformat() == expected


@pytest.mark.parametrize(
    "digits", ["2611292430", "2611291860", "261100", "2611001830", "261129183"]
)
def test_what_is_no_time_is_refused(digits: str) -> None:
    with pytest.raises(BadSymbol):
        read_minute(digits, 2026)


@given(st.dates(dt.date(1977, 1, 1), dt.date(2076, 12, 31)), st.integers(1, 99))
def test_a_lot_code_names_its_day(day: dt.date, batch: int) -> None:
    assert read_lot_day(f"{day:%y%j}-{batch:02}", 2026) == day


@pytest.mark.parametrize(
    ("lot", "why"),
    [
        ("26000-01", "2026 has no day 000"),
        ("26366-01", "2026 has no day 366"),
        ("26328-00", "batches count from 01"),
        ("26328-1", "it is not a lot code"),
        ("26328_01", "it is not a lot code"),
        ("2632٨-01", "it is not a lot code"),
    ],
)
def test_what_is_no_lot_code_is_refused(lot: str, why: str) -> None:
    with pytest.raises(BadSymbol) as refusal:
        read_lot_day(lot, 2026)
    assert str(refusal.value) == (
        f"Cannot read lot '{lot}': {why}. "
        "Write YYDDD-NN: year, day of the year, batch of that day, such as 26328-01."
    )


def test_day_366_of_a_leap_year_is_a_day() -> None:
    assert read_lot_day("28366-01", 2026) == dt.date(2028, 12, 31)
