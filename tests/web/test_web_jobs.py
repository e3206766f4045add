"""Work that takes long: begun, told of, fetched; by whom; and the same without the page's program."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from counter.errors import Refused
from counter.shop import Shop
from counter.shop.reports import Reports
from counter.web import faults, jobs
from counter.web.app import create_app
from tests.conftest import ShopInHand
from tests.lines import spoil
from tests.web.conftest import Page, books_of

AS_JOB = {"X-Job": "yes"}
FOLDER = "/papers/inspection.pdf?first=2026-11-24&last=2026-11-24"


@pytest.fixture
def busy(morning: ShopInHand) -> Iterator[Flask]:
    """The app as it is served: long work gets a thread and a shop of its own."""
    folder = morning.shop.desk.folder
    assert folder is not None
    with (folder / "shop.toml").open("a", encoding="utf-8") as file:
        file.write('\n[backup]\nfolder = "backups"\n')
    made = create_app(morning.shop, b"not secret at all, only for tests", again=lambda: Shop.open(
        folder, morning.clock))  # fmt: skip
    yield made
    for thread in threading.enumerate():
        if thread.name.startswith("job "):
            thread.join(20)
    faults.log_into(None)
    morning.shop.desk.books.close()


@pytest.fixture
def desk(busy: Flask) -> Page:
    return Page(busy)


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """The inspector's folder waits, half done, until this is set."""
    go, write = threading.Event(), Reports.write_inspection

    def slow(self: Reports, *given: Any) -> Path:
        given[-1](1, 4)
        assert go.wait(20)
        return write(self, *given)

    monkeypatch.setattr(Reports, "write_inspection", slow)
    yield go
    go.set()


def ended(page: Page, told: Any, patience_s: float = 20) -> dict[str, Any]:
    """What a job says when it is over."""
    until = time.monotonic() + patience_s
    found: dict[str, Any] = told.json
    while found["state"] == "going":
        assert time.monotonic() < until, "it never ended"
        time.sleep(0.02)
        found = page.get(found["ask"]).json
    return found


def test_a_paper_is_begun_told_of_and_fetched_and_is_the_very_same(desk: Page) -> None:
    plain = desk.get(FOLDER)
    begun = desk.get(FOLDER, headers=AS_JOB)
    assert begun.status_code == 200
    found = ended(desk, begun)
    assert (found["state"], found["error"]) == ("done", "")
    assert found["file"] == "inspection-2026-11-24-2026-11-24.pdf"
    made = desk.get(found["place"])
    assert made.headers["Content-Disposition"] == f"attachment; filename={found['file']}"
    assert made.mimetype == "application/pdf"
    assert len(made.data) == len(plain.data)  # the moment it was drawn up stands in it
    assert desk.get(found["place"]).data == made.data  # once more, if the first was lost


def test_while_it_is_drawn_up_it_says_how_far_it_is_and_the_counter_sells(
    desk: Page, held: threading.Event, morning: ShopInHand
) -> None:
    told = desk.get(FOLDER, headers=AS_JOB)
    while (found := desk.get(told.json["ask"]).json)["whole"] == 0:
        time.sleep(0.01)
    assert (found["state"], found["done"], found["whole"]) == ("going", 1, 4)
    assert found["place"] == ""
    sold = desk.send("/slip/pay", {"slip": {"items": [{"portion": "firm-block"}], "key": "k-1"},
                                   "tenders": [{"kind": "card"}], "seen": 325})  # fmt: skip
    assert sold.status_code == 200
    held.set()
    assert ended(desk, told)["state"] == "done"


def test_a_second_tap_on_the_same_begins_nothing(desk: Page, held: threading.Event) -> None:
    first = desk.get(FOLDER, headers=AS_JOB).json["ask"]
    assert desk.get(FOLDER, headers=AS_JOB).json["ask"] == first
    held.set()
    ended(desk, desk.get(first))
    assert desk.get(FOLDER, headers=AS_JOB).json["ask"] != first


def test_three_at_once_are_enough(desk: Page, held: threading.Event) -> None:
    for day in ("21", "22", "23"):
        path = FOLDER.replace("first=2026-11-24", f"first=2026-11-{day}")
        assert desk.get(path, headers=AS_JOB).status_code == 200
    refused = desk.get(FOLDER, headers={**AS_JOB, "X-Token": desk.token})
    assert refused.status_code == 409
    assert refused.json["error"] == (
        "Cannot begin that: 3 others are in work. Wait until one is done."
    )


def test_what_is_refused_meanwhile_is_said_with_its_number(desk: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    path = "/papers/inspection.pdf?first=2025-01-01&last=2025-01-02"
    found = ended(desk, desk.get(path, headers=AS_JOB))
    assert found["state"] == "failed"
    assert found["error"].startswith("Cannot draw up the records from 2025-01-01 to 2025-01-02")
    assert (len(found["number"]), found["place"]) == (6, "")
    assert desk.get(found["ask"].removesuffix(".json")).status_code == 404
    folder = morning.shop.desk.folder
    assert folder is not None
    assert found["number"] in (folder / "counter.log").read_text("utf-8")
    assert books_of(morning) == before


def test_a_fault_of_the_program_ends_the_job_and_is_told_in_full_to_the_log_alone(
    desk: Page, morning: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(self: Reports, *given: object) -> None:
        raise KeyError("inside")

    monkeypatch.setattr(Reports, "write_inspection", broken)
    found = ended(desk, desk.get(FOLDER, headers=AS_JOB))
    assert found["state"] == "failed"
    assert "inside" not in found["error"]
    folder = morning.shop.desk.folder
    assert folder is not None
    log = (folder / "counter.log").read_text("utf-8")
    assert f"{found['number']} 500 job" in log
    assert "KeyError: 'inside'" in log


def test_a_paper_is_for_the_session_that_asked_for_it_alone(busy: Flask, desk: Page) -> None:
    found = ended(desk, desk.get(FOLDER, headers=AS_JOB))
    other = Page(busy)
    assert other.token != desk.token
    for path in (found["ask"], found["place"]):
        assert other.get(path).status_code == 404
    for key in ("", "x", "../../etc/passwd", "x" * 200, "%00"):
        assert 300 <= desk.get(f"/papers/jobs/{key}").status_code < 500


def test_who_may_not_have_a_paper_may_not_begin_it(
    desk: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    desk.sign_in("ida", pins["ida"])
    for path in ("/papers/export", "/papers/span.pdf?kind=year"):
        assert desk.get(path, headers=AS_JOB).status_code == 403
    assert desk.post("/setup/backups/", headers=AS_JOB).status_code == 403
    assert desk.post("/setup/backups/check", headers=AS_JOB).status_code == 403


def test_what_was_not_fetched_is_forgotten_after_a_while(
    desk: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = ended(desk, desk.get(FOLDER, headers=AS_JOB))
    monkeypatch.setattr(jobs, "KEPT_S", -1)
    desk.get("/papers/day.csv", headers=AS_JOB)
    gone = desk.get(found["place"])
    assert gone.status_code == 404
    assert "Tap once more" in gone.get_data(as_text=True)


# -- copies and the check


def test_a_copy_is_made_as_a_job_and_the_page_then_says_what_came_of_it(
    desk: Page, morning: ShopInHand
) -> None:
    found = ended(desk, desk.post("/setup/backups/", headers=AS_JOB))
    assert (found["state"], found["file"]) == ("done", "")
    shown = desk.get(found["place"], follow_redirects=True)
    assert shown.request.path == "/setup/backups/"
    assert "Backup written and read back" in shown.get_data(as_text=True)
    [copy] = morning.shop.copies.listed()
    assert copy.name in shown.get_data(as_text=True)


def test_a_copy_is_read_back_from_the_list(desk: Page, morning: ShopInHand) -> None:
    desk.post("/setup/backups/")
    [copy] = morning.shop.copies.listed()
    shown = desk.post(f"/setup/backups/prove/{copy.name}", follow_redirects=True)
    assert f"{copy.name} can be put back" in shown.get_data(as_text=True)
    folder = morning.shop.desk.folder
    assert folder is not None
    path = folder / "backups" / copy.name
    path.write_bytes(path.read_bytes()[:-9])
    bad = desk.post(f"/setup/backups/prove/{copy.name}")
    assert bad.status_code == 503
    assert "Cannot read backup" in bad.get_data(as_text=True)
    assert desk.post("/setup/backups/prove/shop.toml").status_code == 404


def test_copies_are_sealed_from_the_page_and_left_open_again(
    desk: Page, morning: ShopInHand
) -> None:
    assert "Copies are not sealed" in desk.get("/setup/backups/").get_data(as_text=True)
    words = {"passphrase": "correct horse battery staple", "again": "correct horse battery staple"}
    for wrong in ({**words, "again": "another"}, {"passphrase": "tofu", "again": "tofu"}):
        assert desk.post("/setup/backups/seal", wrong).status_code == 400
    assert not morning.shop.copies.copies_sealed
    said = desk.post("/setup/backups/seal", words, follow_redirects=True).get_data(as_text=True)
    assert "Copies are sealed from now on." in said
    assert words["again"] not in said
    desk.post("/setup/backups/")
    [copy] = morning.shop.copies.listed()
    assert copy.name.endswith(".zip.sealed")
    shown = desk.post(f"/setup/backups/prove/{copy.name}", follow_redirects=True)
    assert f"{copy.name} can be put back" in shown.get_data(as_text=True)
    said = desk.post("/setup/backups/seal", {}, follow_redirects=True).get_data(as_text=True)
    assert "Copies are not sealed from now on." in said
    assert not morning.shop.copies.copies_sealed


def test_the_page_says_what_to_do_about_a_lost_stick(desk: Page) -> None:
    shown = desk.get("/setup/backups/").get_data(as_text=True)
    for part in ("Lost a stick?", "whoever finds", "new PIN", "Seal the copies from now on",
                 "Tell those who work here", "local law decides"):  # fmt: skip
        assert part in shown


def test_the_books_are_checked_from_the_page_and_what_is_wrong_is_named(
    desk: Page, morning: ShopInHand
) -> None:
    assert "Each follows from the one before it." in desk.post(
        "/setup/backups/check", follow_redirects=True
    ).get_data(as_text=True)
    folder = morning.shop.desk.folder
    assert folder is not None
    spoil(folder, "2026-11-24", '"made":30', '"made":31')
    found = ended(desk, desk.post("/setup/backups/check", headers=AS_JOB))
    assert found["state"] == "done"
    shown = desk.get(found["place"], follow_redirects=True).get_data(as_text=True)
    assert "do not follow:" in shown or "does not follow:" in shown
    assert "2026-11-24" in shown


def test_a_job_speaks_the_language_of_the_page_that_began_it(desk: Page) -> None:
    desk.post("/language", {"language": "es"})
    found = ended(desk, desk.post("/setup/backups/check", headers=AS_JOB))
    shown = desk.get(found["place"], follow_redirects=True).get_data(as_text=True)
    assert "Cada una sigue a la anterior." in shown


# -- labels


def test_labels_are_printed_as_a_job_and_the_record_is_the_same(
    desk: Page, morning: ShopInHand
) -> None:
    form = {"lot": "26328-01", "count.26328-01": "3", "do": "save"}
    found = ended(desk, desk.post("/labels/print", form, headers=AS_JOB))
    assert found["state"] == "done"
    shown = desk.get(found["place"], follow_redirects=True)
    assert shown.request.path == "/labels/done/26328-01-203dpi.pdf"
    assert "26328-01: 3 labels, pages: 3. It is recorded." in shown.get_data(as_text=True)
    assert [p.labels for p in morning.shop.products.printed_of("26328-01")] == [3]


def test_begun_twice_by_two_threads_it_is_one_job(busy: Flask) -> None:
    made = jobs.Jobs()
    one, new = made.begin("session", "/papers/day.pdf")
    again, second = made.begin("session", "/papers/day.pdf")
    assert (one is again, new, second) == (True, True, False)
    made.begin("session", "/b")
    made.begin("other", "/papers/day.pdf")
    with pytest.raises(Refused, match="3 others are in work"):
        made.begin("other", "/c")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a file that is always full")
def test_a_log_that_finds_no_room_is_passed_over_and_nothing_gets_onto_the_terminal(
    desk: Page, morning: ShopInHand, capfd: pytest.CaptureFixture[str]
) -> None:
    """A pipe of it that nobody reads would be full one day, and the page would stand still."""
    folder = morning.shop.desk.folder
    assert folder is not None
    faults.log_into(None)
    (folder / "counter.log").unlink(missing_ok=True)
    (folder / "counter.log").symlink_to("/dev/full")
    faults.log_into(folder)
    path = "/papers/inspection.pdf?first=2025-01-01&last=2025-01-02"
    assert ended(desk, desk.get(path, headers=AS_JOB))["state"] == "failed"
    assert capfd.readouterr().err == ""
    with suppress(OSError):  # what it still holds
        faults.log_into(None)
