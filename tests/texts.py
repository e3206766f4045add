"""``python -m tests.texts``: bring the catalogues in counter/texts up to what the program says.

What is said is read from the source: ``say("…")``, ``say_n("…", "…")``, and the page's own texts. Texts that are gone leave the catalogues, new ones stand there without a translation, and
each catalogue is compiled for the program.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from counter.languages import Compiled, codes, page_texts

ROOT = Path(__file__).parents[1]
TEXTS = ROOT / "counter" / "texts"
ROOMS = ("counter", "demo_shop", "labels")
# How many texts each takes; the last ones make heads of columns on paper.
SAID = {"say": 1, "say_n": 2, "at_terminal": 1, "words": 1, "figures": 1, "some": 1, "known": 1}
# A word that stands by itself is looked up by what it is: these are no sentences of the source.
CONTEXTS = ("term", "statement", "table")
CODES = codes()[1:]

Text = tuple[str, ...]  # one text, or that of one and of many


@cache
def source() -> str:
    """All of the program, to see whether a word is used."""
    return "\n".join(file.read_text("utf-8") for room in ROOMS for file in python_in(room))


def python_in(room: str) -> list[Path]:
    return sorted((ROOT / room).rglob("*.py"))


@cache
def said() -> dict[Text, str]:
    """What the program can say, and where it stands first."""
    found: dict[Text, str] = {}
    for file in (file for room in ROOMS for file in python_in(room)):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                texts = tuple(node.args[: SAID.get(node.func.id, 0)])
                if texts and all(isinstance(t, ast.Constant) and has_words(t.value) for t in texts):
                    where = f"{file.relative_to(ROOT)}:{node.lineno}"
                    found.setdefault(tuple(text.value for text in texts), where)  # type: ignore[attr-defined]
    return found


def has_words(template: Any) -> bool:
    """Whether a template says or quotes something; of places and marks alone nothing is another."""
    return re.search(r"[^\W\d_]|'", re.sub(r"\{\w+\}", "", str(template))) is not None


def pages() -> Iterator[tuple[str, Text]]:
    """The page's own texts by their keys."""
    for key, text in page_texts().items():
        yield key, (text,) if isinstance(text, str) else (text["one"], text["other"])


def used(word: str) -> bool:
    """Whether a word of the trade, or its singular, stands somewhere in the program."""
    forms = (word, word.removesuffix("s"), *(word.replace(" ", by) for by in "-_"))
    return any(re.search(rf"(?<!\w){re.escape(form)}(?!\w)", source()) for form in forms)


@cache
def catalogue(code: str) -> Catalog:
    with (TEXTS / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code, abort_invalid=True)


def wanted() -> Iterator[tuple[Text, str | None]]:
    """Every text that a catalogue must hold but for the words, with its context."""
    yield from ((text, None) for text in said())
    yield from ((text, key) for key, text in pages())


def renewed(old: Catalog) -> Catalog:
    """A catalogue with what is said now, and what it had for it; its plural forms are its own."""
    new = Catalog(
        locale=old.locale,
        header_comment="#",
        charset="utf-8",
        creation_date=old.creation_date,
        fuzzy=False,
    )
    new.mime_headers = [("Plural-Forms", old.plural_forms)]
    for text, context in wanted():
        known = old.get(text[0], context)
        string = known.string if known and isinstance(known.id, str) == (len(text) == 1) else ""
        new.add(text[0] if len(text) == 1 else text, string or "", context=context)
    for message in old:
        if message.context in CONTEXTS and used(str(message.id)):
            new.add(message.id, message.string, context=message.context)
    return new


def write(catalogue: Catalog, code: str) -> None:
    with (TEXTS / f"{code}.po").open("wb") as file:
        write_po(file, catalogue, width=100, sort_output=True, omit_header=False)
    with (TEXTS / f"{code}.po").open("rb") as file:
        (TEXTS / f"{code}.mo").write_bytes(Compiled(read_po(file, locale=code)).data)


def main() -> None:
    for code in CODES:
        new = renewed(catalogue(code))
        write(new, code)
        left = [m.id for m in new if m.id and not all(m.string if m.pluralizable else [m.string])]
        print(f"{code}: {len(new)} texts, {len(left)} without a translation")
        for text in left[:400]:
            print(f"  {text}")


if __name__ == "__main__":
    main()
