"""What a view stands on: the shop, who is at the counter, the texts, and checked input."""

from __future__ import annotations

import shlex
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import msgspec
from flask import current_app, g, request

from counter.decoders import decoder_of
from counter.errors import BadInput
from counter.shop import Shop
from counter.trade.catalogue import Person
from counter.trade.people import Role
from counter.web.words import Wording
from labels.plain import plain_text
from labels.say import Said, say, term

_F = TypeVar("_F", bound=Callable[..., Any])
_T = TypeVar("_T")
LONGEST = 200


def shop() -> Shop:
    """The shop of this request."""
    return cast(Shop, g.shop)


def damage() -> list[Said]:
    """What is to be said of the disk and the books."""
    found: list[Said] = current_app.watch.notices(shop())  # type: ignore[attr-defined]
    return found


def mend_command() -> str:
    """What is to be typed on the shop's computer while the books are known to be damaged; ""."""
    watch = current_app.watch  # type: ignore[attr-defined]  # CounterApp
    place = shlex.quote(str((shop().desk.folder or Path()).absolute()))
    return f"counter --shop {place} mend" if watch.found or shop().desk.books.fault else ""


def words() -> Wording:
    """The wording of this request: texts, money, numbers, dates."""
    return cast(Wording, g.words)


def t(key: str, **named: object) -> str:
    """The text of ``page.key`` in the language of this request."""
    return words().t(key, **named)


def person() -> Person | None:
    """Who is at the counter, as far as somebody has said so."""
    return cast("Person | None", g.get("person"))


def by() -> str:
    """The name that goes into the book; "" in a shop where nobody has said who it is."""
    found = person()
    return found.name if found else ""


def needs(role: Role) -> Callable[[_F], _F]:
    """Mark a view: who has a smaller role is refused before it runs."""

    def mark(view: _F) -> _F:
        view.needs = role  # type: ignore[attr-defined]
        return view

    return mark


def unhurried(view: _F) -> _F:
    """Mark a view that takes long (PDF, years of records): it gets a shop of its own.

    Other views take turns on one opened shop; such a view would make the queue wait.
    """
    view.unhurried = True  # type: ignore[attr-defined]
    return view


def public(view: _F) -> _F:
    """Mark a view that may be asked for before anybody has said who it is."""
    view.public = True  # type: ignore[attr-defined]
    return view


def clean(value: str, name: str, most: int = LONGEST) -> str:
    """Text somebody sent: no control characters, nothing that was not UTF-8; what cannot be seen
    is taken out, but for the separators of a scan."""
    tried = say("read {what}", what=term(name))
    if len(value) > most:
        raise BadInput(
            tried,
            say("it has {n} characters", n=len(value)),
            say("Expected are {n} at most", n=most),
        )
    for char in value:
        if char == "\ufffd" or (
            unicodedata.category(char) in ("Cc", "Cs") and char not in "\n\t\r\x1d"
        ):
            raise BadInput(tried, say("it is not plain text in UTF-8"), say("Type it again"))
    return "\x1d".join(map(plain_text, value.split("\x1d"))).strip(" \t\r\n")


def field(name: str, default: str | None = None, most: int = LONGEST) -> str:
    """One field of a form, or of the address; without a default it must be there."""
    found = request.values.get(name)
    if found is None or not found.strip():
        if default is None:
            raise BadInput(
                say("read {what}", what=term(name)),
                say("nothing was filled in"),
                say("Fill it in and try again"),
            )
        return default
    return clean(found, name, most)


def fields(name: str, most: int = LONGEST) -> list[str]:
    """All values of a field that may stand more than once."""
    found = request.values.getlist(name)
    if len(found) > 1000:
        raise BadInput(
            say("read {what}", what=term(name)),
            say("it stands there {n} times", n=len(found)),
            say("Send fewer"),
        )
    return [clean(value, name, most) for value in found]


def body(shape: type[_T]) -> _T:
    """The JSON body as a checked record; BadInput names what is wrong with it."""
    tried = say("read what the page sent")
    try:
        return decoder_of(shape).decode(request.get_data())
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise BadInput(
            tried, Said(str(error)[:200]), say("Reload the page and try again")
        ) from None
    except RecursionError:
        raise BadInput(tried, say("it is nested too deep"), say("Reload the page")) from None
