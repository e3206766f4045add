"""What is older is never dearer, however the prices for several fall."""

from __future__ import annotations

from decimal import Decimal

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.trade.catalogue import Break, Catalogue, Portion, Product
from counter.trade.prices import line_price, price_together
from counter.trade.rates import Rate, Tax
from counter.trade.sales import PricedSlip, Slip, SlipItem, Where, price_slip
from counter.trade.stock import Draw

NO_TAX = Tax()
BLOCK = Portion(
    "firm-block", "firm", "Firm block", 1, 325, breaks=(Break(3, 900),), last_day_price=315
)


def priced(
    portion: Portion, *pieces: tuple[int, bool], tax: Tax = NO_TAX, where: Where = "away"
) -> PricedSlip:
    """So many pieces an item, each from a lot at its last day or not."""
    goods = Catalogue(
        products={"firm": Product("firm", "Firm Tofu", "piece", 5)}, portions={portion.key: portion}
    )
    items = tuple(SlipItem(portion.key, n, "old" if old else "new") for n, old in pieces)
    return price_slip(
        Slip(items, where), goods, tax, lambda item, _, n: [Draw(lot=item.lot, amount=n)],
        lambda lot: lot == "old",
    )  # fmt: skip


# The price list of an invented shop: 3.25 each, three for 9.00, 3.15 at the last day.
@pytest.mark.parametrize(
    ("usual", "old", "total"),
    [
        (2, 1, 900),  # one of them older: three for the price of three, not 9.65
        (1, 2, 900),
        (3, 1, 900 + 315),  # the older one by itself is cheaper than a fourth of the usual ones
        (2, 2, 900 + 315),
        (1, 1, 325 + 315),
        (2, 4, 1800),
    ],
)
def test_older_pieces_count_for_a_price_for_several(usual: int, old: int, total: int) -> None:
    slip = priced(BLOCK, (usual, False), (old, True))
    assert slip.total == total == sum(n.price for n in slip.lines)
    assert [n.kind == "last day" for n in slip.lines] == [False, True]


def test_a_slip_is_priced_anew_where_anything_of_it_differs() -> None:
    dearer, by_class = (
        msgspec.structs.replace(BLOCK, price=330),
        {"food": Rate(away=Decimal("0.1"))},
    )
    taxed, taxes = msgspec.structs.replace(BLOCK, tax="food"), Tax(classes=by_class)
    for _ in range(2):  # the second time each is known
        assert priced(BLOCK, (2, False)).total == 650
        assert priced(BLOCK, (2, True)).total == 630
        assert priced(dearer, (2, False)).total == 660
        assert priced(taxed, (2, False), tax=taxes).total == 715
        assert priced(taxed, (2, False), tax=Tax("included", by_class)).total == 650
        assert priced(taxed, (2, False), tax=taxes, where="here").total == 650


def test_a_last_day_price_that_is_cheaper_than_several_holds() -> None:
    cheap = Portion("b", "firm", "Block", 1, 325, breaks=(Break(3, 900),), last_day_price=225)
    assert priced(cheap, (2, False), (1, True)).total == 2 * 325 + 225


@given(
    st.integers(1, 500), st.integers(0, 500), st.integers(2, 4), st.integers(1, 1500),
    st.lists(st.tuples(st.integers(1, 5), st.booleans()), min_size=1, max_size=5),
)  # fmt: skip
def test_what_is_older_is_never_dearer(
    price: int, last_day: int, several: int, together: int, pieces: list[tuple[int, bool]]
) -> None:
    portion = Portion(
        "b", "firm", "Block", 1, price, breaks=(Break(several, together),), last_day_price=last_day
    )
    mixed = priced(portion, *pieces).total
    assert mixed <= priced(portion, *((n, False) for n, _ in pieces)).total
    usual = sum(n for n, old in pieces if not old)
    old = sum(n for n, old in pieces if old)
    assert mixed == price_together(portion, usual, old)
    assert price_together(portion, usual + old, 0) == line_price(portion, usual + old, (), None)[0]
