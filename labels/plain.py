"""Texts as people see them: what nobody can see is taken out where a text is read.

Copied text brings spaces without width, marks that turn the direction of reading, soft hyphens,
byte order marks and spaces that do not break. Two names that look alike would be two, and a
character that a face draws as nothing can turn a label's words around.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from typing import Any

from labels.checks import shown

MOST_KEY_PARTS = 50  # tomllib takes the square of it in time and memory
# Letters, marks and signs that are drawn as nothing, though Unicode does not call them invisible.
_BLANKS = "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0]"
_KEPT = "\n\t\r"


def plain_text(text: str) -> str:
    """``text`` without what cannot be seen; every space is a plain one, every letter one character.

    >>> plain_text("Firm\u00a0To\u200bfu\u202e"), plain_text("jalapen\u0303o")
    ('Firm Tofu', 'jalapeño')
    """
    if text.isascii() and text.isprintable():
        return text
    letters = (_seen(c) for c in re.sub(_BLANKS, "", text))
    return unicodedata.normalize("NFC", "".join(letters))


def _seen(character: str) -> str:
    if character in _KEPT:
        return character
    if character == "\u2011":  # the hyphen that does not break
        return "-"
    kind = unicodedata.category(character)
    if kind in ("Zs", "Zl", "Zp"):
        return " "
    return "" if kind in ("Cc", "Cf") else character


def parse_toml(text: str, **how: Any) -> dict[str, Any]:
    """The tables of a TOML text, every string in them plain.

    Raises tomllib.TOMLDecodeError, also for a key of too many parts and one with a character that
    cannot be seen; RecursionError for tables within tables without end.
    """
    for number, line in enumerate(text.splitlines(), 1):
        key = re.sub(r"\"[^\"]*\"|'[^']*'", "", line.partition("=")[0])
        if key.count(".") > MOST_KEY_PARTS:
            why = f"a key has more than {MOST_KEY_PARTS} parts (at line {number})"
            raise tomllib.TOMLDecodeError(why)
    found: dict[str, Any] = _plain(tomllib.loads(text.removeprefix("\ufeff"), **how))
    return found


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return plain_text(value)
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        for key in value:
            if plain_text(key) != key:
                why = f"the key '{shown(key)}' holds a character that cannot be seen"
                raise tomllib.TOMLDecodeError(why)
        return {key: _plain(one) for key, one in value.items()}
    return value
