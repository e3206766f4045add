"""A tub has a clock, a level and cups left."""

from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from counter.errors import BadInput, NotSafe
from counter.trade.tubs import Mode, Tub, TubCheck, TubOpened, minutes_left, open_tub, refusal_for

ZONE = ZoneInfo("America/Los_Angeles")
ELEVEN = datetime(2026, 11, 24, 11, 0, tzinfo=ZONE)


def tub(mode: Mode, celsius: str | None = None, at: datetime = ELEVEN) -> Tub:
    level = Decimal(celsius) if celsius else None
    return open_tub(
        TubOpened(tub="26328-03/1", lot="26328-03", mode=mode, level=8000, at=at, celsius=level),
        "pudding",
    )


def check(celsius: str, at: datetime) -> TubCheck:
    return TubCheck(tub="26328-03/1", celsius=Decimal(celsius), at=at)


# FDA Food Code 3-501.16 and 3-501.19(B): 135 °F is written as 57 °C, 41 °F as 5 °C.
@pytest.mark.parametrize(
    ("mode", "celsius", "good"),
    [
        ("hot", "57", True), ("hot", "57.22", True), ("hot", "56.9", False), ("hot", "4", False),
        ("cold", "5", True), ("cold", "5.1", False), ("cold", "60", False),
        ("time", "5", True), ("time", "57", True), ("time", "20", False),
    ],
)  # fmt: skip
def test_a_tub_starts_only_at_a_temperature_its_mode_allows(
    mode: Mode, celsius: str, good: bool
) -> None:
    if good:
        assert tub(mode, celsius).mode == mode
        return
    with pytest.raises(NotSafe, match=r"^Cannot open tub 26328-03/1 .*: it measures"):
        tub(mode, celsius)


def test_by_time_it_goes_after_four_hours_whatever_is_measured() -> None:
    # Out of the cooler at 11:00, the four-hour mark is 15:00: FDA Food Code 3-501.19(B).
    out = tub("time").measured([check("3", ELEVEN + timedelta(hours=3))])
    assert minutes_left(out, ELEVEN + timedelta(minutes=1)) == 239
    assert refusal_for(out, ELEVEN + timedelta(minutes=239), "sell it") is None
    over = refusal_for(out, ELEVEN + timedelta(hours=4), "sell a small cup")
    assert str(over) == (
        "Cannot sell a small cup: tub 26328-03/1 has been out for 4 hours, since 11:00. "
        "Throw it away and open another tub."
    )


def test_four_hours_are_four_hours_when_the_clocks_go_back() -> None:
    out = tub("time", at=datetime(2026, 11, 1, 0, 30, tzinfo=ZONE))
    assert out.until.isoformat() == "2026-11-01T03:30:00-08:00"


def test_a_good_check_gives_a_hot_tub_four_hours_more() -> None:
    hot = tub("hot", "60")
    later = ELEVEN + timedelta(hours=3)
    hot = hot.measured([check("58", later)])
    assert minutes_left(hot, later) == 240


def test_a_failed_check_stops_the_tub_until_a_good_one_follows_in_time() -> None:
    noon = ELEVEN + timedelta(hours=1)
    cool = tub("hot", "60").measured([check("52", noon)])
    refused = refusal_for(cool, noon, "sell a small cup")
    assert str(refused) == (
        "Cannot sell a small cup: tub 26328-03/1 measured 52 °C, allowed is 57 °C / 135 °F or "
        "above. Bring it back to temperature at once and check again, or throw it away."
    )
    assert refusal_for(cool.measured([check("75", noon)]), noon, "sell it") is None
    late = ELEVEN + timedelta(hours=5)
    lost = refusal_for(cool.measured([check("75", late)]), late, "sell it")
    assert lost is not None
    assert str(lost).endswith("throw it away.")


def test_a_tub_nobody_measured_for_four_hours_is_refused_until_it_is() -> None:
    late = ELEVEN + timedelta(hours=4)
    cold = tub("cold", "4")
    assert "has no temperature check since 11:00" in str(refusal_for(cold, late, "sell it"))
    assert refusal_for(cold.measured([check("4.5", late)]), late, "sell it") is None


def test_an_empty_tub_is_not_opened() -> None:
    with pytest.raises(BadInput, match="there is nothing in it"):
        open_tub(
            TubOpened(tub="26328-03/1", lot="26328-03", mode="cold", level=0, at=ELEVEN), "pudding"
        )
