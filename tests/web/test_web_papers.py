"""Files to take away, tomorrow's plan, the temperature log and copies, over the page."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import pdfplumber
import pytest

from counter.trade.temperatures import Temperature, ThermometerCheck
from tests.conftest import ShopInHand
from tests.lines import kept
from tests.web.conftest import Page, books_of

STRANGE = (
    "2026-02-30",
    "yesterday",
    "<script>alert(1)</script>",
    "=1+1",
    "9" * 400,
    "\ufffd",
    "2026",
)


def text_of(answer: Any) -> str:
    return str(answer.get_data(as_text=True))


def words_in(pdf: bytes) -> str:
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        return "\n".join(sheet.extract_text() for sheet in found.pages)


@pytest.fixture
def closed(morning: ShopInHand) -> ShopInHand:
    """The day with two sales, sealed."""
    morning.sell("firm-block*3", cash=2000)
    morning.sell("soft-block*2")
    morning.shop.evening.close_day(notes="a quiet day")
    return morning


@pytest.fixture
def stick(morning: ShopInHand, tmp_path: Path) -> Path:
    """shop.toml names a folder for copies."""
    place = tmp_path / "stick"
    place.mkdir()
    folder = morning.shop.desk.folder
    assert folder is not None
    with (folder / "shop.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n[backup]\nfolder = '{place}'\n")
    return place


# -- files


@pytest.mark.parametrize(("path", "name", "start"), [
    ("day.pdf?day=2026-11-24", "day-2026-11-24.pdf", b"%PDF"),
    ("day.csv?day=2026-11-24", "day-2026-11-24.csv", b""),
    ("span.pdf?kind=week&day=2026-11-24", "week-2026-11-23.pdf", b"%PDF"),
    ("span.pdf?kind=month", "month-2026-11-01.pdf", b"%PDF"),
    ("span.pdf?kind=year", "year-2026-01-01.pdf", b"%PDF"),
    ("inspection.pdf?first=2026-11-20&last=2026-11-24", "inspection-2026-11-20-2026-11-24.pdf",
     b"%PDF"),
    ("recall/26328-01.pdf", "recall-26328-01.pdf", b"%PDF"),
    ("recall/26328-01.csv", "recall-26328-01.csv", b""),
    ("export?kind=sales", "sales-2026-11-24-2026-11-24.csv", b""),
    ("export", "export-2026-11-24-2026-11-24.zip", b"PK"),
])  # fmt: skip
def test_what_the_shop_draws_up_is_taken_away_and_leaves_the_folder_as_it_was(
    page: Page, closed: ShopInHand, path: str, name: str, start: bytes
) -> None:
    folder = closed.shop.desk.folder
    assert folder is not None
    (folder / "counter.log").unlink(missing_ok=True)
    before = kept(folder)
    made = page.get(f"/papers/{path}")
    assert made.status_code == 200
    assert made.headers["Content-Disposition"] == f"attachment; filename={name}"
    assert made.data.startswith(start)
    assert made.data
    after = kept(folder)
    assert after == before


def test_the_closing_report_is_the_one_the_shop_keeps(page: Page, closed: ShopInHand) -> None:
    made = page.get("/papers/day.pdf?day=2026-11-24").data
    folder = closed.shop.desk.folder
    assert folder is not None
    assert made == (folder / "reports" / "2026-11-24.pdf").read_bytes()


def test_papers_hold_what_was_sold(page: Page, closed: ShopInHand) -> None:
    folder = words_in(page.get("/papers/inspection.pdf?first=2026-11-24").data)
    assert "26328-01" in folder
    assert "NO TEMPERATURE OF fridge ON Nov 24, 2026" in folder
    assert "NO CHECK OF A THERMOMETER IN THESE DAYS" in folder
    assert "2026-11-24/0001" in text_of(page.get("/papers/recall/26328-01.csv"))
    assert "2026-11-24/0002" in text_of(page.get("/papers/export?kind=sales"))
    with zipfile.ZipFile(io.BytesIO(page.get("/papers/export").data)) as packed:
        assert {"sales.csv", "batches.csv", "columns.md"} <= set(packed.namelist())
        names, row, *_ = packed.read("prices.csv").decode().splitlines()
        assert names.endswith(",shop_id,shop_name,currency,time_zone")
        assert row.endswith(",Millrace Tofu Works,USD,America/Los_Angeles")


@pytest.mark.parametrize("strange", STRANGE)
@pytest.mark.parametrize("path", [
    "papers/day.pdf?day=", "papers/day.csv?day=", "papers/span.pdf?kind=week&day=",
    "papers/span.pdf?kind=", "papers/inspection.pdf?first=", "papers/inspection.pdf?last=",
    "papers/recall/", "papers/export?kind=", "papers/export?first=", "plan/?day=",
])  # fmt: skip
def test_what_cannot_be_drawn_up_is_refused_in_a_sentence(
    page: Page, closed: ShopInHand, path: str, strange: str
) -> None:
    from urllib.parse import quote

    before = books_of(closed)
    made = page.get(f"/{path}{quote(strange, safe='')}")
    assert 400 <= made.status_code < 500
    assert "Cannot " in text_of(made)
    assert "<script>alert(1)" not in text_of(made)
    assert books_of(closed) == before


def test_a_range_that_ends_before_it_begins_or_is_endless_is_refused(
    page: Page, closed: ShopInHand
) -> None:
    for days in ("first=2026-11-24&last=2026-11-20", "first=1900-01-01&last=2026-11-24"):
        assert 400 <= page.get(f"/papers/inspection.pdf?{days}").status_code < 500


@pytest.mark.parametrize(("path", "least"), [
    ("papers/day.pdf", "counter"), ("papers/inspection.pdf", "counter"),
    ("papers/recall/26328-01.pdf", "counter"), ("temperatures/", "counter"), ("plan/", "maker"),
    ("papers/span.pdf?kind=week", "owner"), ("papers/export", "owner"),
    ("setup/backups/", "owner"),
])  # fmt: skip
def test_each_paper_is_for_its_least_role(
    page: Page, closed: ShopInHand, pins: dict[str, str], path: str, least: str
) -> None:
    assert page.get(f"/{path}").status_code in (302, 403)  # nobody has signed in
    order = ["counter", "maker", "owner"]
    for person, role in (("ida", "counter"), ("teo", "maker"), ("rosa", "owner")):
        page.sign_in(person, pins[person])
        allowed = order.index(role) >= order.index(least)
        assert page.get(f"/{path}").status_code == (200 if allowed else 403), (path, person)


def test_records_offer_only_what_a_role_may_take(
    page: Page, closed: ShopInHand, pins: dict[str, str]
) -> None:
    page.sign_in("ida", pins["ida"])
    text = text_of(page.get("/records/"))
    assert "/papers/day.pdf" in text
    assert "/papers/export" not in text
    page.sign_in("rosa", pins["rosa"])
    text = text_of(page.get("/records/"))
    assert "/papers/export" in text
    assert "/papers/span.pdf?kind=year" in text
    assert "/papers/recall/26328-01.pdf" in text_of(page.get("/records/lot/26328-01"))


# -- tomorrow


def test_the_plan_says_what_to_make_what_to_soak_and_why(page: Page, closed: ShopInHand) -> None:
    plan = closed.shop.plan.for_day()
    text = text_of(page.get("/plan/"))
    for product in plan.products:
        assert product.name in text
    assert "Soak tonight" in text
    assert text.count('class="chosen"') == len(plan.products)
    assert "One more: " in text
    assert plan.products[0].words.split(".")[0] in text


def test_a_plan_before_the_closing_says_it_is_an_estimate(page: Page, morning: ShopInHand) -> None:
    assert "is not closed yet" in text_of(page.get("/plan/"))


# -- temperatures


def test_a_temperature_is_noted_with_a_button_or_typed(page: Page, morning: ShopInHand) -> None:
    place = next(name for name, how in morning.shop.desk.settings.holding.items() if how == "cold")
    made = page.post("/temperatures/", {"place": place, "usual": "4C"})
    assert made.status_code == 302
    page.post("/temperatures/", {"place": place, "celsius": "48F", "note": "door stood open"})
    today = morning.shop.desk.today()
    first, second = morning.shop.desk.recorded(Temperature, today, today)
    assert (first.ok, second.ok) == (True, False)
    assert second.note == "door stood open"
    text = text_of(page.get("/temperatures/"))
    assert "OUT OF LIMITS" in text
    assert "Measure the food itself" in text
    assert "door stood open" in text


@pytest.mark.parametrize(("place", "celsius"), [
    ("fridge", "warm"), ("fridge", "999C"), ("fridge", "-300"), ("fridge", ""), ("fridge", "٤"),
    ("fridge", "1e9C"), ("fridge", "<b>4</b>"), ("cellar", "4C"), ("", "4C"), ("\x00", "4C"),
    ("fridge", "4" * 300), ("=fridge", "4C"),
])  # fmt: skip
def test_no_place_shows_what_cannot_be(
    page: Page, morning: ShopInHand, place: str, celsius: str
) -> None:
    before = books_of(morning)
    made = page.post("/temperatures/", {"place": place, "celsius": celsius})
    assert 400 <= made.status_code < 500
    assert "Cannot " in text_of(made)
    assert books_of(morning) == before


def test_a_thermometer_is_checked_on_the_page(page: Page, morning: ShopInHand) -> None:
    sent = {"thermometer": "probe 1", "water": "ice", "celsius": "36", "note": "old battery"}
    assert page.post("/temperatures/thermometer", sent).status_code == 302
    [made] = morning.shop.desk.recorded(
        ThermometerCheck, morning.shop.desk.today(), morning.shop.desk.today()
    )
    assert (made.thermometer, made.water, made.ok) == ("probe 1", "ice", False)
    told = text_of(page.get("/temperatures/"))
    assert "probe 1 is more than 1" in told
    assert "old battery" in told
    before = books_of(morning)
    for wrong in ({"water": "tea"}, {"thermometer": ""}, {"celsius": "warm"}):
        assert page.post("/temperatures/thermometer", sent | wrong).status_code in (400, 422)
    assert books_of(morning) == before


def test_a_note_to_a_temperature_is_text_everywhere(page: Page, morning: ShopInHand) -> None:
    page.post("/temperatures/", {"place": "fridge", "usual": "4C", "note": "<script>alert(1)"})
    assert "<script>alert(1)" not in text_of(page.get("/temperatures/"))


# -- copies


def test_a_shop_without_a_folder_for_copies_says_how_to_name_one(
    page: Page, morning: ShopInHand
) -> None:
    assert "no folder is named" in text_of(page.get("/setup/backups/"))
    made = page.post("/setup/backups/")
    assert made.status_code == 409
    assert "Cannot back up the shop" in text_of(made)


def test_a_copy_is_made_now_and_stands_in_the_list(
    page: Page, morning: ShopInHand, stick: Path
) -> None:
    assert "No copy yet" in text_of(page.get("/setup/backups/"))
    assert page.post("/setup/backups/").status_code == 302
    text = text_of(page.get("/setup/backups/"))
    [made] = stick.glob("*.zip")
    assert "Backup written and read back" in text
    assert text.count(made.name) >= 2  # in the list and in how to put it back
    assert f"counter restore {made}" in text


def test_a_stick_that_is_gone_is_told_and_what_is_no_copy_is_not_listed(
    page: Page, morning: ShopInHand, stick: Path
) -> None:
    (stick / "holiday.zip").write_bytes(b"x")
    assert "holiday.zip" not in text_of(page.get("/setup/backups/"))
    (stick / "holiday.zip").unlink()
    stick.rmdir()
    stick.parent.joinpath("stick").write_bytes(b"a file stands where the folder was")
    assert "cannot be read" in text_of(page.get("/setup/backups/"))
    made = page.post("/setup/backups/")
    assert 400 <= made.status_code < 600
    assert "Cannot " in text_of(made)


def test_the_closing_makes_a_copy_and_says_so(page: Page, morning: ShopInHand, stick: Path) -> None:
    seen = morning.shop.evening.closing_line(morning.shop.desk.today())
    page.post("/closing/seal", {"day": "2026-11-24", "seen": str(seen)})
    text = text_of(page.get("/closing/"))
    assert "is closed and sealed" in text
    assert "Backup written and read back" in text
    assert "/papers/day.pdf?day=2026-11-24" in text
    assert len(list(stick.glob("*.zip"))) == 1


def test_a_copy_or_report_that_fails_leaves_the_day_closed_and_says_why(
    page: Page, morning: ShopInHand, stick: Path
) -> None:
    stick.rmdir()
    stick.write_bytes(b"no folder")
    folder = morning.shop.desk.folder
    assert folder is not None
    (folder / "reports").write_bytes(b"no folder either")
    seen = morning.shop.evening.closing_line(morning.shop.desk.today())
    page.post("/closing/seal", {"day": "2026-11-24", "seen": str(seen)})
    text = text_of(page.get("/closing/"))
    assert "is closed and sealed" in text
    assert "no backup was made" in text
    assert "its report was not kept" in text
    assert morning.shop.desk.sealed_until() == morning.shop.desk.today()
