"""The production log on the page: logged, previewed, completed, corrected, stopped."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest

from counter.web import batch_form
from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of

FORM = {"product": "firm", "made": "96", "cook": "boiled", "cook-minutes": "10min", "same": "1"}
BAD_TEXTS = (
    "", "x" * 201, "\x00", "\ud800", "<script>alert(1)</script>", "=1+1", "'; drop", "-1", "1e9",
    "NaN", "9" * 30, "../../etc/passwd", "٣", "None", "26328-99",
)  # fmt: skip


def said(answer: Any) -> str:
    return re.sub(r"\s+", " ", answer.get_data(as_text=True))


def test_every_figure_of_the_form_gets_into_the_log_as_typed(
    page: Page, morning: ShopInHand
) -> None:
    morning.clock.set("2026-11-24 12:20")
    answer = page.post("/log/new", {
        **FORM, "amount.soybeans": "26 lb", "amount.water": "84 l", "code.soybeans": "B-1207",
        "other-1": "salt", "other-amount-1": "30g", "other-code-1": "S-3", "brix": "11.2",
        "cook": "held", "cook-temp": "203F", "cook-minutes": "15min", "cooked-at": "08:10",
        "cooled-21": "09:40", "cooled-5": "12:00", "press": "60psi", "press-minutes": "25",
        "mixed-lot-1": "26328-01", "mixed-amount-1": "4", "notes": "foamy\nbut good",
        "at-clock": "08:10",
    })  # fmt: skip
    assert answer.status_code == 302
    batch = morning.shop.desk.batch("26328-05")
    parts = {p.ingredient: p.written for p in batch.ingredients}
    assert parts == {"soybeans": "26 lb", "water": "84 l", "gypsum": "", "salt": "30 g"}
    assert batch.codes == {"soybeans": "B-1207", "salt": "S-3"}
    assert (batch.made, batch.brix) == (96, Decimal("11.2"))
    assert batch.cook is not None
    assert (batch.cook.celsius, batch.cook.minutes) == (Decimal("95.00"), 15)
    assert batch.cooling is not None
    assert not batch.uncooled
    assert (batch.press_kpa, batch.press_minutes) == (Decimal("413.7"), 25)
    assert [(m.lot, m.amount) for m in batch.mixed] == [("26328-01", 4)]
    assert (batch.notes, batch.at.hour, batch.raw) == ("foamy\nbut good", 8, "")
    shown = said(page.get("/log/lot/26328-05"))
    for words in ("26 lb", "supplier code B-1207", "foamy", "203 °F", "26328-01", "60 psi"):
        assert words in shown


def test_the_form_begins_as_the_last_batch_without_what_is_measured(
    page: Page, morning: ShopInHand
) -> None:
    from labels.units import Measure

    morning.batch(
        "firm", 96, ingredients={"soybeans": Measure(Decimal(12), "kg")}, brix=Decimal("11.2"),
        codes={"soybeans": "B-1207"}, press_kpa=Decimal("413.7"), press_minutes=25,
    )  # fmt: skip
    form = said(page.get("/log/new?product=firm"))

    def value(name: str) -> str:
        found = re.search(rf'name="{re.escape(name)}" value="([^"]*)"', form)
        assert found, name
        return found[1]

    begun = {"made": "96", "amount.soybeans": "12 kg", "amount.water": "", "brix": "",
             "code.soybeans": "B-1207", "press": "60 psi", "press-minutes": "25",
             "cook-minutes": "", "cooled-21": ""}  # fmt: skip
    assert {name: value(name) for name in begun} == begun
    assert "Last time 11.2" in form
    assert "As last time: Boiled, 10 min" in form


def test_a_first_batch_begins_with_one_mould(page: Page) -> None:
    assert 'name="made" value="24"' in said(page.get("/log/new?product=spiced"))


def test_the_preview_tells_lot_date_reason_and_gates_and_writes_nothing(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    shown = page.get("/log/preview.json?product=firm&made=96&brix=9.1&amount.soybeans=12kg").json
    assert shown["lot"] == "26328-05"
    assert (shown["kind"], shown["day"]) == ("best by", "Saturday, November 28, 2026")
    assert shown["reason"] == "keeps 5 days, the day made is day 1"
    assert shown["gates"][0] == {
        "kind": "stop", "sentence": "NOT FOR SALE: no cook is recorded. Raw soy milk must be cooked "
        "before anybody eats it; the local food code decides.",
    }  # fmt: skip
    assert {
        "kind": "warn",
        "sentence": "9.1\u00a0°Brix is unusual for Firm Tofu: mostly 10 to 13.",
    } in (shown["gates"])
    assert shown["parts"] == {"water": "84\u00a0kg", "gypsum": "360\u00a0g"}
    assert books_of(morning) == before


def test_the_preview_takes_the_earlier_date_of_older_stock(page: Page, morning: ShopInHand) -> None:
    shown = page.get("/log/preview.json?product=spiced&mixed-lot-1=26328-02&mixed-amount-1=3").json
    assert shown["reason"] == "lot 26328-02 went into it and keeps only so long"


@pytest.mark.parametrize(
    ("typed", "field", "sentence"),
    [
        ("made=many", "made", "Cannot read amount 'many': this product is counted in pieces."),
        ("amount.soybeans=26+stone", "amount.soybeans", "the unit 'stone' is not known here"),
        ("cook=held&cook-temp=95&cook-minutes=5", "cook-temp", "it is not degrees with C or F"),
        ("cook=held&cook-temp=95C&cook-minutes=a", "cook-minutes", "it is not a span of time"),
        ("cook=boiled", "cook-minutes", "it is not a span of time"),
        ("press=75", "press", "it is not a number with psi, kPa or bar"),
        ("cooled-21=25:00", "cooled-21", "it is no time of the day"),
        ("cooled-5=09:00", "cooled-21", "one of its two parts is missing"),
        ("mixed-lot-1=26328-77&mixed-amount-1=2", "mixed-amount-1", "there is no lot '26328-77'"),
    ],
)
def test_the_preview_names_the_field_that_cannot_be_read(
    page: Page, typed: str, field: str, sentence: str
) -> None:
    wrong = page.get(f"/log/preview.json?product=firm&{typed}").json["wrong"]
    assert list(wrong) == [field]
    assert sentence in wrong[field]


def test_a_form_that_cannot_be_read_comes_back_as_it_was_typed(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    answer = page.post("/log/new", {**FORM, "brix": "strong", "notes": "<b>salty</b>"})
    assert answer.status_code == 400
    shown = said(answer)
    assert "Cannot read °Brix &#39;strong&#39;: it is not a number. Write it as 11.2." in shown
    assert 'name="made" value="96"' in shown
    assert "&lt;b&gt;salty&lt;/b&gt;" in shown
    assert books_of(morning) == before


def test_the_same_form_sent_twice_is_asked_about_before_it_is_written_again(
    page: Page, morning: ShopInHand
) -> None:
    assert page.post("/log/new", FORM).status_code == 302
    again = page.post("/log/new", FORM)
    assert again.status_code == 409
    assert "logged meanwhile: lot 26328-05" in said(again)
    assert page.post("/log/new", {**FORM, "same": "2"}).status_code == 302
    assert len(morning.shop.production.made_on(morning.shop.desk.today())) == 6


def test_smoked_blocks_need_the_lot_they_are_made_from(page: Page, morning: ShopInHand) -> None:
    form = {"product": "smoked", "made": "24", "same": "0"}
    answer = page.post("/log/new", form)
    assert answer.status_code == 400
    assert "Name the lot it was made from, and how much of it." in said(answer)
    named = {**form, "mixed-lot-1": "26328-01", "mixed-amount-1": "6"}
    assert page.post("/log/new", named).status_code == 302
    assert morning.on_hand("26328-01") == 42


def test_a_refusal_of_the_shop_comes_back_with_the_form(page: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    morning.clock.set("2026-11-24 12:00")
    answer = page.post("/log/new", {**FORM, "cooked-at": "07:00", "cooled-21": "06:00"})
    assert answer.status_code == 400
    assert "the cooling time 06:00 is before the end of the cook, 07:00" in said(answer)
    assert books_of(morning) == before


def test_cooling_is_noted_with_two_taps(page: Page, morning: ShopInHand) -> None:
    page.post("/log/new", {**FORM, "cooked-at": "08:30"})
    for step, clock in (("21", "2026-11-24 09:40"), ("5", "2026-11-24 12:00")):
        morning.clock.set(clock)
        assert page.post("/log/lot/26328-05/cooled", {"step": step}).status_code == 302
    cooling = morning.shop.desk.batch("26328-05").cooling
    assert cooling is not None
    assert cooling.to_5 is not None
    assert (f"{cooling.to_21:%H:%M}", f"{cooling.to_5:%H:%M}") == ("09:40", "12:00")
    again = page.post("/log/lot/26328-05/cooled", {"step": "5"})
    assert again.status_code == 409
    assert "that time is noted already" in said(again)


def test_cooling_out_of_turn_or_on_another_day_is_refused(page: Page, morning: ShopInHand) -> None:
    warm = morning.batch("firm", cooled=None).lot
    answer = page.post(f"/log/lot/{warm}/cooled", {"step": "5"})
    assert answer.status_code == 409
    assert "when it reached 21 °C / 70 °F is not noted" in said(answer)
    morning.clock.set("2026-11-25 08:00")
    morning.clock.set("2026-11-25 08:40")
    late = page.post(f"/log/lot/{warm}/cooled", {"step": "21"})
    assert "it was made on 2026-11-24" in said(late)


def test_a_batch_that_cooled_too_slowly_is_stopped_and_says_so(
    page: Page, morning: ShopInHand
) -> None:
    page.post("/log/new", {**FORM, "cooked-at": "08:30"})
    morning.clock.set("2026-11-24 11:00")
    page.post("/log/lot/26328-05/cooled", {"step": "21"})
    shown = said(page.get("/log/lot/26328-05"))
    assert "STOPPED: cooled too slowly: it took 2 h 30 min to reach 21 °C / 70 °F" in shown


def test_a_lot_is_stopped_and_released_with_who_and_why(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    page.sign_in("teo", pins["teo"])
    stop = {"what": "stop", "why": "smells sour <i>"}
    assert page.post("/log/lot/26328-01/hold", stop).status_code == 302
    shown = said(page.get("/log/lot/26328-01"))
    assert "smells sour &lt;i&gt;" in shown
    assert "Teo" in shown
    again = page.post("/log/lot/26328-01/hold", stop)
    assert again.status_code == 409
    assert page.post("/log/lot/26328-01/hold", {"what": "release", "why": ""}).status_code == 400
    page.post("/log/lot/26328-01/hold", {"what": "release", "why": "tasted, good"})
    assert not morning.shop.desk.ledger().rows["26328-01"].lot.stopped


def test_only_what_was_touched_is_corrected(page: Page, morning: ShopInHand) -> None:
    morning.batch("firm", 96, brix=Decimal("11.2"), notes="foamy")
    old = morning.shop.desk.batch("26328-05")
    page.get("/who/")
    with page.client.application.test_request_context():
        from flask import g

        g.shop, g.words = morning.shop, None
        values = batch_form.values_of(old)
    answer = page.post("/log/lot/26328-05/amend", {**values, "brix": "12.1", "because": "misread"})
    assert answer.status_code == 302
    new = morning.shop.desk.batch("26328-05")
    assert (new.brix, new.made, new.cook, new.notes) == (Decimal("12.1"), 96, old.cook, "foamy")
    assert (new.revision, new.why) == (1, "misread")
    assert "Correction 1: misread" in said(page.get("/log/lot/26328-05"))


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"made": "48", "because": "misread"}, "Nothing was changed."),
        ({"made": "50"}, "Say why it is corrected."),
        ({"made": "0", "because": "misread"}, "0 made is no amount"),
    ],
)
def test_a_correction_needs_a_change_and_a_reason(
    page: Page, morning: ShopInHand, form: dict[str, str], sentence: str
) -> None:
    before = books_of(morning)
    answer = page.post("/log/lot/26328-01/amend", form)
    assert answer.status_code == 400
    assert sentence in said(answer)
    assert books_of(morning) == before


def test_an_earlier_day_is_shown_without_the_taps_of_today(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-25 04:10")
    shown = said(page.get("/log/?day=2026-11-24"))
    assert "26328-01" in shown
    assert 'name="step"' not in shown
    assert "Log a batch of" not in shown
    assert 'name="step"' not in said(page.get("/log/lot/26328-01"))


def test_the_strength_of_the_last_batches_is_a_picture_with_its_band(
    page: Page, morning: ShopInHand
) -> None:
    for brix in ("11.2", "12", "9.1"):
        morning.batch("firm", 48, brix=Decimal(brix))
    shown = said(page.get("/log/new?product=firm"))
    assert shown.count("<circle") == 3
    assert shown.count('class="dot off"') == 1
    assert "The band is the usual range, 10 to 13." in shown
    assert "<circle" not in said(page.get("/log/new?product=soft"))


def test_the_log_speaks_the_language_of_the_browser(page: Page) -> None:
    page.post("/language", {"language": "es"})
    assert "Registro de producción" in said(page.get("/log/"))
    assert "Lo que salió" in said(page.get("/log/new?product=firm"))


def test_who_sells_does_not_log(page: Page, pins: dict[str, str], morning: ShopInHand) -> None:
    page.sign_in("ida", pins["ida"])
    before = books_of(morning)
    for answer in (page.get("/log/"), page.post("/log/new", FORM),
                   page.post("/log/lot/26328-01/hold", {"what": "stop", "why": "x"})):  # fmt: skip
        assert answer.status_code == 403
    assert books_of(morning) == before


# -- over the turn of the day, left out, and what a correction would do


def test_the_cooling_of_the_night_is_tapped_when_the_day_has_turned(
    page: Page, morning: ShopInHand
) -> None:
    morning.clock.set("2026-11-25 01:40")
    page.post("/log/new", {**FORM, "same": "1", "cooked-at": "01:30"})
    morning.clock.set("2026-11-25 03:20")
    shown = said(page.get("/log/"))
    assert "1 batch of the day before cools still" in shown
    assert "26328-05" in shown
    assert page.post("/log/lot/26328-05/cooled", {"step": "21"}).status_code == 302
    assert "Cooling of lot 26328-05 noted at 3:20 AM." in said(page.get("/log/lot/26328-05"))
    morning.clock.set("2026-11-25 03:45")
    page.post("/log/lot/26328-05/cooled", {"step": "5", "clock": "03:40"})
    cooling = morning.shop.desk.batch("26328-05").cooling
    assert cooling is not None
    assert cooling.to_5 is not None
    assert (cooling.to_5.day, cooling.to_5.hour) == (25, 3)
    assert "cools still" not in said(page.get("/log/"))


def test_0_leaves_an_ingredient_out_of_this_batch_and_not_of_the_next_form(
    page: Page, morning: ShopInHand
) -> None:
    shown = page.get("/log/preview.json?product=puffs&made=40&amount.wheat-flour=0").json
    assert {"kind": "warn", "sentence": "Wheat Flour was left out: the label does not name it, nor "
            "wheat as an allergen. Make sure that none went in."} in shown["gates"]  # fmt: skip
    form = {"product": "puffs", "made": "40", "cook": "held", "cook-temp": "170C",
            "cook-minutes": "5", "same": "0", "amount.wheat-flour": "0"}  # fmt: skip
    assert page.post("/log/new", form).status_code == 302
    lot = said(page.get("/log/lot/26328-05"))
    assert re.search(r"Wheat Flour</th> <td>left out<", lot)
    assert "left out" in said(page.get("/records/lot/26328-05"))
    assert re.search(
        r'name="amount.wheat-flour" value=""', said(page.get("/log/new?product=puffs"))
    )
    amend = said(page.get("/log/lot/26328-05/amend"))
    assert re.search(r'name="amount.wheat-flour" value="0 g"', amend)
    explained = said(page.get("/labels/explain?lot=26328-05"))
    assert "by the log no Wheat Flour went into this batch" in explained
    assert explained.count("Wheat") == 1
    assert "Contains: soy." in explained
    put = {"amount.wheat-flour": "90 g", "because": "it was put in after all"}
    assert page.post("/log/lot/26328-05/amend", put).status_code == 302
    assert "Contains: soy, wheat." in said(page.get("/labels/explain?lot=26328-05"))


def test_the_beans_cannot_be_left_out_by_a_slip(page: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    answer = page.post("/log/new", {**FORM, "amount.soybeans": "0"})
    assert answer.status_code == 400
    assert "0 g of soybeans is nothing, and Firm Tofu is made of it" in said(answer)
    assert books_of(morning) == before


def test_a_correction_shows_its_date_and_gates_before_it_is_written(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    path = "/log/lot/26328-01/preview.json"
    shown = page.get(f"{path}?made=48&brix=9.1&cook=boiled&cook-minutes=2").json
    assert (shown["lot"], shown["day"]) == ("26328-01", "Saturday, November 28, 2026")
    assert shown["reason"] == "keeps 5 days, the day made is day 1"
    kinds = [gate["kind"] for gate in shown["gates"]]
    assert kinds[:2] == ["stop", "warn"]  # boiled too shortly; and unusual
    mixed = page.get(f"{path}?mixed-lot-1=26328-02&mixed-amount-1=3").json
    assert mixed["reason"] == "lot 26328-02 went into it and keeps only so long"
    assert page.get(f"{path}?made=many").json["wrong"].keys() == {"made"}
    itself = page.get(f"{path}?mixed-lot-1=26328-01&mixed-amount-1=3").json
    assert "it cannot go into itself" in itself["refused"]
    morning.clock.set("2026-11-25 09:00")
    sealed = page.get(f"{path}?made=40").json
    assert "Cannot change how much lot 26328-01 made" in sealed["refused"]
    assert books_of(morning) == before
    assert f'data-preview="{path}"' in said(page.get("/log/lot/26328-01/amend"))


# -- what was made from a stopped lot


@pytest.fixture
def smoked(morning: ShopInHand) -> ShopInHand:
    """Smoked 26328-05 and 26328-06 were made from firm 26328-01."""
    for _ in range(2):
        morning.batch("smoked", 24, mixed=(("26328-01", 10),))
    return morning


def test_stopping_a_lot_stops_those_made_from_it_and_names_what_the_owner_let_go(
    page: Page, smoked: ShopInHand, pins: dict[str, str]
) -> None:
    page.sign_in("teo", pins["teo"])
    page.post("/log/lot/26328-01/hold", {"what": "stop", "why": "sour <b>"})
    for lot in ("26328-05", "26328-06"):
        assert smoked.shop.desk.ledger().held(lot) == "lot 26328-01 went into it: sour <b>"
    assert "not stopped" not in said(page.get("/log/lot/26328-01"))
    let_go = {"what": "release", "why": "it was made before that"}
    assert page.post("/log/lot/26328-05/hold", let_go).status_code == 409  # a maker is no owner
    page.sign_in("rosa", pins["rosa"])
    assert page.post("/log/lot/26328-05/hold", let_go).status_code == 302
    assert smoked.shop.desk.ledger().held("26328-05") == ""
    shown = said(page.get("/log/lot/26328-01"))
    assert "1 lot was made from it and is not stopped" in shown
    assert shown.count("Stop it too<") == 1
    form = {"what": "stop", "why": "sour", "from": "26328-01", "back": "records.lot"}
    assert page.post("/log/lot/26328-05/hold", form).location == "/records/lot/26328-01"
    assert "not stopped" not in said(page.get("/log/lot/26328-01"))
    page.post("/log/lot/26328-05/hold", let_go)
    page.sign_in("ida", pins["ida"])
    shown = said(page.get("/records/lot/26328-01"))
    assert "1 lot was made from it and is not stopped" in shown
    assert "Stop it too<" not in shown


# -- hostile


@pytest.mark.parametrize("text", BAD_TEXTS)
@pytest.mark.parametrize(
    "path", ["/log/?day={}", "/log/new?product={}", "/log/lot/{}", "/log/lot/{}/amend",
             "/log/preview.json?product={}"],
)  # fmt: skip
def test_a_hostile_address_is_answered_with_a_sentence(page: Page, path: str, text: str) -> None:
    from urllib.parse import quote

    answer = page.get(path.format(quote(text, errors="surrogatepass")))
    assert answer.status_code < 500
    if text:
        assert answer.status_code >= 300
    assert b"Traceback" not in answer.data
    assert answer.mimetype == "application/json" or b"<script>alert" not in answer.data


@pytest.mark.parametrize("text", BAD_TEXTS)
def test_hostile_text_in_any_field_writes_nothing_or_is_plain_text(
    page: Page, morning: ShopInHand, text: str
) -> None:
    before = books_of(morning)
    text = text.encode("utf-8", "surrogatepass").decode("utf-8", "replace")
    names = [*batch_form.PLAIN, "amount.soybeans", "other-1", "other-amount-1", "mixed-lot-1",
             "mixed-amount-1"]  # fmt: skip
    for name in names:
        answer = page.post("/log/new", {**FORM, "same": "none", name: text})
        assert answer.status_code in (400, 409), name
        preview = page.get("/log/preview.json", query_string={"product": "firm", name: text})
        assert preview.status_code in (200, 400), name
        assert b"<script>alert" not in answer.data
    for path in ("cooled", "hold", "amend"):
        form = {"step": text, "what": text, "why": text, "made": text, "because": "x"}
        assert 400 <= page.post(f"/log/lot/26328-01/{path}", form).status_code < 500, path
    assert books_of(morning) == before


def test_a_change_without_the_token_or_from_another_host_is_refused(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    for path in ("/log/new", "/log/lot/26328-01/hold", "/log/lot/26328-01/cooled",
                 "/log/lot/26328-01/amend"):  # fmt: skip
        assert page.client.post(path, data=FORM).status_code == 403
        assert page.post(path, FORM, headers={"Host": "evil.example"}).status_code == 403
        assert page.client.put(path).status_code in (403, 405)
    assert books_of(morning) == before


def test_a_cooling_read_later_completes_a_batch_and_does_not_correct_it(
    page: Page, morning: ShopInHand
) -> None:
    lot = morning.batch("firm", cooled=None).lot
    made = page.post(f"/log/lot/{lot}/cooled", {"step": "21", "back": "log"})
    assert (made.status_code, made.location) == (302, "/log/")
    assert morning.shop.desk.batch(lot).revision == 1
    for path in ("/log/", f"/log/lot/{lot}"):
        assert '<span class="chip">corrected</span>' not in said(page.get(path))
    page.post(f"/log/lot/{lot}/amend", {"made": "47", "because": "one fell"})
    for path in ("/log/", f"/log/lot/{lot}"):
        assert '<span class="chip">corrected</span>' in said(page.get(path))


def test_what_is_missing_of_a_batch_is_said_once(page: Page, morning: ShopInHand) -> None:
    lot = morning.batch("firm", cooled=None).lot
    page.post(f"/log/lot/{lot}/cooled", {"step": "21"})
    assert said(page.get(f"/log/lot/{lot}")).count("The cooling is not complete") == 1


def test_the_number_on_the_packs_is_a_field_of_the_form(page: Page, morning: ShopInHand) -> None:
    form = {"product": "firm", "made": "24", "cook": "boiled", "cook-minutes": "10", "same": "1"}
    refused = page.post("/log/new", {**form, "lot": "26328-02"})
    assert refused.status_code == 409 or refused.status_code == 400
    assert "lot 26328-02 is logged already" in refused.get_data(as_text=True)
    assert page.post("/log/new", {**form, "lot": "26328-07"}).location == "/log/lot/26328-07"
    shown = page.get("/log/preview.json?product=firm&made=24&cook=&lot=26328-09").get_json()
    assert shown["lot"] == "26328-09"


def test_a_batch_that_never_was_is_voided_on_its_page(page: Page, morning: ShopInHand) -> None:
    assert "This batch never was" in page.get("/log/lot/26328-01").get_data(as_text=True)
    assert page.post("/log/lot/26328-01/void", {"why_never": " "}).status_code == 400
    done = page.post("/log/lot/26328-01/void", {"why_never": "logged twice"})
    assert done.location == "/log/lot/26328-01"
    for place in ("/log/lot/26328-01", "/records/lot/26328-01"):
        text = page.get(place).get_data(as_text=True)
        assert "This batch never was: logged twice" in text
        assert "Void this batch" not in text
    assert "never was" in page.get("/log/").get_data(as_text=True)
    assert "never was" in page.get("/records/").get_data(as_text=True)
    labels = page.get("/labels/?lot=26328-01").get_data(as_text=True)
    assert "it never was: logged twice" in labels
    assert morning.shop.desk.batch("26328-01").void == "logged twice"
