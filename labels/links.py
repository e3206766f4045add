"""GS1 Digital Link: the same elements as a web address, for a QR symbol a telephone can follow.

Source: GS1 Digital Link Standard, URI Syntax. The key and its qualifiers, in the order 22, 10, 21,
stand in the path, all else in the query.
"""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import SplitResult, quote, unquote, unquote_plus, urlsplit

from labels.checks import shown
from labels.elements import Element, check_together, check_value
from labels.errors import BadSymbol
from labels.identifiers import ai_at, find_identifier
from labels.say import Said, say

DOMAIN = "https://id.gs1.org"
QUALIFIERS = ("22", "10", "21")


def build_link(elements: Iterable[Element], domain: str = DOMAIN) -> str:
    """The Digital Link of an item. ``elements`` hold a (01); the order they come in is free.

    ``domain`` is an ``http`` or ``https`` address without query, by default GS1's own resolver.
    Raises BadSymbol.

    >>> build_link([("01", "09521234000013"), ("10", "26328/01"), ("17", "261129")])
    'https://id.gs1.org/01/09521234000013/10/26328%2F01?17=261129'
    """
    given = list(elements)
    tried = say("write a Digital Link")
    for ai, value in given:
        check_value(find_identifier(ai, tried), value)
    check_together(given)
    values = dict(given)
    if "01" not in values:
        raise BadSymbol(tried, say("no item number (01) is given"))
    address = _split(domain, tried)
    if not address.netloc or address.query or address.fragment:
        why = say("'{address}' is not the address of a server", address=shown(domain))
        raise BadSymbol(tried, why)
    path = [ai for ai in ("01", *QUALIFIERS) if ai in values]
    link = domain.rstrip("/") + "".join(f"/{ai}/{quote(values[ai], safe='')}" for ai in path)
    query = "&".join(f"{ai}={quote(v, safe='')}" for ai, v in given if ai not in path)
    return f"{link}?{query}" if query else link


def parse_link(uri: str) -> tuple[Element, ...]:
    """The elements of a Digital Link, key first. Words in the query that are no identifiers pass.

    The server and anything before the key are free. Refused with BadSymbol: qualifiers out of
    order, a qualifier in the query, the same identifier twice, a wrong value.

    >>> parse_link("https://example.com/tofu/01/09521234000013/10/26328%2F01?17=261129&lang=en")
    (('01', '09521234000013'), ('10', '26328/01'), ('17', '261129'))
    """
    tried = say("read link '{link}'", link=shown(uri, 80))
    address = _split(uri, tried)
    found = dict(_path_elements(address.path, tried))
    for part in address.query.split("&"):
        ai, _, value = part.partition("=")
        if not (ai.isascii() and ai.isdigit()):
            continue
        row = ai_at(ai, tried)
        if row.ai != ai:
            why = say("{ai} in its query is not an application identifier", ai=shown(ai))
            raise BadSymbol(tried, why)
        if ai in QUALIFIERS:
            why = say("({ai}) stands in its query and belongs into the path", ai=ai)
            raise BadSymbol(tried, why)
        if ai in found:
            raise BadSymbol(tried, say("({ai}) stands in it twice", ai=ai))
        found[ai] = unquote_plus(value)
        check_value(row, found[ai], reading=True)
    return tuple(found.items())


def is_link(text: str) -> bool:
    """Whether ``text`` begins like a web address."""
    return text[:8].lower().startswith(("http://", "https://"))


def _split(uri: str, tried: Said) -> SplitResult:
    if not is_link(uri):
        raise BadSymbol(tried, say("it begins with neither https:// nor http://"))
    if not uri.isascii() or any(c <= " " or c == "\x7f" for c in uri):
        raise BadSymbol(tried, say("a web address has neither spaces nor letters outside ASCII"))
    try:
        return urlsplit(uri)
    except ValueError as wrong:
        raise BadSymbol(tried, say("it is not a web address")) from wrong


def _path_elements(path: str, tried: Said) -> list[Element]:
    steps = path.split("/")
    starts = [i for i, step in enumerate(steps[:-1]) if step == "01"]
    if not starts:
        raise BadSymbol(tried, say("no item number /01/ stands in its path"))
    steps = steps[starts[0] :]
    if len(steps) % 2:
        raise BadSymbol(tried, say("an identifier in its path has no value"))
    elements: list[Element] = []
    allowed: tuple[str, ...] = ("01", *QUALIFIERS)
    for ai, raw in zip(steps[::2], steps[1::2], strict=True):
        if ai not in allowed:
            why = say("'{ai}' does not belong into its path at this place", ai=shown(ai))
            raise BadSymbol(tried, why)
        allowed = allowed[allowed.index(ai) + 1 :]
        value = unquote(raw)
        check_value(find_identifier(ai, tried), value, reading=True)
        elements.append((ai, value))
    return elements
