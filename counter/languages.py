"""The languages that page, command line and paper speak.

English is what the program says (``labels.say``) and the page's own texts in ``texts/pages.toml``.
Every other language is one file, ``texts/<code>.po``, in the format of GNU gettext. A ``.mo`` that
``python -m tests.texts`` compiles from it is read faster. What stands in no catalogue is shown in
English.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Mapping
from contextlib import suppress
from decimal import Decimal
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from labels.say import NOTHING, Said

if TYPE_CHECKING:
    from babel.messages.catalog import Catalog

TEXTS: Any = files("counter") / "texts"
_STOPS = re.compile(r"(?<=\d\s)([ap]\.\s?m\.)\.")
_FIGURE = re.compile(r"(?<=\d)\.(?=\d)")


class Language:
    """A language, with dates and decimal marks as ``locale`` writes them; on a ``page`` without
    what only a command line says."""

    def __init__(self, code: str, locale: str, page: bool) -> None:
        self.code, self.locale, self.on_page = code, locale, page
        self._texts = _catalogue(code)

    def shown(self, what: str | Exception) -> str:
        """A text of the program, or the sentence of a refusal; what a person typed as it is."""
        said = what if isinstance(what, str) else getattr(what, "said", NOTHING) or str(what)
        if not isinstance(said, Said) or (self.code == "en" and not self.on_page):
            return str(said)
        return one_stop(said.told(self.found, self.written))

    def found(self, said: Said) -> str:
        """The template of a text in this language."""
        if said.use == "terminal" and self.on_page:
            return ""
        if said.use in ("term", "statement"):
            return self._texts.pgettext(said.use, said.template)
        if said.plural:
            number = said.values["n"]
            assert isinstance(number, int)
            return self._texts.ngettext(said.template, said.plural, number)
        return self._texts.gettext(said.template)

    def written(self, value: object) -> str:
        """What stands in the places of a text: dates, and numbers with their decimal mark."""
        if self.code == "en":
            return str(value)
        match value:
            case dt.datetime():
                return str(value)
            case dt.date():
                return _date(value, self.locale)
            case Decimal() | float() | Said():
                return _FIGURE.sub(_point(self.locale), str(value))
        return str(value)

    def term(self, text: str, context: str = "term") -> str:
        """A word of the trade that stands by itself; ``context`` is ``statement`` for what a label
        says, ``table`` for a table of the books."""
        return text if self.code == "en" or not text else self._texts.pgettext(context, text)

    def page(self, key: str, n: int | None = None) -> str:
        """The page's own text ``page.key``; ``n`` picks among its plural forms."""
        english = page_texts()[key]
        if isinstance(english, str):
            return english if self.code == "en" else self._texts.pgettext(key, english)
        number = 0 if n is None else n
        return self._texts.npgettext(key, english["one"], english["other"], number)


def one_stop(text: str) -> str:
    """The text with one full stop, not two, behind the ``p. m.`` of a clock."""
    return _STOPS.sub(r"\1", text)


@lru_cache
def codes() -> tuple[str, ...]:
    """The languages there are: English, and each that has a file."""
    parted = [file.name.partition(".") for file in TEXTS.iterdir()]
    return ("en", *sorted({code for code, _, kind in parted if kind in ("po", "mo")}))


@lru_cache
def names() -> Mapping[str, str]:
    """What each language calls itself; none of those that CLDR does not know, since nobody could
    say how it writes a date."""
    from babel import Locale, UnknownLocaleError

    found = {}
    for code in codes():
        with suppress(UnknownLocaleError, ValueError):
            name = Locale.parse(code).get_display_name(code) or code
            found[code] = name[:1].upper() + name[1:]
    return found


@lru_cache
def language(code: str, locale: str, page: bool = False) -> Language:
    """A language as a locale writes it; English for one that there is not."""
    return Language(code if code in codes() else "en", locale or code, page)


def language_of(locale: str) -> Language:
    """The language of a locale: of ``es_US`` Spanish."""
    return language(locale[:2], locale)


@lru_cache
def page_texts() -> Mapping[str, Any]:
    """The English texts of all pages, keyed ``page.key``."""
    tables = tomllib.loads((TEXTS / "pages.toml").read_text("utf-8"))
    return {f"{page}.{key}": text for page, texts in tables.items() for key, text in texts.items()}


@lru_cache
def _catalogue(code: str) -> NullTranslations:
    if code == "en":
        return NullTranslations()
    file = TEXTS / f"{code}.mo"
    if file.is_file():
        with file.open("rb") as read:
            return GNUTranslations(read)
    from babel.messages.pofile import read_po

    with (TEXTS / f"{code}.po").open("rb") as written:
        return GNUTranslations(Compiled(read_po(written, locale=code)))


class Compiled:
    """A catalogue as gettext reads it, ``.mo``, in memory."""

    def __init__(self, catalogue: Catalog) -> None:
        from babel.messages.mofile import write_mo

        self.data = b""
        write_mo(self, catalogue)

    def write(self, data: bytes) -> None:
        self.data += data

    def read(self) -> bytes:
        return self.data


@lru_cache
def _point(locale: str) -> str:
    from babel.numbers import get_decimal_symbol

    return str(get_decimal_symbol(locale))


def _date(day: dt.date, locale: str) -> str:
    from babel.dates import format_date

    return str(format_date(day, "medium", locale=locale))
