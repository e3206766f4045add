"""Labels on the page: the very page that comes out, warnings and refusals in words, the record."""

from __future__ import annotations

import base64
import io
import re
from typing import Any
from urllib.parse import quote

import pytest
import zxingcpp
from PIL import Image

from counter.errors import Refused
from counter.shop import printing
from counter.shop.printing import Sent
from counter.trade.batch_note import BatchNote
from labels.picture import png
from tests.conftest import CATALOGUE, ShopInHand
from tests.shop.printer import Cups, cups, running_cups
from tests.web.conftest import Page, books_of
from tests.web.test_web_log import BAD_TEXTS

__all__ = ["cups", "running_cups"]

FIRM = "lot=26328-01&count.26328-01=3"
SHEET = "sheet-letter-2x4-101.6x63.5"


def said(answer: Any) -> str:
    return re.sub(r"\s+", " ", answer.get_data(as_text=True))


def picture_in(answer: Any) -> Image.Image:
    kind, _, data = answer.json["picture"].partition(",")
    assert kind == "data:image/png;base64"
    return Image.open(io.BytesIO(base64.b64decode(data)))


def test_lots_are_offered_with_as_many_labels_as_the_batch_made(page: Page) -> None:
    shown = said(page.get("/labels/?lot=26328-02"))
    for lot, count in (("26328-01", 48), ("26328-02", 30), ("26328-03", 1), ("26328-04", 2)):
        assert re.search(rf'name="count.{lot}"[^>]* value="{count}"', shown), lot
    assert re.search(r'value="26328-02"[^>]* checked', shown)
    assert not re.search(r'value="26328-01"[^>]* checked', shown)


def test_the_preview_is_a_page_of_the_very_file_that_is_printed(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    shown = page.get(f"/labels/preview.json?{FIRM}")
    assert {k: shown.json[k] for k in ("labels", "pages", "page", "warnings")} == {
        "labels": 3, "pages": 3, "page": 1, "warnings": [],
    }  # fmt: skip
    assert books_of(morning) == before
    assert page.post("/labels/print", {"lot": "26328-01", "count.26328-01": "3", "do": "save"}
                     ).location == "/labels/done/26328-01-203dpi.pdf"  # fmt: skip
    printed = page.get("/labels/file/26328-01-203dpi.pdf")
    assert printed.mimetype == "application/pdf"
    dots = Image.open(io.BytesIO(png(printed.data, 203)))
    assert dots.tobytes() == picture_in(shown).tobytes()
    assert Image.open(io.BytesIO(page.get(f"/labels/preview.png?{FIRM}").data)).size == dots.size
    texts = {b.text for b in zxingcpp.read_barcodes(dots.convert("L"))}
    assert texts == {"26328-01", "9521234000013"}


def test_a_sheet_begins_at_the_first_free_position_and_skips_the_used_ones(page: Page) -> None:
    shown = page.get(f"/labels/preview.json?{FIRM}&blank={SHEET}&start=3&used=4,6")
    assert (shown.json["pages"], shown.json["next_free"]) == (1, 8)
    picture = picture_in(shown).convert("L")
    width, height = picture.size

    def inked(position: int) -> bool:
        row, column = divmod(position - 1, 2)
        cell = (column * width // 2, row * height // 4, (column + 1) * width // 2,
                (row + 1) * height // 4)  # fmt: skip
        return picture.crop(cell).getextrema()[0] == 0

    assert [p for p in range(1, 9) if inked(p)] == [3, 5, 7]


def test_a_reprint_is_warned_about_and_recorded(page: Page, morning: ShopInHand) -> None:
    form = {"lot": "26328-01", "count.26328-01": "3", "do": "save"}
    page.post("/labels/print", form)
    warned = page.get("/labels/preview.json?lot=26328-01&count.26328-01=60").json["warnings"]
    assert warned[0] == "Lot 26328-01: 60 labels are wanted, and the batch made enough for 48."
    assert warned[1].startswith(
        "Lot 26328-01: 3 labels were printed already, the last ones 11/24/26"
    )
    page.post("/labels/print", form)
    shown = said(page.get("/labels/done/26328-01-203dpi.pdf"))
    assert "Labels of lot 26328-01 had been printed before: recorded as a reprint." in shown
    assert [p.again for p in morning.shop.products.printed_of("26328-01")] == [False, True]
    assert "6 printed already" in said(page.get("/labels/"))


def test_on_the_page_every_card_and_every_print_is_opened_under_its_own_name(
    page: Page, morning: ShopInHand
) -> None:
    form = {"lot": "26328-01", "count.26328-01": "3", "do": "save"}
    made = [page.post("/labels/print", form).location for _ in range(2)]
    assert made == ["/labels/done/26328-01-203dpi.pdf", "/labels/done/26328-01-203dpi-2.pdf"]
    cards = [page.post("/labels/card", {"paper": "a5"}).location for _ in range(2)]
    assert len(set(cards)) == 2
    assert all(page.get(place).status_code == 200 for place in (*made, *cards))


def test_what_does_not_fit_is_refused_with_what_is_missing_and_what_would_do(
    page: Page, morning: ShopInHand
) -> None:
    answer = page.get(f"/labels/preview.json?{FIRM}&blank=roll-40x25")
    assert answer.status_code == 409
    assert "Cannot fit the label of 'Firm Tofu' on roll-40x25" in answer.json["error"]
    assert "mm of" in answer.json["error"]
    assert "roll-100x150" in answer.json["fits"]
    assert page.post("/labels/print", {"lot": "26328-01", "blank": "roll-40x25", "do": "save"}
                     ).status_code == 409  # fmt: skip
    assert morning.shop.products.printed_of("26328-01") == []


def test_a_lot_that_may_not_be_sold_gets_no_label(page: Page, morning: ShopInHand) -> None:
    morning.shop.production.log_batch("firm", BatchNote(made=48))
    morning.shop.holds.hold("26328-02", True, "sour")
    before = books_of(morning)
    shown = said(page.get("/labels/"))
    assert "No label: no cook is recorded" in shown
    assert "No label: it is stopped: sour" in shown
    for lot in ("26328-05", "26328-02"):
        assert re.search(rf'value="{lot}"[^>]* disabled', shown)
        assert page.get(f"/labels/preview.json?lot={lot}").status_code == 409
        answer = page.post("/labels/print", {"lot": lot, "do": "save"})
        assert answer.status_code == 409
        assert f"Cannot label lot {lot}" in said(answer)
    assert books_of(morning) == before


def test_every_statement_is_explained_with_its_rule(page: Page) -> None:
    shown = said(page.get("/labels/explain?lot=26328-01"))
    for words in ("21 CFR 101.7", "NET WT / PESO NETO 14 OZ (396 g)", "Contains: soy"):
        assert words in shown
    assert "&lt;" not in shown


def test_the_pdf_is_shown_in_the_browser_or_saved(page: Page) -> None:
    page.post("/labels/print", {"lot": "26328-01", "count.26328-01": "1", "do": "save"})
    shown = page.get("/labels/file/26328-01-203dpi.pdf").headers["Content-Disposition"]
    assert shown == "inline; filename=26328-01-203dpi.pdf"
    saved = page.get("/labels/file/26328-01-203dpi.pdf?save=yes").headers["Content-Disposition"]
    assert saved == "attachment; filename=26328-01-203dpi.pdf"


def test_without_a_printer_nothing_is_printed(page: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    answer = page.post("/labels/print", {"lot": "26328-01", "do": "print"})
    assert answer.status_code == 409
    assert "no printer is named in shop.toml" in said(answer)
    assert books_of(morning) == before


@pytest.mark.parametrize("works", [True, False])
def test_the_printer_of_the_shop_gets_the_file_and_the_pdf_stays_whatever_it_says(
    page: Page, morning: ShopInHand, monkeypatch: pytest.MonkeyPatch, works: bool
) -> None:
    asked: list[tuple[object, ...]] = []

    def lp(path: Any, printer: str, page_mm: tuple[float, float]) -> Sent:
        asked.append((path.name, printer, page_mm))
        if not works:
            raise Refused("print it", "the paper is out", "Fill it")
        return Sent(done=True, said="request id is roll-7")

    monkeypatch.setattr("counter.shop.printing.send_to_printer", lp)
    folder = morning.shop.desk.folder
    assert folder is not None
    text = (folder / "shop.toml").read_text("utf-8")
    assert "printer" not in text
    text = text.replace("[labels]\n", '[labels]\nprinter = "roll"\n')
    (folder / "shop.toml").write_text(text, "utf-8")
    assert "Print on roll" in said(page.get("/labels/"))
    answer = page.post("/labels/print", {"lot": "26328-01", "count.26328-01": "1", "do": "print"})
    assert asked == [("26328-01-203dpi.pdf", "roll", (100, 75))]
    shown = said(page.get(answer.location))
    assert ("Printed on roll. request id is roll-7" in shown) == works
    assert ("the paper is out" in shown) != works
    assert page.get("/labels/file/26328-01-203dpi.pdf").status_code == 200


def test_a_printer_that_is_stopped_or_unplugged_is_said_on_the_page(
    page: Page, morning: ShopInHand, cups: Cups, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printing, "JOB_SECONDS", 2)
    cups.queue("roll", "socket://127.0.0.1:9")
    folder = morning.shop.desk.folder
    assert folder is not None
    text = (folder / "shop.toml").read_text("utf-8")
    text = text.replace("[labels]\n", '[labels]\nprinter = "roll"\n')
    (folder / "shop.toml").write_text(text, "utf-8")
    form = {"lot": "26328-01", "count.26328-01": "1", "do": "print"}
    shown = said(page.get(page.post("/labels/print", form).location))
    assert "Handed to roll, and not out yet: The printer may not exist or is unavailable" in shown
    assert "Made for a printer of 203 dots an inch." in shown
    cups.run("cancel", "-a", "roll")
    cups.run("cupsdisable", "-r", "no paper", "roll")
    page.post("/language", {"language": "es"})
    shown = said(page.get(page.post("/labels/print", form).location))
    assert "está detenida (no paper)" in shown
    assert "Impreso en roll" not in shown
    assert "Hecho para una impresora de 203 puntos por pulgada." in shown


def test_the_counter_card_and_the_test_page_are_made_beside_the_labels(page: Page) -> None:
    card = page.post("/labels/card", {"paper": "a6"})
    assert card.location == "/labels/done/counter-card-2026-11-24.pdf"
    assert page.get("/labels/file/counter-card-2026-11-24.pdf").data.startswith(b"%PDF")
    scale = page.post("/labels/scale", {"blank": "roll-60x80"})
    assert "on paper its line must be 50 mm long" in said(page.get(scale.location))


def test_the_labels_speak_the_language_of_the_browser(page: Page) -> None:
    page.post("/language", {"language": "es"})
    assert "Hoja o rollo en la impresora" in said(page.get("/labels/"))


def test_who_sells_does_not_print(page: Page, pins: dict[str, str], morning: ShopInHand) -> None:
    page.sign_in("ida", pins["ida"])
    before = books_of(morning)
    form = {"lot": "26328-01", "do": "save"}
    for answer in (page.get("/labels/"), page.get("/labels/file/26328-01-203dpi.pdf"),
                   page.post("/labels/print", form), page.post("/labels/card")):  # fmt: skip
        assert answer.status_code == 403
    assert books_of(morning) == before


# -- hostile


@pytest.mark.parametrize("text", BAD_TEXTS)
def test_hostile_text_anywhere_is_answered_with_a_sentence_and_writes_nothing(
    page: Page, morning: ShopInHand, text: str
) -> None:
    before = books_of(morning)
    text = text.encode("utf-8", "surrogatepass").decode("utf-8", "replace")
    form = {"lot": "26328-01", "count.26328-01": "1", "do": "save"}
    for name in ("lot", "count.26328-01", "blank", "start", "used", "do"):
        if text == "" and name in ("count.26328-01", "blank", "start", "used"):
            continue  # left empty, they have their usual meaning
        answer = page.post("/labels/print", {**form, name: text})
        assert 400 <= answer.status_code < 500, name
        assert b"<script>alert" not in answer.data
        if name != "do":
            for kind in ("json", "png"):
                shown = page.get(f"/labels/preview.{kind}", query_string={**form, name: text})
                assert 400 <= shown.status_code < 500, name
        assert page.get("/labels/", query_string={**form, name: text}).status_code < 500
    if text:
        for path in ("/labels/card", "/labels/scale"):
            answer = page.post(path, {"paper": text, "blank": text})
            assert 400 <= answer.status_code < 500, path
        assert 400 <= page.get("/labels/explain", query_string={"lot": text}).status_code < 500
    assert books_of(morning) == before


@pytest.mark.parametrize(
    "name",
    ["../shop.toml", "..%2fshop.toml", "%2e%2e/shop.toml", "shop.toml", ".pdf", "x.pdf%00",
     "a/../b.pdf", "26328-09.pdf", "x" * 300 + ".pdf", "con.pdf"],
)  # fmt: skip
def test_no_file_but_the_shops_own_labels_is_given_out(page: Page, name: str) -> None:
    for path in ("file", "done"):
        answer = page.get(f"/labels/{path}/{name}")
        assert 400 <= answer.status_code < 500
        assert b"timezone" not in answer.data


def test_more_lots_than_fit_a_run_and_a_page_that_is_not_there(page: Page) -> None:
    many = "&".join(f"lot=26328-{n:02d}" for n in range(1, 60))
    assert "59 lots are too many" in page.get(f"/labels/preview.json?{many}").json["error"]
    assert page.get(f"/labels/preview.json?{FIRM}&page=999").json["page"] == 3
    assert page.get(f"/labels/preview.json?{FIRM}&page={quote('٣')}").status_code == 400
    assert page.get("/labels/preview.json").json["error"] == (
        "Cannot print labels: no lot is chosen. Choose a lot."
    )


def test_a_print_without_the_token_or_from_another_host_is_refused(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    form = {"lot": "26328-01", "do": "save"}
    for path in ("/labels/print", "/labels/card", "/labels/scale"):
        assert page.client.post(path, data=form).status_code == 403
        assert page.post(path, form, headers={"Host": "evil.example"}).status_code == 403
    assert books_of(morning) == before


def test_half_a_language_is_refused_on_the_page_and_said_in_its_language(
    page: Page, morning: ShopInHand
) -> None:
    """21 CFR 101.15(c)(2)."""
    morning.shop.products.load_catalogue(CATALOGUE.replace('second_name = "Soya"\n', ""))
    told = page.get(f"/labels/preview.json?{FIRM}")
    assert told.status_code == 409
    assert "half a language does not stand" in told.json["error"]
    page.post("/language", {"language": "es"})
    other = page.get(f"/labels/preview.json?{FIRM}").json["error"]
    assert other.startswith("No se puede imprimir el segundo nombre «Tofu firme» de «Firm Tofu»: "
                            "un idioma a medias no se admite")  # fmt: skip
    assert "Soybeans" in other


def test_the_page_explains_frozen_as_frozen(page: Page, morning: ShopInHand) -> None:
    """Food Code 3-501.11."""
    morning.shop.products.load_catalogue(
        CATALOGUE.replace("[products.firm]\n", '[products.firm]\nheld = "frozen"\n')
    )
    morning.batch("firm", 48)
    assert morning.shop.desk.folder is not None
    settings = morning.shop.desk.folder / "shop.toml"
    chest = '\n[holding]\nfridge = "cold"\nchest = "freezer"\n'
    settings.write_text(settings.read_text("utf-8") + chest, "utf-8")
    page.post("/log/lot/26328-05/move", {"place": "chest"})
    shown = said(page.get("/labels/explain?lot=26328-05"))
    assert "Keep frozen at 0 °F (−18 °C) or below." in shown
    assert "Manténgase congelado" in shown
    assert "refrigerated" not in shown


def test_a_logo_cut_short_is_one_sentence_on_the_page(page: Page, morning: ShopInHand) -> None:
    folder = morning.shop.desk.folder
    assert folder is not None
    noise = io.BytesIO()
    Image.effect_noise((300, 200), 90).save(noise, "PNG")
    (folder / "mark.png").write_bytes(noise.getvalue()[:20_000])
    text = (folder / "shop.toml").read_text("utf-8")
    text = text.replace("[labels]\n", '[labels]\nlogo = "mark.png"\n')
    (folder / "shop.toml").write_text(text, "utf-8")
    told = page.get(f"/labels/preview.json?{FIRM}")
    assert told.json["error"] == (
        "Cannot print the logo mark.png: the picture in that file is not whole. Give a PNG file."
    )
