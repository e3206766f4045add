"""Sentences with places for values, as ``texts/<language>/*.toml`` writes them down.

``"its {kind} date {date} has passed" = "su {kind} {date} ya pasó"``: the English as the program
composes it, and the same in another language, with the same names. Everything is read once.
"""

from __future__ import annotations

import re
import tomllib
from functools import cached_property, lru_cache
from importlib.resources import files

# What a place may hold, by its name: these have no blank in them, those hold whatever was typed.
TOKENS = ("n", "clock", "line", "column", "first", "last")
FREE = ("why", "text", "rest", "name", "names", "place", "file", "path", "lot", "tub", "number")
_SHAPES = {
    **dict.fromkeys(TOKENS, r"(\S*?)"),
    **dict.fromkeys(FREE, "(.*?)"),
    **dict.fromkeys(("type", "got"), r"([^`]*?)"),
    "figures": r"(\d[^;]*?)",
}
_OTHER = "([^;]*?)"  # a clause ends at its semicolon
_NAME = re.compile(r"\{(\w+)\}")


class Pattern:
    """One sentence with places for values."""

    def __init__(self, english: str, other: str) -> None:
        self.english, self.other = english, other
        self.names = _NAME.findall(english)
        self.words = [re.escape(part) for part in _NAME.split(english)[::2]]
        plain = _NAME.split(english)[::2]
        self.plain = sum(map(len, plain))
        self.longest = max(plain, key=len)

    @cached_property
    def matcher(self) -> re.Pattern[str]:
        made = self.words[0]
        for name, word in zip(self.names, self.words[1:], strict=True):
            made += _SHAPES.get(name, _OTHER) + word
        return re.compile(made, re.DOTALL)

    def values(self, text: str) -> dict[str, str] | None:
        """What stands in the places, or None where the text is another sentence."""
        if self.longest not in text:
            return None
        found = self.matcher.fullmatch(text)
        if found is None:
            return None
        return dict(zip(self.names, found.groups(), strict=True))


@lru_cache
def tables_of(language: str) -> dict[str, dict[str, str]]:
    """All tables of a language, those of the same name in several files as one; {} for none."""
    folder = files("counter.web") / "texts" / language
    found: dict[str, dict[str, str]] = {}
    if not folder.is_dir():
        return found
    for file in sorted(folder.iterdir(), key=lambda f: f.name):
        if file.name.endswith(".toml"):
            for table, texts in tomllib.loads(file.read_text("utf-8")).items():
                found.setdefault(table, {}).update(texts)
    return found


@lru_cache
def patterns_of(language: str, part: str) -> tuple[Pattern, ...]:
    """The sentences of a part that hold values, those with the most words of their own first."""
    made = (Pattern(k, v) for k, v in tables_of(language).get(part, {}).items() if "{" in k)
    return tuple(sorted(made, key=lambda pattern: -pattern.plain))
