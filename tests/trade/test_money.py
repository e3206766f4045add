"""Money is whole cents; every rounding has its name."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import BadInput
from counter.trade.money import (
    half_up,
    make_change,
    minor_places,
    parse_money,
    plain_money,
    round_cash,
    share_out,
    show_money,
    tax_on,
    tax_within,
)


@pytest.mark.parametrize(
    ("text", "places", "minor"),
    [("20", 2, 2000), ("20.00", 2, 2000), ("3.5", 2, 350), ("3,50", 2, 350), ("120", 0, 120)],
)
def test_money_is_read_as_minor_units(text: str, places: int, minor: int) -> None:
    assert parse_money(text, places) == minor


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("-1", "Cannot read price '-1': it is below zero. Write it as 20.00."),
        (
            "1.005",
            "Cannot read price '1.005': it has parts of the smallest coin. Write it as 20.00.",
        ),
        ("1,000.00", "Cannot read price '1,000.00': it is not an amount. Write it as 20.00."),
        ("$5", "Cannot read price '$5': it is not an amount. Write it as 20.00."),
        ("٣", "Cannot read price '٣': it is not an amount. Write it as 20.00."),
        ("", "Cannot read price '': it is not an amount. Write it as 20.00."),
        ("99999999.00", "Cannot read price '99999999.00': it is far too much. Write it as 20.00."),
    ],
)
def test_what_is_no_money_is_refused_with_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(BadInput) as refusal:
        parse_money(text, 2, "price")
    assert str(refusal.value) == sentence


def test_half_a_cent_goes_up() -> None:
    assert [half_up(Decimal(x)) for x in ("0.4", "0.5", "1.5", "2.5", "-0.5")] == [0, 1, 2, 3, -1]


def test_tax_added_and_tax_within_meet_at_the_same_price() -> None:
    # 19 % German value added tax on 100.00, a price of 119.00: arithmetic.
    assert tax_on(10000, Decimal("0.19")) == 1900
    assert tax_within(11900, Decimal("0.19")) == 1900


@pytest.mark.parametrize(
    ("places", "currencies"),
    # ISO 4217, its table A.1; CLDR's own figures for those that nothing is remembered of
    [(2, "USD EUR GBP CAD AUD CHF MXN CNY TWD SGD BRL"), (0, "JPY KRW VND CLP"), (3, "KWD")],
)
def test_a_currency_has_the_decimal_places_of_its_standard(places: int, currencies: str) -> None:
    assert {minor_places(currency) for currency in currencies.split()} == {places}


@given(st.integers(0, 10**7), st.decimals("0", "0.99", places=4))
def test_tax_within_a_gross_price_and_the_rest_make_the_price(gross: int, rate: Decimal) -> None:
    inside = tax_within(gross, rate)
    assert 0 <= inside <= gross
    assert abs(tax_on(gross - inside, rate) - inside) <= 1


@given(st.integers(0, 10**6), st.lists(st.integers(0, 10**4), min_size=1, max_size=12))
def test_shares_add_up_to_the_whole_and_none_is_negative(total: int, weights: list[int]) -> None:
    if not sum(weights):
        weights = [1, *weights]
    shares = share_out(total, weights)
    assert sum(shares) == total
    assert all(share >= 0 for share in shares)
    whole = sum(weights)
    assert all(
        abs(s - Decimal(total * w) / whole) < 1 for s, w in zip(shares, weights, strict=True)
    )


@given(st.integers(-(10**6), 10**6), st.sampled_from([1, 5, 10, 20, 100]))
def test_cash_is_rounded_to_a_payable_amount_at_most_half_a_coin_away(
    amount: int, coin: int
) -> None:
    rounded = round_cash(amount, coin)
    assert rounded % coin == 0
    assert 2 * abs(rounded - amount) <= coin


COINS = st.dictionaries(st.sampled_from([1, 5, 10, 25, 50, 100, 500, 1000]), st.integers(0, 4))


@given(COINS, st.integers(0, 4000))
def test_change_is_exact_and_only_out_of_what_the_drawer_holds(
    drawer: dict[int, int], amount: int
) -> None:
    change = make_change(amount, drawer)
    reachable = {0}
    for coin, count in drawer.items():
        reachable = {r + coin * n for r in reachable for n in range(count + 1)}
    if amount not in reachable:
        assert change is None
        return
    assert change is not None
    assert sum(coin * count for coin, count in change.items()) == amount
    assert all(0 < count <= drawer[coin] for coin, count in change.items())


def test_change_is_found_where_the_largest_coin_first_leads_nowhere() -> None:
    assert make_change(60, {50: 1, 20: 3}) == {20: 3}
    assert make_change(30, {25: 1, 10: 3}) == {10: 3}


def test_money_is_written_as_the_market_writes_it() -> None:
    # Unicode CLDR, through Babel.
    assert show_money(123456, "USD") == "$1,234.56"
    assert show_money(123456, "EUR", "de_DE") == "1.234,56\xa0€"
    assert show_money(1234, "JPY", "ja_JP") == "￥1,234"
    assert plain_money(123456) == "1234.56"
