"""A new shop neither prints nor sells before its name and its recipes are confirmed.

21 CFR 101.5 and EU 1169/2011 Art. 9(1)(h): name and place of business of the firm; 21 CFR 101.4(a)
and Art. 9(1)(b): what went in. An example is true of nobody.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from counter.errors import Asked, Refused
from counter.shop import Shop, make_shop
from counter.trade.settings import parse_settings
from counter.trade.starting import EXAMPLES, unwritten
from tests.conftest import SETTINGS, Maker, ShopInHand

STARTER = (files("counter") / "starters" / "shop.toml").read_text("utf-8")
EXAMPLE = (files("counter") / "starters" / "catalogue.toml").read_text("utf-8")
WRITTEN = STARTER
for field, example in EXAMPLES.items():
    own = {"name": "Alder Curd Kitchen", "street": "3 Weir Lane", "city": "Alder Ferry",
           "zip": "98799"}[field]  # fmt: skip
    WRITTEN = WRITTEN.replace(f'{field} = "{example}"', f'{field} = "{own}"')
NAMELESS = (
    "who the shop is stands there as in the example: name, street, city, zip. Write who you are "
    "under Set-up, or into shop.toml."
)
UNCONFIRMED = (
    "the recipes came with the program, and nobody has confirmed them. Load your own, or confirm "
    "them: under Set-up, or with `counter catalogue confirm`."
)


def refused(hand: ShopInHand, why: str, tmp_path: Path) -> None:
    """It logs and shows, and neither sells nor prints."""
    lot = hand.batch("firm", 8).lot
    shown = hand.shop.labels.label(lot)
    assert shown.statements
    for tried, act in (
        ("sell", lambda: hand.sell("firm-block")),
        ("print labels", lambda: hand.shop.labels.print_labels([(lot, 1)], tmp_path / "x.pdf")),
        ("write a counter card", lambda: hand.shop.cards.counter_card(tmp_path / "x.pdf")),
    ):
        with pytest.raises(Refused) as caught:
            act()
        assert str(caught.value) == f"Cannot {tried}: {why}"
        twin = hand.shop.products.refusal_for_new(tried)
        assert str(twin) == str(caught.value)
    assert not (tmp_path / "x.pdf").exists()


def test_the_example_of_a_shop_is_the_one_that_a_new_shop_begins_with() -> None:
    assert unwritten(parse_settings(STARTER).shop) == (*EXAMPLES,)
    assert unwritten(parse_settings(WRITTEN).shop) == ()
    assert unwritten(parse_settings(SETTINGS).shop) == ()


def test_a_shop_whose_name_nobody_wrote_neither_prints_nor_sells(
    make: Maker, tmp_path: Path
) -> None:
    refused(make(STARTER, EXAMPLE), NAMELESS, tmp_path)


def test_the_invented_shop_is_a_shop_of_its_own(hand: ShopInHand) -> None:
    assert hand.shop.products.refusal_for_new("sell") is None


@pytest.mark.parametrize(
    ("field", "text"),
    [("name", "YOUR SHOP’S NAME"), ("street", "1 Example Street,"), ("city", " Your  Town.")],
)
def test_an_example_with_a_comma_more_is_the_example_still(field: str, text: str) -> None:
    own = {line.partition(" ")[0]: line for line in WRITTEN.splitlines()}[field]
    told = parse_settings(WRITTEN.replace(own, f'{field} = "{text}"'))
    assert unwritten(told.shop) == (field,)


@pytest.mark.parametrize(("beans", "same"), [("1000 g", True), ("900 g", False)])
def test_recipes_in_another_order_or_in_grams_are_those_of_the_example_still(
    make: Maker, beans: str, same: bool
) -> None:
    firm = '{ soybeans = "1 kg", water = "7 l", gypsum = "30 g" }'
    assert firm in EXAMPLE
    turned = f'{{ gypsum = "30 g", soybeans = "{beans}", water = "7 l" }}'
    hand = make(WRITTEN, EXAMPLE.replace(firm, turned))
    assert (hand.shop.products.refusal_for_new("sell") is not None) is same


def test_one_line_of_the_example_left_in_the_address_is_enough(make: Maker) -> None:
    hand = make(WRITTEN.replace("3 Weir Lane", "1 Example Street"), EXAMPLE)
    assert "as in the example: street." in str(hand.shop.products.refusal_for_new("sell"))


def test_a_shop_whose_recipes_nobody_confirmed_neither_prints_nor_sells(
    make: Maker, tmp_path: Path
) -> None:
    refused(make(WRITTEN, EXAMPLE), UNCONFIRMED, tmp_path)


def test_another_price_confirms_no_recipe(make: Maker) -> None:
    hand = make(WRITTEN, EXAMPLE)
    hand.shop.products.change_portion("firm-block", 425)
    assert str(hand.shop.products.refusal_for_new("sell")) == f"Cannot sell: {UNCONFIRMED}"


def test_a_recipe_of_its_own_is_one(make: Maker) -> None:
    hand = make(WRITTEN, EXAMPLE.replace('water = "7 l", gypsum = "30 g"', 'water = "6 l"'))
    hand.batch("firm", 8)
    assert hand.sell("firm-block").total == 300


def test_the_recipes_are_confirmed_once_with_a_word_and_by_whom(make: Maker) -> None:
    hand = make(WRITTEN, EXAMPLE)
    with pytest.raises(Asked, match="they came with the program: are they yours"):
        hand.shop.products.confirm_recipes("Ana")
    hand.shop.desk.questions.given = {"recipes": "we make it just so"}
    hand.shop.products.confirm_recipes("Ana")
    hand.shop.desk.questions.given = {}
    kept = hand.shop.desk.questions.confirmed()["recipes"]
    assert (kept.words, kept.by) == ("we make it just so", "Ana")
    hand.batch("firm", 8)
    assert hand.sell("firm-block").total == 300


def test_nobody_else_may_read_a_shop_new_or_opened_again(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    for _ in range(2):  # made; then opened after somebody let all read it
        (
            make_shop(folder, SETTINGS) if not folder.exists() else Shop.open(folder)
        ).desk.books.close()
        assert folder.stat().st_mode & 0o777 == 0o700
        assert {p.stat().st_mode & 0o777 for p in folder.iterdir()} == {0o600}
        for path in (folder, *folder.iterdir()):
            path.chmod(0o755 if path.is_dir() else 0o644)
