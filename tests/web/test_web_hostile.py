"""Whatever is sent to whichever address: a sentence and a 4xx, never a 500, never a change."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from typing import Any

import pytest
from flask import Flask

from counter.languages import page_texts
from counter.web.here import field
from counter.web.outside import own_path
from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of

LONG = "9" * 5000
HOSTILE = [
    "", " ", "-1", "0", LONG, "NaN", "Infinity", "1e309", "=cmd|'/c calc'!A1", "<script>alert(1)</script>",
    "'; DROP TABLE sales; --", "../../../etc/passwd", "\x00", "\ud800", "‮2024", "{{7*7}}", "%s%n", "🧊" * 80,
    "2026-02-30", "26328-01", "26328-99", "null", "[]", "٣", "firm-block*99999999", "pressed:" + "9" * 30 + "kg",
    "]C1" + "\x1d" * 40, "https://id.gs1.org/01/09521234000013/10/" + "A" * 90,
]  # fmt: skip
BODIES = [
    b"", b"{", b"[]", b"null", b'"x"', b"1e999", b"[" * 50_000, b"\xff\xfe{}", b'{"items": "x"}',
    '{"items":[{"portion":"firm-block"}]}'.encode("utf-16"), b'{"items":[{"portion":"firm-block","quantity":1e40}]}',
    b'{"items":[{"portion":"firm-block","quantity":"2"}],"key":"k"}', b'{"__proto__":{"x":1}}',
]  # fmt: skip


def routes(app: Flask, method: str) -> list[str]:
    """Every address of the app that takes this method, its open parts still open."""
    return sorted(r.rule for r in app.url_map.iter_rules() if method in (r.methods or ()))


def filled(rule: str, value: str) -> str:
    from urllib.parse import quote

    out = ""
    for part in rule.split("<"):
        name, mark, rest = part.partition(">")
        out += quote(value[:300].encode("utf-8", "surrogatepass"), safe="") + rest if mark else name
    return out


def refused(answer: Any) -> None:
    text = answer.get_data(as_text=True)
    assert 400 <= answer.status_code < 500, (answer.status_code, text[:300])
    assert "Traceback" not in text
    assert "Cannot " in text, text[:300]


def test_no_address_answers_with_a_fault_or_changes_anything_when_looked_at(
    app: Flask, page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    for rule in routes(app, "GET"):
        for value in HOSTILE[:1] if "<" not in rule else HOSTILE:
            query = {"lot": value, "next": value, "day": value, "q": value, "person": value}
            clean = {k: v.encode("utf-8", "replace").decode() for k, v in query.items()}
            answer = page.get(filled(rule, value or "x"), query_string=clean)
            text = answer.get_data().decode("utf-8", "replace")  # some answers are a PDF
            assert answer.status_code < 500, (rule, value, text[-400:])
            assert "<script>alert(1)" not in text, rule
    assert books_of(morning) == before


def test_no_change_goes_through_without_the_token(
    app: Flask, page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    for rule in routes(app, "POST"):
        place = filled(rule, "26328-01")
        sent = {"lot": "26328-01", "why": "x"}
        for headers, body in (
            ({}, {"data": sent}), ({"X-Token": "guess"}, {"data": sent}),
            ({"X-Token": "ü"}, {"data": sent}), ({}, {"json": sent}),
            ({"X-Token": "guess"}, {"json": sent}), ({}, {"json": {**sent, "token": page.token}}),
        ):  # fmt: skip
            answer = page.client.post(place, headers=headers, **body)
            assert answer.status_code == 403, (rule, headers)
            refused(answer)
    assert books_of(morning) == before


def test_a_token_of_another_session_is_refused(app: Flask, page: Page) -> None:
    other = Page(app)
    refused(page.client.post("/who/leave", data={"token": other.token}))


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1.evil.example", "evil.example:8765", "", "[::2]", "127.0.0.1@x"],
)
def test_a_name_that_is_not_ours_is_refused(page: Page, morning: ShopInHand, host: str) -> None:
    before = books_of(morning)
    refused(page.client.get("/shelf/", headers={"Host": host}))
    sent = {"X-Token": page.token, "Host": host}
    refused(page.client.post("/slip/pay", json={}, headers=sent))
    assert books_of(morning) == before


@pytest.mark.parametrize("body", BODIES, ids=lambda b: repr(b[:24]))
def test_a_body_that_is_no_slip_is_refused(page: Page, morning: ShopInHand, body: bytes) -> None:
    before = books_of(morning)
    sent = {"X-Token": page.token, "Content-Type": "application/json"}
    for path in (
        "/slip/price",
        "/slip/pay",
        "/slip/read",
        "/tubs/open",
        "/tubs/check",
        "/tubs/end",
    ):
        refused(page.client.post(path, data=body, headers=sent))
    assert books_of(morning) == before


def hostile_messages() -> list[tuple[str, dict[str, Any]]]:
    """Each field of each message, one at a time, with each hostile value."""
    item = {"portion": "firm-block", "quantity": 1}
    good: dict[str, dict[str, Any]] = {
        "/slip/price": {"items": [item]},
        "/tubs/check": {"tub": "26328-04/1", "temperature": "4 C"},
        "/tubs/open": {"lot": "26328-04", "mode": "cold", "temperature": "4 C"},
        "/tubs/end": {"tub": "26328-04/1", "left": "10"},
    }
    fields = {
        "/tubs/check": ("tub", "temperature"),
        "/tubs/open": ("lot", "mode"),
        "/tubs/end": ("tub", "left"),
    }
    found: list[tuple[str, dict[str, Any]]] = []
    odd = [v for v in HOSTILE if v not in ("26328-01", "0")] + [None, [], {}, 10**30, True]  # type: ignore[list-item]
    for path, names in fields.items():
        # -1 is a temperature, if a strange one: a freezer's
        found += [
            (path, {**good[path], n: v})
            for n in names
            for v in odd
            if (n, v) != ("temperature", "-1")
        ]
    for name in ("portion", "lot", "gross", "unit"):
        for value in odd:
            if name in ("lot", "gross") and value == "":
                continue  # none at all, which is allowed
            made = (
                {"portion": "pressed", "gross": "1", "unit": "lb"}
                if name in ("gross", "unit")
                else item
            )
            found.append(("/slip/price", {"items": [{**made, name: value}]}))
    for quantity in (0, -1, 1000, 10**30, 1.5, "1", None, True, []):
        found.append(("/slip/price", {"items": [{**item, "quantity": quantity}]}))
    for text in (*HOSTILE, "101%", "-5%", "999999", None):
        found.append(("/slip/price", {"items": [item], "discount": {"text": text, "why": "x"}}))
    found.append(("/slip/price", {"items": [item] * 500}))
    found.append(("/slip/price", {"items": [item], "where": "nowhere"}))
    found.append(("/slip/price", {"items": [item], "key": "\x00"}))
    found.append(("/slip/price", {"items": [{**item, "toppings": ["sesame"]}]}))
    found.append(("/slip/price", {"items": []}))
    return [(path, sent) for path, sent in found if sent != good.get(path)]


def test_every_field_of_every_message_refuses_what_it_is_not(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    wrong = []
    for path, sent in hostile_messages():
        data = json.dumps(sent).encode("utf-8", "surrogatepass")
        answer = page.client.post(
            path, data=data, headers={"X-Token": page.token, "Content-Type": "application/json"}
        )
        text = answer.get_data(as_text=True)
        if not (400 <= answer.status_code < 500 and "Cannot " in text and "Traceback" not in text):
            wrong.append((path, str(sent)[:150], answer.status_code, text[:200]))
    assert wrong == []
    assert books_of(morning) == before


def test_hostile_codes_are_refused_in_a_sentence(page: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    for text in HOSTILE:
        if text in ("26328-01",):
            continue
        data = json.dumps({"text": text}).encode("utf-8", "surrogatepass")
        refused(
            page.client.post(
                "/slip/read",
                data=data,
                headers={"X-Token": page.token, "Content-Type": "application/json"},
            )
        )
    assert books_of(morning) == before


def test_hostile_payments_are_refused_in_a_sentence(page: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    slip = {"items": [{"portion": "firm-block"}], "key": "k"}
    for tender in (
        {},
        {"kind": "gold"},
        *({"kind": "cash", "amount": v} for v in HOSTILE if v.strip() and v != "0"),
    ):
        refused(
            page.send("/slip/pay", {"slip": slip, "tenders": [tender], "seen": 325})
            if "\ud800" not in str(tender)
            else page.send("/slip/pay", {})
        )
    for sent in (
        {"slip": {**slip, "key": ""}, "tenders": [{"kind": "card"}], "seen": 325},
        {"slip": slip, "tenders": [], "seen": 325},
        {"slip": slip, "tenders": [{"kind": "cash", "amount": "0"}], "seen": 325},
        {"slip": slip, "tenders": [{"kind": "card", "amount": "9"}], "seen": 325},
        {"slip": slip, "tenders": [{"kind": "card"}] * 20, "seen": 325},
        {"slip": slip, "tenders": [{"kind": "card"}], "seen": "325"},
        {"slip": slip, "tenders": [{"kind": "card"}]},
    ):
        refused(page.send("/slip/pay", sent))
    assert books_of(morning) == before


def test_hostile_refunds_are_refused_in_a_sentence(page: Page, morning: ShopInHand) -> None:
    number = morning.sell("firm-block*2").number
    before = books_of(morning)
    good = {"before": "0", "line-1": "1", "why": "cracked", "kind": "card"}
    for name in good:
        for value in HOSTILE:
            if (name, value) in (("before", "0"),) or (
                name == "why" and value.strip() and len(value) < 200
            ):
                continue
            if name == "kind" and value.strip() and len(value) < 200:
                continue
            form = {**good, name: value.encode("utf-8", "replace").decode()}
            refused(page.post(f"/sales/{number}/refund", form))
    assert books_of(morning) == before


def test_too_large_is_told_in_a_sentence(page: Page, morning: ShopInHand) -> None:
    sent = {"X-Token": page.token, "Content-Type": "application/json"}
    answer = page.client.post("/slip/price", data=b" " * (3 << 20), headers=sent)
    assert answer.status_code == 413
    refused(answer)
    refused(page.post("/who/", {"person": "x" * (600 << 10)}))


@pytest.mark.parametrize("method", ["put", "delete", "patch", "trace"])
def test_a_method_that_is_not_taken_is_told_in_a_sentence(page: Page, method: str) -> None:
    answer = page.client.open("/slip/pay", method=method.upper(), headers={"X-Token": page.token})
    assert answer.status_code == 405
    refused(answer)


def test_a_page_that_is_not_there_is_told_in_a_sentence(page: Page) -> None:
    answer = page.get("/nothing/here")
    assert answer.status_code == 404
    refused(answer)


def test_a_fault_of_the_program_shows_a_number_and_no_trace(
    app: Flask, page: Page, morning: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail() -> None:
        raise RuntimeError("the secret inside")

    monkeypatch.setattr(morning.shop.counter, "shelf", fail)
    answer = page.get("/shelf/")
    text = answer.get_data(as_text=True)
    assert answer.status_code == 500
    assert "Cannot do that: the program failed." in text
    assert "secret inside" not in text
    assert "Traceback" not in text
    assert morning.shop.desk.folder is not None
    log = (morning.shop.desk.folder / "counter.log").read_text("utf-8")
    assert "the secret inside" in log
    number = text.split("Number ")[1][:6]
    assert number in log


def test_what_people_send_cannot_forge_a_line_of_the_log(page: Page, morning: ShopInHand) -> None:
    page.get("/x%0a2026-11-24 ERROR forged 500")
    assert morning.shop.desk.folder is not None
    log = (morning.shop.desk.folder / "counter.log").read_text("utf-8")
    assert not any(line.startswith("2026-11-24 ERROR forged") for line in log.splitlines())


def test_every_page_keeps_itself_to_itself(page: Page) -> None:
    answer = page.get("/shelf/")
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    text = answer.get_data(as_text=True)
    assert " style=" not in text
    assert " onclick" not in text


@pytest.mark.parametrize(
    "path",
    ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:x", "/a\n/b", ""],
)
def test_a_way_back_never_leads_elsewhere(path: str) -> None:
    assert own_path(path) == "/shelf/"


def test_every_text_that_is_asked_for_is_there() -> None:
    folder = files("counter.web")
    asked = set()
    for place in (folder, folder / "templates"):
        for file in place.iterdir():
            if file.name.endswith((".html", ".py")):
                asked |= set(
                    re.findall(r"""\bt\(\s*["']([a-z]+\.[a-z_0-9]+)["']""", file.read_text("utf-8"))
                )
    for file in ("shelf.js", "slip.js", "pay.js", "small.js"):
        said = (folder / "static" / file).read_text("utf-8")
        asked |= {f"slip.{key}" for key in re.findall(r"""\b(?:t|say_)\("([a-z_]+)\"""", said)}
    keys = page_texts()
    assert len(asked) > 100
    # A key that ends with _ is a beginning: what it goes on with is known only when it is asked.
    whole = {key for key in asked if not key.endswith("_")}
    assert sorted(whole - set(keys)) == []
    assert [key for key in asked - whole if not any(k.startswith(key) for k in keys)] == []


def test_what_nobody_sees_is_taken_out_of_what_a_form_sends(app: Flask) -> None:
    with app.test_request_context(
        data={"why": "tas\u200bting\u202e\u00a0room ", "code": "10A\x1d15\u200b261130"},
        method="POST",
    ):
        assert field("why") == "tasting room"
        assert field("code") == "10A\x1d15261130"  # what parts a scan stays
