"""Every sentence of the trade is Spanish on the Spanish page."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from counter.errors import BadInput, NotFound, NotSafe, Refused
from counter.plan.demand import DaySales
from counter.plan.planning import Making, Terms, Yield, plan_product
from counter.plan.tomorrow import goes_into
from counter.web.patterns import Pattern, tables_of
from counter.web.sentences import said, sentences_of
from tests.conftest import ShopInHand
from tests.often import examples
from tests.web.conftest import Page
from tests.web.english import HOLE, Found, Source

SENTENCES = ("tried", "why", "do", "said")
# Words that no Spanish sentence has; "no" and "a" are both languages'.
ENGLISH = frozenset({
    "the", "of", "is", "it", "its", "with", "and", "or", "are", "was", "has", "not", "there",
    "be", "this", "that", "from", "for", "write", "read", "to", "at", "an", "by", "which", "what",
    "when", "been", "have", "had",
})  # fmt: skip
QUOTED = re.compile(r"`[^`]*`|\"[^\"]*\"|«[^»]*»|'[^']*'|\[[^\]]*\]")


@cache
def program() -> Source:
    return Source()


@cache
def source() -> tuple[Found, ...]:
    """Every sentence that the program can say, as it stands in the source."""
    read = program()
    found = itertools.chain(
        read.refusals(), read.questions(), read.reasons(), read.pairs(), read.answers()
    )
    return tuple({(one.part, one.text): one for one in found}.values())


def filled(text: str) -> tuple[str, list[str]]:
    """A template with values in its places, and those values."""
    numbers = itertools.count(1)
    full = re.sub(HOLE, lambda _: f"Q{next(numbers)}7", text)
    return full, re.findall(r"Q\d+7", full)


def spanish(part: str, text: str) -> str | None:
    known = sentences_of("es", "es_US")
    assert known is not None
    return known.part(text, ("tried",)) if part == "tried" else known.text(text)


def left_in_english(text: str) -> set[str]:
    return set(re.findall(r"(?<!\w)[a-záéíóúñü]+(?!\w)", QUOTED.sub("", text).lower())) & ENGLISH


def fault_of(part: str, text: str) -> str:
    """What is wrong with the Spanish of a sentence, or ""."""
    full, values = filled(text)
    shown = spanish(part, full)
    if shown is None or shown == full:
        return "has no Spanish"
    lost = [value for value in values if value not in shown]
    if lost:
        return f"loses {lost} in {shown!r}"
    english = left_in_english(shown)
    return f"keeps {sorted(english)} in {shown!r}" if english else ""


def test_every_sentence_in_the_source_is_said_in_spanish() -> None:
    assert len(source()) > 900  # the reader of the source still finds them
    wrong = [
        f"{one.where} {one.part} {one.text!r} {fault}"
        for one in source()
        if (fault := fault_of(one.part, one.text))
    ]
    assert wrong == []


def test_a_sentence_nobody_translated_would_be_found() -> None:
    assert fault_of("why", f"the moon is {HOLE}") == "has no Spanish"
    assert fault_of("tried", "fly") == "has no Spanish"
    assert "keeps" in fault_of("tried", f"read the moon of {HOLE}")


def entries() -> Iterator[tuple[str, str, str]]:
    for table in (*SENTENCES, "inside", "foreign"):
        for english, other in tables_of("es")[table].items():
            yield table, english, other


def test_both_sides_of_an_entry_have_the_same_places() -> None:
    names = re.compile(r"\{(\w*)\}")
    wrong = [
        english
        for _, english, other in entries()
        if sorted(names.findall(english)) != sorted(names.findall(other)) or "{}" in english
    ]
    assert wrong == []


def test_no_place_of_an_entry_stands_twice() -> None:
    names = re.compile(r"\{(\w+)\}")
    found = {english: names.findall(english) for _, english, _ in entries()}
    assert [e for e, places in found.items() if len(places) != len(set(places))] == []


# -- what the plan says, put together out of words: said by real plans

FRIDAY = date(2026, 11, 20)
FIRM = Making("firm-block", Terms(Decimal(300), Decimal(90)), 60)
TUBS = structs.replace(FIRM, batch=8000, unit="ml", vessel="tub", grain=250)
PIECES = structs.replace(FIRM, batch=1)
DEAR = structs.replace(FIRM, terms=Terms(Decimal(100), Decimal(200)))
YIELDS = [Yield(60, Decimal(2400), Decimal(20_000), Decimal(50))]


def days(*sold: tuple[int, int, float | None], every: int = 7, special: str = "") -> list[DaySales]:
    count = len(sold)
    return [
        DaySales(FRIDAY - timedelta(every * (count - i)), *row, special=special)
        for i, row in enumerate(sold)
    ]


@cache
def plan_words() -> tuple[str, ...]:
    """The words of plans that between them take every turn the words can take."""
    steady = days(*[(90, 120, None)] * 4)
    out = days(*[(90, 120, None)] * 4, (96, 96, 0.5))
    often = days(*[(90, 120, None)] * 4, (96, 96, 0.5), (99, 99, None), (99, 99, 0.9))
    by = days(*[(90, 120, None)] * 4, (96, 96, 0.5), (98, 98, 0.6))
    few = days(*[(3, 120, None)] * 5)
    litres = days(*[(7000, 9000, None)] * 5)
    more = days(*[(15_000, 16_000, None)] * 5)
    some = days(*[(50, 120, None)] * 2)
    other = days((50, 120, None), every=1)
    others = days(*[(50, 120, None)] * 3, every=1)
    week = days(*[(50, 120, None)] * 9, every=1)
    holiday = [*steady, *days((70, 120, None), every=365, special="Founders Day")]
    plans = [
        plan_product(making, history, FRIDAY, on_hand=on_hand, yields=yields, special=special)
        for making, history, on_hand, yields, special in [
            (FIRM, steady, 0, YIELDS, ""), (FIRM, out, 10, YIELDS, ""), (FIRM, often, 0, (), ""),
            (FIRM, by, 0, YIELDS, ""), (FIRM, few, 0, YIELDS, ""), (FIRM, few, 30, YIELDS, ""),
            (FIRM, some, 0, YIELDS, ""), (FIRM, some, 5, YIELDS, ""), (FIRM, other, 0, (), ""),
            (FIRM, others, 0, (), ""), (FIRM, week, 0, (), ""), (FIRM, [], 0, (), ""),
            (PIECES, steady, 0, YIELDS, ""), (PIECES, steady, 20, YIELDS, ""),
            (PIECES, [DaySales(FRIDAY - timedelta(7 * i), 0, 20) for i in range(1, 9)], 0, (), ""),
            (DEAR, steady, 0, (), ""), (TUBS, litres, 0, (), ""), (TUBS, litres, 2000, (), ""),
            (TUBS, more, 0, (), ""), (TUBS, more, 2000, (), ""), (TUBS, few, 0, (), ""),
            (FIRM, holiday, 0, (), "Founders Day"), (FIRM, steady, 0, (), "Moon Day"),
            (FIRM, days((50, 120, None)), 0, (), ""),
            (FIRM, days(*[(50, 120, None)] * 4, (51, 120, None)), 5, (), ""),
        ]
    ]  # fmt: skip
    into = [
        goes_into(24, "fried tofu and smoked tofu", moulds, vessel)
        for moulds in (0, 1, 3)
        for vessel in ("mould", "tub")
    ]
    return (*(plan.words for plan in plans), *into)


def test_what_the_plan_says_is_spanish_whatever_it_says() -> None:
    shown = {words: said(words, "es") for words in plan_words()}
    assert {w: s for w, s in shown.items() if w == s or left_in_english(s)} == {}
    figures = re.compile(r"\d[\d:.]*\d|\d")
    lost = {w: s for w, s in shown.items() if set(figures.findall(w)) - set(figures.findall(s))}
    # That there was but one day is said in words.
    assert {w for w in lost if " 1 day " not in w and "Only 1 " not in w} == set()


def small(text: str) -> str:
    return text[:1].lower() + text[1:]


def clauses(text: str) -> set[str]:
    """A sentence and its parts, as they may stand in the catalogue: small, without a stop."""
    parts = re.split(r"(?<=\.) |(?<=;) ", text)
    found = {text, *parts, *(after for part in parts for after in part.split(": ")[1:])}
    return {small(one.rstrip(".;")) for one in found}


def test_no_entry_is_left_of_a_sentence_that_is_gone() -> None:
    texts: set[str] = set()
    for text in (*(filled(one.text)[0] for one in source()), *plan_words()):
        texts |= clauses(text)

    def is_said(english: str, other: str) -> bool:
        known = Pattern(small(english), other)
        return small(english) in texts or any(
            known.longest in text and known.values(text) is not None for text in texts
        )

    found = [entry for entry in entries() if entry[0] in SENTENCES]
    assert [(part, english) for part, english, other in found if not is_said(english, other)] == []


def test_no_word_is_left_that_the_program_does_not_use() -> None:
    words = program().words()
    dead = [
        word
        for word in tables_of("es")["terms"]
        if not any(
            re.search(rf"(?<!\w){re.escape(one)}(?!\w)", words)
            for one in (word, word.removesuffix("s"), *(word.replace(" ", by) for by in "-_"))
        )
    ]
    assert dead == []


SAID = [
    (
        NotSafe("sell lot 26328-01", "its best-by date 2026-11-23 has passed",
                "Throw it away under Waste"),
        "No se puede vender el lote 26328-01: su fecha de consumo preferente 23 nov 2026 ya pasó. "
        "Tírelo en Merma.",
    ),
    (
        NotFound("use product 'frim'", "product", "frim", ["firm", "soft"]),
        "No se puede usar producto «frim»: no hay producto «frim». ¿Quiso decir firm?",
    ),
    # What people typed is theirs, also where it is a word of the program.
    (
        BadInput("read coins 'twice'", "it is not a value and a count", ""),
        "No se puede leer las monedas «twice»: no es un valor y cuántas.",
    ),
    # A reason kept in the book stands in another sentence.
    (
        NotSafe("use lot 26328-01", "it is stopped: cooled too slowly: it took 7 h 10 min to reach "
                "5 °C / 41 °F, allowed are 6 h in all", "Put it aside until it is released"),
        "No se puede usar el lote 26328-01: está retenido: se enfrió demasiado despacio: tardó "
        "7 h 10 min en llegar a 5 °C / 41 °F; se admiten 6 h en total. Apártelo hasta que se "
        "libere.",
    ),
    # A sentence nobody knows is shown as it was, and so is one of which only a part is known.
    (Refused("fly", "it has no wings", "Walk"), "Cannot fly: it has no wings. Walk."),
    (
        Refused("sell lot 26328-01", "it has no wings", "Walk"),
        "No se puede vender el lote 26328-01: it has no wings. Walk.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("error", "sentence"), SAID)
def test_a_refusal_is_said_in_its_mould(error: Exception, sentence: str) -> None:
    assert said(error, "es", "es_US") == sentence
    assert said(str(error), "es", "es_US") == sentence or "wings" in sentence
    assert said(error, "en", "en_US") == str(error)


def test_a_refusal_keeps_its_number_in_the_log() -> None:
    text = str(SAID[0][0])
    assert said(f"{text} (abc123)", "es") == f"{SAID[0][1]} (abc123)"


def test_a_figure_has_the_decimal_mark_of_the_locale() -> None:
    text = "12.5 °Brix is unusual for Firm tofu no. 1.5: mostly 5 to 9.5"
    assert said(text, "es", "es_US") == (
        "12.5 °Brix no es lo habitual en Firm tofu no. 1.5: casi siempre de 5 a 9.5"
    )
    assert said(text, "es", "es_ES") == (
        "12,5 °Brix no es lo habitual en Firm tofu no. 1.5: casi siempre de 5 a 9,5"
    )


def test_several_sentences_behind_one_another_are_each_said() -> None:
    text = (
        "not for sale yet: no cook is recorded. Raw soy milk must be cooked before anybody eats "
        "it; the local food code decides"
    )
    assert said(text, "es") == (
        "todavía no se vende: no hay cocción anotada. La leche de soya cruda debe cocerse antes de "
        "comerla; decide la norma sanitaria local"
    )


@examples(150)
@given(st.text(max_size=80))
def test_no_text_is_lost_or_stops_the_page(text: str) -> None:
    assert said(text, "en") == text
    assert said(f"~{text}~", "es") == f"~{text}~"
    shown = said(BadInput(f"read coins '{text}'", "it is not a value and a count"), "es")
    assert text.strip() in shown


@examples(60)
@given(st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=60))
def test_a_name_comes_through_a_sentence_as_it_was_typed(name: str) -> None:
    assert f" {name} " in said(f"nothing of {name} is for sale", "es")


# -- on the page


@pytest.fixture
def spanish_page(page: Page) -> Page:
    page.post("/language", {"language": "es"})
    return page


def test_the_shelf_refuses_in_spanish(spanish_page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-24 14:30")
    shown = spanish_page.get("/shelf/").get_data(as_text=True)
    assert "no tiene temperatura anotada desde las 08:00. Mida ahora su temperatura" in shown
    answer = spanish_page.send("/tubs/check", {"tub": "26328-04/9", "temperature": "4 C"})
    assert answer.get_json()["error"].startswith(
        "No se puede anotar la temperatura de la cubeta 26328-04/9: no hay cubeta «26328-04/9»."
    )


class Read(HTMLParser):
    """What a page says to the eye and to the ear, and where it leads."""

    UNREAD = frozenset({"script", "style", "pre", "textarea"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.links: list[str] = []
        self._unread = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._unread += tag in self.UNREAD
        for name, value in attrs:
            if name == "href" and value and value.startswith("/"):
                self.links.append(value.partition("#")[0])
            elif name in ("title", "aria-label", "placeholder", "alt", "data-label") and value:
                self.said.append(value)

    def handle_endtag(self, tag: str) -> None:
        self._unread -= tag in self.UNREAD

    def handle_data(self, data: str) -> None:
        if not self._unread and data.strip():
            self.said.append(data.strip())


# What a label says, the names of laws, and files that are taken away are as they are.
AS_THEY_ARE = re.compile(
    r"/labels/explain|\.(pdf|csv|png|toml|css|js|svg|webmanifest|ttf|json)|/face"
)


def test_no_page_keeps_an_english_sentence(spanish_page: Page, morning: ShopInHand) -> None:
    """Every page that can be reached, with a stopped lot, a raw one and a cold tub past its check."""
    morning.batch("firm", 10, boiled_minutes=None, brix=Decimal(30))
    morning.shop.holds.hold(
        "26328-02", True, "it took 3 h 00 min to reach 21 °C / 70 °F, allowed are 2 h"
    )
    morning.clock.set("2026-11-24 14:30")
    names = [portion.name for portion in morning.shop.desk.catalogue.portions.values()]
    own = re.compile("|".join(map(re.escape, (str(morning.shop.desk.folder), *names))))
    todo, seen, wrong = ["/shelf/", "/plan/", "/temperatures/", "/log/lot/1", "/sales/"], set(), {}
    while todo and len(seen) < 60:
        path = todo.pop(0)
        kind = re.sub(r"\d[\d/-]+", "", path)  # one page of each kind
        if kind in seen or AS_THEY_ARE.search(path):
            continue
        seen.add(kind)
        answer = spanish_page.get(path)
        assert answer.status_code < 500, path
        read = Read(answer.get_data(as_text=True))
        todo += read.links
        wrong |= {text: path for text in read.said if left_in_english(own.sub("", text))}
    assert len(seen) > 20
    assert wrong == {}


def test_a_batch_is_warned_of_in_spanish(spanish_page: Page, morning: ShopInHand) -> None:
    made = morning.batch("firm", 48, boiled_minutes=None)
    shown = spanish_page.get(f"/log/lot/{made.lot}").get_data(as_text=True)
    assert "no hay cocción anotada" in shown
    assert "no cook is recorded" not in shown


def test_the_log_of_the_shop_keeps_the_sentence_as_the_trade_says_it(
    spanish_page: Page, caplog: pytest.LogCaptureFixture
) -> None:
    answer = spanish_page.get("/log/lot/26328-77")
    assert answer.status_code == 404
    assert "No se puede seguir el lote 26328-77" in answer.get_data(as_text=True)
    assert "Cannot trace lot 26328-77" in caplog.text
