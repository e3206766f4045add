"""What a browser is given to keep for the time without an answer: files of the program, no figures."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from counter.web import away
from tests.conftest import ShopInHand
from tests.web.conftest import Page


def text_of(answer: Any) -> str:
    return str(answer.get_data(as_text=True))


def files_in(page: Page) -> list[str]:
    found = re.match(
        r'const VERSION = "(\w+)", FILES = (\[.*?\]);\n', text_of(page.get("/worker.js"))
    )
    assert found
    assert found[1] == away.version()
    return list(json.loads(found[2]))


def test_every_file_the_worker_keeps_is_there_and_open_to_all(
    page: Page, pins: dict[str, str]
) -> None:
    kept = files_in(page)
    for path in kept:
        with page.get(path) as answer:
            assert answer.status_code == 200, path
    assert "/static/shelf.js" in kept
    assert "/static/worker.js" not in kept


def test_everything_the_shelf_loads_is_kept(page: Page, morning: ShopInHand) -> None:
    kept = set(files_in(page))
    html = text_of(page.get("/shelf/"))
    asked = set(re.findall(r'(?:href|src)="(/static/[\w.-]+)', html))
    folder = away.HERE / "static"
    todo = list(asked)
    while todo:  # modules load modules
        for name in re.findall(
            r'from "\./([\w.]+)"', (folder / Path(todo.pop()).name).read_text("utf-8")
        ):
            if f"/static/{name}" not in asked:
                asked.add(f"/static/{name}")
                todo.append(f"/static/{name}")
    assert asked <= kept
    assert {"/static/pay.js", "/static/keep.js", "/static/base.css"} <= asked


def test_the_worker_is_never_taken_from_a_cache(page: Page) -> None:
    answer = page.get("/worker.js")
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.mimetype == "text/javascript"
    assert "worker-src 'self'" in answer.headers["Content-Security-Policy"]


def test_what_stands_in_for_a_page_knows_no_shop_and_nobody(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    page.sign_in("rosa", pins["rosa"])
    html = text_of(page.get("/away/"))
    for word in (morning.shop.desk.settings.shop.name, "Rosa", "token", "26328", "/setup/"):
        assert word not in html


@pytest.mark.parametrize("folder", away.FOLDERS)
def test_another_file_is_another_version(
    folder: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(away, "PACKAGE", tmp_path)
    digest = away.version.__wrapped__
    seen = {digest()}
    file = tmp_path / folder / "deep" / "a.js"
    file.parent.mkdir(parents=True)
    for text in ("one", "two", ""):
        file.write_text(text)
        seen.add(digest())
    file.rename(file.with_name("b.js"))
    assert digest() not in seen
    assert len(seen) == 4


def lasts(page: Page, path: str = "/who/") -> int:
    found = re.search(r'<meta name="lasts" content="(\d+)">', text_of(page.get(path)))
    assert found
    return int(found[1])


def test_a_page_says_for_how_long_it_may_be_shown(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    assert lasts(page) == 0  # nobody is signed in
    page.sign_in("ida", pins["ida"])
    assert lasts(page) == 14 * 3600
    morning.clock.forward(hours=13)
    assert lasts(page) == 3600
    morning.clock.forward(hours=1)
    assert lasts(page) == 0


def test_a_shop_without_pins_may_be_shown_all_day(page: Page) -> None:
    assert lasts(page, "/shelf/") == 14 * 3600
