"""Labels of the shop: weighed packs and their numbers, the catalogue's label fields, and what a
market asks of a catalogue."""

from __future__ import annotations

import io
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import msgspec
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from counter.errors import BadInput, Refused
from counter.shop.desk import Desk
from counter.shop.facts import card_of, facts_of
from counter.trade.catalogue import Catalogue, Ingredient, Pack, Part, Portion, Product
from counter.trade.catalogue_file import parse_catalogue, write_catalogue
from counter.trade.payments import Tender
from counter.trade.prices import line_price
from counter.trade.sales import Slip
from counter.trade.settings import parse_settings
from counter.trade.weighed import as_stated, weigh_pack
from labels.pdf import build_pdf
from labels.picture import png, render
from labels.plain import plain_text
from labels.restricted import REGIONS, Layout
from labels.units import Measure, parse_measure
from tests.conftest import CATALOGUE, DATED_CATALOGUE, SETTINGS, Maker, ShopInHand
from tests.often import examples

LOT = "26328-01"
EU = SETTINGS.replace('market = "us"', 'market = "eu"').replace(
    'language = "en_US"', 'language = "de_DE"'
)


def pounds(text: str) -> Measure:
    return Measure(Decimal(text), "lb")


def grams(text: str) -> Measure:
    return Measure(Decimal(text), "g")


def texts_on(picture: Image.Image) -> set[str]:
    found = zxingcpp.read_barcodes(picture.convert("L"), text_mode=zxingcpp.TextMode.Plain)
    return {code.text for code in found}


# -- packs of random weight


@pytest.mark.parametrize(
    ("weight", "net", "price"),
    [  # 8.90 a pound; half a cent goes up
        ("0.42", "NET WT / PESO NETO 0.42 LB (190 g)", "$8.90/lb · Total $3.74"),  # 3.738
        ("0.38", "NET WT / PESO NETO 0.38 LB (172 g)", "$8.90/lb · Total $3.38"),  # 3.382
        ("0.45", "NET WT / PESO NETO 0.45 LB (204 g)", "$8.90/lb · Total $4.01"),  # 4.005
        ("1", "NET WT / PESO NETO 1 LB (453 g)", "$8.90/lb · Total $8.90"),
        (
            "0.429",
            "NET WT / PESO NETO 0.42 LB (190 g)",
            "$8.90/lb · Total $3.74",
        ),  # what it states is paid
    ],
)
def test_a_weighed_pack_says_its_weight_price_a_pound_and_total(
    hand: ShopInHand, weight: str, net: str, price: str
) -> None:
    hand.batch("pressed", 4000)
    label = hand.shop.labels.label(LOT, weight=pounds(weight))
    said = {s.key: s.text for s in label.statements}
    assert said["net-quantity"].replace("1.00", "1") == net
    assert said["price"] == price


def test_each_weight_is_a_label_and_all_of_them_are_on_record(folder_shop: ShopInHand) -> None:
    hand = folder_shop
    hand.batch("pressed", 4000)
    weights = [pounds("0.42"), pounds("0.38"), pounds("0.42")]
    run = hand.shop.labels.print_labels([(LOT, None)], weights=weights)
    assert (run.labels, run.pages, run.lots) == (3, 3, (LOT,))
    assert [(p.lot, p.labels, p.again) for p in hand.shop.products.printed_of(LOT)] == [
        (LOT, 3, False)
    ]
    pages = [texts_on(render(Path(run.path), 300, page=page)) for page in range(3)]
    assert pages[0] == pages[2] != pages[1]
    again = hand.shop.labels.print_labels([(LOT, None)], weights=weights[:1])
    assert again.again == (LOT,)


@pytest.mark.parametrize(
    ("wanted", "why"),
    [
        ([(LOT, 3)], "Name one lot with its weights, and no number of labels"),
        ([(LOT, None), ("26328-02", None)], "Name one lot with its weights"),
        ([], "Name one lot with its weights"),
    ],
)
def test_weights_are_of_one_lot_and_a_label_each(
    make: Maker, wanted: Sequence[tuple[str, int | None]], why: str
) -> None:
    hand = make()
    hand.batch("pressed", 4000)
    with pytest.raises(BadInput, match=why):
        hand.shop.labels.print_labels(wanted, Path("nowhere.pdf"), weights=[pounds("0.4")])


def test_what_is_sold_by_the_piece_has_no_weighed_label(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    sentence = (
        "Cannot label a pack of Firm Tofu that weighs 0.42 lb: it is not sold by weight. "
        'Give it a portion with per = "lb" or "kg".'
    )
    with pytest.raises(Refused) as refusal:
        hand.shop.labels.label(LOT, weight=pounds("0.42"))
    assert str(refusal.value) == sentence


@pytest.mark.parametrize("weight", ["0", "0.001", "300"])
def test_what_is_no_weight_of_a_pack_is_refused(hand: ShopInHand, weight: str) -> None:
    hand.batch("pressed", 4000)
    with pytest.raises(BadInput, match=r"that is no weight of a pack\. Weigh it again\."):
        hand.shop.labels.label(LOT, weight=pounds(weight))


def test_without_a_fixed_weight_a_label_needs_the_weight(make: Maker) -> None:
    hand = make(catalogue=CATALOGUE.replace('net = "8 oz", panel_mm = [110, 80], symbols = ["lot", "weighed"]', 'panel_mm = [110, 80], symbols = ["lot", "weighed"]'))  # fmt: skip
    hand.batch("pressed", 4000)
    with pytest.raises(Refused, match=r"a pack of Pressed Tofu is weighed, and no weight is given"):
        hand.shop.labels.label(LOT)
    assert hand.shop.labels.label(LOT, weight=pounds("0.42")).symbols[1].symbol.kind == "upc-a"


def test_a_label_of_fixed_weight_carries_no_price_in_its_bars(hand: ShopInHand) -> None:
    hand.batch("pressed", 4000)
    assert [p.symbol.kind for p in hand.shop.labels.label(LOT).symbols] == ["code128"]


def test_explaining_a_weighed_label_gives_its_price_and_uses_the_shops_second_face(
    hand: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand.batch("pressed", 4000)
    rows = {row.key: row for row in hand.shop.cards.explain_label(LOT, weight=pounds("0.42"))}
    assert rows["price"].text == "$8.90/lb · Total $3.74"
    monkeypatch.setattr(Desk, "second_face", lambda self: Path("no-such-face.ttf"))
    for ask in (hand.shop.labels.label, hand.shop.cards.explain_label):
        with pytest.raises(Exception, match=r"no-such-face\.ttf"):
            ask(LOT)


# -- the number on it


SHOPS = {  # the layouts of shop.toml, the item digits, and the symbol
    "us": ('["us"]', "10001", "upc-a"),
    "us-plain": ('["us-plain"]', "100010", "upc-a"),
    "gb": ('["gb"]', "10001", "ean-13"),
    "de": ('["de"]', "1001", "ean-13"),
    "se": ('["se"]', "100010", "ean-13"),
    "fi": ('["fi"]', "100010", "ean-13"),  # weights in kilograms alone
    "weights": ('["21IIIIIWWWWWC"]', "10001", "ean-13"),
    "own": ('["2IIIIPPPPPPC"]', "1001", "upc-a"),
}


@pytest.mark.parametrize("name", SHOPS)
def test_a_weighed_pack_is_sold_by_its_own_bars_at_the_price_on_it(make: Maker, name: str) -> None:
    restricted, item, kind = SHOPS[name]
    hand = make(
        SETTINGS.replace('restricted = ["us"]', f"restricted = {restricted}"),
        CATALOGUE.replace('item = "10001"', f'item = "{item}"'),
    )
    hand.batch("pressed", 4000)
    for weight in (pounds("0.42"), pounds("1.37"), grams("523")):
        label = hand.shop.labels.label(LOT, weight=weight)
        picture = render(build_pdf([(label, 1)]).data, label.blank.dpi)
        (scanned,) = texts_on(picture) - {LOT}
        assert label.symbols[1].symbol.kind == kind
        (line,) = hand.shop.counter.price(Slip((hand.shop.counter.read_item(scanned),))).lines
        total = next(s.text for s in label.statements if s.key == "price").partition("Total $")[2]
        assert (line.portion, f"{line.price / 100:.2f}") == ("pressed", total)
        drawn = sum(d.amount for d in line.draws)
        assert abs(drawn - weight.base) <= 5  # from the price to a thousandth of a pound, and down


def test_a_weighed_pack_is_booked_at_the_price_on_it_although_the_price_changed(
    hand: ShopInHand,
) -> None:
    hand.batch("pressed", 4000)
    number = hand.shop.labels.label(LOT, weight=pounds("0.42")).symbols[1].symbol.data
    hand.shop.products.change_portion("pressed", 990)
    sale = hand.shop.counter.sell(
        Slip((hand.shop.counter.read_item(f"0{number}"),)), [Tender("card")]
    )
    assert sale.total == 374


def test_the_first_layout_with_room_for_the_price_is_taken() -> None:
    product = Product("p", "Pressed", "g", 5, pack=Pack(symbols=("weighed",), item="1001"))
    catalogue = Catalogue({"p": product}, {"p": Portion("p", "p", "Pressed", 0, 5000, "kg")})
    four = Layout("21IIIIVPPPPPC", 2)
    wide = Layout("2IIIIPPPPPPC", 2)
    small = Layout("2IIIIVPPPPPC", 2)
    assert weigh_pack(product, catalogue, grams("300"), [four, wide], 2).number[:2] == "21"
    heavy = weigh_pack(product, catalogue, grams("40000"), [small, wide], 2)
    assert (heavy.price, heavy.number[:11]) == (200_000, "21001200000")
    with pytest.raises(Refused, match="its number has no room for price"):
        weigh_pack(product, catalogue, grams("40000"), [small], 2)
    with pytest.raises(Refused, match="no layout in shop.toml takes item '1001'"):
        weigh_pack(product, catalogue, grams("300"), REGIONS["us"], 2)


def test_an_eu_shop_weighs_in_kilograms_and_writes_its_own_money(make: Maker) -> None:
    settings_text = (
        EU.replace('currency = "USD"', 'currency = "EUR"')
        .replace('mode = "added"', 'mode = "included"')
        .replace('restricted = ["us"]', 'restricted = ["de"]')
    )
    text = DATED_CATALOGUE.replace('per = "lb"', 'per = "kg"').replace('"10001"', '"1001"')
    hand = make(settings_text, text)
    hand.batch("pressed", 4000)
    label = hand.shop.labels.label(LOT, weight=grams("415.6"))
    said = {s.key: s.text.replace("\N{NO-BREAK SPACE}", " ") for s in label.statements}
    assert said["net-quantity"] == "415 g"
    assert said["price"] == "8,90 €/kg · 3,69 €"  # 0.415 x 8.90 = 3.6935
    item = hand.shop.counter.read_item(label.symbols[1].symbol.data)
    assert (item.portion, item.label_price) == ("pressed", 369)


def test_the_counter_card_lists_ingredients_as_the_pack_does(folder_shop: ShopInHand) -> None:
    shop = folder_shop.shop
    pudding = shop.desk.catalogue.product("pudding")
    pack = msgspec.structs.replace(pudding.pack, sub_ingredients="dispersed", percent_clause="2")
    products = {"pudding": msgspec.structs.replace(pudding, pack=pack)}
    (food, *_) = card_of(
        {}, msgspec.structs.replace(shop.desk.catalogue, products=products), shop.desk.batch
    )
    assert (food.disperse, food.percent_clause) == (True, Decimal(2))


@given(
    st.integers(1, 100_000), st.integers(1, 20_000), st.sampled_from(["lb", "kg"]),
    st.sampled_from(["us", "gb", "de", "dk", "se", "fi"]),
)  # fmt: skip
@examples(150)
def test_a_pack_is_never_charged_for_more_than_it_weighs(
    weight: int, price: int, per: str, region: str
) -> None:
    layouts = [x for x in REGIONS[region] if x.measure in ("P", "W")]
    item = "1" * layouts[0].pattern.count("I")
    product = Product("p", "Pressed", "g", 5, pack=Pack(symbols=("weighed",), item=item))
    portion = Portion("p", "p", "Pressed", 0, price, per)
    catalogue = Catalogue({"p": product}, {"p": portion})
    try:
        pack = weigh_pack(product, catalogue, grams(str(weight)), layouts, 2)
    except Refused:
        return
    assert 0 < pack.weight.base <= weight
    assert pack.price == line_price(portion, 1, (), pack.weight)[0]
    assert as_stated(pack.weight, per).base <= pack.weight.base


# -- what the catalogue check says


def weighed(label: str, *, settings_text: str = SETTINGS, sold: str = 'per = "lb"') -> Catalogue:
    told = parse_settings(settings_text)
    text = CATALOGUE.replace(
        'label = { net = "8 oz", panel_mm = [110, 80], symbols = ["lot", "weighed"], item = "10001" }',
        f"label = {{ {label} }}",
    ).replace('per = "lb"', sold)
    classes = set(told.tax.classes)
    return parse_catalogue(text, 2, classes, market=told.shop.market, layouts=told.layouts)


NO_LAYOUT = SETTINGS.replace('restricted = ["us"]', "restricted = []")
COMPANY = SETTINGS.replace('restricted = ["us"]', 'restricted = ["4IIIIIIIIIIC"]')


@pytest.mark.parametrize(
    ("label", "settings_text", "why"),
    [
        ('symbols = ["weighed"], item = "10001"', NO_LAYOUT,
         "the symbol 'weighed' needs a layout with price or weight in it: name one in shop.toml, "
         'such as restricted = ["us"] under [labels]'),
        ('symbols = ["weighed"], item = "10001"', COMPANY, "the symbol 'weighed' needs a layout with price or"),
        ('symbols = ["weighed"], item = "123"', SETTINGS,
         "item '123' has 3 digits, and the layouts in shop.toml take 5"),
        ('symbols = ["weighed"]', SETTINGS, "the symbol 'weighed' needs item, the digits that"),
        ('symbols = ["weighed"], item = "1234A"', SETTINGS, "the symbol 'weighed' needs item"),
        ('symbols = ["weighed"], item = "١٢٣٤٥"', SETTINGS, "the symbol 'weighed' needs item"),
        ('symbols = ["lot"], item = "10001"', SETTINGS,
         "item '10001' is for the symbol 'weighed', which is not asked for"),
        ("e_mark = true", SETTINGS, "e_mark is of the EU (76/211/EEC), and the market is us"),
    ],
)  # fmt: skip
def test_a_label_entry_that_cannot_be_printed_is_refused_with_its_line(
    label: str, settings_text: str, why: str
) -> None:
    line = next(n for n, text in enumerate(CATALOGUE.splitlines(), 1) if 'item = "10001"' in text)
    with pytest.raises(BadInput) as refusal:
        weighed(label, settings_text=settings_text)
    assert f"'products.pressed.label' (line {line}): {why}" in str(refusal.value)


def test_the_weighed_symbol_is_for_what_is_sold_by_weight() -> None:
    with pytest.raises(BadInput, match="is for a product kept in grams with a portion per lb or"):
        weighed('symbols = ["weighed"], item = "10001"', sold='draws = "100 g"')


def test_two_products_never_share_their_item_digits() -> None:
    other = 'item = "10001" }\n[products.more]\nname = "More"\nkeeps = 3\nunit = "g"\n' + (
        'label = { symbols = ["weighed"], item = "10001" }'
    )
    text = CATALOGUE.replace('item = "10001" }', other)
    with pytest.raises(BadInput, match=r"item '10001' is that of pressed already"):
        parse_catalogue(text, 2, {"grocery", "prepared"})


def test_in_the_eu_a_product_says_which_date_it_bears(make: Maker) -> None:
    hand = make(EU, DATED_CATALOGUE)
    assert hand.shop.desk.catalogue.products["firm"].date == "best-by"
    with pytest.raises(BadInput) as refusal:
        hand.shop.products.load_catalogue(CATALOGUE)
    line = CATALOGUE.splitlines().index("[products.firm]") + 1
    assert str(refusal.value) == (
        f"Cannot read catalogue.toml: 'products.firm' (line {line}): say date = \"best-by\" or "
        '"use-by" (EU 1169/2011 Art. 24). Mend it and try again.'
    )
    assert hand.shop.desk.catalogue.products["firm"].date == "best-by"


def test_in_the_us_a_product_without_a_word_on_it_bears_best_by(hand: ShopInHand) -> None:
    assert {p.date for p in hand.shop.desk.catalogue.products.values()} == {"best-by"}


def test_a_changed_price_in_the_eu_keeps_which_date_each_product_bears(make: Maker) -> None:
    hand = make(EU, DATED_CATALOGUE.replace('keeps = 4', 'keeps = 4\n').replace(
        'name = "Soft Tofu"\nsecond_name = "Tofu suave"\ndate = "best-by"',
        'name = "Soft Tofu"\nsecond_name = "Tofu suave"\ndate = "use-by"'))  # fmt: skip
    hand.shop.products.change_portion("firm-block", 399)
    products = hand.shop.desk.catalogue.products
    assert (products["firm"].date, products["soft"].date) == ("best-by", "use-by")


@pytest.mark.parametrize(
    ("label", "why"),
    [
        ('percent_clause = "2"', "percent_clause is of the US list"),
        ('sub_ingredients = "dispersed"', "in the EU a compound ingredient is named"),
    ],
)
def test_what_only_the_us_knows_is_refused_in_the_eu(make: Maker, label: str, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        make(EU, DATED_CATALOGUE.replace('label = { net = "8 oz"', f'label = {{ {label}, net = "8 oz"', 1))  # fmt: skip


# -- fields of the catalogue that reach the label


def test_the_us_fields_of_a_label_entry_stand_on_the_label(make: Maker) -> None:
    old = 'label = { net = "8 oz", panel_mm = [110, 80], symbols = ["lot", "item"], number = "9521234000044" }'
    new = old.replace(
        "}", ', percent_clause = "2", sub_ingredients = "dispersed", low_bars = true }'
    )
    hand = make(catalogue=CATALOGUE.replace(old, new.replace(" ,", ",")))
    batch = hand.batch("spiced", 24)
    shop = hand.shop
    facts = facts_of(
        batch,
        shop.desk.catalogue.product("spiced"),
        shop.desk.catalogue,
        shop.desk.settings,
        shop.desk.batch,
    )
    assert (facts.percent_clause, facts.disperse, facts.low_bars) == (Decimal(2), True, True)
    said = {s.key: s.text for s in shop.labels.label(batch.lot).statements}
    assert "Soy Sauce" not in said["ingredients"]
    assert said["ingredients"].startswith("Ingredients: Water, Soybeans. Contains 2% or less of: ")
    assert said["contains"] == "Contains: soy, wheat."


def test_the_eu_fields_of_catalogue_entries_stand_on_the_label(make: Maker) -> None:
    text = DATED_CATALOGUE.replace(
        'label = { net = "14 oz"', 'label = { e_mark = true, net = "400 g"'
    ).replace('allergens = ["soy"]', 'allergens = ["soy"]\nquid = true')
    hand = make(EU, text)
    batch = hand.batch("firm", 48)
    said = {s.key: s.text for s in hand.shop.labels.label(batch.lot).statements}
    assert said["e-mark"] == "℮"
    assert "%)" in said["ingredients"].replace("\N{NO-BREAK SPACE}", " ")


@st.composite
def label_fields(draw: st.DrawFn) -> tuple[str, Catalogue]:
    """A market and a catalogue with every field of a label entry that it allows."""
    market = draw(st.sampled_from(["us", "eu"]))
    texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
    weighs = draw(st.booleans())
    pack = Pack(
        net=draw(st.sampled_from(["", "14 oz", "400 g"])), storage=plain_text(draw(texts)),
        handling=plain_text(draw(texts)), symbols=("weighed", "lot") if weighs else ("lot",),
        item=draw(st.text("0123456789", min_size=5, max_size=5)) if weighs else "",
        e_mark=market == "eu" and draw(st.booleans()),
        percent_clause="" if market == "eu" else draw(st.sampled_from(["", "2", "1.5", "1", "0.5"])),
        sub_ingredients="brackets" if market == "eu" else draw(st.sampled_from(["brackets", "dispersed"])),
        low_bars=draw(st.booleans()), beverage=draw(st.booleans()),
    )  # fmt: skip
    product = Product(
        "tofu", "Tofu", "g", 5, date=draw(st.sampled_from(["best-by", "use-by"])),
        recipe=(Part("beans", Decimal(10), "10 g"),), pack=pack,
    )  # fmt: skip
    beans = Ingredient("beans", "Beans", allergens=("soy",), quid=draw(st.booleans()))
    portion = Portion("one", "tofu", "One", 0, 890, draw(st.sampled_from(["lb", "kg"])))
    return market, Catalogue({"tofu": product}, {"one": portion}, {}, {"beans": beans})


@given(label_fields())
def test_every_label_field_is_written_and_read_back_equal(told: tuple[str, Catalogue]) -> None:
    market, made = told
    text = write_catalogue(made, 2)
    read = parse_catalogue(text, 2, set(), "c.toml", market, REGIONS["us"])  # type: ignore[arg-type]
    assert read == made


def test_the_law_above_covers_every_field_of_a_label_entry() -> None:
    """A field that is added to Pack and forgotten by the writer does not go unseen."""
    full = Pack(
        "14 oz", "12 oz", "roll", ("lot", "item", "weighed"), "9521234000013", "10001", "cylinder",
        (Decimal(10), Decimal(20)), "cold", "soon", True, "2", "dispersed", True, True,
    )  # fmt: skip
    usual = Pack()
    written = write_catalogue(Catalogue({"p": Product("p", "P", "g", 1, pack=full)}), 2)
    for field in msgspec.structs.fields(Pack):
        assert getattr(full, field.name) != getattr(usual, field.name)
        assert f"{field.name} = " in written


# -- dots


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_a_picture_of_a_label_has_the_printers_dots_and_is_read(
    folder_shop: ShopInHand, tmp_path: Path, dpi: int
) -> None:
    hand = folder_shop
    hand.batch("firm", 3)
    run = hand.shop.labels.print_labels([(LOT, 1)], dpi=dpi)
    picture = hand.shop.labels.picture_labels(run, tmp_path / "label.png")
    with Image.open(picture) as dots:
        assert dots.mode == "1"
        assert dots.size == {203: (800, 600), 300: (1182, 886), 600: (2363, 1772)}[dpi]
        assert texts_on(dots) == {LOT, "9521234000013"}
        check_bars(dots, hand, dpi)


def check_bars(dots: Image.Image, hand: ShopInHand, dpi: int) -> None:
    """Every bar and every space of each symbol is its modules times the dots of one, no more."""
    label = hand.shop.labels.label(LOT, dpi=dpi)
    per_point = (203.2 if dpi == 203 else dpi) / 72
    height = label.blank.height / 25.4 * 72
    for placed in label.symbols:
        row = round((height - placed.y - placed.height / 2) * per_point)
        quiet = placed.symbol.quiet[0] * placed.dots
        left = round(placed.x * per_point) + quiet
        line = [
            dots.getpixel((x, row)) for x in range(left, left + placed.symbol.modules * placed.dots)
        ]
        wanted = [
            0 if number % 2 == 0 else 255
            for number, modules in enumerate(placed.symbol.bars)
            for _ in range(modules * placed.dots)
        ]
        assert line == wanted


def test_a_blank_keeps_its_own_dots_if_none_are_asked_for(hand: ShopInHand) -> None:
    assert hand.shop.labels.blank("roll-60x80").dpi == 203
    assert hand.shop.labels.blank("roll-60x80", 600).dpi == 600


def test_the_picture_is_that_of_the_file(folder_shop: ShopInHand, tmp_path: Path) -> None:
    hand = folder_shop
    hand.batch("firm", 3)
    run = hand.shop.labels.print_labels([(LOT, 1)])
    made = hand.shop.labels.picture_labels(run, tmp_path / "label.png").read_bytes()
    assert made == png(run.path, run.dpi)
    assert Image.open(io.BytesIO(made)).mode == "1"


def test_pounds_from_the_command_line_are_exact() -> None:
    assert as_stated(parse_measure("0.42 lb"), "lb") == pounds("0.42")
    assert as_stated(parse_measure("0.004 lb"), "lb") == pounds("0.004")
    assert as_stated(parse_measure("0.35kg"), "kg") == grams("350")


def test_the_water_a_block_lies_in_is_no_part_of_the_food(folder_shop: ShopInHand) -> None:
    shop = folder_shop.shop
    batch = folder_shop.batch("firm", 48)
    firm = shop.desk.catalogue.product("firm")
    for drained, finished in (("", Decimal(396 * 48)), ("300 g", Decimal(300 * 48))):
        pack = msgspec.structs.replace(firm.pack, net="396 g", drained=drained)
        product = msgspec.structs.replace(firm, pack=pack)
        facts = facts_of(batch, product, shop.desk.catalogue, shop.desk.settings, shop.desk.batch)
        assert facts.finished == finished
