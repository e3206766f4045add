"""A shop with a morning behind it, and Flask's test client with the page's own token."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2.bccache import Bucket, BytecodeCache
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from counter.shop.staffing import set_pin
from counter.trade.people import hash_pin
from counter.web import faults
from counter.web.app import CounterApp, create_app
from tests.conftest import Filled, ShopInHand, a_morning
from tests.lines import lines_of

BASE = "http://127.0.0.1"


class Compiled(BytecodeCache):
    """The templates as code, kept from one page to the next of a run."""

    kept: ClassVar[dict[str, bytes]] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self.kept:
            bucket.bytecode_from_string(self.kept[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self.kept[bucket.key] = bucket.bytecode_to_string()


class Known(Rule):
    """An address whose patterns are made once in a run: they are the same in every app."""

    kept: ClassVar[dict[tuple[str, str, str], dict[str, Any]]] = {}

    def compile(self) -> None:
        key = self.rule, str(self.endpoint), repr((self.defaults, sorted(self.methods or ())))
        if key not in self.kept:
            super().compile()
            self.kept[key] = dict(vars(self))
        vars(self).update({**self.kept[key], "map": self.map})


CounterApp.jinja_options = {"bytecode_cache": Compiled()}
CounterApp.url_rule_class = Known


class Page:
    """A browser at the counter: it keeps its session and sends its token."""

    def __init__(self, app: Flask) -> None:
        self.client: FlaskClient = app.test_client()
        self.client.environ_base["HTTP_HOST"] = "127.0.0.1"
        self._token = ""

    @property
    def token(self) -> str:
        if not self._token:
            page = self.client.get("/who/").get_data(as_text=True)
            found = re.search(r'<meta name="token" content="([^"]+)">', page)
            assert found
            self._token = found[1]
        return self._token

    def get(self, path: str, **more: Any) -> TestResponse:
        headers = {"Accept": "text/html, */*;q=0.1", **more.pop("headers", {})}
        return self.client.get(path, headers=headers, **more)

    def post(self, path: str, form: Any = None, **more: Any) -> TestResponse:
        """A form, with the token."""
        return self.client.post(path, data={"token": self.token, **(form or {})}, **more)

    def send(self, path: str, json: Any) -> TestResponse:
        """JSON, as the page's own program sends it."""
        return self.client.post(path, json=json, headers={"X-Token": self.token})

    def sign_in(self, person: str, pin: str) -> TestResponse:
        made = self.post("/who/", {"person": person, "pin": pin})
        self._token = ""
        return made


@pytest.fixture
def morning(tmp_path: Path, filled: Filled) -> ShopInHand:
    """Lots 26328-01 firm, -02 soft, -03 pressed, -04 pudding with an open cold tub; half past eight."""
    return filled(tmp_path / "shop", a_morning)


@pytest.fixture
def app(morning: ShopInHand) -> Iterator[Flask]:
    made = create_app(morning.shop, b"not secret at all, only for tests")
    made.testing = False  # errors are answered as in the shop, never raised
    yield made
    faults.log_into(None)
    morning.shop.desk.books.close()


@pytest.fixture
def page(app: Flask) -> Page:
    return Page(app)


@pytest.fixture
def pins(morning: ShopInHand, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """Everybody has a PIN. The hash is made cheap here; test_people.py tests the real one."""
    monkeypatch.setattr("counter.trade.people._N", 2**4)
    made = {"rosa": "2580", "teo": "1470", "ida": "3690"}
    for person, pin in made.items():
        set_pin(morning.shop.desk, person, pin)
    assert hash_pin("1", b"x", b"key").startswith("keyed:16:")
    return made


def books_of(hand: ShopInHand) -> list[str]:
    """Every line of the books: what a refused request must leave as it was."""
    folder = hand.shop.desk.folder
    assert folder is not None
    return lines_of(folder)
