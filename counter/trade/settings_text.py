"""``shop.toml`` changed entry by entry: what nobody touched stays as somebody typed it.

Comments, order and blank lines of a file kept by hand are kept, since only the entries that
change are written anew. What comes out is read again and compared with what was asked for; a text
that does not say exactly that is never handed back.
"""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from copy import deepcopy
from typing import Any

from counter.errors import BadInput, Refused
from counter.trade.schema import toml_table
from counter.trade.settings import parse_settings
from labels.say import NOTHING, Said, say

Path = tuple[str, ...]
Changes = Mapping[Path, object]  # a dotted key and its new value; None takes the entry away


class SettingRefused(Refused):
    """A setting that could be, but not in this shop as it stands. ``path`` is its dotted key."""

    def __init__(self, why: Said, do: Said = NOTHING, *, path: str) -> None:
        super().__init__(say("change {path} in shop.toml", path=path), why, do)
        self.path = path


class SettingsMoved(Refused):
    """Somebody else changed ``shop.toml`` between looking and keeping."""


def change_settings(text: str, changes: Changes, file: str = "shop.toml") -> str:
    """The text of ``shop.toml`` with some entries changed, checked like any other.

    BadInput names the entry that cannot be; then nothing is handed back.

    >>> print(change_settings("[shop]  # who\\nname = 'A'\\nstreet = 'B'\\ncity = 'C'\\nzip = '1'",
    ...                       {("shop", "city"): "D"}))
    [shop]  # who
    name = 'A'
    street = 'B'
    city = "D"
    zip = '1'
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    mark = "\ufeff" if text.startswith("\ufeff") else ""
    wanted = merged(toml_table(text, file), changes)
    try:
        document = tomlkit.parse(text.removeprefix("\ufeff"))
        for path, value in changes.items():
            put(document, path, laid_out(value))
        made = mark + document.as_string()
    except (TOMLKitError, TypeError, KeyError, ValueError):
        raise unlike(file) from None
    made = made.rstrip("\r\n") + text[len(text.rstrip("\r\n")) :]
    if "\r\n" in text:
        made = made.replace("\r\n", "\n").replace("\n", "\r\n")
    # An emptied table may go from the text, which says the same as an empty one.
    if parse_settings(made, file) != parse_settings(made, file, wanted):
        raise unlike(file)
    return made


def unlike(file: str) -> BadInput:
    why = say("it is laid out in a way that cannot be changed from here")
    return BadInput(
        say("change {file}", file=file), why, say("Change it in a text editor; nothing was changed")
    )


def put(table: MutableMapping[str, Any], path: Path, value: object) -> None:
    """Give the entry at ``path`` a value, or take it away; tables on the way are made."""
    for key in path[:-1]:
        if key not in table:
            if value is None:
                return
            table[key] = {}
        table = table[key]
    if value is None:
        table.pop(path[-1], None)
    else:
        table[path[-1]] = value


def differences(
    old: Mapping[str, Any], new: Mapping[str, Any], above: Path = ()
) -> dict[Path, object]:
    """The changes that make the tables ``new`` of the tables ``old``."""
    found: dict[Path, object] = {}
    for name in dict.fromkeys((*old, *new)):
        was, now = old.get(name), new.get(name)
        if isinstance(was, dict) and isinstance(now, dict):
            found |= differences(was, now, (*above, name))
        elif was != now:
            found[*above, name] = now
    return found


def merged(table: dict[str, Any], changes: Changes) -> dict[str, Any]:
    """The plain tables after the changes, worked out without regard to the text."""
    found = deepcopy(table)
    for path, value in changes.items():
        put(found, path, value)
    return found


def laid_out(value: object) -> object:
    """A new table as the file shows it, with a blank line behind it."""
    import tomlkit

    if not isinstance(value, dict):
        return value
    table = tomlkit.table()
    for key, inner in value.items():
        table.add(key, inner)
    table.add(tomlkit.nl())
    return table


def said_changes(table: Mapping[str, Any], changes: Changes) -> list[str]:
    """What changes, one line each, for the log: ``shop.city: 'C' -> 'D'``."""
    found = []
    for path, value in changes.items():
        there: Any = table
        for key in path:
            there = there.get(key) if isinstance(there, Mapping) else None
        if there != value:
            found.append(f"{'.'.join(path)}: {there!r} -> {value!r}")
    return found
