"""Sentences of the trade in the language of the page.

The trade speaks English. ``texts/<language>/*.toml`` says, sentence by sentence, what that is in
another language: the English as it is composed, with a ``{name}`` where a value stands, and its
translation with the same names. A text that no pattern fits is shown as it was: nothing is lost.

The tables of a file are the parts of a refusal (``tried``, ``why``, ``do``), whole sentences
(``said``), what stands only inside others (``inside`` with values; ``terms``, ``statements`` of a
label and ``tables`` of the books without), what other libraries and the system say (``foreign``),
the ``joints`` of a list and the ``mould`` of a refusal.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import islice

from babel.dates import format_date
from babel.numbers import get_decimal_symbol

from counter.web.patterns import Pattern, patterns_of, tables_of

PARTS = ("tried", "why", "do", "said", "foreign", "inside")
SINGLE = ("terms", "statements", "tables")
SHOWN = ("why", "do", "said", "foreign")  # a text by itself is never what somebody only tried

# What may stand for a name. Values of any other name were typed by people, or name things.
WORDS = frozenset(
    {
        "what",
        "kind",
        "mode",
        "role",
        "times",
        "count",
        "weekdays",
        "weekday",
        "vessel",
        "span",
        "state",
        "statement",
        "allowed",
        "unit",
        "figures",
    }
)
LISTS = frozenset({"names"})
DATES = frozenset({"date", "first", "last"})
NUMBERS = frozenset({"amount", "left", "least", "most"})

_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_FIGURE = re.compile(r"-?\d+\.\d+(?= ?[^\d.]*$)")
_NUMBER = re.compile(r" \([a-z0-9]{6}\)$")  # of a refusal in the shop's log
_LONGEST = 1500  # of a text that is looked at; the longest of the trade has 700


class Sentences:
    """What the trade says, in one language; ``locale`` writes its dates and decimal points."""

    def __init__(self, language: str, locale: str) -> None:
        self.locale = locale
        self.tables = tables_of(language)
        self.whole = {part: self.tables.get(part, {}) for part in (*PARTS, *SINGLE)}
        self.patterns = {part: patterns_of(language, part) for part in PARTS}
        self.point = get_decimal_symbol(locale)

    def refused(self, tried: str, why: str, do: str = "") -> str | None:
        """A refusal in its mould; None where it is not known what was tried."""
        shown = self.part(tried, ("tried",))
        if shown is None:
            return None
        text = self.tables["mould"]["refused"].format(tried=shown, why=self.text(why).rstrip("."))
        if not do:
            return text
        do = _capital(self.text(do))
        return f"{text} {do}" if do.endswith(("?", ".")) else f"{text} {do}."

    def text(self, text: str) -> str:
        """A text of the trade: a refusal, a reason, or several sentences behind one another."""
        if not text.strip() or len(text) > _LONGEST:
            return text
        for found in self._readings(text):
            if found is not None:
                return found
        return self._clauses(text)

    def _readings(self, text: str) -> Iterator[str | None]:
        """What it may be, in the order in which that is likely: a refusal put together already,
        several known sentences, one sentence."""
        yield self._refusal(text)
        sentences = re.split(r"(?<=\.) ", text)
        if len(sentences) > 1:
            found = [self._known(one) for one in sentences]
            yield None if None in found else " ".join(map(str, found))
        yield self.part(text, SHOWN)

    def _known(self, text: str) -> str | None:
        """One sentence, or its parts between semicolons where each of them is known."""
        found = self.part(text, SHOWN)
        clauses = re.split(r"(?<=;) ", text)
        if found is not None or len(clauses) < 2:
            return found
        said = [self.part(one.removesuffix(";"), SHOWN) for one in clauses]
        return None if None in said else "; ".join(map(str, said))

    def part(self, text: str, parts: tuple[str, ...]) -> str | None:
        """One sentence, with its full stop or without; None where no pattern fits."""
        bare = text.rstrip(".") if not text.endswith("...") else text
        for said in dict.fromkeys((bare, text, _small(bare), _capital(bare))):
            found = self._exact(said, parts)
            if found is None:
                found = self._filled(said, parts)
            if found is not None:
                found = _capital(found) if bare[:1].isupper() else found
                stop = text[len(bare) :] if said != text else ""
                return found if found.endswith(("?", ".")) else found + stop
        return None

    def word(self, text: str, table: str = "terms") -> str:
        """A value that is itself of the trade: a unit, a kind of thing, a reason."""
        term = self.whole[table].get(text)
        if term is None:
            term = self.part(text, ("inside",))
        return self.text(text) if term is None else term

    def _exact(self, text: str, parts: tuple[str, ...]) -> str | None:
        return next((self.whole[p][text] for p in parts if text in self.whole[p]), None)

    def _filled(self, text: str, parts: tuple[str, ...]) -> str | None:
        """By the pattern that says most of the text itself."""
        best: tuple[Pattern, dict[str, str]] | None = None
        for part in parts:
            for pattern in self.patterns[part]:
                if best is not None and pattern.plain <= best[0].plain:
                    break
                values = pattern.values(text)
                if values is not None:
                    best = pattern, values
                    break
        if best is None:
            return None
        pattern, values = best
        return pattern.other.format_map({k: self._value(k, v) for k, v in values.items()})

    def _value(self, name: str, value: str) -> str:
        if name in ("why", "rest"):
            return self.text(value)
        if name in WORDS:
            return self.word(value, "statements" if name == "statement" else "terms")
        if name in LISTS:
            joined = value
            for english, other in self.tables["joints"].items():
                joined = joined.replace(english, other)
            return self.whole["terms"].get(joined, joined)
        if name in DATES and _DAY.fullmatch(value):
            day = dt.date.fromisoformat(value)
            return str(format_date(day, "medium", locale=self.locale))
        if name in NUMBERS and self.point != ".":
            return _FIGURE.sub(lambda found: found[0].replace(".", self.point), value)
        return value

    def _refusal(self, text: str) -> str | None:
        """A refusal that has been put together already, taken apart again."""
        if not text.startswith("Cannot "):
            return None
        number = _NUMBER.search(text)
        end = number.start() if number else len(text)
        text, rest = text[len("Cannot ") : end], text[end:]
        for middle in _places(text, ": "):
            tried, behind = text[:middle], text[middle + 2 :]
            if self.part(tried, ("tried",)) is None:
                continue
            for stop in (*_places(behind, ". "), len(behind)):
                why, do = behind[:stop].rstrip("."), behind[stop + 2 :]
                if self.part(why, SHOWN) is not None:
                    made = self.refused(tried, why, do)
                    return None if made is None else made + rest
        return None

    def _clauses(self, text: str) -> str:
        """Sentence by sentence; what is not known stays as it was."""
        for mark in (". ", "; "):
            found = re.split(f"(?<={re.escape(mark[0])}) ", text)
            if len(found) > 1:
                return " ".join(self._clause(one, mark[0]) for one in found)
        return text

    def _clause(self, text: str, mark: str) -> str:
        bare = text.removesuffix(mark)
        return self.text(bare) + text[len(bare) :] if bare else text


def _places(text: str, mark: str, most: int = 12) -> Iterator[int]:
    return islice((found.start() for found in re.finditer(re.escape(mark), text)), most)


def _capital(text: str) -> str:
    """With a capital letter, behind whatever opens the sentence."""
    return text[:1].upper() + text[1:]


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]


@lru_cache
def sentences_of(language: str, locale: str) -> Sentences | None:
    """What the trade says in ``language``; None for the language that it speaks itself."""
    return Sentences(language, locale) if tables_of(language) else None


def said(what: str | Exception, language: str, locale: str = "") -> str:
    """A sentence of the trade, or the sentence of a refusal, in the language of the page.

    >>> said("no cook is recorded", "es")
    'no hay cocción anotada'
    >>> said("no cook is recorded", "en")
    'no cook is recorded'
    """
    known = sentences_of(language, locale or language)
    if known is None:
        return str(what)
    if isinstance(what, str):
        return told(what, language, locale or language)
    tried, why, do = (getattr(what, part, "") for part in ("tried", "why", "do"))
    return known.refused(tried, why, do) or known.text(str(what)) if tried else str(what)


@lru_cache(2048)
def told(text: str, language: str, locale: str) -> str:
    """A text of the trade; kept, since a page that is asked for again says the same."""
    known = sentences_of(language, locale)
    return text if known is None else known.text(text)


def tried(text: str, language: str, locale: str = "") -> str:
    """What somebody tried, by itself.

    >>> tried("count lot 26328-01", "es")
    'contar el lote 26328-01'
    """
    known = sentences_of(language, locale or language)
    return (known.part(text, ("tried",)) if known else None) or text


def word(text: str, language: str, locale: str = "", table: str = "terms") -> str:
    """A word of the trade that stands by itself; ``table`` is ``statements`` for what a label says.

    >>> word("principal panel", "es"), word("maker", "es", table="statements")
    ('cara principal', 'quién lo hace')
    """
    known = sentences_of(language, locale or language)
    return text if known is None else known.word(text, table)
