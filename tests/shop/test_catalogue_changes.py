"""A change of the catalogue shows itself, what is doubtful is asked, what is on hand stays whole.

Allergens on labels: 21 USC 343(w), Regulation (EU) 1169/2011 Art. 9(1)(c). A third of a price:
common practice, no source.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import msgspec
import pytest

from counter.errors import Asked, BadInput, NotFound, Refused
from counter.shop.production import BatchNote
from counter.trade.asking import Answer
from counter.trade.catalogues import timeline
from counter.trade.payments import Tender
from counter.trade.sales import Sale, Slip
from labels.checks import check_digit
from tests.conftest import CATALOGUE, SETTINGS, ZONE, Maker, ShopInHand

HARD = CATALOGUE.replace("[products.firm]", "[products.hard]").replace(
    'product = "firm"', 'product = "hard"'
)
OLD_PRICE, NEW_PRICE = 'price = "3.25"', 'price = "3.75"'
DEARER = CATALOGUE.replace(OLD_PRICE, NEW_PRICE, 1)


def without(*tables: str) -> str:
    """The catalogue without some of its tables."""
    text = CATALOGUE
    for table in tables:
        head, _, tail = text.partition(f"[{table}]")
        text = head + tail[tail.index("\n[") :]
    return text


GONE = without("products.firm", "portions.firm-block")


def lines_of(hand: ShopInHand, text: str) -> list[tuple[str, str, str, str]]:
    found = hand.shop.products.look_at_catalogue(text).lines
    return [(one.name, one.what, one.old, one.new) for one in found]


def asked_about(hand: ShopInHand, text: str, since: date | None = None) -> list[str]:
    try:
        hand.shop.products.load_catalogue(text, since=since)
    except Asked as error:
        return [q.about for q in error.questions]
    return []


def sold_late(hand: ShopInHand, item: str, at: str) -> Sale:
    moment = datetime.fromisoformat(at).replace(tzinfo=ZONE)
    items = (hand.shop.counter.read_item(item, moment),)
    return hand.shop.counter.sell(Slip(items), [Tender("card")], moment)


# -- what changes is said


@pytest.mark.parametrize(("old", "new", "line"), [
    (OLD_PRICE, NEW_PRICE, ("Firm block", "price", "3.25", "3.75")),
    ('price = "9.00"', 'price = "9.30"', ("Firm block", "breaks", "3 for 9.00", "3 for 9.30")),
    ('last_day_price = "2.25"\n', "", ("Firm block", "last day price", "2.25", "–")),
    ("keeps = 5", "keeps = 4", ("Firm Tofu", "keeps", "5", "4")),
    ('net = "14 oz"', 'net = "15 oz"', ("Firm Tofu", "label net", "14 oz", "15 oz")),
    ('allergens = ["soy"]', 'allergens = ["soy", "milk"]',
     ("Soybeans", "allergens", "soy", "soy, milk")),
    ('name = "Salt"', 'name = "Sea Salt"', ("Salt", "name", "Salt", "Sea Salt")),
    ('gypsum = "30 g"', 'gypsum = "33 g"', ("Firm Tofu", "recipe gypsum", "30 g", "33 g")),
])  # fmt: skip
def test_each_changed_entry_is_a_line_from_old_to_new(
    hand: ShopInHand, old: str, new: str, line: tuple[str, str, str, str]
) -> None:
    assert old in CATALOGUE
    assert lines_of(hand, CATALOGUE.replace(old, new, 1)) == [line]


def test_things_that_come_and_go_are_one_line_each_with_all_that_is_said_of_them(
    hand: ShopInHand,
) -> None:
    gone = {name: (old, new) for name, what, old, new in lines_of(hand, GONE) if not what}
    assert gone["Firm block"][0].startswith("product firm, name Firm block, draws 1, price 3.25")
    assert (set(gone), {new for _, new in gone.values()}) == ({"Firm block", "Firm Tofu"}, {""})
    hand.shop.products.load_catalogue(GONE)
    come = {name: new for name, what, _, new in lines_of(hand, CATALOGUE) if not what}
    assert come == {name: old for name, (old, _) in gone.items()}


def test_a_key_alone_that_changes_is_one_thing_and_not_two(hand: ShopInHand) -> None:
    assert lines_of(hand, HARD) == [
        ("Firm Tofu", "key", "firm", "hard"), ("Firm block", "product", "firm", "hard")
    ]  # fmt: skip
    assert lines_of(hand, CATALOGUE) == []


def test_the_file_as_it_is_handed_out_changes_nothing(hand: ShopInHand) -> None:
    text = hand.shop.products.catalogue_text()
    assert 'temperature = "95 C"' in text
    assert lines_of(hand, text) == []
    hot = text.replace('"95 C"', '"100C"', 1)
    assert [line[2:] for line in lines_of(hand, hot)] == [("95 C", "100 C")]


def test_looking_writes_nothing(folder_shop: ShopInHand) -> None:
    shop = folder_shop.shop
    before = shop.desk.books.end()
    shop.products.look_at_catalogue(DEARER, since=date(2026, 12, 1))
    assert shop.desk.books.end() == before
    assert shop.desk.catalogue.portions["firm-block"].price == 325


# -- what cannot be


@pytest.mark.parametrize("key", ["soyy", "Soy", "tree-nut", "soy:black", ""])
def test_an_allergen_that_is_none_is_refused(hand: ShopInHand, key: str) -> None:
    text = CATALOGUE.replace('allergens = ["wheat"]', f'allergens = ["{key}"]')
    with pytest.raises(BadInput, match=rf"'ingredients.wheat-flour.allergens' \(line .*'{key}'"):
        hand.shop.products.load_catalogue(text)


TWELVE = "95212340000" + str(check_digit("95212340000"))


@pytest.mark.parametrize(("first", "number"), [
    ("9521234000013", "9521234000013"), (TWELVE, f"0{TWELVE}"), (f"0{TWELVE}", TWELVE),
])  # fmt: skip
def test_a_number_that_stands_twice_is_refused_however_many_zeros_it_has(
    hand: ShopInHand, first: str, number: str
) -> None:
    text = CATALOGUE.replace("9521234000013", first).replace("9521234000020", number)
    with pytest.raises(BadInput, match=f"number '{number}' is that of firm already"):
        hand.shop.products.load_catalogue(text)


# -- what is asked


HOT = CATALOGUE.replace(
    'second_name = "Especias"', 'second_name = "Especias"\nallergens = ["mustard"]'
).replace('ginger = "200 g" }', 'ginger = "200 g", five-spice = "1 g" }')


@pytest.mark.parametrize(("old", "new", "about"), [
    ('\nallergens = ["mustard"]', "", ["allergen.five-spice"]),
    (', five-spice = "1 g"', "", ["allergen.ginger-syrup"]),
    (', five-spice = "15 g"', "", ["recipe.spiced"]),
    ('soy-sauce = "300 g", ', "", ["recipe.spiced"]),  # its wheat
    ('\ningredient = "ginger-syrup"', "", ["topping.ginger.allergen"]),
    ('allergens = ["sesame"]', 'allergens = ["sesame", "milk"]', []),
])  # fmt: skip
def test_an_allergen_that_goes_is_asked_where_it_went(
    hand: ShopInHand, old: str, new: str, about: list[str]
) -> None:
    assert old in HOT
    hand.shop.products.load_catalogue(HOT)
    assert asked_about(hand, HOT.replace(old, new, 1)) == about


def test_an_allergen_that_comes_is_asked_about_where_packs_are_printed_without_it(
    make: Maker, tmp_path: Path
) -> None:
    # 21 USC 343(w), 403(a); Regulation (EU) 1169/2011 Art. 9(1)(c): the packs on hand lack it
    named_so = CATALOGUE.replace('name = "Spices"', 'allergens = ["sesame"]\nname = "Spices"')
    hand = make()
    lot = hand.batch("spiced", 24).lot
    assert hand.shop.products.look_at_catalogue(named_so).questions == ()
    hand.shop.labels.print_labels([(lot, 24)], tmp_path / "x.pdf", "roll-100x150")
    hand.clock.forward(minutes=1)
    question = hand.shop.products.look_at_catalogue(named_so).questions[0]
    assert question.text == f"the printed labels of lot {lot} do not name sesame"
    with pytest.raises(Asked):
        hand.shop.products.load_catalogue(named_so)
    hand.shop.desk.questions.given = {f"printed.{lot}": "all 24 are labelled anew"}
    hand.shop.products.load_catalogue(named_so)
    label = hand.shop.labels.label(lot, "roll-100x150").statements
    assert "Contains: soy, wheat, sesame." in [s.text for s in label]
    hand.shop.waste.throw_away(lot, 24, "broken")
    nuts = named_so.replace('["sesame"]', '["sesame", "peanut"]')
    assert hand.shop.products.look_at_catalogue(nuts).questions == ()  # nothing of it is there


NEAR = CATALOGUE.replace('name = "Firm Tofu"', 'name = "Firm Tofu"\nmay_contain = ["sesame"]')
KITCHEN = f'{CATALOGUE}\n[kitchen]\nmay_contain = ["mustard"]\n'


@pytest.mark.parametrize(("text", "about"), [
    (NEAR, "may-contain.firm"), (KITCHEN, "may-contain.kitchen"),
])  # fmt: skip
def test_what_may_be_in_it_is_asked_when_it_goes_and_stays_on_what_was_made(
    hand: ShopInHand, text: str, about: str
) -> None:
    def said() -> str:
        rows = hand.shop.cards.explain_label(made.lot)
        return next((r.text for r in rows if r.key == "may-contain"), "")

    hand.shop.products.load_catalogue(text)
    hand.clock.forward(minutes=1)
    made = hand.batch("firm", 48)
    before = said()
    assert before
    hand.clock.forward(minutes=1)
    assert asked_about(hand, CATALOGUE) == [about]
    hand.shop.desk.questions.given = {about: "a kitchen of its own"}
    hand.shop.products.load_catalogue(CATALOGUE)
    assert said() == before


@pytest.mark.parametrize(("price", "asked"), [
    ("4.33", False), ("4.34", True), ("2.17", False), ("2.16", True), ("32.50", True),
    ("0.33", True), ("0", True), ("3.25", False),
])  # fmt: skip
def test_a_price_that_moves_by_a_third_or_ten_times_is_asked(
    hand: ShopInHand, price: str, asked: bool
) -> None:
    text = CATALOGUE.replace(OLD_PRICE, f'price = "{price}"', 1)
    assert asked_about(hand, text) == (["price.firm-block"] if asked else [])


def test_a_price_is_asked_about_where_the_portion_got_another_key(hand: ShopInHand) -> None:
    moved = CATALOGUE.replace("[portions.firm-block]", "[portions.firm-piece]")
    assert asked_about(hand, moved.replace(OLD_PRICE, 'price = "6.50"', 1)) == ["price.firm-block"]
    assert asked_about(hand, moved) == []


@pytest.mark.parametrize(("old", "new", "about"), [
    ('price = "9.00"', 'price = "90.00"', "price.firm-block.3"),
    ('last_day_price = "2.25"', 'last_day_price = "22.50"', "price.firm-block.last-day"),
])  # fmt: skip
def test_prices_for_several_and_of_the_last_day_are_asked_too(
    hand: ShopInHand, old: str, new: str, about: str
) -> None:
    assert asked_about(hand, CATALOGUE.replace(old, new, 1)) == [about]


@pytest.mark.parametrize(("old", "new", "text"), [
    ('per = "lb"', 'per = "kg"', "Pressed tofu costs $8.90/kg and not $8.90/lb"),
    ('draws = "8 fl oz"', 'draws = "4 fl oz"', "Small cup costs $3.50/118 ml and not $3.50/237 ml"),
])  # fmt: skip
def test_a_price_that_stands_is_asked_about_where_it_is_for_less_or_more(
    hand: ShopInHand, old: str, new: str, text: str
) -> None:
    asked = hand.shop.products.look_at_catalogue(CATALOGUE.replace(old, new, 1)).questions
    assert [q.text for q in asked] == [text]
    fair = CATALOGUE.replace('price = "8.90"\nper = "lb"', 'price = "19.62"\nper = "kg"')
    assert hand.shop.products.look_at_catalogue(fair).questions == ()


def test_a_price_changed_on_the_page_ten_times_the_last_is_asked_and_the_answer_kept(
    hand: ShopInHand,
) -> None:
    with pytest.raises(Asked) as caught:
        hand.shop.products.change_portion("firm-block", 3250)
    assert str(caught.value).startswith(
        "Cannot change portion firm-block: Firm block costs $32.50 and not $3.25."
    )
    assert hand.shop.desk.catalogue.portions["firm-block"].price == 325
    hand.shop.desk.questions.given = {"price.firm-block": "gold leaf"}
    hand.shop.products.change_portion("firm-block", 3250, by="Ana")
    (kept,) = hand.shop.desk.books.entries("catalogue")[-1].records["answers"]
    assert isinstance(kept, Answer)
    assert (kept.words, kept.by) == ("gold leaf", "Ana")
    assert hand.shop.desk.catalogue.portions["firm-block"].price == 3250


@pytest.mark.parametrize("text", [GONE, HARD])
def test_a_product_with_stock_that_is_removed_or_renamed_is_asked(
    hand: ShopInHand, text: str
) -> None:
    assert asked_about(hand, text) == []
    hand.clock.forward(minutes=1)
    hand.shop.products.load_catalogue(CATALOGUE)
    hand.batch("firm", 48)
    assert asked_about(hand, text) == ["on-hand.firm"]
    assert "firm" in hand.shop.desk.catalogue.products


# -- what was on hand stays sellable, labelled and named


@pytest.fixture(params=[GONE, HARD], ids=["removed", "renamed"])
def left(request: pytest.FixtureRequest, folder_shop: ShopInHand) -> ShopInHand:
    """A shop whose firm tofu has left the catalogue while 48 of it were on hand."""
    folder_shop.batch("firm", 48)
    folder_shop.clock.set("2026-11-24 08:30")
    folder_shop.shop.desk.questions.given = {"on-hand.firm": "no longer made"}
    folder_shop.shop.products.load_catalogue(request.param)
    folder_shop.shop.desk.questions.given = {}
    return folder_shop


LOT = "26328-01"


@pytest.mark.parametrize("item", [LOT, "9521234000013", "]E09521234000013"])
def test_what_left_the_catalogue_is_scanned_and_sold_at_its_last_price(
    left: ShopInHand, item: str
) -> None:
    sale = left.sell(item)
    assert (sale.total, sale.lines[0].draws[0].lot) == (325, LOT)
    assert left.sell(f"{LOT}*3").total == 900


def test_what_left_the_catalogue_is_named_on_shelf_closing_trace_and_papers(
    left: ShopInHand,
) -> None:
    shop = left.shop
    (row,) = [p for p in shop.counter.shelf().products if p.lots]
    assert (row.product, row.name) == ("firm", "Firm Tofu")
    assert [p.name for p in shop.desk.for_sale().portions_of("firm")] == ["Firm block"]
    assert (
        shop.reports.telling().product("firm")
        == shop.desk.catalogues.names()["firm"]
        == "Firm Tofu"
    )
    left.sell(LOT)
    shop.evening.count(LOT, 40)
    shop.waste.throw_away(LOT, 7, "broken")
    figures = shop.evening.closing_preview(cash=15000).lots[0]
    assert figures.balances
    assert shop.evening.close_day(cash=15000).lots[0].product == "firm"
    assert shop.closings.trace(LOT).batch.product == "firm"
    day = shop.reports.day_summary(date(2026, 11, 24))
    assert shop.reports.telling(shop.desk.catalogues.of(day.at)).product("firm") == "Firm Tofu"


def test_what_left_the_catalogue_is_still_labelled(left: ShopInHand) -> None:
    text = {r.key: r.text for r in left.shop.cards.explain_label(LOT)}
    assert text["contains"] == "Contains: soy."
    assert left.shop.labels.labels_for(left.shop.desk.batch(LOT)) == 48
    assert left.shop.labels.print_labels([(LOT, 2)]).labels == 2


def test_what_left_the_catalogue_is_neither_made_anew_nor_planned(left: ShopInHand) -> None:
    with pytest.raises(NotFound, match="there is no product 'firm'"):
        left.batch("firm", 10)
    assert "[products.firm]" not in left.shop.products.catalogue_text()


def test_a_tub_that_left_the_catalogue_is_scooped_to_the_end(folder_shop: ShopInHand) -> None:
    _, tub = folder_shop.pudding()
    cups = [
        k for k, p in folder_shop.shop.desk.catalogue.portions.items() if p.product == "pudding"
    ]
    folder_shop.shop.desk.questions.given = {"on-hand.pudding": "no longer made"}
    folder_shop.shop.products.load_catalogue(
        without("products.pudding", *(f"portions.{c}" for c in cups))
    )
    assert folder_shop.sell("cup-small").lines[0].draws[0].tub == tub


# -- a day from which it holds


def test_a_catalogue_with_a_day_waits_and_holds_from_midnight_on(hand: ShopInHand) -> None:
    shop = hand.shop
    hand.batch("firm", 48)
    shop.products.load_catalogue(DEARER, since=date(2026, 11, 25))
    assert [c.since for c in shop.products.waiting_catalogues()] == [date(2026, 11, 25)]
    hand.clock.set("2026-11-24 23:59")
    assert hand.sell("firm-block").total == 325
    hand.clock.set("2026-11-25 00:00")  # the trading day is still the 24th: a date is a date
    assert hand.sell("firm-block").total == 375
    assert shop.products.waiting_catalogues() == []


def test_midnight_is_that_of_the_zone_that_shop_toml_says_now(folder_shop: ShopInHand) -> None:
    hand, then = folder_shop, datetime(2026, 11, 24, 22, 0, tzinfo=ZONE)
    hand.shop.products.load_catalogue(DEARER, since=date(2026, 11, 25))
    hand.clock.set("2026-11-25 10:00")
    hand.shop.products.load_catalogue(DEARER.replace('name = "Salt"', 'name = "Sea Salt"'))
    assert hand.shop.desk.catalogues.at(then).portions["firm-block"].price == 325
    assert hand.shop.desk.folder is not None
    eastern = SETTINGS.replace("America/Los_Angeles", "America/New_York")
    (hand.shop.desk.folder / "shop.toml").write_text(eastern, "utf-8")
    assert hand.shop.setup.follow_settings()
    assert hand.shop.desk.catalogues.at(then).portions["firm-block"].price == 375  # 01:00 there


def test_a_recipe_with_a_day_holds_for_the_batches_of_that_day(hand: ShopInHand) -> None:
    text = CATALOGUE.replace('gypsum = "30 g"', 'gypsum = "40 g"')
    hand.shop.products.load_catalogue(text, since=date(2026, 11, 25))
    grams = {p.ingredient: p.grams for p in hand.batch("firm", 8).ingredients}
    hand.clock.set("2026-11-25 04:10")
    after = {p.ingredient: p.grams for p in hand.batch("firm", 8).ingredients}
    assert (grams["gypsum"], after["gypsum"]) == (Decimal(30), Decimal(40))
    late = hand.shop.production.log_batch(
        "firm", BatchNote(made=8, boiled_minutes=10), hand.clock.moment.replace(day=24)
    )
    assert {p.ingredient: p.grams for p in late.ingredients} == grams


def test_a_waiting_catalogue_goes_on_waiting_and_the_next_change_says_so(hand: ShopInHand) -> None:
    shop, day = hand.shop, date(2026, 12, 1)
    shop.products.load_catalogue(DEARER, since=day)
    salted = CATALOGUE.replace('name = "Salt"', 'name = "Sea Salt"')
    assert shop.products.look_at_catalogue(salted).after == (day,)
    shop.products.load_catalogue(salted)
    assert shop.desk.catalogue.ingredients["salt"].name == "Sea Salt"
    hand.clock.set("2026-12-01 08:00")
    assert shop.desk.catalogue.portions["firm-block"].price == 375
    assert shop.desk.catalogue.ingredients["salt"].name == "Salt"


def test_a_second_one_for_the_same_day_takes_the_place_and_one_is_taken_back(
    hand: ShopInHand,
) -> None:
    shop, day = hand.shop, date(2026, 12, 1)
    shop.products.load_catalogue(DEARER, since=day)
    shop.products.load_catalogue(CATALOGUE.replace(OLD_PRICE, 'price = "3.95"'), since=day)
    assert [c.portions["firm-block"].price for c in shop.products.waiting_catalogues()] == [395]
    with pytest.raises(NotFound, match="there is no waiting catalogue '2026-12-02'"):
        shop.products.take_back_catalogue(date(2026, 12, 2))
    shop.products.take_back_catalogue(day)
    hand.clock.set("2026-12-01 08:00")
    assert (
        shop.products.waiting_catalogues(),
        shop.desk.catalogue.portions["firm-block"].price,
    ) == ([], 325)


def test_a_day_that_has_passed_is_refused_and_today_holds_at_once(hand: ShopInHand) -> None:
    with pytest.raises(BadInput, match="2026-11-23 has passed"):
        hand.shop.products.load_catalogue(DEARER, since=date(2026, 11, 23))
    hand.shop.products.load_catalogue(DEARER, since=date(2026, 11, 24))
    assert hand.shop.desk.catalogue.portions["firm-block"].price == 375


def test_a_pin_or_an_answer_kept_meanwhile_leaves_the_waiting_one_waiting(
    folder_shop: ShopInHand,
) -> None:
    from counter.shop.staffing import set_pin
    from counter.trade.asking import Question

    shop = folder_shop.shop
    shop.products.load_catalogue(DEARER, since=date(2026, 12, 1))
    folder_shop.clock.forward(minutes=1)
    set_pin(shop.desk, "rosa", "4711")
    shop.desk.questions.given = {"claim": "certified"}
    shop.desk.questions.confirm([Question(about="claim", tried="label it", text="organic?")])
    assert len(shop.products.waiting_catalogues()) == 1
    again = type(shop).open(shop.desk.folder, folder_shop.clock)  # type: ignore[arg-type]
    folder_shop.clock.set("2026-12-01 08:00")
    assert again.desk.catalogue.portions["firm-block"].price == 375
    assert msgspec.structs.replace(again.desk.catalogue, since=None) != shop.desk.catalogues.at(
        datetime(2026, 11, 30, tzinfo=ZONE)
    )


def test_a_waiting_catalogue_does_not_touch_the_labels_of_today(folder_shop: ShopInHand) -> None:
    made = folder_shop.batch("firm", 8)
    text = CATALOGUE.replace('allergens = ["soy"]', 'allergens = ["soy", "milk"]', 1)
    folder_shop.shop.products.load_catalogue(text, since=date(2026, 11, 25))
    said = {r.key: r.text for r in folder_shop.shop.cards.explain_label(made.lot)}["contains"]
    assert said == "Contains: soy."
    folder_shop.clock.set("2026-11-25 08:00")  # one too many is a nuisance, one too few a danger
    said = {r.key: r.text for r in folder_shop.shop.cards.explain_label(made.lot)}["contains"]
    assert said == "Contains: soy, milk."


def test_a_catalogue_that_waits_without_the_owner_opens_the_shop_to_nobody(
    folder_shop: ShopInHand,
) -> None:
    from counter.shop.staffing import remove_pin, set_pin

    shop, day = folder_shop.shop, date(2026, 12, 1)
    shop.products.load_catalogue(CATALOGUE.replace('role = "owner"', 'role = "maker"'), since=day)
    with pytest.raises(Refused, match=f"the catalogue that waits for {day} has no owner with a PI"):
        set_pin(shop.desk, "rosa", "4711")
    shop.products.take_back_catalogue(day)
    set_pin(shop.desk, "rosa", "4711")
    with pytest.raises(Refused, match="no owner with a PIN would be left"):
        shop.products.load_catalogue(
            CATALOGUE.replace('role = "owner"', 'role = "maker"'), since=day
        )
    remove_pin(shop.desk, "rosa")


def test_a_tax_class_that_a_waiting_catalogue_needs_is_not_taken_away(
    folder_shop: ShopInHand,
) -> None:
    from counter.trade.settings_text import SettingRefused

    shop = folder_shop.shop
    shop.products.load_catalogue(CATALOGUE, since=date(2026, 12, 1))
    shop.products.load_catalogue(CATALOGUE.replace('tax = "prepared"', 'tax = "grocery"'))
    gone = {("tax", "classes", "prepared"): None}
    with pytest.raises(SettingRefused, match="there is no tax class 'prepared'"):
        shop.setup.change_settings(gone, shop.setup.settings_file().digest)
    shop.products.take_back_catalogue(date(2026, 12, 1))
    assert shop.setup.change_settings(gone, shop.setup.settings_file().digest)


def test_a_price_entered_by_a_clock_that_was_ahead_is_in_use_all_the_same(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.clock.set("2026-11-25 09:00")
    hand.shop.products.change_portion("firm-block", 375)
    hand.clock.set("2026-11-24 09:00")
    assert hand.sell("firm-block").total == 375
    assert hand.shop.desk.catalogue.portions["firm-block"].price == 375
    assert sold_late(hand, "firm-block", "2026-11-24 08:00").total == 325


# -- a late note is booked at the price of its own moment


def test_a_late_note_is_booked_at_the_price_of_its_own_moment(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.clock.set("2026-11-24 12:00")
    hand.shop.products.change_portion("firm-block", 375)
    hand.clock.set("2026-11-24 13:00")
    assert sold_late(hand, "firm-block", "2026-11-24 08:30").total == 325
    assert sold_late(hand, "firm-block", "2026-11-24 12:30").total == 375
    hand.shop.products.load_catalogue(
        CATALOGUE.replace(OLD_PRICE, 'price = "3.95"'), since=date(2026, 11, 25)
    )
    hand.clock.set("2026-11-25 10:00")
    assert hand.sell("firm-block").total == 395
    assert sold_late(hand, "firm-block", "2026-11-24 18:00").total == 375
    slip = Slip((hand.shop.counter.read_item("firm-block"),))
    at = datetime(2026, 11, 24, 9, tzinfo=ZONE)
    assert (hand.shop.counter.price(slip, at).total, hand.shop.counter.price(slip).total) == (
        325,
        395,
    )


def test_a_late_note_finds_what_was_sold_then_and_has_left_since(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.clock.set("2026-11-24 12:00")
    hand.shop.desk.questions.given = {"on-hand.firm": "no longer made"}
    hand.shop.products.load_catalogue(HARD)
    late = sold_late(hand, "firm-block", "2026-11-24 08:30")
    assert (late.total, late.lines[0].product) == (325, "firm")


def test_a_late_note_of_the_last_day_has_the_last_day_price_and_of_the_day_after_is_refused(
    hand: ShopInHand,
) -> None:
    from counter.errors import NotSafe

    hand.batch("firm", 48)  # best by 2026-11-28
    hand.clock.set("2026-11-29 09:00")
    assert sold_late(hand, "firm-block", "2026-11-28 17:00").total == 225
    assert sold_late(hand, "firm-block", "2026-11-27 17:00").total == 325
    with pytest.raises(NotSafe, match="best-by date 2026-11-28 has passed"):
        sold_late(hand, "firm-block", "2026-11-29 08:00")


def test_a_refund_gives_back_what_the_sale_took_whatever_the_price_is_now(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    sale = hand.sell("firm-block")
    hand.clock.set("2026-11-24 12:00")
    hand.shop.products.change_portion("firm-block", 375)
    assert hand.shop.counter.refund(sale.number, "broken").amount == 325


def test_every_question_about_a_change_is_spanish_on_the_spanish_page(hand: ShopInHand) -> None:
    from counter.languages import language

    hand.batch("firm", 48)
    for text in (GONE, HARD, CATALOGUE.replace(OLD_PRICE, 'price = "9"', 1),
                 CATALOGUE.replace('soy-sauce = "300 g", ', "", 1)):  # fmt: skip
        questions = hand.shop.products.look_at_catalogue(text).questions
        assert questions
        for question in questions:
            shown = language("es", "es_US").shown(question.text)
            assert shown != question.text
            assert not {"the", "of", "and", "it", "as"} & set(shown.split())


@pytest.mark.parametrize(
    ("since", "came"), [("2026-11-01", "2026-11-24 04:10"), ("2026-12-01", "2026-12-01 00:00")]
)
def test_a_catalogue_holds_from_its_day_and_never_before_it_was_entered(
    hand: ShopInHand, since: str, came: str
) -> None:
    later = msgspec.structs.replace(hand.shop.desk.catalogue, since=date.fromisoformat(since))
    [(moment, held)] = timeline([(hand.clock(), [later])], ZONE)
    assert (f"{moment:%Y-%m-%d %H:%M}", held) == (came, later)
