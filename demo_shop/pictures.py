"""The pictures of the README, made by the project itself: ``python -m demo_shop.pictures``.

Labels at 300 dots an inch under both rule sets, and two pages of the demo shop in a real browser
(needs the test extra and Chromium).
"""

from __future__ import annotations

import sys
import tempfile
import threading
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from demo_shop.play import Demo, make_demo
from labels import (
    DateMark,
    Facts,
    Ingredient,
    Label,
    Maker,
    NetQuantity,
    Panel,
    blank_named,
    lay_out,
)
from labels.symbols import ean13, lot_symbol

HERE = Path(__file__).parent / "pictures"
NOW = datetime(2026, 11, 24, 9, 40, tzinfo=ZoneInfo("America/Los_Angeles"))
TABLET, PHONE = (1024, 768), (390, 844)
BROWSERS = ("/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome")


def german_label() -> Label:
    """The same five-spice tofu as an EU shop would label it, in German: its own rules and words."""

    def part(name: str, grams: str, *allergens: str, **more: Any) -> Ingredient:
        return Ingredient(name=name, grams=Decimal(grams), allergens=allergens, **more)

    soy_sauce = (
        part("Wasser", "500", water=True),
        part("Sojabohnen", "250", "soy"),
        part("Weizen", "150", "wheat"),
        part("Salz", "140"),
    )
    facts = Facts(
        name="Fünf-Gewürze-Tofu",
        ingredients=(
            part("Wasser", "6000", water=True),
            part("Sojabohnen", "1000", "soy", quid=True),
            part("Sojasoße", "300", parts=soy_sauce),
            part("Festigungsmittel Magnesiumchlorid", "24"),
            part("Gewürze", "15"),
        ),
        finished=Decimal(2640),
        net=NetQuantity.of("240 g"),
        date_mark=DateMark("use-by", date(2026, 12, 3)),
        lot="26328-04",
        maker=Maker(
            name="Tofuwerkstatt Mühlgraben",
            street="Schleusengasse 14",
            zip="00000",
            city="Erlenfurt",
        ),
        panel=Panel("rectangle", (Decimal(110), Decimal(80))),
        symbols=(lot_symbol("26328-04"), ean13("9521234000044")),
    )
    return lay_out(facts, market="eu", blank=blank_named("roll-100x75", 300), language="de")


def draw_labels(demo: Demo) -> None:
    """One food under both rule sets, US on the left, EU on the right; on grey, so that the paper
    shows."""
    from PIL import Image

    from counter.shop import Shop
    from labels.pdf import build_pdf
    from labels.picture import render

    shop = Shop.open(Path(demo.folder), lambda: NOW)
    pictures = []
    for label in (shop.labels.label(demo.lots["spiced"], dpi=300), german_label()):
        pictures.append(render(build_pdf([(label, 1)]).data, label.blank.dpi))
    gap = 40
    width = sum(p.width for p in pictures) + gap * 3
    sheet = Image.new("L", (width, max(p.height for p in pictures) + gap * 2), 208)
    left = gap
    for picture in pictures:
        sheet.paste(picture.convert("L"), (left, gap))
        left += picture.width + gap
    sheet.reduce(2).save(HERE / "labels.png", optimize=True)


def shoot_pages(demo: Demo) -> None:
    """The shelf on a tablet and on a phone, a slip half full."""
    from playwright.sync_api import sync_playwright

    from counter.web.server import make_server

    server = make_server(Path(demo.folder), 0, clock=lambda: NOW)
    threading.Thread(target=server.run, daemon=True).start()
    address = f"http://127.0.0.1:{server.effective_port}/"
    program = next((b for b in BROWSERS if Path(b).exists()), None)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=program, args=["--no-sandbox"])
        for name, (width, height) in (("shelf", TABLET), ("phone", PHONE)):
            page = browser.new_page(viewport={"width": width, "height": height})
            page.goto(address)
            page.wait_for_load_state("networkidle")
            code = page.locator("input").first
            for text in ("firm-block*2", "cup-small+ginger"):
                code.fill(text)
                code.press("Enter")
                page.wait_for_timeout(700)
            page.screenshot(path=str(HERE / f"{name}.png"))
        browser.close()


def main() -> None:
    """Make them all anew."""
    HERE.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        demo = make_demo(Path(folder) / "demo", NOW)
        draw_labels(demo)
        shoot_pages(demo)
    sys.stdout.write(f"Made {', '.join(sorted(p.name for p in HERE.glob('*.png')))} in {HERE}\n")


if __name__ == "__main__":
    main()
