"""Who works here, read from and written into the books; the keys that stay on this computer."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from pathlib import Path

from counter.books.engine import refused
from counter.errors import NotFound, Refused
from counter.shop.desk import Desk
from counter.shop.files import replace_whole
from counter.trade.catalogue import Person
from counter.trade.catalogues import waiting
from counter.trade.people import Pins, check_new_pin, hash_pin, owner_among, pin_fits, set_with
from labels.say import Said, say, term

PIN_KEY = ".pin-key"


def pins_of(desk: Desk) -> Mapping[str, str]:
    """Hashed PINs by person, of people who still work here."""
    last, staff = desk.last_of(Pins), desk.catalogue.staff
    return {k: v for k, v in last.pins.items() if k in staff} if last else {}


def person_named(desk: Desk, key: str, tried: Said) -> Person:
    """Somebody on the staff list of the catalogue, by key. NotFound with near names."""
    staff = desk.catalogue.staff
    if key not in staff:
        raise NotFound(
            tried, "person", key, staff, say("Add people to the catalogue, under [staff.…]")
        )
    return staff[key]


def owner_has_pin(desk: Desk) -> bool:
    """Whether some owner has a PIN that can fit, without which nobody could let the others in."""
    key = _pin_key(desk)
    fitting = [who for who, stored in pins_of(desk).items() if set_with(stored, key)]
    return owner_among(fitting, desk.catalogue.staff)


def pins_from_elsewhere(desk: Desk) -> bool:
    """Whether PINs are set and none can fit: this shop was put back from a copy, and copies do not
    carry the key of PINs."""
    key, pins = _pin_key(desk), pins_of(desk).values()
    return bool(pins) and not any(set_with(stored, key) for stored in pins)


def check_pin(desk: Desk, person: Person, pin: str) -> bool:
    """Whether a typed PIN is that person's. Refused where none can fit any more."""
    stored, key = pins_of(desk)[person.key], _pin_key(desk)
    if not set_with(stored, key):
        why = say("that PIN was set on another computer, and copies carry no key for PINs")
        do = say(
            "Let the owner set it anew on the shop's computer: `counter pin {person}`",
            person=person.key,
        )
        raise Refused(say("sign in as {name}", name=person.name), why, do)
    return pin_fits(pin, stored, key)


def _pin_key(desk: Desk, *, make: bool = False) -> bytes:
    """What this computer's PINs are hashed with; nothing before the first one is set."""
    if desk.folder is None:
        return b"in memory"
    file = desk.folder / PIN_KEY
    return own_key(file) if make or file.exists() else b""


def set_pin(desk: Desk, person: str, pin: str, by: str = "") -> None:
    """Give somebody a PIN, or a new one. The first PIN of a shop must be an owner's."""
    tried = say("set a PIN for '{text}'", text=person)
    found = person_named(desk, person, tried)
    checked = check_new_pin(pin)
    if found.role != "owner" and not owner_has_pin(desk):
        raise Refused(tried, say("no owner has a PIN yet"), say("Set the owner's PIN first"))
    stored = hash_pin(checked, secrets.token_bytes(16), _pin_key(desk, make=True))
    _write(desk, {**pins_of(desk), person: stored}, by)


def remove_pin(desk: Desk, person: str, by: str = "") -> None:
    """Take somebody's PIN away. The last owner's goes only when it is the only one."""
    tried = say("take away the PIN of '{person}'", person=person)
    person_named(desk, person, tried)
    rest = {k: v for k, v in pins_of(desk).items() if k != person}
    if rest and not owner_among(rest, desk.catalogue.staff):
        raise Refused(
            tried, say("no owner would be left who can come in"), say("Take the others' first")
        )
    _write(desk, rest, by)


def _write(desk: Desk, pins: dict[str, str], by: str) -> None:
    for other in waiting(desk.catalogues.kept(), desk.now().date()):
        if pins and not owner_among(pins, other.staff):
            why = say(
                "the catalogue that waits for {date} has no owner with a PIN", date=other.since
            )
            raise Refused(
                say("change the PINs"), why, say("Take it back, or load it with its owner")
            )
    desk.catalogues.keep({"pins": [Pins(pins, desk.now(), by[:60])]})


def open_secret(folder: Path) -> bytes:
    """The key that signs sessions."""
    return own_key(folder / ".secret")


def own_key(file: Path) -> bytes:
    """A key of this computer, 32 random bytes that no copy carries; made when it is not there."""
    try:
        found = file.read_bytes()
    except FileNotFoundError:
        found = b""
    except OSError as error:
        raise refused(say("read {what}", what=term(str(file))), error) from None
    return found if len(found) >= 32 else keep_key(file, secrets.token_bytes(32))


def keep_key(file: Path, key: bytes) -> bytes:
    """Write a key for nobody but the owner of the folder to read, whole or not at all."""
    try:
        replace_whole(file, key)
    except OSError as error:
        raise refused(say("write {file}", file=file), error) from None
    return key
