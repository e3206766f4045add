"""PINs: who may come in, how often one may guess, and what is written down."""

from __future__ import annotations

import hashlib
import hmac
from pathlib import Path

import pytest

from counter.errors import BadInput, NotFound, Refused
from counter.shop import Shop
from counter.shop.staffing import open_secret, owner_has_pin, pins_of, remove_pin, set_pin
from counter.trade.people import check_new_pin, hash_pin, may, pin_fits, set_with
from counter.web.server import make_server
from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of


def test_a_pin_is_kept_as_a_salted_slow_hash_with_a_key() -> None:
    key = b"stays on the shop's own computer"
    stored = hash_pin("2580", b"0123456789abcdef", key)
    kind, n, r, p, salt, _, made = stored.split(":")
    # RFC 7914 and RFC 2104: the same figures through the library itself
    again = hashlib.scrypt(
        hmac.new(key, b"2580", "sha256").digest(),
        salt=bytes.fromhex(salt), n=int(n), r=int(r), p=int(p), dklen=32,
    )  # fmt: skip
    assert (kind, int(n) >= 2**14, made) == ("keyed", True, again.hex())
    assert "2580" not in stored
    assert hash_pin("2580", b"another salt 16!", key) != stored
    assert pin_fits("2580", stored, key)
    assert not pin_fits("2581", stored, key)
    assert not pin_fits("", stored, key)


def test_a_pin_is_compared_to_its_last_digit() -> None:
    """Two PINs in 256 share the first byte of their hashes."""
    stored = hash_pin("2580", b"0123456789abcdef", b"one key")
    for place in (-1, -32, -62):  # the first two figures are as they were
        digit = "1" if stored[place] == "0" else "0"
        other = stored[:place] + digit + stored[len(stored) + place + 1 :]
        assert not pin_fits("2580", other, b"one key")


def test_without_the_key_no_pin_fits_not_even_the_right_one() -> None:
    stored = hash_pin("2580", b"0123456789abcdef", b"one key")
    assert set_with(stored, b"one key")
    for key in (b"", b"another key"):
        assert not set_with(stored, key)
        assert not pin_fits("2580", stored, key)


@pytest.mark.parametrize(
    "pin", ["", "123", "1234", "4321", "7777", "12a4", "٢٥٨٠", "1" * 13, "25 80"]
)
def test_a_pin_that_anybody_would_guess_is_refused(pin: str) -> None:
    with pytest.raises(BadInput, match="Cannot set that PIN"):
        check_new_pin(pin)


def test_an_owner_may_all_that_a_maker_may_and_a_stranger_nothing() -> None:
    assert may("owner", "maker")
    assert may("maker", "counter")
    assert may("counter", "counter")
    assert not may("counter", "maker")
    assert not may("", "counter")


def test_the_first_pin_must_be_an_owners(morning: ShopInHand) -> None:
    with pytest.raises(Refused) as refusal:
        set_pin(morning.shop.desk, "ida", "3690")
    assert str(refusal.value) == (
        "Cannot set a PIN for 'ida': no owner has a PIN yet. Set the owner's PIN first."
    )
    set_pin(morning.shop.desk, "rosa", "2580")
    set_pin(morning.shop.desk, "ida", "3690")
    assert set(pins_of(morning.shop.desk)) == {"rosa", "ida"}
    with pytest.raises(Refused, match="no owner would be left"):
        remove_pin(morning.shop.desk, "rosa")
    with pytest.raises(NotFound, match="Did you mean rosa"):
        set_pin(morning.shop.desk, "rosaa", "2580")


def test_setting_a_pin_leaves_the_catalogue_as_it_was(morning: ShopInHand) -> None:
    before = morning.shop.desk.catalogue
    set_pin(morning.shop.desk, "rosa", "2580")
    folder = morning.shop.desk.folder
    assert folder is not None
    again = Shop.open(folder, morning.clock)
    assert again.desk.catalogue == before
    assert owner_has_pin(again.desk)
    again.desk.books.close()


def test_the_secret_is_made_once_and_only_its_owner_reads_it(tmp_path: Path) -> None:
    made = open_secret(tmp_path)
    assert len(made) == 32
    assert open_secret(tmp_path) == made
    assert (tmp_path / ".secret").stat().st_mode & 0o777 == 0o600


def test_on_another_computer_the_page_says_why_no_pin_fits_and_lets_nobody_in(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    folder = morning.shop.desk.folder
    assert folder is not None
    (folder / ".pin-key").unlink()  # as a copy that was put back has none
    assert "copies carry no key for PINs" in page.get("/who/").get_data(as_text=True)
    refused = page.post("/who/", {"person": "rosa", "pin": "2580"})
    assert refused.status_code == 409
    assert "set it anew on the shop" in refused.get_data(as_text=True)
    assert page.get("/shelf/").location == "/who/?next=/shelf/"
    with pytest.raises(Refused, match="no PIN fits on this computer, since copies carry no key"):
        make_server(folder, 0, lan=True, clock=morning.clock)
    set_pin(morning.shop.desk, "rosa", "2589")  # as `counter pin rosa` does
    assert "copies carry no key" not in page.get("/who/").get_data(as_text=True)
    assert page.post("/who/", {"person": "ida", "pin": "3690"}).status_code == 409
    assert page.post("/who/", {"person": "rosa", "pin": "2589"}).status_code == 302
    assert page.get("/shelf/").status_code == 200


def test_a_shop_without_pins_asks_nobody(page: Page) -> None:
    assert page.get("/shelf/").status_code == 200
    assert page.get("/who/pins").status_code == 200


def test_with_pins_nobody_comes_in_unnamed(page: Page, pins: dict[str, str]) -> None:
    gone = page.get("/shelf/")
    assert (gone.status_code, gone.headers["Location"]) == (302, "/who/?next=/shelf/")
    refused = page.send("/slip/price", {"items": [{"portion": "firm-block"}]})
    assert refused.status_code == 403
    assert refused.get_json()["error"] == (
        "Cannot do that: nobody has signed in here. Sign in and try again."
    )
    assert page.get("/shelf.json", headers={"X-Token": "x"}).status_code == 403


def test_who_signed_in_stands_in_the_book(
    page: Page, pins: dict[str, str], morning: ShopInHand
) -> None:
    assert page.sign_in("ida", pins["ida"]).status_code == 302
    slip = {"items": [{"portion": "firm-block"}], "key": "k1"}
    sold = page.send("/slip/pay", {"slip": slip, "tenders": [{"kind": "card"}], "seen": 325})
    assert sold.status_code == 200, sold.get_data(as_text=True)
    assert morning.shop.counter.sale(sold.get_json()["number"]).by == "Ida"


def test_a_role_that_does_not_include_it_is_refused(
    page: Page, pins: dict[str, str], morning: ShopInHand
) -> None:
    page.sign_in("ida", pins["ida"])
    before = books_of(morning)
    refused = page.post("/who/pins", {"person": "ida", "pin": "9753", "again": "9753"})
    assert refused.status_code == 403
    assert "it takes the role owner, and Ida has the role counter" in refused.get_data(as_text=True)
    assert books_of(morning) == before


def test_wrong_pins_cost_a_longer_and_longer_wait(
    page: Page, pins: dict[str, str], morning: ShopInHand
) -> None:
    for _ in range(5):
        assert page.sign_in("rosa", "0000").status_code == 403
    waits = page.sign_in("rosa", pins["rosa"])
    assert waits.status_code == 409
    assert "the PIN was wrong 5 times. Wait" in waits.get_data(as_text=True)
    assert page.sign_in("ida", pins["ida"]).status_code == 302  # only that name waits
    morning.clock.forward(minutes=3)
    assert page.sign_in("rosa", pins["rosa"]).status_code == 302


def test_a_new_pin_ends_the_sessions_of_the_old_one(
    page: Page, pins: dict[str, str], morning: ShopInHand
) -> None:
    page.sign_in("ida", pins["ida"])
    assert page.get("/sales/").status_code == 200
    set_pin(morning.shop.desk, "ida", "8642")
    assert page.get("/sales/").status_code == 302


def test_a_session_ends_after_a_long_day(
    page: Page, pins: dict[str, str], morning: ShopInHand
) -> None:
    page.sign_in("ida", pins["ida"])
    morning.clock.forward(hours=15)
    assert page.get("/sales/").status_code == 302


def test_an_owner_sets_and_takes_pins_on_the_page(page: Page, morning: ShopInHand) -> None:
    assert (
        page.post("/who/pins", {"person": "rosa", "pin": "2580", "again": "2581"}).status_code
        == 400
    )
    assert (
        page.post("/who/pins", {"person": "rosa", "pin": "2580", "again": "2580"}).status_code
        == 302
    )
    page._token = ""  # whoever set the own PIN has a new session
    assert "Rosa has a new PIN." in page.get("/who/pins").get_data(as_text=True)
    assert page.post("/who/pins", {"person": "rosa", "remove": "yes"}).status_code == 302
    assert pins_of(morning.shop.desk) == {}
    assert "Nobody has a PIN now: whoever reaches this page" in page.get("/who/").get_data(
        as_text=True
    )


def test_the_shops_network_is_served_only_behind_an_owners_pin(morning: ShopInHand) -> None:
    folder = morning.shop.desk.folder
    assert folder is not None
    with pytest.raises(Refused) as refusal:
        make_server(folder, 0, lan=True, clock=morning.clock)
    assert str(refusal.value) == (
        "Cannot serve to the shop's network: no owner has a PIN yet, so anybody could sell and "
        "close. Set one with `counter pin PERSON`."
    )
    morning.shop.desk.books.close()
