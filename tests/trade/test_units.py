"""Units as people use them."""

from datetime import date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

import pint
import pytest

from counter.errors import BadInput
from counter.languages import language
from counter.trade.money import said_money
from counter.trade.units import (
    clock_on,
    minutes_between,
    parse_amount,
    parse_clock,
    parse_day,
    parse_minutes,
    parse_moment,
    parse_pressure,
    parse_temperature,
    show_amount,
    show_temperature,
)
from labels.errors import BadValue
from labels.say import Said, all_of, figure, say
from labels.units import GRAMS, MILLILITRES, parse_measure

WEST = ZoneInfo("America/Los_Angeles")


@pytest.mark.parametrize("unit", [*GRAMS, *MILLILITRES])
def test_factors_agree_with_the_pint_library(unit: str) -> None:
    registry = pint.UnitRegistry(non_int_type=Decimal)
    name = {"fl oz": "fluid_ounce", "pt": "pint", "qt": "quart", "gal": "gallon"}.get(unit, unit)
    base = "gram" if unit in GRAMS else "milliliter"
    theirs = registry.Quantity(Decimal(1), name).to(base).magnitude
    assert abs((GRAMS.get(unit) or MILLILITRES[unit]) - theirs) < Decimal("1e-12")


def test_a_press_at_75_psi_for_20_minutes_reads_and_prints_as_517_kpa() -> None:
    # Common practice, no source: a pneumatic press at 75 pounds per square inch, 20 minutes. The
    # factor is checked against pint.
    assert parse_minutes("20min") == 20
    kpa = parse_pressure("75 psi")
    assert f"{kpa:.0f} kPa" == "517 kPa"
    theirs = pint.UnitRegistry(non_int_type=Decimal).Quantity(Decimal(75), "psi").to("kPa")
    assert abs(kpa - theirs.magnitude) < Decimal("0.05")


@pytest.mark.parametrize(
    ("text", "kpa"), [("0 kPa", "0"), ("4.1 bar", "410"), ("10000 kPa", "10000"), ("1 PSI", "6.9")]
)
def test_pressures_are_kept_in_kilopascals(text: str, kpa: str) -> None:
    assert parse_pressure(text) == Decimal(kpa)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        # common practice, no source: a press stays far below a hundred bar
        ("10000.1 kPa", "no tofu press works there"), ("-1 bar", "no tofu press works there"),
        ("75", "it is not a number with psi"), ("75 lb", "it is not a number with psi"),
    ],
)  # fmt: skip
def test_what_is_no_pressure_of_a_press_is_refused(text: str, why: str) -> None:
    with pytest.raises(BadInput, match=f"'{text}': {why}.*Write a number and psi, kPa or bar"):
        parse_pressure(text)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [("95C", "95"), ("203F", "95"), ("135 °F", "57.22"), ("41F", "5"), ("-18 c", "-18")],
)
def test_temperatures_are_kept_in_celsius(text: str, celsius: str) -> None:
    assert parse_temperature(text) == Decimal(celsius)


@pytest.mark.parametrize("text", ["95", "hot", "400C", "", "95K", "C", "9,5C"])
def test_what_is_no_temperature_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match=r"^Cannot read temperature '.*': .*\. Write a number and C"):
        parse_temperature(text)


def test_temperatures_are_shown_in_the_units_of_the_market() -> None:
    assert show_temperature(Decimal(5), True) == "41 °F"
    assert show_temperature(Decimal("57.22"), True) == "135 °F"
    assert show_temperature(Decimal("62.5"), False) == "62.5 °C"


@pytest.mark.parametrize(
    ("text", "minutes"), [("10", 10), ("10min", 10), ("1h", 60), ("1h30", 90), ("1:30", 90)]
)
def test_spans_of_time_are_whole_minutes(text: str, minutes: int) -> None:
    assert parse_minutes(text) == minutes


@pytest.mark.parametrize("text", ["soon", "-5", "1.5h", "10 seconds"])
def test_what_is_no_span_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="it is not a span of time"):
        parse_minutes(text)


@pytest.mark.parametrize("text", ["2026-02-30", "24.11.2026", "2026-13-01", "today", "2026-1-1"])
def test_a_date_that_is_no_date_is_refused(text: str) -> None:
    with pytest.raises(BadInput) as refusal:
        parse_day(text)
    assert str(refusal.value) == (
        f"Cannot read date '{text}': there is no such day. Write it as 2026-11-24."
    )


def test_clock_times_before_the_day_starts_belong_to_the_night_after() -> None:
    starts = time(3)
    assert clock_on(date(2026, 11, 24), time(8, 10), starts, WEST).isoformat()[:16] == (
        "2026-11-24T08:10"
    )
    assert clock_on(date(2026, 11, 24), time(1, 30), starts, WEST).day == 25


def test_food_keeps_real_time_when_the_clocks_change() -> None:
    # Summer time ends on 2026-11-01 at 02:00 in the United States: 15 USC 260a.
    start = datetime(2026, 11, 1, 0, 30, tzinfo=WEST)
    end = datetime(2026, 11, 1, 4, 30, tzinfo=WEST)
    assert minutes_between(start, end) == 300


@pytest.mark.parametrize("text", ["2026-11-24", "04:10", "2026-11-24 25:00", "yesterday 04:10"])
def test_a_moment_needs_a_day_and_a_time(text: str) -> None:
    with pytest.raises(BadInput):
        parse_moment(text, WEST)


def test_a_moment_carries_the_zone_of_the_shop() -> None:
    assert parse_moment("2026-11-24 04:10", WEST).isoformat() == "2026-11-24T04:10:00-08:00"
    assert parse_clock("4:05") == time(4, 5)


@pytest.mark.parametrize(
    ("text", "unit", "amount"),
    [
        ("96", "piece", 96),
        ("40l", "ml", 40000),
        ("8 fl oz", "ml", 237),
        ("2 lb", "g", 907),
        ("-3", "g", -3),
    ],
)
def test_amounts_are_whole_stock_units(text: str, unit: str, amount: int) -> None:
    assert parse_amount(text, unit) == amount


@pytest.mark.parametrize(("text", "unit"), [("9.5", "piece"), ("2kg", "piece"), ("2kg", "ml")])
def test_an_amount_of_another_kind_is_refused(text: str, unit: str) -> None:
    with pytest.raises(BadInput):
        parse_amount(text, unit)


def test_amounts_are_shown_for_people() -> None:
    assert [show_amount(n, "ml") for n in (237, 40000, 8250)] == ["237 ml", "40 l", "8.25 l"]
    assert show_amount(96, "piece") == "96"


@pytest.mark.parametrize("text", ["12", "kg", "-1 kg", "1e5 kg", "٣ kg", "1 stone", "nan kg"])
def test_what_is_no_measure_is_refused(text: str) -> None:
    with pytest.raises(BadValue):
        parse_measure(text)


@pytest.mark.parametrize(("shown", "german"), [
    (show_amount(8250, "ml"), "8,25 l"), (show_amount(350, "g"), "350 g"),
    (show_amount(96, "piece"), "96"), (show_temperature(Decimal("3.5"), False), "3,5 °C"),
    (said_money(1250), "12,50"), (figure(parse_measure("0.42 lb")), "0,42 lb"),
    (all_of(["Firm 1.5", "Soft"]), "Firm 1.5 und Soft"),
])  # fmt: skip
def test_a_figure_is_written_as_whoever_reads_the_sentence_writes_it(
    shown: Said, german: str
) -> None:
    said = say("{amount} of it", amount=shown)
    assert language("de", "de_DE").shown(shown) == german
    assert language("de", "de_DE").shown(said) == f"{german} of it"  # nobody translated it
    assert language("es", "es_US").shown(said).startswith(str(shown)[:2])
    assert said == f"{shown} of it"


@pytest.mark.parametrize("unit", ["stone", "ml", "piece"])
def test_a_mass_is_not_given_in_what_is_no_unit_of_mass(unit: str) -> None:
    with pytest.raises(BadValue, match=f"^Cannot give 1 lb in '{unit}': use one of g, kg"):
        parse_measure("1 lb").to(unit)
