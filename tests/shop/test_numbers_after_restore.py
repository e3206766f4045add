"""After a restore no number that may stand on a pack or a receipt is given a second time.

A lot on a pack names one batch and no other: Regulation (EC) 178/2002 Article 18, 21 CFR 1.1310 ff.
"""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from counter.books.engine import RESTORED
from counter.cli import main
from counter.errors import Asked, Refused
from counter.shop import Shop
from counter.shop.production import BatchNote
from counter.shop.restoring import restore
from counter.shop.staffing import set_pin
from counter.trade.asking import Answer
from counter.trade.numbers import GAP, Least, least_after
from counter.web.app import create_app
from tests.conftest import ZONE, ShopInHand
from tests.web.conftest import Page

ANSWERED = datetime(2026, 11, 26, 9, 0, tzinfo=ZONE)
ASKED = "this shop was put back from a copy that ends on 2026-11-24: name the highest lot and sale"


def put_back(hand: ShopInHand, place: Path) -> ShopInHand:
    """A copy is made after two batches and a sale; another batch and sale are lost with the disk."""
    (place / "stick").mkdir()
    hand.batch("firm", 48)
    hand.batch("soft", 30)
    hand.clock.set("2026-11-24 09:00")
    hand.sell("firm-block")
    saved = hand.shop.copies.back_up(place / "stick")
    assert hand.batch("firm", 48).lot == "26328-03"
    assert hand.sell("firm-block").number == "2026-11-24/0002"
    hand.clock.set("2026-11-24 15:00")
    restore(Path(saved.path), place / "back")
    return ShopInHand(Shop.open(place / "back", hand.clock), hand.clock)


def test_nothing_is_written_until_somebody_says_which_numbers_are_out(
    folder_shop: ShopInHand, tmp_path: Path
) -> None:
    back = put_back(folder_shop, tmp_path)
    for _ in range(2):
        with pytest.raises(Asked) as asked:
            back.sell("firm-block")
        assert ASKED in str(asked.value)
        assert [q.about for q in asked.value.questions] == ["restored"]
    with pytest.raises(Asked):
        back.batch("firm", 48)
    assert len(back.shop.desk.ledger().sales) == 1
    back.shop.desk.questions.given = {"restored": "nobody knows"}
    back.sell("firm-block")
    back.shop.desk.questions.given = {}
    back.sell("firm-block")
    assert not (tmp_path / "back" / RESTORED).exists()
    assert back.shop.desk.questions.confirmed()["restored"].words == "nobody knows"


def test_where_none_are_named_numbers_go_on_behind_a_gap(
    folder_shop: ShopInHand, tmp_path: Path
) -> None:
    back = put_back(folder_shop, tmp_path)
    back.shop.desk.questions.given = {"restored": "nobody knows"}
    assert [back.sell("firm-block").number for _ in range(2)] == [
        "2026-11-24/5001", "2026-11-24/5002",
    ]  # fmt: skip
    assert [back.batch("firm", 24).lot for _ in range(2)] == ["26328-51", "26328-52"]
    assert back.shop.counter.refund("2026-11-24/5001", "sour").number == "2026-11-24/R501"
    # What stands on the packs that were lost is entered under its own number.
    note = BatchNote(made=48, boiled_minutes=10, lot="26328-03")
    assert back.shop.production.log_batch("firm", note).lot == "26328-03"
    assert back.batch("firm", 24).lot == "26328-53"
    back.shop.evening.close_day()
    back.clock.set("2026-11-25 09:00")
    assert back.batch("firm", 24).lot == "26329-01"
    assert back.sell("firm-block").number == "2026-11-25/0001"


def test_numbers_go_on_behind_those_that_are_named(folder_shop: ShopInHand, tmp_path: Path) -> None:
    back = put_back(folder_shop, tmp_path)
    back.shop.desk.questions.given = {"restored": "packs to 26328-03, receipts to 2026-11-24/0002"}
    assert back.sell("firm-block").number == "2026-11-24/0003"
    assert back.batch("firm", 24).lot == "26328-04"


def test_days_between_the_copy_and_the_answer_have_the_gap_too(
    folder_shop: ShopInHand, tmp_path: Path
) -> None:
    back = put_back(folder_shop, tmp_path)
    back.clock.set("2026-11-26 09:00")
    back.shop.desk.questions.given = {"restored": "26328-03"}
    late = back.clock().replace(day=25, hour=5)
    note = BatchNote(made=24, boiled_minutes=10)
    assert back.shop.production.log_batch("firm", note, late).lot == "26329-51"
    assert back.batch("firm", 24).lot == "26330-51"


@pytest.mark.parametrize(("day", "least"), [
    (23, Least()), (24, Least(7, 5000, 500)), (25, Least(50, 31, 500)), (26, GAP), (27, Least()),
])  # fmt: skip
def test_what_is_named_holds_for_its_own_day(day: int, least: Least) -> None:
    words, moment = "26328-07, 2026-11-25/0031", ANSWERED
    answer = Answer(about="restored", asked="", words=words, at=moment, basis="2026-11-24 ab12")
    assert least_after(answer, date(2026, 11, day), moment.date()) == least
    assert least_after(None, date(2026, 11, day), moment.date()) == Least()


def test_restored_twice_it_is_asked_twice(folder_shop: ShopInHand, tmp_path: Path) -> None:
    back = put_back(folder_shop, tmp_path)
    back.shop.desk.questions.given = {"restored": "26328-03 and 2026-11-24/0002"}
    back.sell("firm-block")
    (tmp_path / "second").mkdir()
    saved = back.shop.copies.back_up(tmp_path / "second")
    restore(Path(saved.path), tmp_path / "again")
    again = ShopInHand(Shop.open(tmp_path / "again", back.clock), back.clock)
    with pytest.raises(Asked):
        again.sell("firm-block")
    # A copy that was never answered keeps the earlier day.
    unanswered = again.shop.copies.back_up(tmp_path / "second")
    restore(Path(unanswered.path), tmp_path / "third")
    assert (tmp_path / "third" / RESTORED).read_text("utf-8").startswith("2026-11-24 ")


def test_where_people_have_pins_an_owner_says_it(folder_shop: ShopInHand, tmp_path: Path) -> None:
    set_pin(folder_shop.shop.desk, "rosa", "2580")
    back = put_back(folder_shop, tmp_path)
    back.shop.desk.questions.given = {"restored": "26328-03"}
    for by in ("", "Ida"):
        with pytest.raises(Refused, match=f"'{by}' is no owner. Let Rosa say which numbers"):
            back.shop.evening.move_cash("in", 100, "found", by=by)
    assert (tmp_path / "back" / RESTORED).exists()
    back.shop.evening.move_cash("in", 100, "found", by="Rosa")
    assert back.shop.desk.questions.confirmed()["restored"].by == "Rosa"


def test_the_command_line_and_the_page_ask(
    folder_shop: ShopInHand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    back = put_back(folder_shop, tmp_path)
    page = Page(create_app(back.shop, b"not secret at all, only for tests"))
    form = {"product": "firm", "made": "24", "cook": "boiled", "cook-minutes": "10", "same": "1"}
    asked = page.post("/log/new", form)
    assert ASKED[1:] in asked.text  # the page writes its first letter large
    assert 'name="sure.restored"' in asked.text
    done = page.post("/log/new", {**form, "sure.restored": "26328-03"})
    assert done.location == "/log/lot/26328-04"
    saved = folder_shop.shop.copies.back_up(tmp_path / "stick")
    restore(Path(saved.path), tmp_path / "cli")
    opened = Shop.open.__func__  # type: ignore[attr-defined]
    monkeypatch.setattr(
        Shop, "open", classmethod(lambda cls, folder, clock=None: opened(cls, folder, back.clock))
    )
    sell = ["--shop", str(tmp_path / "cli"), "sell", "firm-block", "--card"]
    refused = CliRunner().invoke(main, sell)
    assert refused.exit_code == 1
    assert "or say that there are none. If it is so" in refused.stderr
    done_too = CliRunner().invoke(main, [*sell, "--sure", "restored=2026-11-24/0040"])
    assert done_too.stdout.startswith("Sale 2026-11-24/0041\n")
