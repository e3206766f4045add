"""An order priced, paid, refunded: to the cent, the same cents every time."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from decimal import Decimal

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import BadInput, NotEnoughPaid, NotFound, Refused
from counter.trade.catalogue import Break, Catalogue, Portion, Product, Topping
from counter.trade.orders import parse_discount, parse_item, parse_tender
from counter.trade.payments import Tender, settle
from counter.trade.rates import Rate, Tax
from counter.trade.refunds import Refund, RefundLine, line_total, refund_lines
from counter.trade.sales import Discount, PricedSlip, Sale, Slip, SlipItem, price_slip
from counter.trade.stock import Draw
from labels.units import Measure

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
GOODS = Catalogue(
    products={
        "firm": Product("firm", "Firm Tofu", "piece", 5),
        "pressed": Product("pressed", "Pressed Tofu", "g", 5),
        "pudding": Product("pudding", "Pudding", "ml", 2, tub=True),
    },
    portions={
        "firm-block": Portion(
            "firm-block", "firm", "Firm block", 1, 325, breaks=(Break(3, 900),),
            last_day_price=225, tax="grocery",
        ),
        "pressed": Portion("pressed", "pressed", "Pressed tofu", 0, 890, per="lb", tax="grocery"),
        "cup-small": Portion(
            "cup-small", "pudding", "Small cup", 237, 350, tax="prepared",
            toppings=("ginger", "sesame"),
        ),
    },
    toppings={"ginger": Topping("ginger", "Ginger"), "sesame": Topping("sesame", "Sesame", 75)},
)  # fmt: skip
TAX = Tax("added", {"grocery": Rate(), "prepared": Rate(Decimal("0.086"), Decimal("0.086"))})


def one_lot(item: SlipItem, portion: Portion, amount: int) -> list[Draw]:
    return [Draw(lot=item.lot or "26328-01", amount=amount)]


def price(
    *items: str, tax: Tax = TAX, discount: Discount | None = None,
    last_day: Callable[[str], bool] = lambda lot: False,
    draw: Callable[[SlipItem, Portion, int], list[Draw]] = one_lot,
) -> PricedSlip:  # fmt: skip
    slip = Slip(tuple(parse_item(i) for i in items), discount=discount)
    return price_slip(slip, GOODS, tax, draw, last_day)


def sale_of(priced: PricedSlip, *tenders: Tender, coin: int = 1) -> Sale:
    paid, rounding, change = settle(priced.total, tenders or (Tender("card"),), coin=coin, places=2)
    return Sale(
        number="2026-11-24/0001", at=NOON, lines=priced.lines, taxes=priced.taxes, total=priced.total, payments=paid,
        rounding=rounding, change=change, included=priced.included,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("items", "total"),
    [
        (["firm-block"], 325),
        (["firm-block*2"], 650),
        (["firm-block*3"], 900),  # three for 9.00
        (["firm-block*7"], 900 + 900 + 325),
        (["firm-block*2", "firm-block@26327-01"], 900),  # two lots, one price for three
        (["pressed:1lb"], 890),
        (["pressed:6oz"], 334),  # 333.75, half up
        (["pressed:0.1lb"], 89),
        (["cup-small"], 350 + 30),  # 8.6 % of 3.50 is 0.301
        (["cup-small+sesame"], 425 + 37),  # 8.6 % of 4.25 is 0.3655
        (["cup-small+ginger*2"], 700 + 60),
        (["firm-block", "cup-small"], 325 + 380),
    ],
)
def test_a_slip_is_priced_to_the_cent(items: list[str], total: int) -> None:
    assert price(*items).total == total


def test_the_last_day_price_holds_for_the_lot_at_its_last_day_only() -> None:
    def draw(item: SlipItem, portion: Portion, amount: int) -> list[Draw]:
        return [Draw(lot="26324-01", amount=2), Draw(lot="26328-01", amount=amount - 2)]

    priced = price("firm-block*5", draw=draw, last_day=lambda lot: lot == "26324-01")
    assert [(n.kind, n.quantity, n.price) for n in priced.lines] == [
        ("several", 3, 900),
        ("last day", 2, 450),
    ]


def test_what_is_weighed_together_is_one_line_at_one_price() -> None:
    def draw(item: SlipItem, portion: Portion, amount: int) -> list[Draw]:
        return [Draw(lot="26324-01", amount=100), Draw(lot="26328-01", amount=amount - 100)]

    assert price("pressed:1lb", draw=draw, last_day=lambda lot: lot == "26324-01").total == 890


def test_a_discount_is_shared_over_the_lines_and_lowers_the_tax() -> None:
    priced = price("firm-block", "cup-small", discount=Discount(why="regular", percent=Decimal(10)))
    assert priced.discount == 68  # 67.5, half up
    assert sum(n.discount for n in priced.lines) == 68
    assert priced.taxes[0].base == 350 - priced.lines[1].discount


@pytest.mark.parametrize(
    ("discount", "why"),
    [
        (Discount(why="", amount=100), "it has no reason"),
        (Discount(why="because", amount=10000), "it is nothing, or more than the slip costs"),
        (Discount(why="because", percent=Decimal(101)), "101 % is not between 0 and 100"),
    ],
)
def test_a_discount_that_cannot_be_is_refused(discount: Discount, why: str) -> None:
    with pytest.raises((BadInput, Refused), match=why):
        price("firm-block", discount=discount)


def test_tax_in_the_price_changes_no_total() -> None:
    tax = Tax("included", {"prepared": Rate(Decimal("0.19"), Decimal("0.07"))})
    priced = price("cup-small", tax=tax)
    assert (priced.total, priced.tax) == (350, 23)  # 350 x 7 / 107 = 22.9


@pytest.mark.parametrize(
    ("item", "sentence"),
    [
        ("firm-blok", "Cannot sell firm-blok: there is no portion 'firm-blok'. Did you mean firm-block?"),
        ("firm-block*0", "Cannot sell firm-block: 0 is no quantity. Expected is 1 to 999."),
        ("firm-block*-1", "Cannot sell firm-block: -1 is no quantity. Expected is 1 to 999."),
        ("firm-block:1lb", "Cannot sell firm-block: it is sold by the piece, not by weight. "
         "Leave the weight out."),
        ("pressed", "Cannot sell pressed: it is sold by weight. "
         "Write how heavy it is, such as pressed:0.35lb."),
        ("cup-small+mango", "Cannot sell cup-small: there is no topping 'mango'. "
         "Known are ginger, sesame."),
        ("firm-block+ginger", "Cannot sell firm-block: topping 'ginger' does not go on it. "
         "Toppings for it: none."),
    ],
)  # fmt: skip
def test_an_item_that_cannot_be_sold_says_why(item: str, sentence: str) -> None:
    with pytest.raises((BadInput, NotFound, Refused)) as refusal:
        price(item)
    assert str(refusal.value) == sentence


def test_an_empty_slip_is_refused() -> None:
    with pytest.raises(BadInput) as refusal:
        price()
    assert str(refusal.value) == (
        "Cannot sell an empty slip: nothing is on it. Put something on it first."
    )


# Canada, Economic Action Plan 2012: $1.83 + $2.86 with 5 % is $4.9245, so $4.92 by card and
# $4.90 in cash.
def test_only_cash_is_rounded_and_only_after_tax() -> None:
    total = 183 + 286 + 23
    assert settle(total, (Tender("card"),), coin=5, places=2)[0][0].amount == 492
    payments, rounding, change = settle(total, (Tender("cash", 500),), coin=5, places=2)
    assert (payments[0].amount, rounding, change) == (490, -2, 10)


def test_a_card_pays_exactly_and_the_cash_part_is_rounded() -> None:
    payments, rounding, change = settle(
        1003, (Tender("card", 500), Tender("cash", 1000)), coin=5, places=2
    )
    assert [p.amount for p in payments] == [500, 505]
    assert (rounding, change) == (2, 495)


@pytest.mark.parametrize(
    ("tenders", "sentence"),
    [
        ([Tender("cash", 300)], "Cannot book a sale of 8.35: 3.00 in cash is 5.35 too little. "
         "Take the rest in cash or by card."),
        ([], "Cannot book a sale of 8.35: 8.35 is not paid. Take the rest in cash or by card."),
        ([Tender("card", 900)], "Cannot book a sale of 8.35: the card would pay 0.65 too much. "
         "A card pays at most the rest."),
    ],
)  # fmt: skip
def test_a_sale_that_is_not_paid_is_refused(tenders: list[Tender], sentence: str) -> None:
    with pytest.raises((NotEnoughPaid, Refused)) as refusal:
        settle(835, tuple(tenders), coin=1, places=2)
    assert str(refusal.value) == sentence


def test_a_card_number_is_never_taken_down() -> None:
    with pytest.raises(BadInput, match="it looks like a card number"):
        parse_tender("card", "5.00:4111 1111 1111 1111", 2)


@pytest.mark.parametrize("text", ["0%", "101%", "-5%", "x%", "NaN%", "1.005"])
def test_a_discount_that_means_nothing_is_refused(text: str) -> None:
    with pytest.raises(BadInput):
        parse_discount(text, "because", 2)


def test_items_are_read_as_people_write_them() -> None:
    assert parse_item("cup-small+ginger+sesame*2") == SlipItem(
        "cup-small", 2, toppings=("ginger", "sesame")
    )
    assert parse_item("firm-block@26328-01*3") == SlipItem("firm-block", 3, "26328-01", how="named")
    assert parse_item("pressed:0.35kg").weight == Measure(Decimal("0.35"), "kg")


@pytest.mark.parametrize("text", ["", "firm block", "Firm", "firm-block*", "*2", "a" * 300])
def test_what_is_no_item_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="it is not written as an item"):
        parse_item(text)


def given_back(sale: Sale, parts: Sequence[RefundLine]) -> Refund:
    """The record of lines that are given back."""
    return Refund(
        number="R", sale=sale.number, lines=tuple(parts), amount=0, kind="cash", why="sour", at=NOON
    )  # fmt: skip


def test_refunding_a_line_piece_by_piece_gives_back_every_cent() -> None:
    sale = sale_of(price("cup-small+sesame*3", discount=Discount(why="kind", amount=101)))
    before: list[Refund] = []
    back = 0
    for _ in range(3):
        parts = refund_lines(sale, before, {1: 1})
        back += sum(p.amount for p in parts)
        before.append(given_back(sale, parts))
    assert back == sale.total
    with pytest.raises(Refused, match="line 1 has 0 left to refund, not 1"):
        refund_lines(sale, before, {1: 1})
    with pytest.raises(Refused, match="nothing of it is left to refund"):
        refund_lines(sale, before, None)


ITEMS = st.lists(
    st.one_of(
        st.builds("firm-block*{}".format, st.integers(1, 12)),
        st.builds("cup-small{}*{}".format, st.sampled_from(["", "+ginger", "+sesame"]), st.integers(1, 4)),
        st.builds("pressed:0.{:02d}lb".format, st.integers(1, 99)),
    ),
    min_size=1, max_size=6,
)  # fmt: skip
TAXES = st.builds(
    lambda mode, rate: Tax(
        mode, {"prepared": Rate(rate, rate), "grocery": Rate(rate / 2, rate / 3)}
    ),
    st.sampled_from(["added", "included"]),
    st.decimals("0", "0.3", places=4),
)
DISCOUNTS = st.one_of(
    st.none(), st.builds(Discount, why=st.just("kind"), percent=st.decimals("0.5", "100", places=1))
)


@given(ITEMS, TAXES, DISCOUNTS)
def test_any_order_priced_twice_gives_the_same_cents_and_adds_up(
    items: list[str], tax: Tax, discount: Discount | None
) -> None:
    try:
        priced = price(*items, tax=tax, discount=discount)
    except Refused:
        return  # a discount that rounds to nothing
    assert priced == price(*items, tax=tax, discount=discount)
    assert sum(n.tax for n in priced.lines) == priced.tax
    assert sum(n.net for n in priced.lines) == priced.subtotal - priced.discount
    assert all(n.net >= 0 and n.tax >= 0 for n in priced.lines)
    added = priced.tax if tax.mode == "added" else 0
    assert priced.total == priced.subtotal - priced.discount + added
    sale = sale_of(priced)
    assert sum(line_total(sale, n) for n in sale.lines) == sale.total
    assert sum(p.amount for p in refund_lines(sale, [], None)) == sale.total


@given(ITEMS, st.integers(0, 20000), st.sampled_from([1, 5, 10]), st.integers(0, 5000))
def test_payments_rounding_and_change_always_add_up(
    items: list[str], cash: int, coin: int, card: int
) -> None:
    total = price(*items).total
    try:
        paid, rounding, change = settle(
            total, (Tender("card", card), Tender("cash", cash)), coin=coin, places=2
        )
    except Refused:
        return
    assert sum(p.amount for p in paid) == total + rounding
    assert sum(p.given for p in paid) - change == sum(p.amount for p in paid if p.kind == "cash")
    assert abs(rounding) * 2 <= coin
    assert change >= 0


@given(ITEMS, st.lists(st.integers(1, 3), max_size=12))
def test_refunds_never_give_back_more_than_was_paid(items: list[str], steps: list[int]) -> None:
    sale = sale_of(price(*items))
    before: list[Refund] = []
    back: list[Draw] = []
    for i, quantity in enumerate(steps):
        try:
            parts = refund_lines(sale, before, {i % len(sale.lines) + 1: quantity})
        except Refused:
            continue
        before.append(given_back(sale, parts))
        back += [d for p in parts for d in p.draws]
    try:
        rest = refund_lines(sale, before, None)
        before.append(
            Refund(
                number="R",
                sale=sale.number,
                lines=tuple(rest),
                amount=0,
                kind="cash",
                why="sour",
                at=NOON,
            )
        )
        back += [d for p in rest for d in p.draws]
    except Refused:
        pass
    assert sum(p.amount for r in before for p in r.lines) == sale.total
    assert sum(d.amount for d in back) == sum(d.amount for n in sale.lines for d in n.draws)


def test_a_booked_sale_survives_the_way_to_disk_and_back() -> None:
    sale = sale_of(price("firm-block*3", "pressed:6oz", "cup-small+sesame"), Tender("cash", 5000))
    assert msgspec.json.decode(msgspec.json.encode(sale), type=Sale) == sale
