"""The pictures of the README, made by the project itself: ``python -m demo_shop.pictures``.

A label of the demo shop at 300 dots an inch, and two of its pages in a real browser (needs the
test extra and Chromium).
"""

from __future__ import annotations

import sys
import tempfile
import threading
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from demo_shop.play import Demo, make_demo

HERE = Path(__file__).parent / "pictures"
NOW = datetime(2026, 11, 24, 9, 40, tzinfo=ZoneInfo("America/Los_Angeles"))
TABLET, PHONE = (1024, 768), (390, 844)
BROWSERS = ("/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome")


def draw_labels(demo: Demo) -> None:
    """Two of this morning's labels side by side, on grey so that the paper shows."""
    from PIL import Image

    from counter.shop import Shop
    from labels.pdf import build_pdf
    from labels.picture import render

    shop = Shop.open(Path(demo.folder), lambda: NOW)
    pictures = []
    for product in ("firm", "spiced"):
        label = shop.label(demo.lots[product])
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
