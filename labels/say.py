"""Sentences as values: English text that remembers its template and what stands in it.

``say("sell lot {lot}", lot=code)`` is a string. Whoever shows it in another language looks the
template up in a catalogue and writes the values as that language does (``counter.languages``).
What a person typed is a plain ``Said(text)``: it is nobody's to translate.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal
from functools import reduce
from typing import Any

Find = Callable[["Said"], str]  # the template of a text in another language
Write = Callable[[object], str]  # a value as another language writes it

_PLACE = re.compile(r"\{(\w+)\}")
_NONE: Mapping[str, object] = {}


def _number(text: str) -> Decimal:
    try:
        return Decimal(text)
    except ArithmeticError:
        raise ValueError(f"'{text}' is no number") from None


_TYPES: dict[str, Callable[[str], object]] = {
    "date": date.fromisoformat,
    "moment": datetime.fromisoformat,
    "number": _number,
}
_DEEPEST = 150  # texts within a text: as many as allergens that are named one after the other
_LONGEST = 10_000_000  # characters


class Said(str):
    """A text. ``template`` is "" where a person typed it, else the English it is made of, with
    ``values`` in its places, and ``plural`` that of more than one. ``use``: ``term`` and
    ``statement`` a word of the trade, ``figure`` a number, ``terminal`` what only a command line
    says, ``bare`` and ``small`` within a sentence, ``full`` as one."""

    template = ""
    plural = ""
    use = ""
    values: Mapping[str, object] = _NONE

    def told(self, find: Find, write: Write) -> str:
        """This text in the language that ``find`` and ``write`` know."""
        if not self.template:
            return str(self)
        if self.use == "figure":
            return write(self)
        put = {}
        for name, value in self.values.items():
            said = getattr(value, "said", value) if isinstance(value, Exception) else value
            put[name] = said.told(find, write) if isinstance(said, Said) else write(said)
        return _finished(_filled(find(self), put), self.use)


NOTHING = Said()


def _filled(template: str, values: Mapping[str, object]) -> str:
    return _PLACE.sub(lambda place: str(values.get(place[1], place[0])), template)


def _finished(text: str, use: str) -> str:
    if use == "bare":
        return text.rstrip(".")
    if use == "small":
        return text[:1].lower() + text[1:]
    if use == "full" and text:
        text = text[0].upper() + text[1:]
        return text if text.endswith(("?", ".")) else f"{text}."
    return text


def _made(template: str, values: Mapping[str, object], use: str = "", plural: str = "") -> Said:
    one = not plural or values.get("n") == 1
    made = Said(_finished(_filled(template if one else plural, values), use))
    made.template, made.values, made.use, made.plural = template, values, use, plural
    return made


def say(template: str, /, **values: object) -> Said:
    """A text of the program.

    >>> said = say("sell lot {lot}", lot="26328-01")
    >>> said, said.template
    ('sell lot 26328-01', 'sell lot {lot}')
    """
    made = Said(template.format_map(values) if values else template)
    made.template, made.values = template, values
    return made


def at_terminal(template: str, /, **values: object) -> Said:
    """What only a command line says: a page has a field or a button for it, and leaves it out."""
    return _made(template, values, "terminal")


def option(name: str) -> Said:
    """The option of a command that says it, to stand behind what is to be said."""
    return at_terminal(", with {option}", option=name)


def typed(text: str) -> Said:
    """A text that may be a person's: as it is."""
    return text if isinstance(text, Said) else Said(text)


def say_n(one: str, many: str, /, n: int, **values: object) -> Said:
    """A text that has another form for one.

    >>> say_n("{n} mould", "{n} moulds", n=3)
    '3 moulds'
    """
    return _made(one, {"n": n, **values}, plural=many)


def term(text: str, context: str = "term") -> Said:
    """A word of the trade that stands by itself or in a text: a unit, a kind of thing, a role; of
    ``context`` ``statement`` what a label says."""
    return text if isinstance(text, Said) else _made(text, _NONE, context)


def figure(text: object) -> Said:
    """A number as English writes it, a decimal one without needless zeros; other languages have
    another decimal mark."""
    if isinstance(text, Said):
        return text
    plain = f"{text.normalize():f}" if isinstance(text, Decimal) else str(text)
    return _made(plain, _NONE, "figure")


def join(mark: str, texts: Iterable[str]) -> Said:
    """Several texts with ``mark`` between them, each shown in the reader's language."""
    values = {f"t{i}": text for i, text in enumerate(texts)}
    if len(values) < 2:
        return typed(values["t0"]) if values else NOTHING
    return _made(mark.join(f"{{{name}}}" for name in values), values)


def all_of(texts: Iterable[str]) -> Said:
    """``a and b and c``."""
    return _paired(lambda text, last: say("{text} and {last}", text=text, last=last), texts)


def any_of(texts: Iterable[str]) -> Said:
    """``a or b or c``."""
    return _paired(lambda text, last: say("{text} or {last}", text=text, last=last), texts)


def _paired(pair: Callable[[Said, str], Said], texts: Iterable[str]) -> Said:
    first, *others = [*texts] or [NOTHING]
    return reduce(pair, others, typed(first))


def bare(text: str) -> Said:
    """A text as it stands within a sentence: without its stop."""
    return _made("{text}", {"text": text}, "bare")


def small(text: str) -> Said:
    """A text as it stands behind a colon: with a small letter."""
    return _made("{text}", {"text": text}, "small")


def full(text: str) -> Said:
    """A text as a sentence of its own: with a capital letter and a stop."""
    return _made("{text}", {"text": text}, "full")


def sentence(tried: str, why: str, do: str = "") -> Said:
    """One mould for every refusal: ``Cannot <tried>: <why>. <do>.``

    >>> sentence("read mass '12 stone'", "the unit is not known", "Use g, kg, oz or lb")
    "Cannot read mass '12 stone': the unit is not known. Use g, kg, oz or lb."
    """
    said = say("Cannot {tried}: {why}.", tried=tried, why=bare(why))
    return join(" ", (said, full(do))) if do else said


def as_kept(said: object) -> object:
    """A text as the books keep it: what was typed as it is, what the program said in its parts.
    TypeError for what is no text (``enc_hook`` of msgspec)."""
    if not isinstance(said, Said):
        raise TypeError(f"a {type(said).__name__} cannot be kept")
    if not said.template:
        return str(said)
    kept: dict[str, object] = {"say": said.template}
    if said.values:
        kept["with"] = {name: _value_kept(value) for name, value in said.values.items()}
    return kept | {k: v for k, v in (("as", said.use), ("many", said.plural)) if v}


def _value_kept(value: object) -> object:
    if isinstance(value, Exception):
        value = getattr(value, "said", value)
    match value:
        case Said():
            return as_kept(value)
        case str() | int():
            return value
        case datetime():
            return {"moment": value.isoformat()}
        case date():
            return {"date": value.isoformat()}
        case Decimal():
            return {"number": str(value)}
    return str(value)


def from_kept(kind: type, kept: Any) -> Any:
    """The text that :func:`as_kept` wrote (``dec_hook`` of msgspec). ValueError for anything else;
    NotImplementedError for another type."""
    if kind is not Said:
        raise NotImplementedError(kind)
    return _text_of(kept, _DEEPEST)


def _text_of(kept: Any, deep: int) -> Said:
    if isinstance(kept, str):
        return Said(kept)
    match kept:
        case {"say": str(template)} if deep:
            pass
        case _:
            raise ValueError("it is no text")
    put, use, plural = kept.get("with", {}), kept.get("as", ""), kept.get("many", "")
    if not (isinstance(put, dict) and isinstance(use, str) and isinstance(plural, str)):
        raise ValueError("it is no text")
    values = {name: _value_of(value, deep - 1) for name, value in put.items()}
    if plural and not isinstance(values.get("n"), int):
        raise ValueError("it does not say how many")
    lengths = {name: len(str(value)) for name, value in values.items()}
    if sum(lengths.get(name, 0) for name in _PLACE.findall(template + plural)) > _LONGEST:
        raise ValueError("it is too long for a text")
    return _made(template, values, use, plural)


def _value_of(kept: Any, deep: int) -> object:
    if not isinstance(kept, dict):
        return kept
    if "say" in kept:
        return _text_of(kept, deep)
    for name, made in _TYPES.items():
        if isinstance(written := kept.get(name), str):
            return made(written)
    raise ValueError("it is no value of a text")
