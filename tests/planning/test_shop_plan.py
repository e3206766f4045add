"""Tomorrow of a whole shop: whole moulds, beans from the log, holidays, and the past replayed."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec
import pytest

from counter.errors import BadInput
from counter.plan.almanac import holidays_of
from counter.plan.demand import estimate_demand
from counter.plan.planning import Yield, soak_for
from counter.plan.replay import RULES
from counter.plan.tomorrow import (
    KEPT_BEFORE,
    Hours,
    history_of,
    kept_chance,
    next_open_day,
    plan_shop,
    terms_of,
)
from counter.shop import Shop
from counter.trade.settings import parse_settings
from demo_shop import make_demo
from tests.conftest import CATALOGUE, SETTINGS, Maker, ShopInHand, kilos

ZONE = ZoneInfo("America/Los_Angeles")
EVENING = datetime(2026, 11, 22, 19, 0, tzinfo=ZONE)
MORNING = datetime(2026, 11, 24, 7, 0, tzinfo=ZONE)


@pytest.fixture(scope="module")
def month_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("month") / "shop"
    make_demo(folder, MORNING, days=28)
    return folder


def at(folder: Path, moment: datetime) -> Shop:
    return Shop.open(folder, lambda: moment)


def test_every_amount_is_whole_moulds_and_the_best_of_three(month_folder: Path) -> None:
    plan = at(month_folder, EVENING).plan.for_day(date(2026, 11, 24))
    assert {p.product for p in plan.products} >= {"firm", "soft", "pudding", "milk", "smoked"}
    for p in plan.products:
        assert p.make == p.moulds * p.mould == p.this.make
        assert p.this.margin >= p.more.margin
        assert p.fewer is None or p.this.margin >= p.fewer.margin
        assert p.more.make == p.make + p.mould
        assert 0.0 <= p.more.sells_out <= p.this.sells_out <= 1.0
        assert p.words


def test_demand_is_near_what_such_days_sold(month_folder: Path) -> None:
    plan = at(month_folder, EVENING).plan.for_day(date(2026, 11, 24))
    firm = next(p for p in plan.products if p.product == "firm")
    # The invented town asks for 118 × 0.85 firm blocks on a Tuesday.
    assert 75 < firm.wanted < 130
    assert firm.on_hand + firm.make > firm.wanted


def test_beans_follow_from_the_yields_in_the_log(month_folder: Path) -> None:
    shop = at(month_folder, EVENING)
    plan = shop.plan.for_day(date(2026, 11, 24))
    closings = shop.closings.between(date(2026, 1, 1), date(2026, 11, 22))
    for p in plan.to_make:
        if p.soak is None:
            continue
        batches = [y for c in closings for y in c.yields if y.product == p.product]
        yields = [
            Yield(y.made, y.beans_g, y.water_g, sum(y.coagulants.values(), Decimal(0)))
            for y in batches
        ]
        assert p.soak == soak_for(p.make, yields)
        assert sum(p.coagulants.values()) == p.soak.coagulant_g
    assert plan.beans_g == sum(p.soak.beans_g for p in plan.to_make if p.soak)
    assert plan.water_g == sum(p.soak.water_g for p in plan.to_make if p.soak)
    firm = next(p for p in plan.products if p.product == "firm")
    if firm.make:
        assert firm.soak is not None
        # A kilogram gives some 8 blocks by the recipe.
        assert 7 < firm.make * 1000 / firm.soak.beans_g < 9


def test_what_is_smoked_is_made_on_top_of_what_is_sold(month_folder: Path) -> None:
    plan = at(month_folder, EVENING).plan.for_day(date(2026, 11, 24))
    plans = {p.product: p for p in plan.products}
    smoked, firm = plans["smoked"], plans["firm"]
    assert smoked.soak is None
    if smoked.make:
        assert smoked.takes == {"firm": 16 * smoked.moulds}
        assert firm.goes_into == {"smoked": smoked.takes["firm"]}
        assert "go into Smoked Tofu" in firm.words


def test_only_what_may_still_be_sold_counts_as_on_hand(month_folder: Path) -> None:
    shop = at(month_folder, EVENING)
    target = date(2026, 11, 24)
    [closing] = shop.closings.between(date(2026, 11, 22), date(2026, 11, 22))
    for p in shop.plan.for_day(target).products:
        good = [
            c.amount for c in closing.carried
            if c.lot.product == p.product and c.lot.mark.day >= target and not c.lot.stopped
        ]  # fmt: skip
        assert p.on_hand == sum(good)


def test_a_day_still_open_is_said_and_taken_off(month_folder: Path) -> None:
    shop = at(month_folder, MORNING)
    plan = shop.plan.for_day(date(2026, 11, 25))
    assert plan.open_day == date(2026, 11, 24)
    firm = next(p for p in plan.products if p.product == "firm")
    assert firm.on_hand < shop.desk.ledger().on_hand("firm")
    late = at(month_folder, MORNING.replace(hour=17, minute=55)).plan.for_day(date(2026, 11, 25))
    assert next(p for p in late.products if p.product == "firm").on_hand > firm.on_hand


def test_the_plan_of_a_past_day_knows_nothing_of_it(month_folder: Path) -> None:
    then = date(2026, 11, 14)
    plan = at(month_folder, EVENING).plan.for_day(then)
    assert plan.until == date(2026, 11, 13)
    assert plan == at(month_folder, EVENING + timedelta(days=1)).plan.for_day(then)


def test_an_ordinary_day_is_planned_from_the_last_weeks_and_a_holiday_from_all(
    month_folder: Path,
) -> None:
    past = at(month_folder, EVENING).plan.past(date(2026, 11, 22))
    # The same month of two years before, when everything sold twice as well.
    old = tuple(
        msgspec.structs.replace(
            closing,
            day=closing.day - timedelta(weeks=104),
            available={key: 2 * amount for key, amount in closing.available.items()},
            lots=tuple(msgspec.structs.replace(n, sold=2 * n.sold) for n in closing.lots),
        )
        for closing in past.closings
    )
    feast = {day - timedelta(weeks=104): "Feast" for day in (date(2026, 11, 17),)}
    longer = msgspec.structs.replace(
        past, closings=old + past.closings, holidays={**past.holidays, **feast}
    )
    ordinary, holiday = date(2026, 11, 24), date(2026, 11, 26)
    assert plan_shop(longer, ordinary, ()) == plan_shop(past, ordinary, ())
    longer = msgspec.structs.replace(longer, holidays={**longer.holidays, holiday: "Feast"})
    firm = next(p for p in plan_shop(longer, holiday, ()).products if p.product == "firm")
    assert "Only 1 earlier Feast on record" in firm.words


def test_a_day_of_rest_is_passed_over(month_folder: Path) -> None:
    # The invented shop is shut on Mondays; the 22nd is a Sunday.
    assert at(month_folder, EVENING).plan.for_day().target == date(2026, 11, 24)


@pytest.mark.parametrize(
    ("today", "open_days", "target"),
    [
        (date(2026, 11, 22), 0, date(2026, 11, 23)),  # nothing on record
        (date(2026, 11, 22), 5, date(2026, 11, 23)),  # too little to tell a day of rest
        (date(2026, 11, 22), 40, date(2026, 11, 24)),  # never open on Mondays
        (date(2026, 11, 20), 40, date(2026, 11, 21)),
    ],
)
def test_the_next_day_open(today: date, open_days: int, target: date) -> None:
    days = [today - timedelta(days=n) for n in range(open_days, -1, -1)] if open_days else []
    assert next_open_day(today, [d for d in days if d.weekday() != 0]) == target


def test_holidays_of_the_region_are_named(month_folder: Path) -> None:
    plan = at(month_folder, EVENING).plan.for_day(date(2026, 11, 26))
    assert plan.special == "Thanksgiving Day"
    assert "Thanksgiving" in next(p for p in plan.products if p.make).words


@pytest.mark.parametrize(
    ("changed", "region", "day", "name"),
    [
        # A shop says which part of its country it stands in, and has the holidays of that part:
        # Texas (Government Code 662.003(b)(4)), Bavaria (Feiertagsgesetz Art. 1), from memory.
        ('country_code = "US"\nsubdivision = "TX"', ("US", "TX"), date(2026, 3, 2), "Texas"),
        ('subdivision = "TX"', ("US", "TX"), date(2026, 3, 2), "Texas"),
        ('country_code = "de"\nsubdivision = "BY"', ("DE", "BY"), date(2026, 6, 4), "Corpus"),
        ('country_code = "DE"', ("DE", ""), date(2026, 6, 4), ""),
    ],
)
def test_a_shop_with_a_subdivision_has_its_holidays(
    changed: str, region: tuple[str, str], day: date, name: str
) -> None:
    settings = parse_settings(SETTINGS.replace("[shop]\n", f"[shop]\n{changed}\n"))
    assert settings.region == region
    assert name in (found := holidays_of(*settings.region, [2026]).get(day, ""))
    assert bool(found) == bool(name)
    assert day not in holidays_of(region[0], "", [2026])


def test_what_a_piece_brings_costs_and_is_worth_on_its_last_day(hand: ShopInHand) -> None:
    past = hand.shop.plan.past(date(2026, 11, 23))
    firm = terms_of(past, past.catalogue.products["firm"])
    assert (firm.price, firm.cost, firm.last_day_price) == (325, 100, 225)
    milk = terms_of(past, past.catalogue.products["milk"])
    assert (milk.price, milk.cost, milk.last_day_price) == (450, 75, 300)


def test_an_unknown_region_is_refused() -> None:
    assert holidays_of("", "", [2026]) == {}
    assert holidays_of("US", "WA", [2026])[date(2026, 12, 25)] == "Christmas Day"
    with pytest.raises(BadInput, match="there is no calendar for country 'XX'"):
        holidays_of("XX", "", [2026])
    with pytest.raises(
        BadInput, match=r"US has no subdivision 'QQ'\. Mend subdivision in shop.toml"
    ):
        holidays_of("US", "QQ", [2026])


def test_a_new_shop_gets_a_guess_and_is_told_so(hand: ShopInHand) -> None:
    plan = hand.shop.plan.for_day(date(2026, 11, 25))
    firm = next(p for p in plan.products if p.product == "firm")
    assert 1 <= firm.moulds <= 2
    assert "No day is on record yet" in firm.words
    assert "take the beans from the recipe" in firm.words
    assert (plan.beans_g, plan.until) == (0, None)


def test_a_product_without_a_cost_is_refused_with_what_to_write(make: Maker) -> None:
    hand = make(SETTINGS, CATALOGUE.replace('cost = "48.00"', 'cost = "0"'))
    with pytest.raises(BadInput) as refusal:
        hand.shop.plan.for_day(date(2026, 11, 25))
    assert str(refusal.value) == (
        "Cannot plan firm: it has no cost, so too many cannot be weighed against too few. "
        'Write cost = "..." of one mould under [products.firm] in the catalogue.'
    )


def test_opening_hours_turn_moments_into_shares() -> None:
    day = Hours(time(8), time(18))
    assert [day.share(datetime(2026, 11, 24, h, tzinfo=ZONE)) for h in (6, 8, 13, 18, 20)] == [
        0,
        0,
        0.5,
        1,
        1,
    ]
    night = Hours(time(18), time(2))
    assert [night.share(datetime(2026, 11, 24, h, tzinfo=ZONE)) for h in (17, 22, 1, 3)] == [
        0,
        0.5,
        0.875,
        1,
    ]
    half_past = Hours(time(8, 30), time(17, 30))
    assert half_past.share(datetime(2026, 11, 24, 10, 45, tzinfo=ZONE)) == 0.25
    always = Hours(time(6), time(6))
    assert [always.share(datetime(2026, 11, 24, h, tzinfo=ZONE)) for h in (6, 9, 18)] == [
        0,
        0.125,
        0.5,
    ]


def test_a_bad_opening_hour_names_its_line(make: Maker) -> None:
    broken = SETTINGS.replace('day_starts = "03:00"', 'day_starts = "03:00"\nopens = "8 am"')
    with pytest.raises(BadInput, match=r"'shop.opens' \(line "):
        make(broken)


def test_what_is_stopped_after_the_closing_is_not_on_hand_for_the_plan(hand: ShopInHand) -> None:
    lot = hand.batch("firm", 48).lot
    hand.sell("firm-block*8")
    hand.shop.evening.count(lot, 40)
    hand.shop.evening.close_day()

    def on_hand() -> int:
        plan = hand.shop.plan.for_day(date(2026, 11, 25))
        return next(p for p in plan.products if p.product == "firm").on_hand

    assert on_hand() == 40
    hand.shop.holds.stop([lot], "a hair was found")
    assert on_hand() == 0


def test_a_plan_made_while_still_selling_counts_what_is_on_hand(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.clock.set("2026-11-24 13:00")
    hand.sell("firm-block*8", cash=3000)

    def on_hand() -> int:
        plan = hand.shop.plan.for_day(date(2026, 11, 25))
        assert plan.open_day == date(2026, 11, 24)
        return next(p for p in plan.products if p.product == "firm").on_hand

    assert 0 < on_hand() < 40  # some of them will still be sold today
    hand.clock.set("2026-11-24 19:00")
    assert on_hand() == 40  # all that is there goes on to tomorrow


def test_days_with_nothing_sold_count_as_days_with_nothing_sold(month_folder: Path) -> None:
    past = at(month_folder, EVENING).plan.past(date(2026, 11, 22))
    firm = past.catalogue.products["firm"]
    days = history_of(past, firm)
    none = [msgspec.structs.replace(n, sold=0) for n in past.closings[-2].lots]
    quiet = msgspec.structs.replace(past.closings[-2], lots=tuple(none), sold_out_at={})
    closings = (*past.closings[:-2], quiet, past.closings[-1])
    found = history_of(msgspec.structs.replace(past, closings=closings), firm)
    assert [day.day for day in found] == [day.day for day in days]
    assert (found[-2].sold, found[-2].sold_out_at) == (0, None)
    assert found[-2].available > 0
    target = quiet.day + timedelta(weeks=1)
    before, after = (estimate_demand(history, target).mean for history in (days, found))
    assert after < before


def test_what_is_left_is_sold_as_often_as_it_was_not_thrown_away(month_folder: Path) -> None:
    past = at(month_folder, EVENING).plan.past(date(2026, 11, 22))
    firm = past.catalogue.products["firm"]
    none = msgspec.structs.replace(past, closings=())
    assert kept_chance(none, firm) == KEPT_BEFORE  # before the shop's own days tell

    def chance(carried: int, wasted: int) -> Decimal:
        """After one closing with so many left over, and so many thrown away for their date."""
        closing = past.closings[-1]
        [lot, *_] = [n for n in closing.lots if n.product == "firm" and n.made]
        lot = msgspec.structs.replace(lot, carried_out=carried, wasted={"date": wasted})
        closing = msgspec.structs.replace(closing, lots=(lot,))
        return kept_chance(msgspec.structs.replace(past, closings=(closing,)), firm)

    mould = Decimal(firm.mould)
    assert chance(firm.mould, 0) == (mould + KEPT_BEFORE * mould) / (2 * mould)
    assert chance(firm.mould, firm.mould) == KEPT_BEFORE * mould / (2 * mould)
    assert chance(10, 4) == (6 + KEPT_BEFORE * mould) / (10 + mould)


def test_a_sold_out_day_is_not_taken_for_its_demand(hand: ShopInHand) -> None:
    for n in range(7):
        hand.clock.set(f"2026-11-{10 + n} 05:00")
        hand.batch("firm", 48, ingredients={"soybeans": kilos("6")})
        for hour in range(8, 12):
            hand.clock.set(f"2026-11-{10 + n} {hour:02}:30")
            hand.sell("firm-block*12")
        hand.clock.set(f"2026-11-{10 + n} 18:00")
        hand.shop.evening.close_day()
    firm = next(
        p for p in hand.shop.plan.for_day(date(2026, 11, 17)).products if p.product == "firm"
    )
    # 48 were gone by 11:30, after 35 % of the day.
    assert firm.wanted > 80
    assert firm.moulds >= 2


def test_the_replay_tells_the_plan_beside_what_was_made(month_folder: Path) -> None:
    found = at(month_folder, EVENING).plan.backtest()
    assert {p.product for p in found} >= {"firm", "soft", "pudding"}
    for product in found:
        assert tuple(product.rules) == RULES
        wanted = {r.sold + r.lost for r in product.rules.values()}
        assert len(wanted) == 1  # every rule meets the same demand
        made = product.rules["made"]
        assert made.made == made.sold + made.wasted
        assert made.lost == product.added
    costs = {rule: sum(p.rules[rule].cost for p in found) for rule in RULES}
    assert costs["plan"] < costs["yesterday"]


def test_a_short_past_is_not_replayed(hand: ShopInHand) -> None:
    hand.batch()
    hand.shop.evening.close_day()
    assert hand.shop.plan.backtest() == ()


def test_a_plan_goes_as_json(month_folder: Path) -> None:
    plan = at(month_folder, EVENING).plan.for_day(date(2026, 11, 24))
    assert msgspec.json.decode(msgspec.json.encode(plan, enc_hook=str))["target"] == "2026-11-24"
