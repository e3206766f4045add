"""Market ``eu``: Regulation (EU) 1169/2011, Directives 76/211/EEC and 2011/91/EU.

National law adds to it and decides for loose food. Which date mark a food bears, use by or best
before, the maker decides (Art. 24); it is never chosen here.
"""

from __future__ import annotations

from decimal import Decimal

from msgspec.structs import replace

from labels.errors import BadValue, MissingFact
from labels.facts import Facts
from labels.quantity import count_words, eu_quantity
from labels.rules.eu_list import (
    SECOND,
    TINY_CM2,
    listing,
    may_contain,
    optional,
    second_list,
    second_of,
    why_tiny,
)
from labels.rules.statement import BEHIND_DATE, Glyph, Run, Statement, absent, bold, plain, unasked
from labels.rules.us import maker_line, price_runs
from labels.say import say
from labels.words import EuWords, Words, eu_words, long_date

# For the usual storage words; the maker may write others. Frozen: Directive 89/108/EEC Art. 1(2).
_HELD_AT = {"cold": "5 °C", "frozen": "−18 °C"}
_X_HEIGHT, _X_HEIGHT_SMALL = 1.2, 0.9  # Art. 13(2), (3)
_SMALL_CM2 = 80  # Art. 13(3)
_FIELD = "same field of vision as name and net quantity"  # Art. 13(5)
# 76/211/EEC Annex I 3.1: nominal g or ml up to and including, least height of the figures in mm.
_FIGURES = ((50, 2), (200, 3), (1000, 4))
_FIGURES_BEYOND = 6
_E_MARK_MM = 3.0  # 76/211/EEC Annex I 3.3


def statements(facts: Facts, *, language: str = "en") -> list[Statement]:
    """Everything a label of this food says, present or left out with the reason.

    Raises MissingFact where the law asks for what is not known: net quantity, date mark, maker,
    storage conditions of a use-by date.
    """
    words = eu_words(language)
    language = language.split("-")[0]
    least = _x_height(facts)
    tiny = _largest_under(facts, TINY_CM2)
    second = second_of(facts)
    storage, second_storage = _storage(facts, words, second, tiny=tiny)
    found = [
        _name(facts, words),
        _second_name(facts, second),
        *listing(facts, words, language, tiny=tiny),
        may_contain(facts, words, language),
        *second_list(facts, second, words.point, tiny=tiny),
        storage,
        second_storage,
        _handling(facts, tiny=tiny),
        _maker(facts, tiny=tiny),
        _date(facts, words, language),
        _packed(facts, words, language),
        _frozen(facts, words, language),
        _lot(facts),
        _price(facts),
        _drained(facts, words),
        _net(facts, words),
        _e_mark(facts),
        absent(
            "nutrition",
            "EU 1169/2011 Art. 16(4), Annex V 19",
            say("left out: sold by the maker, in small quantities, to the consumer or local shops"),
        ),
    ]
    return [
        replace(s, least_mm=least, glyph="x") if s.present and not s.least_mm else s for s in found
    ]


def figure_height_mm(nominal: Decimal) -> int:
    """Least height of the figures of a net quantity in g or ml (76/211/EEC Annex I 3.1).

    >>> [figure_height_mm(Decimal(n)) for n in (50, 51, 200, 201, 1000, 1001)]
    [2, 3, 3, 4, 4, 6]
    """
    return next((height for most, height in _FIGURES if nominal <= most), _FIGURES_BEYOND)


def _x_height(facts: Facts) -> float:
    """1.2 mm, or 0.9 mm where the largest surface is known to be under 80 square centimetres."""
    return _X_HEIGHT_SMALL if _largest_under(facts, _SMALL_CM2) else _X_HEIGHT


def _largest_under(facts: Facts, area: int) -> bool:
    """Whether the largest surface is known to be under so many square centimetres."""
    largest = facts.panel.largest_cm2 if facts.panel else None
    return largest is not None and largest < area


def _name(facts: Facts, words: EuWords) -> Statement:
    """The name, with "defrosted" beside it where it was frozen (Annex VI A 2)."""
    parts = (facts.name, facts.form, words.common.defrosted if facts.thawed else "")
    clause = "EU 1169/2011 Art. 9(1)(a), 17" + ", Annex VI A 2" * facts.thawed
    runs = bold(", ".join(filter(None, parts)))
    return Statement(key="name", clause=clause, runs=runs, placement=_FIELD)


def _second_name(facts: Facts, second: Words | None) -> Statement:
    if not facts.second_name:
        return absent("second-name", SECOND, say("no second language is used"))
    name = facts.second_name
    if second and facts.thawed:
        name = f"{name}, {second.defrosted}"
    return Statement(key="second-name", clause=SECOND, runs=plain(name), optional=True)


def _storage(
    facts: Facts, words: EuWords, second: Words | None, *, tiny: bool
) -> tuple[Statement, Statement]:
    """The storage conditions in both languages. MissingFact where they must stand and are left out:
    behind a use-by date, and of what keeps only cold or frozen (Art. 25(1), from memory)."""
    clause = "EU 1169/2011 Art. 9(1)(g), 25"
    none = absent("second-storage", SECOND, say("nothing is to be said"))
    use_by = facts.date_mark is not None and facts.date_mark.kind == "use-by"
    usual = facts.storage is None and facts.held != "room"
    text = facts.storage or ""
    if usual:
        text = words.common.storage if facts.held == "cold" else words.common.frozen
        text = text.format(at=_HELD_AT[facts.held])
    if use_by and not text:
        why = say("a use-by date is followed by the storage conditions (Annex X 2(b))")
        tried = say("print the use-by date of '{name}'", name=facts.name)
        raise MissingFact(tried, why, say("Give storage words"))
    if tiny and not use_by:
        return absent("storage", clause, why_tiny()), none
    if not text and facts.held != "room":
        why = say("what keeps only cold or frozen says so (EU 1169/2011 Art. 25(1))")
        tried = say("leave the storage words of '{name}' out", name=facts.name)
        raise MissingFact(tried, why, say("Give storage words"))
    if not text:
        return absent("storage", clause, say("nothing is to be said")), none
    clause += ", Annex X 1(b), 2(b)"
    first = Statement(key="storage", clause=clause, runs=plain(text), placement=BEHIND_DATE)
    if not (usual and second):
        return first, none
    text = second.storage if facts.held == "cold" else second.frozen
    return first, optional("second-storage", plain(text.format(at=_HELD_AT[facts.held])))


def _handling(facts: Facts, *, tiny: bool) -> Statement:
    clause = "EU 1169/2011 Art. 9(1)(j), 27"
    if not facts.handling or tiny:
        return absent("handling", clause, why_tiny() if tiny else say("nothing is to be said"))
    return Statement(key="handling", clause=clause, runs=plain(facts.handling))


def _maker(facts: Facts, *, tiny: bool) -> Statement:
    clause = "EU 1169/2011 Art. 9(1)(h), 8(1)"
    if tiny:
        return absent("maker", clause, why_tiny())
    maker = facts.maker
    tried = say("name the maker of '{name}'", name=facts.name)
    if maker is None or not (maker.street or maker.city):
        why = say("none is given")
        if maker:
            why = say("the address of {name} is missing", name=maker.name)
        raise MissingFact(tried, why, say("Give name and address of the operator (Art. 9(1)(h))"))
    return Statement(key="maker", clause=clause, runs=plain(maker_line(maker, zip_first=True)))


def _date(facts: Facts, words: EuWords, language: str) -> Statement:
    mark = facts.date_mark
    if mark is None:
        why = say(
            "neither a best-before nor a use-by date is given, and which of them the maker decides"
        )
        do = say("Give a date mark (EU 1169/2011 Art. 24)")
        raise MissingFact(say("date '{name}'", name=facts.name), why, do)
    best = mark.kind == "best-by"
    phrase = words.best_by if best else words.use_by
    clause = f"EU 1169/2011 Art. 9(1)(f), Annex X {1 if best else 2}"
    runs = (Run(f"{phrase} "), Run(long_date(mark.day, language), bold=True, big=True))
    return Statement(key="date", clause=clause, runs=runs)


def _packed(facts: Facts, words: EuWords, language: str) -> Statement:
    if facts.packed is None:
        return absent("packed", "none", say("no packing date is given"))
    return unasked("packed", "none", f"{words.packed} {long_date(facts.packed, language)}")


def _frozen(facts: Facts, words: EuWords, language: str) -> Statement:
    """Asked for of meat and fish alone (Annex III 6), in the words of Annex X 3."""
    clause = "EU 1169/2011 Annex X 3"
    if facts.frozen_on is None:
        return absent("frozen", clause, say("no day of freezing is given"))
    return unasked("frozen", clause, f"{words.frozen_on} {long_date(facts.frozen_on, language)}")


def _lot(facts: Facts) -> Statement:
    clause = "Directive 2011/91/EU Art. 3"
    if not facts.lot:
        why = say("the date shows day and month in clear (Art. 2(2)(g))")
        return absent("lot", clause, why)
    text = facts.lot if facts.lot.startswith("L") else f"L{facts.lot}"
    return Statement(key="lot", clause=clause, runs=plain(text))


def _price(facts: Facts) -> Statement:
    random = facts.net.random if facts.net else None
    if random is None:
        return absent("price", "Directive 98/6/EC", say("the pack has a fixed weight"))
    return Statement(key="price", clause="Directive 98/6/EC", runs=price_runs(random))


def _drained(facts: Facts, words: EuWords) -> Statement:
    clause = "EU 1169/2011 Annex IX 5"
    if facts.net is None or facts.net.drained is None:
        return absent("drained-weight", clause, say("not sold in a liquid"))
    amount = eu_quantity(facts.net.drained, None, words.point)
    text = f"{words.drained}{words.colon}{amount}"
    return Statement(key="drained-weight", clause=clause, runs=bold(text), placement=_FIELD)


def _net(facts: Facts, words: EuWords) -> Statement:
    clause = "EU 1169/2011 Art. 9(1)(e), 23; 76/211/EEC Annex I 3.1"
    net = facts.net
    if net is None:
        tried = say("state the net quantity of '{name}'", name=facts.name)
        raise MissingFact(tried, say("it is not known"), say("Give a mass, a volume or a count"))
    nominal = net.grams if net.grams is not None else net.ml
    count = count_words(net, words.common.pieces)
    if nominal is None:
        return Statement(key="net-quantity", clause=clause, runs=bold(count), placement=_FIELD)
    if nominal < 5:
        return absent("net-quantity", clause, say("under 5 g or 5 ml (Annex IX 1(c))"))
    amount = eu_quantity(net.grams, net.ml, words.point)
    before = f"{count}, " if count else ""
    if net.drained:  # two masses on a pack: say which is which
        before += f"{words.net_weight}{words.colon}"
    figures = Run(amount, bold=True, big=bool(before))
    return Statement(
        key="net-quantity",
        clause=clause,
        runs=(Run(before), figures) if before else (figures,),
        least_mm=float(figure_height_mm(nominal)),
        glyph=_FIGURE,
        placement=_FIELD,
    )


_FIGURE: Glyph = "1"  # the lowest of the figures: the others are rounded, and a little higher


def _e_mark(facts: Facts) -> Statement:
    clause = "76/211/EEC Annex I 3.3"
    if not facts.e_mark:
        return absent("e-mark", clause, say("not asked for"))
    net = facts.net
    nominal = None if net is None else net.grams if net.grams is not None else net.ml
    if nominal is None or not 5 <= nominal <= 10000 or (net and net.random):
        why = say("it belongs to equal packs of 5 g to 10 kg or 5 ml to 10 l")
        raise BadValue(say("mark '{name}' with ℮", name=facts.name), why, say("Leave the mark out"))
    return Statement(
        key="e-mark", clause=clause, runs=plain("℮"), least_mm=_E_MARK_MM, glyph="℮", optional=True
    )
