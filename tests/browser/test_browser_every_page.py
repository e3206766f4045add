"""Every page: readable in light and dark, fit for every screen, and all of it by keyboard alone."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from counter.trade.temperatures import Temperature
from counter.web.pages import PAGES
from tests.browser.conftest import TABLET, Live
from tests.browser.looks import axe_findings, sideways, small_targets

SUB_PAGES = (
    "log/lot/26328-01", "records/lot/26328-01", "records/?day=2026-11-24", "sales/", "sales/paper",
    "sales/2026-11-24/0001", "closing/preview?coin-2000=4", "setup/backups/", "plan/",
    "temperatures/?place=fridge", "inside/", "inside/pudding",
)  # fmt: skip

# Every control that can be used now, each given a number; of radio buttons of one name, one.
NUMBER = """() => {
  const groups = new Set();
  return [...document.querySelectorAll("a[href], button, input, select, textarea, summary")]
    .filter((e) => !e.disabled && e.type !== "hidden" && e.tabIndex >= 0)
    .filter((e) => e.checkVisibility({visibilityProperty: true}))
    .filter((e) => {
      if (e.type !== "radio") return true;
      const group = `${[...document.forms].indexOf(e.form)}/${e.name}`;
      if (groups.has(group)) return false;
      groups.add(group);
      return true;
    })
    .map((e, i) => {
      e.dataset.reach = i;
      return e.outerHTML.slice(0, 120);
    });
}"""
# Which control the focus is on, and whether one sees it there.
LOOK = """() => {
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  const same = e.type === "radio" ? [...document.querySelectorAll("input[type=radio]")]
    .find((r) => r.name === e.name && r.form === e.form && r.dataset.reach) : e;
  const ring = (one) => one && getComputedStyle(one).outlineStyle !== "none"
    && parseFloat(getComputedStyle(one).outlineWidth) >= 2;
  return {reach: same?.dataset.reach ?? "", what: e.outerHTML.slice(0, 120),
    seen: Boolean(ring(e) || ring(e.nextElementSibling) || ring(e.parentElement))};
}"""


def by_keyboard(page: Any) -> tuple[set[str], list[str], bool]:
    """Tab through a page once: controls never reached, those without a ring, and whether the
    focus comes out again at the end."""
    controls = page.evaluate(NUMBER)
    reached: set[str] = set()
    unseen: list[str] = []
    out = False
    for _ in range(len(controls) * 4 + 20):  # a date field has four stops
        page.keyboard.press("Tab")
        there = page.evaluate(LOOK)
        if there is None or (there["reach"] == "0" and len(reached) > 1):
            out = True
            break
        reached.add(there["reach"])
        if not there["seen"]:
            unseen.append(there["what"])
    missed = {what for i, what in enumerate(controls) if str(i) not in reached}
    return missed, unseen, out


@pytest.fixture
def sold(live: Live) -> Live:
    live.hand.sell("firm-block*3", cash=2000)
    live.hand.sell("soft-block*2")
    return live


def test_every_page_goes_by_keyboard_alone(sold: Live, tablet: Any) -> None:
    """WCAG 2.2, 2.1.1 Keyboard, 2.1.2 No Keyboard Trap and 2.4.7 Focus Visible."""
    wrong = {}
    for path in (*(f"{p.key}/" for p in PAGES), *SUB_PAGES):
        tablet.goto(f"{sold.url}/{path}")
        tablet.evaluate("document.activeElement?.blur()")
        missed, unseen, out = by_keyboard(tablet)
        if missed or unseen or not out:
            wrong[path] = (missed, unseen[:3], out)
    assert wrong == {}


@pytest.mark.parametrize("path", [*(f"{p.key}/" for p in PAGES), *SUB_PAGES])
def test_every_page_is_readable_in_light_and_dark_and_fits_every_screen(
    sold: Live, tablet: Any, path: str
) -> None:
    tablet.goto(f"{sold.url}/{path}")
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}
    tablet.set_viewport_size(TABLET)
    assert small_targets(tablet) == []


def test_a_long_headline_breaks_on_a_phone(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/who/")
    tablet.click('button[value="es"]')
    tablet.goto(f"{live.url}/labels/weigh/?lot=26328-03")
    assert sideways(tablet) == {}


def test_a_temperature_is_noted_in_two_taps(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/temperatures/")
    tablet.locator("summary", has_text="fridge").click()
    tablet.locator("details[open] .figures-row button").nth(1).click()
    expect(tablet.locator("p.notice").first).to_contain_text("as it must be")
    [reading] = live.shop.desk.recorded(Temperature, live.shop.desk.today(), live.shop.desk.today())
    assert (reading.place, reading.ok) == ("fridge", True)


def test_the_closing_report_is_downloaded_from_records(sold: Live, tablet: Any) -> None:
    tablet.goto(f"{sold.url}/records/")
    with tablet.expect_download() as taken:
        tablet.get_by_role("link", name="Closing report (PDF)").click()
    assert taken.value.suggested_filename == "day-2026-11-24.pdf"
    with tablet.expect_download() as taken:
        tablet.get_by_role("button", name="Tables (CSV)").click()
    assert taken.value.suggested_filename == "export-2026-11-24-2026-11-24.zip"


def test_a_copy_is_made_from_set_up_and_its_list_is_readable(sold: Live, tablet: Any) -> None:
    sold.stop()
    settings = sold.folder / "shop.toml"
    text = settings.read_text("utf-8")
    assert "[backup]" not in text
    settings.write_text(f'{text}\n[backup]\nfolder = "backups"\n', "utf-8")
    sold.start()
    tablet.goto(f"{sold.url}/setup/")
    tablet.get_by_role("link", name="Backups Where copies go").click()
    tablet.get_by_role("button", name="Copy now").click()
    expect(tablet.locator("p.notice").first).to_contain_text("Backup written and read back")
    expect(tablet.locator("tbody tr")).to_have_count(1)
    assert len(list((sold.folder / "backups").glob("*.zip"))) == 1
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}
