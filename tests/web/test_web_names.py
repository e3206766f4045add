"""What a name says, on the page: allergens asked for before a catalogue is used."""

from __future__ import annotations

import io
from html import unescape

from werkzeug.test import TestResponse

from tests.conftest import CATALOGUE
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
    assert "«Sesame Oil» dice sesame: póngalo en allergens" in said(made)
