"""Set-up over the page: prices, the catalogue file both ways, blanks, logo; refusals keep all."""

from __future__ import annotations

import io
import struct
import zlib
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from counter.trade.catalogue import Catalogue, Ingredient, Part, Person, Portion, Product, Topping
from counter.trade.catalogue_file import parse_catalogue, write_catalogue
from labels.naming import suspected
from labels.plain import plain_text
from tests.conftest import CATALOGUE, ShopInHand
from tests.lines import kept
from tests.web.conftest import Page, books_of

TAXES = {"grocery", "prepared"}


def text_of(answer: Any) -> str:
    return str(answer.get_data(as_text=True))


def prices(**changed: str) -> dict[str, str]:
    sent = {"portion": "firm-block", "price": "3.50", "last_day_price": "2.50", "sold": "yes",
            "several-0": "3", "several-price-0": "9.60"}  # fmt: skip
    return {**sent, **changed}


def files_of(hand: ShopInHand) -> dict[str, bytes]:
    """Every file of the shop that is not a log or a lock."""
    folder = hand.shop.desk.folder
    assert folder is not None
    return {name: data for name, data in kept(folder).items() if name != "counter.log"}


def test_a_new_price_holds_for_the_next_sale_and_not_for_the_last(
    page: Page, morning: ShopInHand
) -> None:
    before = morning.sell("firm-block", cash=325)
    assert page.post("/setup/products", prices()).status_code == 302
    after = morning.sell("firm-block*3")
    assert (before.total, after.total) == (325, 960)
    assert morning.shop.counter.sale(before.number).total == 325
    assert "costs $3.50 from now on" in text_of(page.get("/setup/products"))


def test_a_portion_switched_off_is_neither_shown_nor_sold_until_it_is_on_again(
    page: Page, morning: ShopInHand
) -> None:
    from counter.errors import Refused

    page.post("/setup/products", prices(sold=""))
    assert "firm-block" not in text_of(page.get("/shelf/"))
    with pytest.raises(Refused, match="Cannot sell firm-block: it is switched off"):
        morning.sell("firm-block")
    page.post("/setup/products", prices())
    assert morning.sell("firm-block").total == 350


def test_prices_that_are_as_they_were_write_nothing(page: Page, morning: ShopInHand) -> None:
    page.post("/setup/products", prices())
    before = books_of(morning)
    page.post("/setup/products", prices())
    assert books_of(morning) == before


@pytest.mark.parametrize(("changed", "status"), [
    ({"portion": ""}, 400), ({"portion": "gold"}, 404), ({"price": ""}, 400),
    ({"price": "-1"}, 400), ({"price": "1.005"}, 400), ({"price": "free"}, 400),
    ({"price": "1e3"}, 400), ({"price": "٣"}, 400), ({"price": "99999999999"}, 400),
    ({"several-0": "1"}, 400), ({"several-0": "3.5"}, 400), ({"several-0": "1001"}, 400),
    ({"several-price-0": ""}, 400), ({"several-1": "3", "several-price-1": "9"}, 400),
    ({"last_day_price": "x"}, 400), ({"price": "\x00"}, 400),
])  # fmt: skip
def test_a_price_that_cannot_be_is_refused_and_kept_in_the_form(
    page: Page, morning: ShopInHand, changed: dict[str, str], status: int
) -> None:
    before = books_of(morning)
    made = page.post("/setup/products", prices(**changed))
    assert made.status_code == status
    assert "Cannot " in text_of(made)
    assert books_of(morning) == before


# -- the file


def load(page: Page, data: bytes, **answers: str) -> Any:
    """Send a catalogue file, and put to use what the page shows of it, with answers."""
    shown = page.post("/setup/catalogue", {"file": (io.BytesIO(data), "catalogue.toml")})
    if shown.status_code != 200:
        return shown
    sure = {f"sure.{about.replace('__', '.')}": words for about, words in answers.items()}
    return page.post("/setup/catalogue", {"text": data.decode(), **sure})


def test_the_catalogue_taken_away_loads_back_equal(page: Page, morning: ShopInHand) -> None:
    page.post("/setup/products", prices(sold=""))
    made = page.get("/setup/catalogue.toml")
    assert "catalogue.toml" in made.headers["Content-Disposition"]
    before = morning.shop.desk.catalogue
    assert load(page, made.data).status_code == 302
    assert morning.shop.desk.catalogue == before
    assert before.portions["firm-block"].off


@pytest.mark.parametrize("name", ["demo_shop/catalogue.toml", "counter/starters/catalogue.toml"])
def test_our_own_catalogues_are_written_and_read_back_equal(name: str) -> None:
    from importlib.resources import files

    package, _, rest = name.partition("/")
    text = (files(package) / rest).read_text("utf-8")
    made = parse_catalogue(text, 2, {"grocery", "prepared", "food"})
    assert parse_catalogue(write_catalogue(made, 2), 2, {"grocery", "prepared", "food"}) == made


TEXT = (
    st.text(
        st.characters(exclude_categories=["Cs"]) | st.sampled_from("\"\\'\n\t\x00\x7f#=[]{}"),
        max_size=12,
    )
    .map(plain_text)
    .filter(lambda text: not suspected(text))
)  # "ei" is an egg
NAME = TEXT.filter(str.strip)
SOURCES = st.lists(st.sampled_from(["wheat", "sesame", "tree-nut:almond"]), unique=True).map(tuple)
NONE = st.dictionaries(st.sampled_from(["milk", "egg"]), TEXT.filter(lambda t: len(t.strip()) > 1))
MONEY = st.integers(0, 10**8)


@st.composite
def catalogues(draw: st.DrawFn) -> Catalogue:
    """Small catalogues with every kind of text and amount in them."""
    unit = draw(st.sampled_from(["piece", "ml", "g"]))
    grams = draw(st.decimals("0.01", 5000, places=2))
    part = Part("beans", grams, f"{grams} g")
    product = Product(
        "tofu", draw(NAME), unit, draw(st.integers(1, 365)), second_name=draw(TEXT),
        study=draw(TEXT), mould=draw(st.integers(1, 99_999)), cost=draw(MONEY),
        recipe=(part,), recipe_makes=draw(st.integers(1, 99_999)),
        cook=draw(st.sampled_from([None, Product("x", "x", "g", 1).cook])),
        allergens_none=draw(NONE), may_contain=draw(SOURCES),
    )  # fmt: skip
    per = draw(st.sampled_from(["", "kg"])) if unit == "g" else ""
    portion = Portion(
        "one", "tofu", draw(NAME), 0 if per else draw(st.integers(1, 9999)), draw(MONEY), per,
        last_day_price=draw(st.none() | MONEY), tax=draw(st.sampled_from(["", "grocery"])),
        toppings=("sugar",), off=draw(st.booleans()),
    )  # fmt: skip
    water = draw(st.booleans())
    density = Decimal(1) if water else draw(st.none() | st.decimals("0.1", 25, places=3))
    name = draw(NAME)
    beans = Ingredient(
        "beans", name, draw(TEXT), ("soy",), water, density=density, allergens_none=draw(NONE)
    )
    return Catalogue(
        {"tofu": product}, {"one": portion}, {"sugar": Topping("sugar", draw(NAME), draw(MONEY))},
        {"beans": beans}, {"rosa": Person("rosa", draw(NAME), "owner")},
        draw(SOURCES),
    )  # fmt: skip


@given(catalogues(), st.sampled_from([0, 2, 3]))
def test_any_catalogue_is_written_and_read_back_equal(made: Catalogue, places: int) -> None:
    assert parse_catalogue(write_catalogue(made, places), places, TAXES) == made


BAD_FILES = [
    (b"", 200),  # an empty catalogue is a catalogue: nobody has a PIN here
    (b"\xff\xfe\x00", 400), (b"[products.firm", 400), (b"x" * (300 << 10), 400),
    (b"[products.firm]\nname = 'A'\nkeeps = 0\n", 400), (b"nothing = 1\n", 400),
    (b"[portions.a]\nproduct='b'\nname='c'\nprice='1'\n", 400), (b"a=" + b"[" * 5000, 400),
    (b"[staff.rosa]\nname='R'\nrole='king'\n", 400), (b"\x00", 400),
]  # fmt: skip


@pytest.mark.parametrize(("data", "status"), BAD_FILES)
def test_a_catalogue_file_is_checked_whole_before_it_is_used(
    page: Page, morning: ShopInHand, data: bytes, status: int
) -> None:
    before = books_of(morning)
    made = page.post("/setup/catalogue", {"file": (io.BytesIO(data), "../../x<script>.toml")})
    assert made.status_code == status
    assert ("Cannot " in text_of(made)) == (status != 200)
    assert books_of(morning) == before


def test_a_slip_in_the_file_is_named_with_its_line(page: Page) -> None:
    bad = CATALOGUE.replace("keeps = 5", "keeps = 500", 1).encode()
    text = text_of(page.post("/setup/catalogue", {"file": (io.BytesIO(bad), "c.toml")}))
    line = CATALOGUE[: CATALOGUE.index("keeps = 5")].count("\n") + 1
    assert f"(line {line}): a product keeps from 1 to 365 days" in text


def test_a_catalogue_without_the_owner_who_has_a_pin_is_refused(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    page.sign_in("rosa", pins["rosa"])
    before = books_of(morning)
    made = page.post("/setup/catalogue", {"file": (io.BytesIO(b""), "c.toml")})
    assert made.status_code == 409
    assert "no owner with a PIN would be left" in text_of(made)
    assert books_of(morning) == before


DEAR = CATALOGUE.replace('price = "3.25"', 'price = "32.50"', 1)
GONE = CATALOGUE.replace("[products.soft]", "[products.silken]").replace(
    'product = "soft"', 'product = "silken"'
)


def test_a_file_first_shows_what_it_changes_and_is_then_put_to_use(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    shown = text_of(page.post("/setup/catalogue", {"file": (io.BytesIO(DEAR.encode()), "c.toml")}))
    assert "<td>3.25</td><td>32.50</td>" in shown
    assert "Firm block costs $32.50 and not $3.25." in shown
    assert 'name="sure.price.firm-block"' in shown
    assert books_of(morning) == before
    asked = page.post("/setup/catalogue", {"text": DEAR})
    assert (asked.status_code, books_of(morning)) == (409, before)
    assert load(page, DEAR.encode(), price__firm_block="x").status_code == 409
    sure = {"text": DEAR, "sure.price.firm-block": "gold leaf"}
    assert page.post("/setup/catalogue", sure).status_code == 302
    assert morning.shop.desk.catalogue.portions["firm-block"].price == 3250


def test_a_change_is_shown_in_the_language_of_the_page_under_headings_that_say_something(
    page: Page,
) -> None:
    page.post("/language", {"language": "es"})
    text = DEAR.replace('name = "Firm Tofu"', 'name = "Firmer Tofu"', 1)
    shown = text_of(page.post("/setup/catalogue", {"file": (io.BytesIO(text.encode()), "c.toml")}))
    assert "<td>nombre</td><td>Firm Tofu</td><td>Firmer Tofu</td>" in shown
    assert "<th></th>" not in shown


def test_a_file_with_a_day_waits_is_shown_and_taken_back(page: Page, morning: ShopInHand) -> None:
    text = CATALOGUE.replace('price = "3.25"', 'price = "3.75"', 1)
    sent = {"file": (io.BytesIO(text.encode()), "c.toml"), "since": "2026-12-01"}
    assert "It holds from" in text_of(page.post("/setup/catalogue", sent))
    assert page.post("/setup/catalogue", {"text": text, "since": "2026-12-01"}).status_code == 302
    for path in ("/setup/", "/setup/catalogue"):
        assert "Another catalogue waits for" in text_of(page.get(path))
    assert morning.sell("firm-block").total == 325
    again = {"file": (io.BytesIO(CATALOGUE.encode()), "c.toml")}
    assert "will take its place" in text_of(page.post("/setup/catalogue", again))
    assert page.post("/setup/catalogue/take-back", {"since": "2026-12-02"}).status_code == 404
    assert page.post("/setup/catalogue/take-back", {"since": "2026-12-01"}).status_code == 302
    assert morning.shop.products.waiting_catalogues() == []
    for wrong in ("2026-11-01", "soon"):
        made = page.post("/setup/catalogue", {"text": text, "since": wrong})
        assert made.status_code == 400


def test_a_price_of_a_third_more_is_asked_with_its_form_and_kept_with_who(
    page: Page, morning: ShopInHand
) -> None:
    asked = page.post("/setup/products", prices(price="4.50"))
    assert (asked.status_code, morning.shop.desk.catalogue.portions["firm-block"].price) == (
        409,
        325,
    )
    assert 'name="sure.price.firm-block"' in text_of(asked)
    sure = {"sure.price.firm-block": "beans cost more"}
    assert page.post("/setup/products", prices(price="4.50") | sure).status_code == 302
    assert "Firm block: price 3.25 → 4.50" in text_of(page.get("/setup/products"))


def test_what_left_the_catalogue_is_sold_from_its_row_of_the_shelf(
    page: Page, morning: ShopInHand
) -> None:
    sure = {"text": GONE, "sure.on-hand.soft": "renamed"}
    assert page.post("/setup/catalogue", sure).status_code == 302
    assert "Soft Tofu" in text_of(page.get("/shelf/"))
    read = page.send("/slip/read", {"text": "26328-02"}).get_json()
    slip = {"items": [{"portion": read["portion"], "lot": read["lot"]}], "key": "k1"}
    seen = page.send("/slip/price", slip).get_json()["seen"]
    paid = page.send(
        "/slip/pay", {"slip": slip, "tenders": [{"kind": "card", "amount": ""}], "seen": seen}
    )
    assert paid.status_code == 200
    for path in ("/closing/", "/waste/", "/labels/", "/records/2026-11-24/lots", "/log/"):
        assert page.get(path).status_code in (200, 404), path
    assert "Soft Tofu" in text_of(page.get("/closing/"))
    assert "Soft Tofu" in text_of(page.get("/labels/"))


def test_a_missing_file_is_asked_for(page: Page) -> None:
    assert "no file was chosen" in text_of(page.post("/setup/catalogue", {"file": "text"}))


# -- logo


def png(width: int, height: int, dark: bool = True) -> bytes:
    picture = Image.new("RGBA", (width, height), (255, 255, 255, 0))
    if dark:
        picture.paste((20, 20, 90, 255), (2, 2, width // 2, height // 2))
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def bomb(side: int) -> bytes:
    """A PNG of a few kilobytes that claims to unfold into side x side dots."""

    def chunk(name: bytes, data: bytes) -> bytes:
        made = name + data
        return struct.pack(">I", len(data)) + made + struct.pack(">I", zlib.crc32(made))

    head = struct.pack(">IIBBBBB", side, side, 8, 6, 0, 0, 0)
    body = zlib.compress(bytes(100_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def test_a_logo_is_kept_as_black_and_white_and_shown(page: Page, morning: ShopInHand) -> None:
    sent = {"file": (io.BytesIO(png(80, 40)), "logo.png")}
    assert page.post("/setup/logo", sent).status_code == 302
    shown = page.get("/setup/logo.png")
    with Image.open(io.BytesIO(shown.data)) as picture:
        assert (picture.mode, picture.size) == ("1", (80, 40))
        assert (picture.getpixel((5, 5)), picture.getpixel((70, 30))) == (0, 255)
    assert "/setup/logo.png" in text_of(page.get("/setup/logo"))
    assert page.post("/setup/logo", {"remove": "yes"}).status_code == 302
    assert page.get("/setup/logo.png").status_code == 404


def test_a_logo_that_shop_toml_names_stands_on_the_label(page: Page, morning: ShopInHand) -> None:
    from counter.shop import Shop

    page.post("/setup/logo", {"file": (io.BytesIO(png(80, 40)), "logo.png")})
    folder = morning.shop.desk.folder
    assert folder is not None
    file = folder / "shop.toml"
    file.write_text(
        file.read_text("utf-8").replace("[labels]", '[labels]\nlogo = "logo.png"'), "utf-8"
    )
    again = Shop.open(folder, morning.clock)
    assert again.labels.label("26328-01").picture is not None
    assert morning.shop.labels.label("26328-01").picture is None
    again.desk.books.close()


@pytest.mark.parametrize("data", [
    b"", b"GIF89a", b"\x89PNG\r\n\x1a\n", png(80, 40)[:60], png(8, 8), png(3100, 20),
    png(80, 40, dark=False), bomb(30_000), bomb(2_900), b"<svg/>", b"\x89PNG\r\n\x1a\n" + b"x" * (257 << 10),
])  # fmt: skip
def test_what_is_no_logo_is_refused_and_leaves_the_folder_as_it_was(
    page: Page, morning: ShopInHand, data: bytes
) -> None:
    before = files_of(morning)
    made = page.post("/setup/logo", {"file": (io.BytesIO(data), "../../../etc/x.png")})
    assert made.status_code == 400
    assert "Cannot take that logo: " in text_of(made)
    assert files_of(morning) == before


def test_no_logo_cannot_be_taken_away(page: Page) -> None:
    assert page.post("/setup/logo", {"remove": "yes"}).status_code == 409


# -- the rest


def test_blanks_are_drawn_with_every_label_of_the_sheet(page: Page) -> None:
    text = text_of(page.get("/setup/blanks"))
    assert text.index("roll-100x75") < text.index("roll-40x25")  # what is used stands first
    [sheet] = [card for card in text.split("<li") if "<b>sheet-letter-3x10" in card]
    assert sheet.count('class="one"') == 30


def test_the_shops_settings_are_shown_as_they_stand(page: Page) -> None:
    text = text_of(page.get("/setup/shop"))
    assert "America/Los_Angeles" in text
    assert "8.6%" in text
    assert "shop.toml" in text


@pytest.mark.parametrize(
    "path", ["", "products", "catalogue", "catalogue.toml", "blanks", "logo", "logo.png", "shop"]
)
def test_only_the_owner_sees_the_set_up(page: Page, pins: dict[str, str], path: str) -> None:
    page.sign_in("teo", pins["teo"])
    assert page.get(f"/setup/{path}").status_code == 403


@pytest.mark.parametrize("path", ["products", "catalogue", "logo"])
def test_only_the_owner_changes_the_set_up(
    page: Page, morning: ShopInHand, pins: dict[str, str], path: str
) -> None:
    page.sign_in("ida", pins["ida"])
    before = files_of(morning)
    assert page.post(f"/setup/{path}", prices()).status_code == 403
    assert files_of(morning) == before
