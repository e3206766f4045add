"""Labels in a real browser: choose, look at the page, tap the sheet, take the PDF."""

from __future__ import annotations

import base64
import io
from typing import Any

import pytest
import zxingcpp
from PIL import Image

from labels.picture import png
from tests.browser.conftest import Live
from tests.browser.looks import axe_findings, sideways, small_targets
from tests.conftest import CATALOGUE

SHEET = "sheet-letter-2x4-101.6x63.5"


def codes(picture: Image.Image) -> set[str]:
    return {found.text for found in zxingcpp.read_barcodes(picture.convert("L"))}


def test_the_picture_shown_and_the_pdf_taken_carry_the_lot(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/labels/")
    assert tablet.is_disabled("#save")
    tablet.check("[name=lot][value='26328-01']")
    tablet.wait_for_selector("#page:not([hidden])")
    tablet.fill("[name='count.26328-01']", "2")
    tablet.wait_for_selector("text=Labels: 2 · pages: 2")
    data = tablet.get_attribute("#page", "src").partition(",")[2]
    shown = Image.open(io.BytesIO(base64.b64decode(data)))
    assert codes(shown) == {"26328-01", "9521234000013"}
    assert tablet.evaluate("document.getElementById('page').naturalWidth") == shown.width
    tablet.click("#save")
    tablet.wait_for_url("**/labels/done/26328-01-203dpi.pdf")
    assert "26328-01: 2 labels, pages: 2. It is recorded." in tablet.inner_text("main")
    link = tablet.get_attribute("text=Open the PDF to print it", "href")
    pdf = tablet.request.get(f"{live.url}{link}").body()
    assert codes(Image.open(io.BytesIO(png(pdf, 203)))) == {"26328-01", "9521234000013"}
    assert [p.labels for p in live.shop.products.printed_of("26328-01")] == [2]


def test_a_claim_is_asked_about_in_a_dialog_and_the_answer_prints(live: Live, tablet: Any) -> None:
    # 7 CFR 205.301
    live.clock.forward(minutes=1)
    live.shop.products.load_catalogue(
        CATALOGUE.replace('name = "Firm Tofu"', 'name = "Organic Tofu"')
    )
    tablet.goto(f"{live.url}/labels/?lot=26328-01&blank=roll-100x150")
    tablet.wait_for_selector("#page:not([hidden])")
    tablet.click("#save")
    tablet.wait_for_selector("dialog[open]")
    assert "The label claims 'organic': what proves it" in tablet.inner_text("dialog[open]")
    tablet.fill("dialog[open] input", "certificate 7")
    tablet.click("dialog[open] button[value=yes]")
    tablet.wait_for_url("**/labels/done/26328-01-203dpi.pdf")
    live.shop.desk.books.refresh()
    assert live.shop.desk.questions.confirmed()["label.firm.organic"].words == "certificate 7"


def test_the_first_free_position_and_the_used_ones_are_tapped_on_a_small_sheet(
    live: Live, tablet: Any
) -> None:
    tablet.goto(f"{live.url}/labels/?lot=26328-01&blank={SHEET}")
    tablet.click("[data-position='3']")
    tablet.check("[name=tap][value=used]")
    tablet.focus("[data-position='4']")
    tablet.keyboard.press("Enter")
    tablet.click("[data-position='6']")
    states = tablet.eval_on_selector_all("#sheet button", "all => all.map((b) => b.dataset.state)")
    assert states == ["used", "used", "first", "used", "free", "used", "free", "free"]
    assert (tablet.input_value("#f-start"), tablet.input_value("#f-used")) == ("3", "4,6")
    assert tablet.evaluate("document.activeElement.dataset.position") == "6"
    tablet.click("[data-position='2']")  # it was used: now it is the first free one
    assert (tablet.input_value("#f-start"), tablet.input_value("#f-used")) == ("2", "4,6")
    tablet.select_option("#f-blank", "roll-100x75")
    assert not tablet.is_visible("#sheet-box")
    assert tablet.input_value("#f-used") == ""


def test_what_does_not_fit_is_said_and_cannot_be_printed(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/labels/?lot=26328-01&blank=roll-40x25")
    tablet.wait_for_selector("#notes .notice.stop")
    assert "Cannot fit the label of 'Firm Tofu' on roll-40x25" in tablet.inner_text("#notes")
    assert "Large enough by their measures:" in tablet.inner_text("#notes")
    assert tablet.is_disabled("#save")
    tablet.select_option("#f-blank", "roll-100x75")
    tablet.wait_for_selector("#page:not([hidden])")
    assert tablet.is_enabled("#save")
    assert tablet.inner_text("#notes") == ""


def test_a_lot_that_gets_no_label_says_why_and_another_can_be_chosen(
    live: Live, tablet: Any
) -> None:
    live.shop.holds.hold("26328-01", True, "a hair was found")
    tablet.goto(f"{live.url}/labels/?lot=26328-01")
    tablet.wait_for_timeout(500)  # a preview of nothing would have come by now
    assert "it is stopped: a hair was found" in tablet.inner_text(".lots")
    assert (tablet.inner_text("#notes"), tablet.is_disabled("#save")) == ("", True)
    tablet.check("[name=lot][value='26328-02']")
    tablet.wait_for_selector("#page:not([hidden])")
    assert tablet.is_enabled("#save")


@pytest.mark.parametrize(
    "path",
    [f"/labels/?lot=26328-01&blank={SHEET}", "/labels/?lot=26328-03&blank=roll-40x25",
     "/labels/explain?lot=26328-01", "/labels/done/26328-01-203dpi.pdf"],
)  # fmt: skip
def test_every_page_of_labels_is_readable_for_all_and_never_scrolls_sideways(
    live: Live, tablet: Any, path: str
) -> None:
    live.shop.labels.print_labels([("26328-01", 1)])
    tablet.goto(f"{live.url}{path}")
    if "?lot=26328-01&" in path:
        tablet.wait_for_selector("#page:not([hidden])")
    for details in tablet.locator("summary:visible").all():
        details.click()
    assert axe_findings(tablet) == []
    assert small_targets(tablet) == []
    assert sideways(tablet) == {}
