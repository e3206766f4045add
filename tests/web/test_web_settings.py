"""The shop's settings over the page: kept whole or not at all, followed at once by every tablet."""

from __future__ import annotations

import html
import os
import re
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from counter.books import Books
from counter.errors import DiskRefused
from counter.shop import Shop
from counter.trade.sales import Slip
from counter.trade.schema import keys_of
from counter.web.blank_form import FIELDS
from counter.web.shop_forms import PARTS, sections
from labels.blanks import Blank
from tests.conftest import SETTINGS, ShopInHand
from tests.texts import catalogue
from tests.web.conftest import Page


def text_of(answer: Any) -> str:
    return str(answer.get_data(as_text=True))


def file_of(hand: ShopInHand) -> Path:
    assert hand.shop.desk.folder is not None
    return hand.shop.desk.folder / "shop.toml"


def form_of(page: Page, path: str) -> dict[str, Any]:
    """A form as the page fills it: what a browser sends when nothing is touched."""
    html = text_of(page.get(path))
    form = html[html.index('<form class="settings"') : html.index("</form>")]
    found: dict[str, list[str]] = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = re.search(r' name="([^"]+)"', tag), re.search(r' value="([^"]*)"', tag)
        assert name
        if 'type="checkbox"' not in tag or " checked" in tag:
            found.setdefault(name[1], []).append(value[1] if value else "")
    for name, options in re.findall(
        r'<select[^>]* name="([^"]+)"[^>]*>(.*?)</select>', form, re.DOTALL
    ):
        chosen = re.search(r'value="([^"]*)" selected', options) or re.search(
            r'value="([^"]*)"', options
        )
        assert chosen
        found.setdefault(name, []).append(chosen[1])
    return {name: values[0] if len(values) == 1 else values for name, values in found.items()}


def keep(page: Page, part: str, **changed: Any) -> Any:
    """Open a form, change some fields, keep it. ``shop__city`` is the field ``shop.city``."""
    sent = form_of(page, f"/setup/shop/{part}")
    sent |= {name.replace("__", "."): value for name, value in changed.items()}
    sent["token"] = page.token
    return page.client.post(f"/setup/shop/{part}", data=sent)


@pytest.mark.parametrize("part", PARTS)
def test_a_form_that_nobody_touched_changes_nothing(
    page: Page, morning: ShopInHand, part: str
) -> None:
    before = file_of(morning).read_bytes()
    assert keep(page, part).status_code == 302
    assert "Nothing was different" in text_of(page.get("/setup/shop"))
    assert file_of(morning).read_bytes() == before
    assert not file_of(morning).with_name("shop.toml.before").exists()


def test_a_new_name_is_kept_with_the_comments_and_used_at_once(
    page: Page, morning: ShopInHand
) -> None:
    made = keep(page, "who", shop__name="Lower Mill Tofu", shop__phone="555-0177")
    assert (made.status_code, made.location) == (302, "/setup/shop#who")
    text = file_of(morning).read_text("utf-8")
    assert text == SETTINGS.replace("Millrace Tofu Works", "Lower Mill Tofu").replace(
        "555-0142", "555-0177"
    )
    assert file_of(morning).with_name("shop.toml.before").read_text("utf-8") == SETTINGS
    assert "· Lower Mill Tofu</title>" in text_of(page.get("/shelf/"))
    assert "Lower Mill Tofu" in text_of(page.get("/labels/explain?lot=26328-01"))
    assert [f.name for f in file_of(morning).parent.iterdir() if f.name.endswith(".part")] == []


def test_a_new_rate_holds_for_the_next_sale_and_not_for_the_last(
    page: Page, morning: ShopInHand
) -> None:
    before = morning.sell("cup-small")
    rates = {"name": ["grocery", "prepared", ""], "away": ["0", "10,5", ""], "here": ["0", "8.6", ""],
             "was": ["grocery", "prepared", ""]}  # fmt: skip
    assert keep(page, "tax", **rates).status_code == 302
    after = morning.sell("cup-small")
    assert (before.total, after.total) == (380, 387)  # 3.50 at 8.6 %, at 10.5 %
    assert morning.shop.counter.sale(before.number).total == 380
    assert [tax.tax for sale in (before, after) for tax in sale.taxes] == [30, 37]
    assert morning.shop.counter.refund(before.number, "spilled").amount == 380
    assert 'away = "0.105"' in file_of(morning).read_text("utf-8")


def test_a_new_rate_with_a_day_waits_for_it_and_is_shown(page: Page, morning: ShopInHand) -> None:
    rates = {"name": ["grocery", "prepared", ""], "away": ["0", "10.5", ""], "here": ["0", "8.6", ""],
             "was": ["grocery", "prepared", ""], "since": "2026-11-26"}  # fmt: skip
    assert keep(page, "tax", **rates).status_code == 302
    assert morning.sell("cup-small").total == 380
    shown = text_of(page.get("/setup/shop"))
    assert "prepared, from" in shown
    assert "10.5" in shown
    later = date(2026, 11, 26)
    assert morning.shop.desk.settings.tax.at(later).classes["prepared"].away == Decimal("0.105")
    before = file_of(morning).read_bytes()
    assert keep(page, "tax").status_code == 302  # as today holds; what waits goes on waiting
    assert file_of(morning).read_bytes() == before
    morning.clock.set("2026-11-26 09:00")
    assert form_of(page, "/setup/shop/tax")["away"] == ["0", "10.5", "", ""]
    again = {**rates, "away": ["0", "11", ""], "since": ""}
    assert keep(page, "tax", **again).status_code == 302
    assert morning.shop.desk.settings.tax.at(later).classes["prepared"].away == Decimal("0.11")


def test_a_rate_of_a_hundred_percent_and_more_is_refused_in_percent(page: Page) -> None:
    """Who is told "a part of one" by a form that asks for percent writes a hundredth of the tax."""
    rates = {"name": ["grocery", "prepared"], "away": ["0", "870"], "here": ["0", "8.6"],
             "was": ["grocery", "prepared"]}  # fmt: skip
    made = keep(page, "tax", **rates)
    assert made.status_code == 400
    said = html.unescape(made.get_data(as_text=True))
    assert "'870' is not a rate in percent. Write 8.25, say." in said
    assert "part of one" not in said


def test_a_new_rate_from_a_day_that_has_passed_is_refused(page: Page, morning: ShopInHand) -> None:
    rates = {"name": ["grocery", "prepared"], "away": ["0", "10.5"], "here": ["0", "8.6"],
             "was": ["grocery", "prepared"], "since": "2026-11-23"}  # fmt: skip
    made = keep(page, "tax", **rates)
    assert made.status_code == 400
    assert "2026-11-23 has passed" in text_of(made)
    assert file_of(morning).read_text("utf-8") == SETTINGS


def test_a_late_note_keeps_the_rate_that_was_changed_on_the_page_since(
    page: Page, morning: ShopInHand
) -> None:
    at = morning.clock.moment
    morning.clock.forward(hours=1)
    rates = {"name": ["grocery", "prepared"], "away": ["0", "10.5"], "here": ["0", "8.6"],
             "was": ["grocery", "prepared"]}  # fmt: skip
    assert keep(page, "tax", **rates).status_code == 302
    slip = Slip((morning.shop.counter.read_item("cup-small", at),))
    assert morning.shop.counter.price(slip, at).total == 380
    assert morning.shop.counter.price(slip).total == 387


def test_the_same_rate_written_otherwise_changes_nothing(page: Page, morning: ShopInHand) -> None:
    rates = {"name": ["grocery", "prepared"], "away": ["", "8.60"], "here": ["0.0", "08.6"],
             "was": ["grocery", "prepared"]}  # fmt: skip
    keep(page, "tax", **rates)
    assert file_of(morning).read_text("utf-8") == SETTINGS


def test_an_open_tablet_sees_a_new_rate_and_prices_its_slip_anew(
    page: Page, morning: ShopInHand
) -> None:
    slip = {"items": [{"portion": "cup-small"}], "key": "a"}
    shown = page.send("/slip/price", slip).get_json()
    mark = page.get("/shelf.json").headers["ETag"]
    keep(page, "tax", name=["grocery", "prepared"], away=["0", "20"], here=["0", "20"],
         was=["grocery", "prepared"])  # fmt: skip
    assert page.get("/shelf.json", headers={"If-None-Match": mark}).status_code == 200
    paid = page.send(
        "/slip/pay", {"slip": slip, "tenders": [{"kind": "card"}], "seen": shown["seen"]}
    )
    assert paid.status_code == 409
    assert "it now costs $4.20, since the shelf has changed" in paid.get_json()["error"]


WRONG = [
    ("hours", "shop__timezone", "Mars/Base", "There is no time zone &#39;Mars/Base&#39;."),
    ("hours", "shop__opens", "8 o'clock", "&#39;8 o&#39;clock&#39;: it is no time of the day."),
    ("who", "shop__name", "", "It stands on every label. Fill it in."),
    ("who", "shop__zip", " ", "It stands on every label. Fill it in."),
    ("money", "cash__currency", "XXQ", "There is no currency &#39;XXQ&#39;."),
    ("money", "cash__smallest_coin", "0.005", ""),
    ("money", "cash__coins", "1, two", ""),
    ("money", "shop__language", "xx_YY", "There is no language &#39;xx_YY&#39;."),
    ("paper", "labels__blank", "roll-1x1", "There is no blank &#39;roll-1x1&#39;"),
    ("paper", "labels__restricted", "mars", ""),
    ("paper", "shop__market", "mars", ""),
    ("backup", "backup__keep_days", "two", "&#39;two&#39; is not a whole number."),
    ("backup", "backup__keep_days", "0", ""),
]


@pytest.mark.parametrize(("part", "name", "value", "said"), WRONG)
def test_what_cannot_be_is_said_at_its_field_and_everything_typed_is_kept(
    page: Page, morning: ShopInHand, part: str, name: str, value: str, said: str
) -> None:
    other = {"hours": ("shop__closes", "17:17"), "who": ("shop__phone", "555-0199"),
             "money": ("cash__float", "177.00"), "paper": ("labels__storage", "Keep it cold"),
             "backup": ("backup__folder", "/media/stick")}[part]  # fmt: skip
    made = keep(page, part, **{name: value, other[0]: other[1]})
    html = text_of(made)
    assert made.status_code in (400, 409)
    assert "Cannot " in html
    field = name.replace("__", ".")
    assert f'id="e-{field}"' in html
    assert re.search(rf'name="{re.escape(field)}"[^>]*aria-invalid="true"', html)
    assert said in html
    assert other[1] in html
    assert file_of(morning).read_text("utf-8") == SETTINGS
    assert morning.shop.desk.settings.shop.phone == "555-0142"


def test_a_tax_class_that_is_used_is_not_taken_away(page: Page, morning: ShopInHand) -> None:
    made = keep(page, "tax", name=["", "prepared"], away=["0", "8.6"], here=["0", "8.6"],
                was=["grocery", "prepared"])  # fmt: skip
    assert made.status_code == 409
    assert "The catalogue in use would not fit: " in text_of(made)
    assert file_of(morning).read_text("utf-8") == SETTINGS


@pytest.mark.parametrize(("names", "rates"), [
    (["grocery", "prepared", "grocery"], ["0", "8.6", "1"]), (["grocery", "prepared", "a.b\""], ["0", "8.6", "1"]),
    (["grocery", "prepared", "new"], ["0", "8.6", "x"]), (["grocery", "prepared", "new"], ["0", "8.6", "-1"]),
    (["grocery", "prepared", "new"], ["0", "8.6", "100"]), (["grocery", "prepared", "new"], ["0", "8.6", "1e1"]),
    (["grocery", "prepared", "x" * 41], ["0", "8.6", "1"]), (["grocery", "prepared"], ["0", "8.6", "1"]),
])  # fmt: skip
def test_tax_classes_that_cannot_be_are_refused(
    page: Page, morning: ShopInHand, names: list[str], rates: list[str]
) -> None:
    made = keep(page, "tax", name=names, away=rates, here=rates, was=["grocery", "prepared", ""])
    assert made.status_code in (400, 409)
    assert file_of(morning).read_text("utf-8") == SETTINGS


def test_the_currency_stays_once_something_is_sold(page: Page, morning: ShopInHand) -> None:
    morning.sell("firm-block")
    made = keep(page, "money", cash__currency="EUR")
    assert made.status_code == 409
    assert (
        "has sales or cash in USD, and they would be read as EUR. Begin a new shop folder for it."
        in text_of(made)
    )
    assert file_of(morning).read_text("utf-8") == SETTINGS


def test_the_currency_changes_before_anything_is_sold_where_prices_stay_right(
    page: Page, morning: ShopInHand
) -> None:
    assert "is divided otherwise" in text_of(keep(page, "money", cash__currency="JPY", cash__smallest_coin="1",
                                                  cash__float="100", cash__coins="100, 10, 1"))  # fmt: skip
    assert keep(page, "money", cash__currency="EUR").status_code == 302
    assert "€3.25" in text_of(page.get("/shelf/"))


def test_a_day_in_the_middle_of_its_work_is_not_moved(page: Page, morning: ShopInHand) -> None:
    """It is five: were the day to begin at six, the morning would be yesterday's."""
    morning.clock.set("2026-11-24 05:00")
    made = keep(page, "hours", shop__day_starts="06:00")
    assert made.status_code == 409
    assert "what is written down today would belong to 2026-11-23" in text_of(made)
    assert keep(page, "hours", shop__day_starts="02:00").status_code == 302
    assert morning.shop.desk.today().isoformat() == "2026-11-24"


def test_another_law_is_taken_with_a_word_about_the_dates(page: Page, morning: ShopInHand) -> None:
    """Nobody has chosen between best-by and use-by where the law before did not ask."""
    assert keep(page, "paper", shop__market="eu").status_code == 302
    assert "read the date of each product again" in text_of(page.get("/setup/shop"))
    assert morning.shop.desk.settings.shop.market == "eu"


def test_a_number_layout_that_products_need_stays(page: Page, morning: ShopInHand) -> None:
    made = keep(page, "paper", labels__restricted="")
    assert made.status_code == 409
    assert 'id="e-labels.restricted"' in text_of(made)
    assert file_of(morning).read_text("utf-8") == SETTINGS


def test_places_are_added_changed_and_taken_away(page: Page, morning: ShopInHand) -> None:
    rows = {"name": ["fridge", "", "hot well", "cellar 2"], "how": ["cold", "cold", "hot", "cold"],
            "was": ["fridge", "display", "hot well", ""]}  # fmt: skip
    assert keep(page, "places", **rows).status_code == 302
    assert dict(morning.shop.desk.settings.holding) == {
        "fridge": "cold",
        "hot well": "hot",
        "cellar 2": "cold",
    }
    assert keep(page, "places", **{**rows, "name": [""] * 4}).status_code == 400
    assert "cellar 2" in text_of(page.get("/temperatures/"))


# -- what others do meanwhile


def test_a_file_changed_meanwhile_is_not_overwritten(page: Page, morning: ShopInHand) -> None:
    sent = form_of(page, "/setup/shop/who")
    other = SETTINGS.replace("555-0142", "555-0111")
    file_of(morning).write_text(other, "utf-8")
    made = page.post("/setup/shop/who", {**sent, "shop.city": "Lower Ferry"})
    html = text_of(made)
    assert made.status_code == 409
    assert "somebody else has changed shop.toml since this page was opened" in html
    assert file_of(morning).read_text("utf-8") == other
    assert 'value="Lower Ferry"' in html
    assert "In the file now: 555-0111" in html
    again = re.search(r'name="digest" value="(\w+)"', html)
    assert again
    page.post(
        "/setup/shop/who",
        {**sent, "shop.city": "Lower Ferry", "shop.phone": "555-0111", "digest": again[1]},
    )
    assert file_of(morning).read_text("utf-8") == other.replace("Alder Ferry", "Lower Ferry")


def test_a_file_mended_by_hand_is_taken_over_and_a_broken_one_is_not(
    page: Page, morning: ShopInHand
) -> None:
    file = file_of(morning)
    file.write_text(SETTINGS.replace("Millrace", "Upper"), "utf-8")
    assert "Upper Tofu Works" in text_of(page.get("/shelf/"))
    file.write_text("[shop\n", "utf-8")
    assert "Upper Tofu Works" in text_of(page.get("/shelf/"))
    assert page.send("/slip/price", {"items": [{"portion": "firm-block"}]}).status_code == 200
    html = text_of(page.get("/setup/shop"))
    assert "The file was changed by hand and is not in use." in html
    assert "Cannot read shop.toml: " in html
    file.write_text(SETTINGS, "utf-8")
    assert "not in use" not in text_of(page.get("/setup/shop"))


def test_a_second_program_over_the_same_shop_follows(page: Page, morning: ShopInHand) -> None:
    assert morning.shop.desk.folder is not None
    other = Shop.open(morning.shop.desk.folder, morning.clock)
    keep(page, "who", shop__city="Lower Ferry")
    assert other.desk.settings.shop.city == "Alder Ferry"
    assert other.setup.follow_settings()
    assert not other.setup.follow_settings()
    assert other.desk.settings.shop.city == "Lower Ferry"
    other.desk.books.close()


def test_a_disk_that_refuses_leaves_file_and_shop_as_they_were(
    page: Page, morning: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, count = os.fsync, 0

    def full(fd: int) -> None:
        nonlocal count
        count += 1
        if count == 2:  # the file from before is kept, the new one is not
            raise OSError(28, "No space left on device")
        real(fd)

    sent = form_of(page, "/setup/shop/who")
    monkeypatch.setattr("counter.shop.files.os.fsync", full)
    made = page.post("/setup/shop/who", {**sent, "shop.city": "Lower Ferry"})
    assert made.status_code == 503
    assert file_of(morning).read_text("utf-8") == SETTINGS
    assert morning.shop.desk.settings.shop.city == "Alder Ferry"
    assert list(file_of(morning).parent.glob(".*.part")) == []


def test_the_books_say_who_changed_what(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    page.sign_in("rosa", pins["rosa"])
    before = morning.shop.desk.catalogue
    keep(page, "who", shop__city="Lower Ferry")
    change = morning.shop.setup.last_settings_change()
    assert change is not None
    assert (change.by, change.lines) == ("Rosa", ("shop.city: 'Alder Ferry' -> 'Lower Ferry'",))
    assert "by Rosa" in text_of(page.get("/setup/shop"))
    assert morning.shop.desk.catalogue == before
    assert morning.shop.audit.check().sound


def test_what_the_books_cannot_keep_is_not_changed(
    page: Page, morning: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **named: object) -> None:
        raise DiskRefused("write into the shop", "the disk is full", "Make room")

    sent = form_of(page, "/setup/shop/who")
    monkeypatch.setattr(Books, "commit", full)
    made = page.post("/setup/shop/who", {**sent, "shop.city": "Lower Ferry"})
    assert made.status_code == 503
    assert file_of(morning).read_text("utf-8") == SETTINGS
    assert morning.shop.desk.settings.shop.city == "Alder Ferry"
    assert morning.shop.setup.last_settings_change() is None


@pytest.mark.parametrize(
    "path", [*(f"shop/{part}" for part in PARTS), "shop", "blanks", "blanks/edit"]
)
def test_only_the_owner_opens_and_changes_them(
    page: Page, morning: ShopInHand, pins: dict[str, str], path: str
) -> None:
    page.sign_in("teo", pins["teo"])
    assert page.get(f"/setup/{path}").status_code == 403
    assert page.post(f"/setup/{path}", {"shop.city": "x"}).status_code in (403, 405)
    assert file_of(morning).read_text("utf-8") == SETTINGS


@pytest.mark.parametrize("part", ["nothing", "..", "demo"])
def test_a_part_that_is_none_is_not_found(page: Page, part: str) -> None:
    assert page.get(f"/setup/shop/{part}").status_code == 404
    assert page.post(f"/setup/shop/{part}", {}).status_code == 404


def test_hostile_text_is_shown_as_text(page: Page, morning: ShopInHand) -> None:
    evil = '"><script>alert(1)</script>'
    assert keep(page, "who", shop__city=evil).status_code == 302
    for path in ("/setup/shop", "/setup/shop/who", "/shelf/"):
        assert "<script>alert" not in text_of(page.get(path))
    assert morning.shop.desk.settings.shop.city == evil
    assert keep(page, "who", shop__city="a\x00b").status_code == 400


# -- blanks


SHEET = {"name": "mine-2x3", "page": "own", "width": "60", "height": "40,5", "dpi": "300", "columns": "2",
         "rows": "3", "gap_x": "2.5", "left": "5", "top": "5", "page_width": "150", "page_height": "140",
         "keep_clear": "2", "corner": "1"}  # fmt: skip


def blank(at: Page, /, **changed: str) -> Any:
    digest = form_of(at, "/setup/blanks/edit")["digest"]
    return at.post("/setup/blanks/edit", {"digest": digest, "was": "", **SHEET, **changed})


def test_a_blank_of_the_shops_own_is_drawn_kept_changed_and_taken_away(
    page: Page, morning: ShopInHand
) -> None:
    drawn = text_of(blank(page, look="yes"))
    assert drawn.count('class="one"') == 6
    assert morning.shop.desk.settings.blanks == {}
    assert blank(page).status_code == 302
    made = morning.shop.labels.blank("mine-2x3")
    assert (made.per_page, made.step_x, made.step_y, made.page) == (6, 62.5, 40.5, (150.0, 140.0))
    assert made.corner_of(2) == (67.5, 5.0)
    form = form_of(page, "/setup/blanks/edit?name=mine-2x3")
    assert {k: form[k] for k in ("gap_x", "gap_y", "height", "page")} == {
        "gap_x": "2.5", "gap_y": "", "height": "40.5", "page": "own",
    }  # fmt: skip
    assert blank(page, was="mine-2x3", name="other", rows="2").status_code == 302
    assert set(morning.shop.desk.settings.blanks) == {"other"}
    assert blank(page, was="other", remove="yes").status_code == 302
    assert morning.shop.desk.settings.blanks == {}


@pytest.mark.parametrize(("changed", "said"), [
    ({"width": "1"}, "1 x 40.5\u00a0mm is no size of a label"), ({"columns": "9"}, "9 columns take"),
    ({"dpi": "7"}, "no label printer has 7 dots an inch"), ({"width": "wide"}, "is no measure in millimetres"),
    ({"name": ""}, "a name has letters"), ({"name": "a b/../c"}, "a name has letters"),
    ({"rows": "-1"}, "is not a whole number"), ({"keep_clear": "30"}, "leaves nothing to print on"),
    ({"page": "roll"}, "need the size of the page"), ({"width": "9" * 9}, "is no measure"),
])  # fmt: skip
def test_a_blank_that_cannot_be_is_refused_and_what_was_typed_is_kept(
    page: Page, morning: ShopInHand, changed: dict[str, str], said: str
) -> None:
    made = blank(page, **changed)
    assert made.status_code == 400
    assert said in text_of(made)
    assert 'value="140"' in text_of(made)
    assert file_of(morning).read_text("utf-8") == SETTINGS


def test_a_blank_in_use_is_not_taken_away(page: Page, morning: ShopInHand) -> None:
    blank(page)
    keep(page, "paper", labels__blank="mine-2x3")
    made = blank(page, was="mine-2x3", remove="yes")
    assert made.status_code == 409
    assert "There is no blank" in text_of(made) or "there is no blank" in text_of(made)
    assert set(morning.shop.desk.settings.blanks) == {"mine-2x3"}


def test_two_blanks_of_one_name_are_refused(page: Page, morning: ShopInHand) -> None:
    blank(page)
    made = blank(page, width="50")
    assert made.status_code == 400
    assert morning.shop.labels.blank("mine-2x3").width == 60


def test_coins_changed_at_noon_leave_the_drawer_as_it_was(page: Page, morning: ShopInHand) -> None:
    morning.sell("firm-block", cash=2000)
    before = morning.shop.desk.ledger().drawer.expected
    assert keep(page, "money", cash__coins="20, 10, 5, 1, 0.25").status_code == 302
    assert morning.shop.desk.ledger().drawer.expected == before
    assert morning.shop.desk.settings.cash.coins == (2000, 1000, 500, 100, 25)


def test_every_key_of_the_file_that_a_form_has_is_named_and_explained_in_spanish() -> None:
    spanish = catalogue("es")
    for entry in (entry for entries in sections().values() for entry in entries):
        assert spanish.get(entry.key.says, "term"), entry.name
        hint = entry.key.how["hint"]
        assert not hint or spanish.get(hint.template), entry.name
    for name, one in keys_of(Blank).items():
        assert name not in FIELDS or name == "page" or spanish.get(one.says, "term"), name
