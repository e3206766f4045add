"""The keys of ``shop.toml`` and ``catalogue.toml``, each declared once: in the record it becomes.

A field whose type is ``Annotated[…, key("what it means")]`` is a key that a person may write. From
that come reading (:class:`Format`), writing (:class:`Writer`), the error that lists what is
allowed, the form of the page, and the reference of all keys (:func:`explained`). A field without
``key`` is not in the file. Pure: no file is opened here.
"""

from __future__ import annotations

import re
import tomllib
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from functools import lru_cache
from types import UnionType
from typing import Annotated, Any, ClassVar, Literal, NamedTuple, TypeVar, get_args, get_origin

import msgspec

from counter.errors import BadInput
from counter.trade.money import parse_money, plain_money
from labels.checks import shown
from labels.errors import LabelError
from labels.plain import parse_toml
from labels.say import NOTHING, Said, any_of, say, small, term

_T = TypeVar("_T")
MEND = say("Mend it and try again")


class BadEntry(BadInput):
    """A wrong entry of a settings or catalogue file. ``path`` is its dotted key, ``fault`` what is
    wrong with it, without the file around it."""

    def __init__(
        self, tried: Said, why: Said, do: Said = NOTHING, *, path: str, fault: str
    ) -> None:
        super().__init__(tried, why, do)
        self.path, self.fault = path, fault


def key(says: str, form: str = "", *, hint: Said = NOTHING, **how: Any) -> msgspec.Meta:
    """What a key means. ``form`` names the :class:`Form` in which a file has it, ``file`` the name
    it has there, ``usual`` what holds where a file says nothing; ``always``: read and written also
    then. What else is given is the page's."""
    return msgspec.Meta(description=says, extra={"form": form, "hint": hint, **how})


class Form(NamedTuple):
    """How a file has what the record has otherwise: in words, and as which type. A format reads it
    with its method ``read_NAME(told, at)``, where ``told`` is None for a key that is ``always``
    and not there; a :class:`Writer` writes it with ``write_NAME(value, record)``."""

    says: str
    kind: Any = str


class Key(NamedTuple):
    """A key as declared. ``kind`` is the type of the record's ``field``."""

    field: str
    file: str
    kind: Any
    says: str
    default: Any
    how: dict[str, Any]

    @property
    def needed(self) -> bool:
        return self.default is msgspec.NODEFAULT and not {"usual", "always"} & self.how.keys()


@lru_cache
def keys_of(record: type[msgspec.Struct]) -> dict[str, Key]:
    """The keys of a record by their names in the file, in the order in which they stand in it."""
    found = {}
    for field in msgspec.structs.fields(record):
        kind, *told = get_args(field.type) if get_origin(field.type) is Annotated else [field.type]
        for meta in (m for m in told if m.description):
            for bound in (m for m in told if m is not meta):
                kind = Annotated[kind, bound]
            made = field.default_factory
            default = field.default if made is msgspec.NODEFAULT else made()
            how = {"form": "", **(meta.extra or {})}
            name = how.get("file", field.encode_name)
            found[name] = Key(field.name, name, kind, meta.description, default, how)
    return found


def record_in(kind: Any) -> Any:
    """The record that a table of keys becomes; None for a kind that is no such table."""
    kinds = get_args(kind) if isinstance(kind, UnionType) else (kind,)
    return next((k for k in kinds if isinstance(k, type) and issubclass(k, msgspec.Struct)), None)


class At(NamedTuple):
    """Where a value stands: its dotted key, its key as declared, and the table around it."""

    path: str
    key: Key
    table: dict[str, Any]


class Format(ABC):
    """A kind of file: its tables turned into records, each error named with entry and line.
    ``places`` are those of the money."""

    forms: ClassVar[dict[str, Form]] = {"money": Form('money, as "3.50"')}

    def __init__(self, places: int, text: str = "", file: str = "") -> None:
        self.places, self.text, self.file = places, text, file

    def bad(self, path: str, why: Said) -> BadEntry:
        return bad_entry(self.text, self.file, path, why)

    def read(self, path: str, read: Callable[[str], _T], value: str) -> _T:
        try:
            return read(value)
        except (BadInput, LabelError) as error:
            raise self.bad(path, say("'{path}': {why}", path=value, why=error.why)) from None

    def plain(self, kind: Any, told: Any, path: str) -> Any:
        """A value as its type has it, or a sentence that says what is allowed."""
        if get_origin(kind) is Literal and told not in get_args(kind):
            known = ", ".join(str(one) or "''" for one in get_args(kind))
            raise self.bad(path, say("'{text}' is none of {names}", text=told, names=known))
        try:
            return msgspec.convert(told, kind)
        except msgspec.ValidationError:
            raise self.bad(path, _unlike(kind, told)) from None

    def made(self, kind: Any, told: Any, path: str = "", name: str = "") -> Any:
        """The value or record that ``told`` says; ``name`` is the key of a record's table."""
        record, inner = record_in(kind), get_args(kind)
        if record is not None:
            return None if told is False and inner else self._record(record, told, path, name)
        if get_origin(kind) is dict:
            table = self.plain(dict[str, Any], told, path)
            return {n: self.made(inner[1], v, f"{path}.{n}", n) for n, v in table.items()}
        if get_origin(kind) is tuple and inner[-1] is Ellipsis:
            row = enumerate(self.plain(list[Any], told, path))
            return tuple(self.made(inner[0], v, f"{path}[{n}]") for n, v in row)
        return self.plain(kind, told, path)

    def _record(self, record: Any, told: Any, path: str, name: str) -> Any:
        table, keys = self.plain(dict[str, Any], told, path), keys_of(record)
        above = f"{path}." if path else ""
        for unknown in (name for name in table if name not in keys):
            why = say(
                "there is no key '{key}': there are {names}", key=unknown, names=", ".join(keys)
            )
            raise self.bad(above + unknown, why)
        values = {"key": name} if "key" in record.__struct_fields__ else {}
        for here, one in keys.items():
            at, form = At(above + here, one, table), one.how["form"]
            value = table.get(here, one.how.get("usual"))
            if value is None and one.needed:
                raise self.bad(path, say("the key '{key}' is missing", key=here))
            if form and (value is not None or "always" in one.how):
                typed = value if value is None else self.made(self.forms[form].kind, value, at.path)
                values[one.field] = getattr(self, f"read_{form}")(typed, at)
            elif value is not None:
                values[one.field] = self.made(one.kind, value, at.path)
        try:
            made = record(**values)
        except LabelError as error:
            raise self.bad(path, error.why) from None
        for where, why in self.faults(made, path):
            if why:
                raise self.bad(where, why)
        return made

    @abstractmethod
    def faults(self, made: Any, path: str) -> Iterator[tuple[str, Said]]:
        """What of a record cannot be beside the rest of it: at which key, and why, or ""."""

    def read_money(self, told: str, at: At) -> int | None:
        if not told and at.key.default is None:
            return None
        return self.read(at.path, lambda text: parse_money(text, self.places), told)


class Writer:
    """Records into the tables of a file, so that what is read back is equal."""

    def __init__(self, places: int) -> None:
        self.places = places

    def told(self, value: Any) -> Any:
        """A value as a file has it; of a record what is not as it is where a file says nothing."""
        if isinstance(value, msgspec.Struct):
            keys = keys_of(type(value)).items()
            found = {
                name: self.written(one, value)
                for name, one in keys
                if "always" in one.how
                or getattr(value, one.field) != one.how.get("usual", one.default)
            }
            return {name: one for name, one in found.items() if one is not None}
        if isinstance(value, dict):
            return {k: self.told(v) for k, v in value.items()}
        if isinstance(value, tuple | list):
            return [self.told(one) for one in value]
        if value is None:
            return False
        return f"{value:f}" if isinstance(value, Decimal) else value

    def written(self, one: Key, record: msgspec.Struct) -> Any:
        """What a file says for one key of a record; None for nothing."""
        value, write = getattr(record, one.field), getattr(self, f"write_{one.how['form']}", None)
        return write(value, record) if write else self.told(value)

    def write_money(self, value: int, _: Any) -> str:
        return plain_money(value, self.places)


def toml_table(text: str, file: str) -> dict[str, Any]:
    """The plain tables of a TOML text; a slip of syntax is named with its line."""
    tried = say("read {what}", what=term(file))
    try:
        return parse_toml(text)
    except tomllib.TOMLDecodeError as error:
        do = say("Mend that line; nothing was changed")
        raise BadInput(tried, Said(str(error)), do) from None
    except (RecursionError, ValueError) as error:
        why = say("it is no settings text ({name})", name=type(error).__name__)
        raise BadInput(tried, why, say("Mend it; nothing was changed")) from None


def bad_entry(text: str, file: str, path: str, why: Said) -> BadEntry:
    """One sentence for a wrong entry of a TOML file: ``path`` is its dotted key."""
    around = path.rpartition(".")[0]  # of a key that stands on the line of its table, or nowhere
    line = line_of(text, path) or (line_of(text, around) if "." in around else None)
    said = small(why)
    if line:
        said = say("'{path}' (line {n}): {why}", path=path, n=line, why=said)
    elif path:
        said = say("'{path}': {why}", path=path, why=said)
    return BadEntry(say("read {what}", what=term(file)), said, MEND, path=path, fault=why)


def line_of(text: str, path: str) -> int | None:
    """The line of a TOML text where the dotted key ``path`` stands, as far as plain text tells.

    >>> line_of("[shop]\\nname = 'A'\\ncity = 3", "shop.city")
    3
    """
    parts = [p.split("[")[0] for p in path.split(".") if p not in ("", "...")]
    here = 0
    for line, content in enumerate(text.splitlines(), 1):
        words = re.split(r"[\s.\[\]=\"']+", content.split("#")[0].strip())
        words = [w for w in words if w]
        start = 0 if content.strip().startswith("[") else here
        if content.strip().startswith("["):
            here = len(words) if words == parts[: len(words)] else 0
        wanted = parts[start:]
        if wanted and words[: len(wanted)] == wanted and (start or len(words) >= len(parts)):
            return line
    return None


_SAID = {
    bool: say("true or false"),
    int: say("a whole number"),
    str: say("a text"),
    date: say("a day"),
}


def explained(kind: Any, forms: dict[str, Form], path: str = "") -> Iterator[tuple[str, str, str]]:
    """Every key below ``kind``: its dotted path, what may stand there, and what it means."""
    record, inner = record_in(kind), get_args(kind)
    if record is None:
        if get_origin(kind) in (dict, tuple):
            below = ".KEY" if get_origin(kind) is dict else "[]"
            yield from explained(inner[-1] if below == ".KEY" else inner[0], forms, path + below)
        return
    for name, one in keys_of(record).items():
        here, form = f"{path}.{name}" if path else name, forms.get(one.how["form"])
        yield here, _allowed(one, form), " ".join([f"{one.says}.", one.how.get("hint", "")]).strip()
        yield from explained(form.kind if form else one.kind, forms, here)


def _allowed(one: Key, form: Form | None) -> str:
    said, usual = form.says if form else _said(one.kind), one.how.get("usual", one.default)
    if isinstance(usual, str | int) and usual:
        said += f"; {'true' if usual is True else usual} where none is written"
    return f"{said}; needed" if one.needed else said


def _unlike(kind: Any, told: Any) -> Said:
    """Why a value of a file is none of its kind."""
    import tomlkit

    value = shown(tomlkit.item(told).as_string())
    if type(told) is int and get_origin(kind) is Annotated:
        least, most = get_args(kind)[1].ge, get_args(kind)[1].le
        if least is not None and told < least:
            return say("{value} is less than {least}", value=value, least=least)
        return say("{value} is more than {most}", value=value, most=most)
    return say("expected is {kind}, not {value}", kind=_said(kind), value=value)


def _said(kind: Any) -> Said:
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Annotated, UnionType):
        return _said(inner[0])
    if origin is Literal:
        return any_of(f'"{word}"' for word in inner)
    if origin is tuple:
        return say("a list, each {kind}", kind=_said(inner[0]))
    if origin is list:
        return say("a list")
    return say("a table") if record_in(kind) or origin else _SAID.get(kind, say("a number"))
