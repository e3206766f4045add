"""Who works here, read from and written into the books; the secret that signs their sessions."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from counter.errors import BooksError, NotFound, Refused
from counter.shop.desk import Desk
from counter.trade.catalogue import Person
from counter.trade.catalogues import waiting
from counter.trade.people import Pins, check_new_pin, hash_pin, owner_among


def pins_of(desk: Desk) -> Mapping[str, str]:
    """Hashed PINs by person, of people who still work here."""
    last = desk.books.last("pins")
    staff = desk.catalogue.staff
    return {k: v for k, v in last.pins.items() if k in staff} if isinstance(last, Pins) else {}


def person_named(desk: Desk, key: str, tried: str) -> Person:
    """Somebody on the staff list of the catalogue, by key. NotFound with near names."""
    staff = desk.catalogue.staff
    if key not in staff:
        raise NotFound(tried, "person", key, staff, "Add people to the catalogue, under [staff.…]")
    return staff[key]


def owner_has_pin(desk: Desk) -> bool:
    """Whether some owner has a PIN, without which nobody could let the others in."""
    return owner_among(pins_of(desk), desk.catalogue.staff)


def set_pin(desk: Desk, person: str, pin: str, by: str = "") -> None:
    """Give somebody a PIN, or a new one. The first PIN of a shop must be an owner's."""
    tried = f"set a PIN for '{person}'"
    found = person_named(desk, person, tried)
    stored = hash_pin(check_new_pin(pin), secrets.token_bytes(16))
    if found.role != "owner" and not owner_has_pin(desk):
        raise Refused(tried, "no owner has a PIN yet", "Set the owner's PIN first")
    _write(desk, {**pins_of(desk), person: stored}, by)


def remove_pin(desk: Desk, person: str, by: str = "") -> None:
    """Take somebody's PIN away. The last owner's goes only when it is the only one."""
    tried = f"take away the PIN of '{person}'"
    person_named(desk, person, tried)
    rest = {k: v for k, v in pins_of(desk).items() if k != person}
    if rest and not owner_among(rest, desk.catalogue.staff):
        raise Refused(tried, "no owner would be left who can come in", "Take the others' first")
    _write(desk, rest, by)


def _write(desk: Desk, pins: dict[str, str], by: str) -> None:
    for other in waiting(desk.kept_catalogues(), desk.now().date()):
        if pins and not owner_among(pins, other.staff):
            why = f"the catalogue that waits for {other.since} has no owner with a PIN"
            raise Refused("change the PINs", why, "Take it back, or load it with its owner")
    desk.keep({"pins": [Pins(pins, desk.now(), by[:60])]})


def open_secret(folder: Path) -> bytes:
    """The key that signs sessions, 32 random bytes in ``.secret``; made when it is not there."""
    file = folder / ".secret"
    try:
        found = file.read_bytes()
        if len(found) >= 32:
            return found
        made = secrets.token_bytes(32)
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as out:
            out.write(made)
    except FileNotFoundError:
        made = secrets.token_bytes(32)
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as out:
            out.write(made)
    except OSError as error:
        do = "Check who owns the shop folder"
        raise BooksError(f"read {file}", str(error.strerror), do) from None
    return made
