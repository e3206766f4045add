"""PINs of the people who work here: salted slow hashes, and who may do what.

A PIN is short, so only slowness and a limit on tries protect it. scrypt with n = 2**14, r = 8,
p = 1 takes 16 MiB and some 40 ms a try (RFC 7914 names n = 2**14 for interactive use): with a copy
of the books in hand all PINs of 6 digits are tried in half a day. So a key goes in that no copy
carries; without it no try says anything.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Collection, Mapping
from datetime import datetime
from itertools import pairwise
from typing import Literal

import msgspec

from counter.errors import BadInput, Refused
from counter.trade.catalogue import Person
from labels.say import Said, say

Role = Literal["counter", "maker", "owner"]

RANK: dict[str, int] = {"counter": 1, "maker": 2, "owner": 3}
_N, _R, _P = 2**14, 8, 1
LEAST, MOST = 4, 12


class Pins(msgspec.Struct, frozen=True):
    """The hashed PINs of everybody as of one moment, by the person's key; the last one counts."""

    pins: dict[str, str]
    at: datetime
    by: str = ""


def owner_among(keys: Collection[str], staff: Mapping[str, Person]) -> bool:
    """Whether one of those who have a PIN is an owner, without whom nobody lets the others in."""
    return any(key in staff and staff[key].role == "owner" for key in keys)


def check_release(tried: Said, why: str, by: str, staff: Mapping[str, Person]) -> None:
    """Refuse to release what the program stopped, but for an owner with a reason in words. Where
    nobody is set up, whoever does it says who."""
    if len(why.strip()) < 3:
        do = say("Say in words why it may be sold")
        raise BadInput(tried, say("'{text}' is no reason", text=why.strip()), do)
    owners = {p.name.casefold() for p in staff.values() if p.role == "owner"}
    if not by.strip():
        why_not = say("the program stopped it, and nobody is named")
        raise Refused(tried, why_not, say("Say who releases it"))
    if staff and by.strip().casefold() not in owners:
        why_not = say("the program stopped it, and {name} is no owner", name=by.strip())
        raise Refused(tried, why_not, say("Let an owner look at it and release it"))


def may(role: str, needed: Role) -> bool:
    """Whether a role includes what ``needed`` may do: owner > maker > counter.

    >>> may("owner", "maker"), may("counter", "maker")
    (True, False)
    """
    return RANK.get(role, 0) >= RANK[needed]


def check_new_pin(text: str) -> str:
    """A PIN fit to be set: 4 to 12 digits, not all the same, not simply counting."""
    tried = say("set that PIN")
    pin = text.strip()
    if not (pin.isascii() and pin.isdigit() and LEAST <= len(pin) <= MOST):
        do = say("Choose {least} to {most} digits", least=LEAST, most=MOST)
        raise BadInput(tried, say("it is not 4 to 12 digits"), do)
    steps = {int(b) - int(a) for a, b in pairwise(pin)}
    if len(steps) == 1 and steps <= {-1, 0, 1}:
        raise BadInput(tried, say("it is the first anybody would try"), say("Choose other digits"))
    return pin


def hash_pin(pin: str, salt: bytes, key: bytes) -> str:
    """``keyed:n:r:p:salt:mark:hash`` in hex. ``salt`` is 16 random bytes, new for every PIN;
    ``key`` stays on the shop's computer, and ``mark`` tells it from another one."""
    made = _slow(pin, salt, key, _N, _R, _P)
    return f"keyed:{_N}:{_R}:{_P}:{salt.hex()}:{_mark(key)}:{made.hex()}"


def pin_fits(pin: str, stored: str, key: bytes) -> bool:
    """Whether a typed PIN is the stored one; takes the same time either way."""
    _, n, r, p, salt, _, known = stored.split(":")
    made = _slow(pin[:64], bytes.fromhex(salt), key, int(n), int(r), int(p))
    return hmac.compare_digest(made.hex(), known)


def set_with(stored: str, key: bytes) -> bool:
    """Whether a stored PIN was set with this key: with another one none ever fits."""
    return stored.split(":")[5] == _mark(key)


def _slow(pin: str, salt: bytes, key: bytes, n: int, r: int, p: int) -> bytes:
    keyed = hmac.digest(key, pin.encode(), "sha256")
    return hashlib.scrypt(keyed, salt=salt, n=n, r=r, p=p, dklen=32)


def _mark(key: bytes) -> str:
    return hmac.digest(key, b"mark", "sha256")[:4].hex()
