"""Texts of the page in two languages; numbers, dates and money as the shop's language writes them.

All texts stand in ``counter/texts/pages.toml``: one table a page, in it key = "text". A text may
hold ``{names}``. Where a number decides, the text is a table ``{ one = "…", other = "…" }``.
"""

from __future__ import annotations

import re
from decimal import Decimal

from babel.numbers import format_decimal, get_decimal_symbol

from counter import languages
from counter.present import Presenter
from counter.trade.settings import Settings
from labels.say import Said

# A number and what it counts stay on one line: "8 l", "21 °C", "10 min", "3 × $1.00".
_UNITS = r"°[CF]|°Brix|kg|g|ml|l|lb|oz|mm|dpi|psi|kPa|bar|min|[KM]iB|%|[ap]\.\s?m\.|[AP]M"
_PARTED = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?!\w))|(?<=\d) (?=× )|(?<=\d[ \u00a0]×) (?=\S)")


def unparted(text: str) -> str:
    """The text with no line end between a number and its unit, and one full stop after ``p.m.``"""
    return languages.one_stop(_PARTED.sub("\u00a0", text))


class Wording(Presenter):
    """Says things in one language, figures as its locale writes them."""

    def __init__(self, settings: Settings, language: str) -> None:
        super().__init__(settings, language=language)
        self._language = languages.language(language, self.locale, page=True)

    def t(self, key: str, **named: object) -> str:
        """The text of ``page.key``; ``n`` picks among its plural forms."""
        number = named.get("n")
        text = self._language.page(key, number if isinstance(number, int) else None)
        shown = {k: self.number(v) if type(v) is int else v for k, v in named.items()}
        return unparted(text.format_map(shown) if named else text)

    def said(self, what: str | Exception) -> str:
        """A text of the program, or the sentence of a refusal, in this language."""
        return unparted(self._language.shown(what))

    def word(self, text: str, context: str = "term") -> str:
        """A word of the trade by itself, in this language."""
        return self._language.term(text, context)

    @property
    def comma(self) -> bool:
        """Whether whoever reads this page writes 0,42."""
        return bool(get_decimal_symbol(self.locale) == ",")

    def amount(self, amount: int, unit: str) -> str:
        """A stock amount: ``96``, ``8.25 l``, ``350 g``; pieces have no unit."""
        if unit == "piece":
            return self.number(amount)
        if abs(amount) < 1000:
            return f"{self.number(amount)}\u00a0{unit}"
        whole = Decimal(amount) / 1000
        return f"{format_decimal(whole, '#,##0.##', locale=self.locale)}\u00a0{_LARGE[unit]}"

    def temperature(self, celsius: Decimal) -> Said:
        return Said(unparted(self._language.shown(super().temperature(celsius))))


_LARGE = {"ml": "l", "g": "kg"}
