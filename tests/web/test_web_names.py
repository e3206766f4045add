"""What a name says, on the page: allergens asked for before a catalogue is used."""

from __future__ import annotations

import io
from html import unescape
from importlib.resources import files

from werkzeug.test import TestResponse

from tests.conftest import CATALOGUE, ShopInHand
from tests.web.conftest import Page

SESAME_OIL = '\n[ingredients.oil]\nname = "Sesame Oil"\n'


def said(answer: TestResponse) -> str:
    return " ".join(unescape(answer.get_data(as_text=True)).split())


def test_a_catalogue_with_a_name_that_says_an_allergen_is_not_taken(page: Page) -> None:
    file = (io.BytesIO((CATALOGUE + SESAME_OIL).encode()), "catalogue.toml")
    made = page.post("/setup/catalogue", {"file": file}, content_type="multipart/form-data")
    assert made.status_code == 400
    assert "the name 'Sesame Oil' says sesame: put it under allergens of what is in it" in said(
        made
    )
    page.post("/language", {"language": "es"})
    file = (io.BytesIO((CATALOGUE + SESAME_OIL).encode()), "catalogue.toml")
    made = page.post("/setup/catalogue", {"file": file}, content_type="multipart/form-data")
    assert "«Sesame Oil» dice sésamo: póngalo en allergens" in said(made)


def test_a_new_shop_says_on_shelf_and_set_up_what_is_to_be_confirmed(
    page: Page, morning: ShopInHand
) -> None:
    example = (files("counter") / "starters" / "catalogue.toml").read_text("utf-8")
    morning.clock.forward(minutes=1)
    text = example + '\n[staff.rosa]\nname = "Rosa"\nrole = "owner"\n'
    doubts = morning.shop.products.look_at_catalogue(text).questions
    morning.shop.desk.questions.given = {q.about: "so it is" for q in doubts}
    morning.shop.products.load_catalogue(text)
    for place in ("/shelf/", "/setup/"):
        assert "Cannot sell: the recipes came with the program" in said(page.get(place))
    asked = page.post("/setup/confirm")
    assert asked.status_code == 409
    assert "are they yours, with all that is in each ingredient" in said(asked)
    made = page.post("/setup/confirm", {"sure.recipes": "our own"})
    assert made.status_code == 302
    assert "Cannot sell" not in said(page.get("/shelf/"))


def test_a_claim_is_asked_about_before_the_first_label(page: Page, morning: ShopInHand) -> None:
    # 7 CFR 205.301
    morning.clock.forward(minutes=1)
    morning.shop.products.load_catalogue(
        CATALOGUE.replace('name = "Firm Tofu"', 'name = "Organic Tofu"')
    )
    form = {"lot": "26328-01", "count.26328-01": "1", "do": "save", "blank": "roll-100x150"}
    asked = page.post("/labels/print", form)
    assert asked.status_code == 409
    assert "label claims 'organic': what proves it" in said(asked)
    assert 'name="sure.label.firm.organic"' in said(asked)
    assert "nobody has said so" in said(page.get("/labels/explain?lot=26328-01"))
    made = page.post("/labels/print", {**form, "sure.label.firm.organic": "certificate 7"})
    assert made.status_code == 302
    assert page.post("/labels/print", form).status_code == 302
    page.post("/language", {"language": "es"})
    shown = said(page.get("/labels/explain?lot=26328-01"))
    assert "la etiqueta afirma «organic»: ¿qué lo demuestra?" in shown
    assert "certificate 7" in shown


def test_what_is_in_it_is_one_tap_from_the_shelf_for_every_role(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    page.sign_in("ida", pins["ida"])  # at the counter
    shelf = said(page.get("/shelf/"))
    for product in ("firm", "pudding", "pressed"):
        assert f'href="/inside/{product}"' in shelf
    firm = said(page.get("/inside/firm"))
    assert "26328-01" in firm
    assert "Contains</b> <b>soy</b>" in firm
    assert "Ingredients: Water, Soybeans, Calcium Sulfate" in firm
    assert "Saturday, November 28, 2026" in firm
    pudding = said(page.get("/inside/pudding"))
    assert "26328-04" in pudding
    assert "+ Black sesame" in pudding
    every = said(page.get("/inside/"))
    assert "by recipe, none on hand" in every
    assert "26328-02" in every
    assert page.get("/inside/cheese").status_code == 404
    page.post("/language", {"language": "es"})
    assert "Contiene</b> <b>soya</b>" in said(page.get("/inside/firm"))


def test_a_correction_is_looked_at_for_names_as_the_batch_was(
    page: Page, morning: ShopInHand
) -> None:
    # 21 USC 343(w); EU 1169/2011 Art. 9(1)(c)
    text = CATALOGUE.replace('name = "Firm Tofu"', 'name = "Sesame Tofu"')
    morning.clock.forward(minutes=1)
    morning.shop.products.load_catalogue(
        text.replace('gypsum = "30 g" }', 'gypsum = "30 g", sesame = "9 g" }', 1)
    )
    lot = morning.batch("firm", 8).lot
    form = {"made": "8", "amount.sesame": "0 g", "because": "none went in"}
    answer = page.post(f"/log/lot/{lot}/amend", form)
    assert answer.status_code == 409
    assert f"Cannot correct lot {lot}: the name 'Sesame Tofu' says sesame" in said(answer)
