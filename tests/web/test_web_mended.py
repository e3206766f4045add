"""Damage while the page stands: it says so, gives way to ``counter mend``, and sells on."""

from __future__ import annotations

import re
import subprocess
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from counter.books.files import FILE
from counter.shop import Shop, make_shop
from counter.shop.audit import Audit
from counter.shop.mending import mend_shop
from counter.shop.production import BatchNote
from counter.web.app import create_app
from counter.web.watch import Watch
from tests.conftest import CATALOGUE, SETTINGS, ShopInHand
from tests.shop.test_mending import spoil
from tests.web.conftest import Page
from tests.web.test_web_serving import PROGRAM, Served

PAYMENT = {"tenders": [{"kind": "card"}], "seen": 325}


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """Yesterday sold and closed, today a batch; served by a program of its own."""
    now = datetime.now().astimezone()
    shop = make_shop(tmp_path / "shop", SETTINGS, lambda: now - timedelta(days=1))
    shop.products.load_catalogue(CATALOGUE)
    hand = ShopInHand(shop, shop.desk.now)  # type: ignore[arg-type]
    for day in (1, 0):
        shop.desk.context.clock = lambda day=day: now - timedelta(days=day)  # type: ignore[misc]
        shop.production.log_batch("firm", BatchNote(made=20, boiled_minutes=10))
        if day:
            hand.sell("firm-block", key="yesterday")
            shop.evening.close_day()
    shop.desk.books.close()
    made = Served(tmp_path / "shop")
    yield made
    if made.process:
        made.kill()


def said_at_last(ask: Callable[[], str], wanted: str) -> str:
    """What is answered once it holds some words; twenty seconds are waited for them."""
    end = time.monotonic() + 20
    while wanted not in (said := ask()) and time.monotonic() < end:
        time.sleep(0.1)
    assert wanted in said
    return said


class Till:
    """A browser at the served shop."""

    def __init__(self, served: Served) -> None:
        self.served = served
        _, page, cookie = served.ask("GET", "/shelf/")
        token = re.search(r'name="token" content="([^"]+)"', page)
        assert token
        self.mine = {"X-Token": token[1], "Cookie": cookie}

    def shelf(self) -> str:
        return self.served.ask("GET", "/shelf/", **self.mine)[1]

    def sell(self, key: str) -> tuple[int, str]:
        slip = {"items": [{"portion": "firm-block", "quantity": 1}], "key": key}
        return self.served.ask("POST", "/slip/pay", {"slip": slip, **PAYMENT}, **self.mine)[:2]

    def mend(self) -> str:
        command = [*PROGRAM, "--shop", str(self.served.folder), "mend"]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout


def number_of(shop: Shop, key: str) -> int:
    entry = shop.desk.books.keyed(key)
    assert entry is not None
    return entry.number


def test_damage_in_what_is_sold_on_stops_the_page_until_it_is_mended(served: Served) -> None:
    served.start()
    till = Till(served)
    assert till.sell("first")[0] == 200
    shop = Shop.open(served.folder)
    n = number_of(shop, "first") - 1  # today's batch
    shop.desk.books.engine.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    shop.desk.books.close()
    till.shelf()  # and so knows the files as they are now
    spoil(served.folder, n)
    said = said_at_last(till.shelf, "counter mend")
    status, refused = till.sell("second")
    assert (status, "Run `counter mend`" in refused) == (503, True)
    assert f"1 is lost ({n})" in till.mend()
    shop = Shop.open(served.folder)
    shop.production.log_batch("firm", BatchNote(made=20, boiled_minutes=10))
    shop.desk.books.close()
    status, said = till.sell("second")
    assert status == 200, said
    assert "counter mend" not in till.shelf()
    shop = Shop.open(served.folder)
    assert [s.key for s in shop.desk.ledger().sales.values()] == ["first", "second"]
    assert shop.audit.check().findings == ()
    shop.desk.books.close()


def test_damage_in_a_closed_day_is_found_and_mended_while_the_page_sells(served: Served) -> None:
    shop = Shop.open(served.folder)
    n = number_of(shop, "yesterday")
    yesterday = str(shop.desk.books.days()[0])
    shop.desk.books.close()
    spoil(served.folder, n)
    served.start()
    till = Till(served)
    said = said_at_last(till.shelf, "counter mend")
    assert re.search(r"Line \d of book 20[-\d]+ is damaged: [^.]+\. [^<]*Run `counter mend`", said)
    copies = served.ask("GET", "/setup/backups/", **till.mine)[1]
    assert "Run `counter mend`" in copies
    assert till.sell("first")[0] == 200
    status, said, _ = served.ask("GET", f"/records/sales?day={yesterday}", **till.mine)
    assert (status, "Run `counter mend`" in said) == (503, True)
    assert f"1 is lost ({n})" in till.mend()
    assert "counter mend" not in till.shelf()
    assert till.sell("second")[0] == 200
    shop = Shop.open(served.folder)
    assert shop.audit.check().findings == ()
    shop.desk.books.close()


def test_a_log_cut_under_the_page_is_damage_that_it_names_in_both_languages_and_outlives(
    served: Served,
) -> None:
    served.start()
    till = Till(served)
    for n in range(8):
        assert till.sell(f"in the log {n}")[0] == 200
    log = served.folder / "books.sqlite-wal"
    with log.open("r+b") as file:
        file.truncate(log.stat().st_size // 2)
    status, refused = till.sell("behind it")
    assert (status, "Run `counter mend`" in refused) == (503, True)
    said_at_last(till.shelf, "Run `counter mend`")
    command = f"<code>counter --shop {served.folder} mend</code>"
    for place in ("/setup/backups/", "/shelf/"):
        assert command in served.ask("GET", place, **till.mine)[1]
    till.mine["Cookie"] += "; language=es"
    status, refused = till.sell("behind it")
    assert (status, "Ejecute `counter mend`" in refused) == (503, True), refused
    page = served.ask("GET", "/setup/backups/", **till.mine)[1]
    assert "Escriba esto en el equipo de la tienda." in page
    assert command in page
    assert "are lost" in till.mend()
    assert command not in served.ask("GET", "/setup/backups/", **till.mine)[1]
    shop = Shop.open(served.folder)
    shop.production.log_batch("firm", BatchNote(made=20, boiled_minutes=10))
    shop.desk.books.close()
    assert till.sell("behind it")[0] == 200


@pytest.fixture
def closed(folder_shop: ShopInHand) -> ShopInHand:
    """A Monday that is closed, and a Tuesday with a batch."""
    folder_shop.clock.set("2026-11-23 04:10")
    folder_shop.batch("firm")
    folder_shop.clock.set("2026-11-23 18:30")
    folder_shop.shop.evening.close_day()
    folder_shop.clock.set("2026-11-24 08:30")
    folder_shop.batch("firm")
    return folder_shop


def test_who_reads_what_is_damaged_tells_the_whole_page(closed: ShopInHand) -> None:
    shop = closed.shop
    folder = shop.desk.folder
    assert folder is not None
    app = create_app(shop, b"not secret at all", again=lambda: Shop.open(folder, closed.clock))
    page = Page(app)
    assert "counter mend" not in page.get("/shelf/").get_data(as_text=True)
    shop.desk.books.close()
    spoil(folder, 2)  # the batch of Monday
    answer = page.get("/records/sales?day=2026-11-23")
    assert answer.status_code == 503
    assert "Run `counter mend`" in page.get("/shelf/").get_data(as_text=True)
    assert shop.desk.books.engine._con is None  # it does not hold open what is to be mended
    page.post("/language", {"language": "es"})
    assert "Ejecute `counter mend`" in page.get("/shelf/").get_data(as_text=True)


def test_a_damaged_line_is_told_of_in_spanish_and_without_a_name_of_the_program(
    folder_shop: ShopInHand,
) -> None:
    shop, folder = folder_shop.shop, folder_shop.shop.desk.folder
    assert folder is not None
    for product in ("firm", "soft"):
        folder_shop.batch(product)
    shop.evening.close_day()
    shop.desk.books.close()
    file = folder / FILE
    line = file.read_bytes().index(b'{"n":3,"book"')
    with file.open("r+b") as open_file:
        open_file.seek(line + 60)
        open_file.write(b"?")
    page = Page(
        create_app(shop, b"not secret at all", again=lambda: Shop.open(folder, folder_shop.clock))
    )
    page.post("/language", {"language": "es"})
    page.post("/setup/backups/check")
    said = page.get("/setup/backups/").get_data(as_text=True)
    assert "La línea 2 del libro 2026-11-24 está dañada: su enlace no sale de la línea" in said
    assert "BookDamaged" not in said


def test_the_watch_reads_slowly_and_again_when_somebody_moved_the_files(
    closed: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = closed.shop.desk.folder
    assert folder is not None
    for number in range(120):
        closed.shop.waste.throw_away(
            "26328-01", 1, "broken"
        ) if number < 40 else closed.shop.evening.count("26328-01", 8)
    waited = list[float]()
    monkeypatch.setattr("counter.web.watch.time.sleep", waited.append)
    watch = Watch(lambda: Shop.open(folder, closed.clock))
    watch.look()
    assert (watch.found, len(waited), min(waited) > 0) == ("", 2, True)
    watch.see(closed.shop)  # opened: looked at for the first time
    watch._wanted.clear()
    closed.shop.waste.throw_away("26328-01", 1, "broken")
    watch.see(closed.shop)
    assert not watch._wanted.is_set()  # its own writing is no reason
    closed.shop.desk.books.engine.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    spoil(folder, 2)
    closed.shop.counter.shelf()
    watch.see(closed.shop)
    assert watch._wanted.is_set()
    watch.look()
    assert watch.notices(closed.shop) == [watch.found]
    assert "Line 1 of book 2026-11-23 is damaged" in watch.found


def test_what_is_sold_while_the_books_are_read_is_no_finding(
    closed: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lines are read one after the other, and others go on behind them."""
    folder = closed.shop.desk.folder
    assert folder is not None
    watch = Watch(lambda: Shop.open(folder, closed.clock))
    sold = list[str]()

    def meanwhile(_: float) -> None:
        sold.append(closed.sell("firm-block", key=f"meanwhile {len(sold)}").number)

    asked = Audit.damage

    def reading(own: Audit, progress: Callable[[int, int], None]) -> str:
        rows = own.desk.books.engine.rows
        monkeypatch.setattr(
            own.desk.books.engine, "rows",
            lambda sql, values=(): (
                "integrity_check" in sql and meanwhile(0), rows(sql, values)
            )[1],
        )  # fmt: skip
        return asked(own, progress)

    monkeypatch.setattr(Audit, "damage", reading)
    watch.look()
    assert (len(sold), watch.found) == (1, "")


def test_the_check_says_in_spanish_what_it_finds_and_what_a_mending_brought_back(
    closed: ShopInHand,
) -> None:
    shop = closed.shop
    folder = shop.desk.folder
    assert folder is not None
    shop.desk.books.close()
    spoil(folder, 2)
    page = Page(
        create_app(shop, b"not secret at all", again=lambda: Shop.open(folder, closed.clock))
    )
    page.post("/language", {"language": "es"})

    def check() -> str:
        page.post("/setup/backups/check")
        return page.get("/setup/backups/").get_data(as_text=True)

    assert "La línea 1 del libro 2026-11-23 está dañada: su enlace no sale de la línea" in check()
    assert "Ejecute `counter mend`" in page.get("/setup/backups/").get_data(as_text=True)
    assert mend_shop(folder, clock=closed.clock)  # the page has let go of the books
    said = check()
    assert "Reparado el 2026-11-24 08:30: se recuperaron" in said
    assert "1 se ha perdido (2)" in said
    assert "no puede compararse con su cierre: se ha perdido una línea del libro 2026-11-23" in said
    assert said.count("se recuperaron 4 líneas; 1 de ellas no las prueba ningún enlace (3)") == 2
    assert "<li>Línea 1 del libro 2026-11-23 (línea 2 de la tienda), del 2026-11-" in said
    assert "<li>El día 23 nov 2026 está cerrado, con 0 ventas en total.</li>" in said
