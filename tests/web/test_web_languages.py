"""A language is one file: put beside the others, it is offered and spoken."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from pathlib import Path

import pdfplumber
import pytest
from click.testing import CliRunner

from counter import languages
from counter.cli import main
from counter.shop import Shop
from tests.conftest import ShopInHand
from tests.web.conftest import Page

# Esperanto, which the program does not bring along.
PO = r"""
msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\n"

msgctxt "nav.waste"
msgid "Waste"
msgstr "Forĵetaĵoj"

msgctxt "labels.packs_sum"
msgid "{n} pack, {weight}, {price}"
msgid_plural "{n} packs, {weight}, {price}"
msgstr[0] "{n} pakaĵo, {weight}, {price}"
msgstr[1] "{n} pakaĵoj, {weight}, {price}"

msgid "trace lot {lot}"
msgstr "sekvi loton {lot}"

msgid "Cannot {tried}: {why}."
msgstr "Ne eblas {tried}: {why}."

msgid "Closing report, as it stands, not sealed"
msgstr "Fermraporto, ankoraŭ malfermita"

msgctxt "term"
msgid "owner"
msgstr "posedanto"
"""
CACHED = (
    languages.codes, languages.names, languages.language, languages.page_texts,
    languages._catalogue,
)  # fmt: skip


@pytest.fixture
def esperanto(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A folder of texts with one file more."""
    folder = tmp_path / "texts"
    shutil.copytree(str(languages.TEXTS), folder)
    (folder / "eo.po").write_text(PO, "utf-8")
    with monkeypatch.context() as there:
        there.setattr(languages, "TEXTS", folder)
        for cached in CACHED:
            cached.cache_clear()
        yield
    for cached in CACHED:
        cached.cache_clear()


@pytest.mark.usefixtures("esperanto")
def test_a_file_more_is_a_language_more_on_the_page(page: Page) -> None:
    assert [*languages.names()] == ["en", "de", "eo", "es"]
    assert 'lang="eo">Esperanto</button>' in page.get("/who/").get_data(as_text=True)
    assert page.post("/language", {"language": "eo"}).status_code == 302
    shown = page.get("/shelf/").get_data(as_text=True)
    assert '<html lang="eo">' in shown
    assert "Forĵetaĵoj" in shown
    refused = page.get("/log/lot/26328-77").get_data(as_text=True)
    assert "Ne eblas sekvi loton 26328-77: there is no" in refused


def test_a_language_without_a_file_is_not_offered(page: Page) -> None:
    assert [*languages.names()] == ["en", "de", "es"]
    assert page.post("/language", {"language": "eo"}).status_code == 400


@pytest.mark.usefixtures("esperanto")
def test_a_language_that_nobody_knows_the_dates_of_is_not_offered(page: Page) -> None:
    (languages.TEXTS / "zz.po").write_text(PO, "utf-8")
    languages.codes.cache_clear()
    assert "zz" in languages.codes()
    assert "zz" not in languages.names()
    assert page.post("/language", {"language": "zz"}).status_code == 400


@pytest.mark.usefixtures("esperanto")
def test_a_file_more_is_a_language_more_in_the_sentences_of_a_shop() -> None:
    spoken = languages.language_of("eo")
    assert spoken.term("owner") == "posedanto"
    assert spoken.page("labels.packs_sum", 2) == "{n} pakaĵoj, {weight}, {price}"
    assert spoken.page("labels.packs_sum", 1) == "{n} pakaĵo, {weight}, {price}"


@pytest.mark.usefixtures("esperanto")
def test_a_file_more_is_a_language_more_on_the_command_line_and_on_paper(
    morning: ShopInHand,
) -> None:
    folder = morning.shop.desk.folder
    assert folder is not None
    file = folder / "shop.toml"
    file.write_text(file.read_text("utf-8").replace('"en_US"', '"eo"', 1), "utf-8")
    told = CliRunner().invoke(main, ["--shop", str(folder), "trace", "26328-77"])
    assert told.output.startswith("Ne eblas sekvi loton 26328-77: there is no")
    shop = Shop.open(folder, morning.clock)
    with pdfplumber.open(io.BytesIO(shop.reports.day_report(shop.desk.today()))) as paper:
        assert "Fermraporto, ankoraŭ malfermita" in paper.pages[0].extract_text()
    shop.desk.books.close()
