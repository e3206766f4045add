"""What the program says is complete in Spanish, begun in German, and a person's words are left."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from counter.errors import BadInput, NotFound, NotSafe
from counter.languages import Compiled, language
from counter.plan.demand import DaySales
from counter.plan.planning import Making, Terms, Yield, plan_product
from counter.plan.tomorrow import goes_into
from labels.allergens import KIND_NAMES
from labels.say import Said, as_kept, figure, from_kept, join, option, say, say_n, sentence, term
from tests.conftest import ShopInHand
from tests.often import examples
from tests.texts import CODES, CONTEXTS, TEXTS, Text, catalogue, said, used, wanted
from tests.web.conftest import Page

SPANISH = language("es", "es_US")
# Words that no Spanish sentence has; "no" and "a" are both languages'.
ENGLISH = frozenset({
    "the", "of", "is", "it", "its", "with", "and", "or", "are", "was", "has", "not", "there",
    "be", "this", "that", "from", "for", "write", "read", "to", "at", "an", "by", "which", "what",
    "when", "been", "have", "had",
})  # fmt: skip
QUOTED = re.compile(r"`[^`]*`|\"[^\"]*\"|«[^»]*»|'[^']*'|\[[^\]]*\]|\{[^}]*\}|--[a-z-]+")
PLACE = re.compile(r"\{(\w+)\}")


def left_in_english(text: str) -> set[str]:
    return set(re.findall(r"(?<!\w)[a-záéíóúñü]+(?!\w)", QUOTED.sub("", text).lower())) & ENGLISH


def translated(code: str, text: Text, context: str | None) -> tuple[str, ...]:
    """What a catalogue has for a text, in each of its forms; ("",) for nothing."""
    known = catalogue(code).get(text[0], context)
    string = known.string if known else ""
    return string if isinstance(string, tuple) else (string,)


def test_the_program_says_more_than_a_thousand_texts() -> None:
    assert len(said()) > 1400  # the reader of the source still finds them


def test_no_text_of_the_program_is_without_its_spanish() -> None:
    assert [one for one in wanted() if not all(translated("es", *one))] == []


def test_no_spanish_text_keeps_english_words() -> None:
    kept = {text: left_in_english(text) for one in wanted() for text in translated("es", *one)}
    assert {text: words for text, words in kept.items() if words} == {}


@pytest.mark.parametrize("code", CODES)
def test_a_translation_has_the_places_of_its_text(code: str) -> None:
    wrong = [
        (text, other)
        for text, context in wanted()
        for other in translated(code, text, context)
        if other and set(PLACE.findall(other)) - {"n"} != set(PLACE.findall(text[-1])) - {"n"}
    ]
    assert wrong == []


@pytest.mark.parametrize("code", CODES)
def test_no_text_is_left_in_a_catalogue_that_the_program_does_not_say(code: str) -> None:
    known = {(text[0], context) for text, context in wanted()}
    gone = [
        (message.id, message.context)
        for message in catalogue(code)
        if message.id
        and (message.id if isinstance(message.id, str) else message.id[0], message.context)
        not in known
        and not (message.context in CONTEXTS and used(str(message.id)))
    ]
    assert gone == []


@pytest.mark.parametrize("code", CODES)
def test_the_program_reads_the_catalogue_that_people_read(code: str) -> None:
    assert (TEXTS / f"{code}.mo").read_bytes() == Compiled(catalogue(code)).data, (
        "python -m tests.texts"
    )


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
def plan_words() -> tuple[Said, ...]:
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
        goes_into(24, ["fried tofu", "smoked tofu"], moulds, vessel)
        for moulds in (0, 1, 3)
        for vessel in ("mould", "tub")
    ]
    return (*(plan.words for plan in plans), *into)


def test_what_the_plan_says_is_spanish_whatever_it_says() -> None:
    shown = {words: SPANISH.shown(words) for words in plan_words()}
    assert {w: s for w, s in shown.items() if w == s or left_in_english(s)} == {}
    figures = re.compile(r"\d[\d:.]*\d|\d")
    lost = {w: s for w, s in shown.items() if set(figures.findall(w)) - set(figures.findall(s))}
    # That there was but one day is said in words.
    assert {w for w in lost if " 1 day " not in w and "Only 1 " not in w} == set()


SLOW = Said("it is too long")  # as a person typed it
SAID = [
    (
        NotSafe(
            say("sell lot {lot}", lot="26328-01"),
            say("its {kind} date {date} has passed", kind=term("best-by"), date=date(2026, 11, 23)),
            say("Throw it away under Waste"),
        ),
        "No se puede vender el lote 26328-01: su fecha de consumo preferente 23 nov 2026 ya pasó. "
        "Tírelo en Merma.",
    ),
    (
        NotFound(
            say("use {what} '{text}'", what=term("product"), text="frim"),
            "product", "frim", ["firm", "soft"],
        ),
        "No se puede usar producto «frim»: no hay producto «frim». ¿Quiso decir firm?",
    ),
    # What people typed is theirs, also where it is a word of the program.
    (
        BadInput(say("read coins '{text}'", text="twice"), say("it is not a value and a count")),
        "No se puede leer las monedas «twice»: no es un valor y cuántas.",
    ),
    # A reason kept in the book stands in another sentence.
    (
        NotSafe(
            say("use lot {lot}", lot="26328-01"),
            say("it is stopped: {why}", why=SLOW),
            say("Put it aside until it is released"),
        ),
        "No se puede usar el lote 26328-01: está retenido: it is too long. Apártelo hasta que se "
        "libere.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("error", "sentence"), SAID)
def test_a_refusal_is_said_in_its_mould(error: Exception, sentence: str) -> None:
    assert SPANISH.shown(error) == sentence
    assert language("en", "en_US").shown(error) == str(error)


def test_a_figure_has_the_decimal_mark_of_the_locale() -> None:
    text = say(
        "{amount} {unit} is unusual for {name}: mostly {least} to {most}",
        amount=figure("12.5"), unit=term("°Brix"), name="Firm tofu no. 1.5",
        least=figure("5"), most=figure("9.5"),
    )  # fmt: skip
    assert SPANISH.shown(text) == (
        "12.5 °Brix no es lo habitual en Firm tofu no. 1.5: casi siempre de 5 a 9.5"
    )
    assert language("es", "es_ES").shown(text) == (
        "12,5 °Brix no es lo habitual en Firm tofu no. 1.5: casi siempre de 5 a 9,5"
    )


def test_what_has_a_form_for_one_has_it_in_each_language() -> None:
    days = [say_n("{n} day", "{n} days", n=n) for n in (1, 2)]
    assert days == ["1 day", "2 days"]
    assert [*map(SPANISH.shown, days)] == ["1 día", "2 días"]
    assert [*map(language("de", "de_DE").shown, days)] == ["1 Tag", "2 Tage"]


def test_a_page_leaves_out_the_option_that_a_command_line_says() -> None:
    why = say("Say why{how}", how=option("--because"))
    assert why == language("en", "en_US").shown(why) == "Say why, with --because"
    assert language("en", "en_US", page=True).shown(why) == "Say why"
    assert SPANISH.shown(why) == "Diga por qué, con --because"
    assert language("es", "es_US", page=True).shown(why) == "Diga por qué"
    kept = from_kept(Said, as_kept(why))
    assert language("de", "de_DE", page=True).shown(kept) == "Sagen Sie, warum"


def test_german_is_begun_and_english_stands_where_it_is_not() -> None:
    german = language("de", "de_DE")
    error = NotSafe(
        say("sell lot {lot}", lot="26328-01"),
        say("its {kind} date {date} has passed", kind=term("best-by"), date=date(2026, 11, 23)),
    )
    assert "26328-01" in german.shown(error)
    assert "23.11.2026" in german.shown(error)
    assert german.shown(say("nobody translated this {n}", n=1)) == "nobody translated this 1"


@examples(150)
@given(st.text(max_size=80))
def test_what_a_person_typed_is_never_translated(text: str) -> None:
    """Also where it says what the program says."""
    for own in (text, "no cook is recorded", "best-by", "{name}", "{t0}"):
        assert SPANISH.shown(own) == own
        assert SPANISH.shown(Said(own)) == own
        assert own in SPANISH.shown(say("read '{text}'", text=own))


@examples(60)
@given(st.text(max_size=60), st.dates(), st.integers(), st.decimals(allow_nan=False))
def test_a_text_that_is_kept_is_the_same_text_when_it_is_read(
    name: str, day: date, n: int, amount: Decimal
) -> None:
    made = sentence(
        say("sell {name}", name=name),
        join("; ", (say("it is {n} of {date}", n=n, date=day), Said(name), figure(amount))),
        say_n("{n} day", "{n} days", n=n),
    )
    read = from_kept(Said, as_kept(made))
    assert read == made
    assert SPANISH.shown(read) == SPANISH.shown(made)


@pytest.mark.parametrize("kept", [3, None, [], {}, {"say": 3}, {"say": "x {a}", "with": {"a": {}}}])
def test_what_is_no_kept_text_is_refused(kept: object) -> None:
    with pytest.raises(ValueError, match="it is no"):
        from_kept(Said, kept)


def test_a_kept_text_reaches_nothing_but_its_values() -> None:
    read = from_kept(Said, {"say": "{a.__class__} {b} {a}", "with": {"a": "1"}})
    assert read == "{a.__class__} {b} 1"


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
    morning.batch("firm", 10, cook_ended=morning.ago(240), cooled=(morning.ago(60), None))
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


@pytest.mark.parametrize("code", ["de", "es"])
def test_no_allergen_is_called_like_a_kind_of_it(code: str) -> None:
    """Who reads that no tree nuts are in it must not read that no walnuts are."""
    shown = language(code, code)
    for source, kinds in KIND_NAMES.items():
        assert shown.term(source) not in {shown.term(kind[0]) for kind in kinds}


def test_a_field_for_notes_is_none_for_bank_notes() -> None:
    assert language("de", "de_DE").term("notes") == "Notizen"
