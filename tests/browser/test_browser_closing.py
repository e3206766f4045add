"""A whole day in a real Chromium, from the first batch to the sealed closing, beside the same day
done on the command line; the closing by keyboard alone; waste by finger."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
import pytest
from click.testing import CliRunner
from playwright.sync_api import expect

from counter.cli import main
from counter.shop import Shop, make_shop
from counter.trade.closing import Closing
from tests.browser.conftest import Live
from tests.browser.looks import axe_findings, sideways, small_targets
from tests.conftest import CATALOGUE, SETTINGS, Clock

FIRM, SOFT = '[data-portion="firm-block"]', '[data-portion="soft-block"]'


def by_page(live: Live, page: Any) -> None:
    """The day over the page: batches, labels, tub, float, sales, waste, counts, cash, seal."""
    live.clock.set("2026-11-24 04:10")
    for product, made in (("firm", "48"), ("soft", "30"), ("pressed", "4 kg"), ("pudding", "16 l")):
        log_batch(live, page, product, made)
    print_labels(live, page)
    open_tub(live, page)
    live.clock.set("2026-11-24 08:30")
    page.goto(f"{live.url}/closing/drawer")
    page.locator("#coin-2000").fill("5")
    page.locator("#coin-25").fill("40")
    expect(page.locator("[data-sum]")).to_have_text("$110.00")
    page.get_by_role("button", name="Begin with this").click()
    expect(page.locator("p.notice")).to_contain_text("begins with $110.00")
    live.clock.set("2026-11-24 09:00")
    page.goto(f"{live.url}/shelf/")
    for taps, pay in (((FIRM, FIRM, FIRM), "cash"), ((SOFT,), "card"), ((FIRM, SOFT), "card")):
        for tap in taps:
            page.click(tap)
        if pay == "cash":
            page.click("#pay-cash")
            page.locator(".offers .button", has_text="$20.00").click()
        else:
            page.click("#pay-card")
            page.locator("dialog [data-last]").click()
        expect(page.locator("#done .booked")).to_be_visible()
        page.click("#next")
    live.clock.set("2026-11-24 15:00")
    throw(live, page)
    live.clock.set("2026-11-24 18:05")
    page.goto(f"{live.url}/closing/")
    for lot, amount in (("01", "41"), ("02", "28"), ("03", "4000"), ("04", "15800")):
        page.locator(f"#lot-26328-{lot}").fill(amount)
        page.keyboard.press("Enter")
        expect(page.locator(f"tr:has(#lot-26328-{lot}) .chip")).to_be_visible()
    expect(page.locator("tr:has(#lot-26328-01) .chip")).to_have_text("1 missing")
    page.locator("#coin-2000").fill("5")
    page.locator("#coin-100").fill("18")
    expect(page.locator("[data-sum]")).to_have_text("$118.00")
    page.locator("#f-leave").fill("100")
    page.get_by_role("button", name="Look at the closing").click()
    page.get_by_label("26328-01: 1 missing").fill("cut for a customer")
    page.get_by_label("Cash: $1.00 missing").fill("wrong change")
    page.get_by_label("Notes").fill("a quiet day")
    page.get_by_role("button", name="Seal the day").click()
    expect(page.locator("p.notice").first).to_contain_text("is closed and sealed")


def log_batch(live: Live, page: Any, product: str, made: str) -> None:
    """A batch typed into the form, boiled for ten minutes and cold by now."""
    page.goto(f"{live.url}/log/new?product={product}")
    page.fill("[name=made]", made)
    page.check("[name=cook][value=boiled]")
    page.fill("[name=cook-minutes]", "10")
    for name, clock in (("cooked-at", "03:10"), ("cooled-21", "03:35"), ("cooled-5", "04:00")):
        page.fill(f"[name={name}]", clock)
    page.locator("form button.large").click()
    page.wait_for_url("**/log/lot/26328-0*")


def print_labels(live: Live, page: Any) -> None:
    """Two labels of the firm blocks, as a PDF."""
    page.goto(f"{live.url}/labels/")
    page.check("[name=lot][value='26328-01']")
    page.fill("[name='count.26328-01']", "2")
    page.wait_for_selector("text=Labels: 2 · pages: 2")
    page.click("#save")
    page.wait_for_url("**/labels/done/*.pdf")


def open_tub(live: Live, page: Any) -> None:
    """A tub opened cold at dawn, and measured at eight."""
    page.goto(f"{live.url}/shelf/")
    page.locator("[data-open-tub]").first.click()
    page.locator("dialog label", has_text="cold").click()
    page.locator("dialog input.shown").fill("4C")
    page.locator("dialog [data-last]").click()
    expect(page.locator("[data-check-tub]")).to_be_visible()
    live.clock.set("2026-11-24 08:00")
    page.wait_for_timeout(400)  # the rows have moved: a finger aims anew
    page.locator("[data-check-tub]").click()
    page.locator("dialog input.shown").fill("4C")
    with page.expect_response("**/tubs/check"):  # before the clock is moved on
        page.locator("dialog [data-last]").click()


def throw(live: Live, page: Any) -> None:
    """Two firm blocks fell, typed on the pad."""
    page.goto(f"{live.url}/waste/")
    page.locator("label", has_text="26328-01").click()
    page.locator("#pad").get_by_role("button", name="2", exact=True).click()
    page.locator("label", has_text="broken").click()
    page.get_by_role("button", name="Throw away", exact=True).last.click()
    expect(page.locator("p.notice").first).to_contain_text("Firm Tofu, 26328-01: 2 written down")


def by_command(folder: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch) -> Shop:
    """The same day on the command line."""
    shop = make_shop(folder, SETTINGS, clock)
    shop.products.load_catalogue(CATALOGUE)
    open_shop = Shop.open.__func__  # type: ignore[attr-defined]

    def opened(cls: type[Shop], place: Path, hand: Callable[[], datetime] | None = None) -> Shop:
        made: Shop = open_shop(cls, place, hand or clock)
        return made

    monkeypatch.setattr(Shop, "open", classmethod(opened))

    def do(*words: str) -> None:
        made = CliRunner().invoke(main, ["--shop", str(folder), *words])
        assert made.exit_code == 0, made.output

    clock.set("2026-11-24 04:10")
    for product, made in (("firm", "48"), ("soft", "30"), ("pressed", "4000"), ("pudding", "16l")):
        do("batch", product, "--made", made, "--boiled", "10min",
           "--cooked-at", "03:10", "--cooled", "03:35,04:00")  # fmt: skip
    do("labels", "26328-01", "--count", "2")
    do("tub", "open", "26328-04", "--cold", "--temp", "4C")
    clock.set("2026-11-24 08:00")
    do("tub", "check", "26328-04/1", "4C")
    clock.set("2026-11-24 08:30")
    do("drawer", "float", "110", "--coins", "20x5 0.25x40")
    clock.set("2026-11-24 09:00")
    do("sell", "firm-block*3", "--cash", "20")
    do("sell", "soft-block", "--card")
    do("sell", "firm-block", "soft-block", "--card")
    clock.set("2026-11-24 15:00")
    do("waste", "26328-01", "2", "--because", "broken")
    clock.set("2026-11-24 18:05")
    for lot, amount in (("01", "41"), ("02", "28"), ("03", "4000"), ("04", "15800")):
        do("count", f"26328-{lot}", amount)
    do("close", "--coins", "20x5 1x18", "--leave", "100", "--notes", "a quiet day",
       "--explain", "26328-01=cut for a customer", "--explain", "cash=wrong change")  # fmt: skip
    return shop


def records(shop: Shop) -> list[tuple[str, Any]]:
    """All records of the day and its closing, without keys and without what seals them."""
    found = [
        (table, msgspec.structs.replace(row, key="", content="") if table == "sales" else row)
        for commit in shop.desk.records_of(shop.desk.today())
        for table, rows in commit.items()
        for row in rows
    ]
    closing = shop.desk.last_closing()
    assert isinstance(closing, Closing)
    plain = msgspec.structs.replace(closing, book_lines=0, book_link="")
    return [*found, ("closings", plain)]


@pytest.mark.parametrize("live", ["dawn"], indirect=True)
def test_a_day_on_the_page_leaves_the_books_of_the_same_day_on_the_command_line(
    live: Live, tablet: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    by_page(live, tablet)
    live.stop()
    shop = by_command(tmp_path / "other", Clock(), monkeypatch)
    mine, theirs = records(live.shop), records(shop)
    assert [table for table, _ in mine] == [table for table, _ in theirs]
    for one, other in zip(mine, theirs, strict=True):
        assert one == other
    shop.desk.books.close()


def test_the_closing_goes_by_keyboard_alone(live: Live, tablet: Any) -> None:
    page = tablet
    page.goto(f"{live.url}/closing/")
    reach(page, "#lot-26328-01")
    for amount in ("48", "30", "4000", "16000"):
        page.keyboard.type(amount)
        page.keyboard.press("Enter")
    expect(page.locator(".compared .chip")).to_have_count(4)
    reach(page, "#coin-5000")
    page.keyboard.type("3")
    reach(page, "#cash button")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("as it would be")
    reach(page, "form[action='/closing/seal'] button")
    page.keyboard.press("Enter")
    expect(page.locator("p.notice").first).to_contain_text("is closed and sealed")
    assert live.shop.closings.of(live.shop.desk.today()).cash.counted == 15000


def reach(page: Any, there: str) -> None:
    """Press Tab until the focus stands on ``there``."""
    for _ in range(80):
        if page.evaluate("(css) => document.activeElement.matches(css)", there):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"no Tab leads to {there}")


@pytest.mark.parametrize(
    "path",
    [
        "waste/",
        "closing/",
        "closing/preview?coin-2000=4",
        "closing/drawer",
        "records/",
        "records/lot/26328-01",
        "setup/",
        "setup/products",
    ],
)
def test_each_page_is_readable_and_fits_every_screen(live: Live, tablet: Any, path: str) -> None:
    tablet.goto(f"{live.url}/{path}")
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}
    assert small_targets(tablet) == []
