"""Market ``us``: federal label law for a packed food, statement by statement.

Title 21 of the Code of Federal Regulations, part 101; 15 USC 1453 (Fair Packaging and Labeling
Act); 21 USC 343. State and local law differ, and the local authority decides.
"""

from __future__ import annotations

from decimal import Decimal

from labels.allergens import may_names, us_names
from labels.errors import MissingFact
from labels.facts import Facts, Ingredient, Maker, NetQuantity, Panel, RandomWeight
from labels.quantity import us_quantity
from labels.rules.listing import SULPHITES, listed_of, name_with_parts, split_by_percent
from labels.rules.second import NO_SECOND_NAME, second_words
from labels.rules.statement import (
    INCH,
    SIXTEENTH_INCH,
    Run,
    Statement,
    absent,
    bold,
    plain,
    unasked,
)
from labels.say import say, term
from labels.words import NO_BREAK, WORDS, Words, us_date

# 21 CFR 101.7(i): area of the panel in square inches, and the least height in inches. A bound
# belongs to the lower band ("5 square inches or less").
_NET_HEIGHTS = ((5, 1 / 16), (25, 1 / 8), (100, 3 / 16), (400, 1 / 4))
_NET_HEIGHT_BEYOND = 1 / 2
NO_BOTTOM_RULE = Decimal(5)  # 21 CFR 101.7(f): bottom 30 % does not bind up to 5 square inches
BOTTOM_30 = "bottom 30 % of the principal panel"
# 82001 gives no figure for an item too small: up to here the law itself asks less of a panel
# (21 CFR 101.7(f)), and the shop's own reading is that it asks less of the date too.
SMALL_ITEM = NO_BOTTOM_RULE
_PANEL = "principal panel"
_SECOND = "21 CFR 101.15(c)(2)"
_INFORMATION = "information panel, in one place with nothing between"  # 21 CFR 101.2(b), (e)


def statements(facts: Facts, *, language: str = "en", small: bool = False) -> list[Statement]:
    """Everything a label of this food says, present or left out with the reason.

    ``small``: there is no room for the long date wordings; the short ones stand only where
    :func:`may_be_short`. Raises MissingFact where the law asks for something that is not known,
    BadValue for what it does not allow.
    """
    if language.split("-")[0] != "en":
        why = say("21 CFR 101.15(c) asks for English")
        do = say("Give the other language as second names")
        raise MissingFact(say("write a US label in '{language}' alone", language=language), why, do)
    return [
        _identity(facts),
        _second_name(facts),
        *ingredients(facts),
        contains(facts),
        may_contain(facts),
        *second_list(facts),
        *_storage(facts),
        _handling(facts),
        _maker(facts),
        _date(facts, small=small),
        _packed(facts),
        _frozen(facts),
        _lot(facts),
        _price(facts),
        _net(facts),
        absent(
            "nutrition",
            "21 USC 343(q)(5)(A)(ii), (D)",
            say(
                "left out: made and sold in the shop, or small sales; any claim ends the exemption"
            ),
        ),
    ]


def net_height_inches(panel: Panel) -> float:
    """Least letter height of the net quantity by the area of the panel, 21 CFR 101.7(i)."""
    area = panel.area_in2
    return next((height for most, height in _NET_HEIGHTS if area <= most), _NET_HEIGHT_BEYOND)


def bottom_rule_binds(panel: Panel) -> bool:
    """Whether the net quantity must stand in the bottom 30 % (21 CFR 101.7(f))."""
    return panel.area_in2 > NO_BOTTOM_RULE


def _required(key: str, clause: str, runs: tuple[Run, ...], **more: object) -> Statement:
    settings = {"least_mm": SIXTEENTH_INCH, "placement": _INFORMATION, **more}
    return Statement(key=key, clause=clause, runs=runs, **settings)  # type: ignore[arg-type]


def _identity(facts: Facts) -> Statement:
    name = f"{facts.name}, {facts.form}" if facts.form else facts.name
    return _required("name", "21 CFR 101.3(a), (d)", bold(name), placement=_PANEL)


def _second_name(facts: Facts) -> Statement:
    if not facts.second_name:
        return absent("second-name", _SECOND, say("no second language is used"))
    return _required("second-name", _SECOND, plain(facts.second_name), placement=_PANEL)


def ingredients(facts: Facts) -> list[Statement]:
    """The ingredient list. Raises MissingFact where none is given."""
    clause = "21 CFR 101.4(a)"
    items = listed_of(facts)
    if not items:
        tried = say("list the ingredients of '{name}'", name=facts.name)
        raise MissingFact(tried, say("none are given"), say("Give what went in, with its weight"))
    if _alone(items):
        return [absent("ingredients", clause, _ALONE)]
    large, small = split_by_percent(items, facts)
    listed = ", ".join(name_with_parts(item) for item in large)
    if small:
        rest = ", ".join(name_with_parts(item) for item in small)
        percent = f"{facts.percent_clause:f}".removesuffix(".0")
        clause_text = f"Contains {percent}% or less of: {rest}"
        listed = f"{listed}. {clause_text}" if listed else clause_text
        clause = "21 CFR 101.4(a)(1), (2)"
    if facts.disperse and any(item.parts for item in facts.ingredients):
        clause += ", (b)(2)(ii)"
    if SULPHITES in facts.sources():
        clause += ", 101.100(a)(4)"
    return [_required("ingredients", clause, (Run("Ingredients: ", bold=True), Run(f"{listed}.")))]


_ALONE = say("made of one ingredient (21 USC 343(i)(2))")


def _alone(items: list[Ingredient]) -> bool:
    return len(items) == 1 and name_with_parts(items[0]) == items[0].name


def contains(facts: Facts) -> Statement:
    """The "Contains" line. It stands even where the list names the source: one place to look."""
    clause = "21 USC 343(w)(1)(A)"
    names = us_names(facts.sources())
    if not names:
        return absent("contains", clause, say("none of the nine sources is in it"))
    text = f"Contains: {', '.join(names)}."
    return _required("contains", clause, bold(text), placement="adjacent to ingredients")


def may_contain(facts: Facts) -> Statement:
    """What may have got into it, beside the "Contains" line and never in its place.

    Voluntary; neither wording nor place is prescribed (FDA on 21 USC 343(w)). As large as the list.
    """
    clause = "none: voluntary, beside 21 USC 343(w)"
    keys = facts.may_contain_too()
    if not keys:
        return absent("may-contain", clause, say("nothing else is said to get into it"))
    text = f"May contain: {', '.join(may_names(keys))}."
    return _required("may-contain", clause, plain(text), placement="adjacent to contains")


def second(facts: Facts) -> Words | None:
    """The words of the second language where the label speaks it. Raises MissingFact."""
    keys = (*facts.sources(), *facts.may_contain_too())
    return second_words(facts, listed_of(facts), keys, _SECOND)


def second_list(facts: Facts) -> list[Statement]:
    """Ingredients, "Contains" and "May contain" in the second language, beside a second name."""
    words = second(facts)
    if words is None:
        why = say("'tofu' alone is no second language (CPG 562.400)")
        return [absent("second-ingredients", _SECOND, why if facts.second_name else NO_SECOND_NAME)]
    items, language = listed_of(facts), facts.second_language
    listed = words.comma.join(name_with_parts(item, words) for item in items)
    text = f"{words.ingredients}{listed}{words.end}"
    found = [_required("second-ingredients", _SECOND, plain(text))]
    if _alone(items):
        found = [absent("second-ingredients", _SECOND, _ALONE)]
    if sure := us_names(facts.sources(), language):
        text = f"{words.contains}{words.comma.join(sure)}{words.end}"
        found.append(_required("second-contains", _SECOND, bold(text)))
    if doubtful := may_names(facts.may_contain_too(), language):
        text = f"{words.may_contain}{words.comma.join(doubtful)}{words.end}"
        found.append(_required("second-may-contain", _SECOND, plain(text)))
    return found


# Food Code 3-501.16(A)(2); 0 °F: common practice, no source ("maintained frozen", 3-501.11).
_HELD_AT = {"cold": "41 °F (5 °C)", "frozen": "0 °F (−18 °C)"}


def _storage(facts: Facts) -> list[Statement]:
    clause = "none asked for; Food Code 3-501.11, 3-501.16(A)(2)"
    if facts.storage is not None or facts.held == "room":
        if not facts.storage:
            return [absent("storage", clause, say("nothing is to be said"))]
        return [unasked("storage", clause, facts.storage)]
    found = []
    for key, words in (("storage", WORDS["en"]), ("second-storage", second(facts))):
        if words is not None:
            text = words.storage if facts.held == "cold" else words.frozen
            found.append(unasked(key, clause, text.format(at=_HELD_AT[facts.held])))
    return found


def _handling(facts: Facts) -> Statement:
    clause = "none: said by the maker"
    if not facts.handling:
        return absent("handling", clause, say("nothing is to be said"))
    return unasked("handling", clause, facts.handling)


def _maker(facts: Facts) -> Statement:
    maker = facts.maker
    tried = say("name the maker of '{name}'", name=facts.name)
    if maker is None:
        do = say("21 CFR 101.5 asks for name and place of business")
        raise MissingFact(tried, say("none is given"), do)
    for part, given in (("city", maker.city), ("state", maker.state), ("zip", maker.zip)):
        if not given:
            why = say(
                "the {part} of {name} is missing (21 CFR 101.5(c))",
                part=term(part),
                name=maker.name,
            )
            raise MissingFact(tried, why, say("Give city, state and ZIP code"))
    if not maker.street and not maker.in_directory:
        why = say(
            "the street of {name} is missing, and it is in no current city directory",
            name=maker.name,
        )
        do = say("Give the street, or say that it is listed (21 CFR 101.5(c))")
        raise MissingFact(tried, why, do)
    return _required("maker", "21 CFR 101.5", plain(maker_line(maker)))


def maker_line(maker: Maker, *, zip_first: bool = False) -> str:
    """Phrase, name, street, place and telephone in one line.

    The postal code stands behind city and state, or before the city as in most of Europe.

    >>> maker_line(Maker(name="Mill", street="1 Sluice St", city="Ferry", state="OR", zip="97099"))
    'Mill, 1 Sluice St, Ferry, OR 97099'
    """
    name = f"{maker.phrase} {maker.name}" if maker.phrase else maker.name
    city = maker.city.replace(" ", NO_BREAK)  # a town is not broken over two lines
    if zip_first:
        place = [f"{maker.zip}{NO_BREAK}{city}" if maker.zip else city, maker.state]
    else:
        place = [city, " ".join(part for part in (maker.state, maker.zip) if part)]
    parts = [name, maker.street, *place, maker.country]
    line = ", ".join(part for part in parts if part)
    return f"{line} · {maker.phone}" if maker.phone else line


def may_be_short(facts: Facts) -> bool:
    """Whether BB or UB may stand: the item is too small for the long words, or it is a beverage
    and the date speaks of quality (82001; beverages are those of Public Resources Code 14504, and
    whether soy milk is one of them the shop decides).

    The item, not the blank: its principal panel has at most ``SMALL_ITEM`` square inches.
    """
    small = facts.panel is not None and facts.panel.area_in2 <= SMALL_ITEM
    quality = facts.date_mark is not None and facts.date_mark.kind == "best-by"
    return small or (facts.beverage and quality)


_DATES = {"best-by": ("BEST if Used by", "BB"), "use-by": ("USE by", "UB")}


def _date(facts: Facts, *, small: bool) -> Statement:
    clause = "California Food and Agricultural Code 82001"
    if facts.date_mark is None:
        return absent("date", "no federal rule", say("no date is given"))
    words = _DATES[facts.date_mark.kind][small and may_be_short(facts)]
    runs = (Run(f"{words} "), Run(us_date(facts.date_mark.day), bold=True, big=True))
    return _required("date", clause, runs, placement="")


def _packed(facts: Facts) -> Statement:
    clause = "California Food and Agricultural Code 82001"
    if facts.packed is None:
        return absent("packed", clause, say("no packing date is given"))
    if facts.date_mark is None:
        why = say("it may stand only beside a best-by or use-by date")
        tried = say("print 'Packed on {date}'", date=us_date(facts.packed))
        raise MissingFact(tried, why, say("Give the date mark"))
    return unasked("packed", clause, f"Packed on {us_date(facts.packed)}")


def _frozen(facts: Facts) -> Statement:
    if facts.frozen_on is None:
        return absent("frozen", "none", say("no day of freezing is given"))
    return unasked("frozen", "none", f"Frozen on {us_date(facts.frozen_on)}")


def _lot(facts: Facts) -> Statement:
    clause = "none: the shop's own trace"
    if not facts.lot:
        return absent("lot", clause, say("no lot is given"))
    return unasked("lot", clause, f"Lot {facts.lot}")


def _price(facts: Facts) -> Statement:
    clause = "Uniform Weights and Measures Law, random packages"
    random = facts.net.random if facts.net else None
    if random is None:
        return absent("price", clause, say("the pack has a fixed weight"))
    return _required("price", clause, price_runs(random, "Total "), placement=_PANEL)


def price_runs(random: RandomWeight, total: str = "") -> tuple[Run, ...]:
    """Price per unit and price of the pack, none of them broken over two lines."""
    unit, whole, before = (
        text.replace(" ", NO_BREAK) for text in (random.unit_price, random.total_price, total)
    )
    return Run(f"{unit}/{random.per} · {before}"), Run(whole, bold=True)


def _net(facts: Facts) -> Statement:
    tried = say("state the net quantity of '{name}'", name=facts.name)
    if facts.net is None:
        raise MissingFact(tried, say("it is not known"), say("Give a mass, a volume or a count"))
    if facts.panel is None:
        why = say("its letter height follows from the principal display panel, which is not known")
        do = say("Give the shape of the package in mm (21 CFR 101.1, 101.7(i))")
        raise MissingFact(tried, why, do)
    binds = bottom_rule_binds(facts.panel)
    return _required(
        "net-quantity",
        "21 CFR 101.7(e), (f), (i)",
        bold(_in_both(facts.net, second(facts))),
        least_mm=net_height_inches(facts.panel) * INCH,
        placement=BOTTOM_30 if binds else _PANEL,
    )


def _in_both(net: NetQuantity, words: Words | None) -> str:
    """The net quantity, its words in both languages: ``NET WT / PESO NETO 14 OZ (396 g)``."""
    text = us_quantity(net)
    if words is None:
        return text
    if net.count_text:
        count = net.count_text
        why = say(
            "in which language '{count}' stands is not known ({law})", count=count, law=_SECOND
        )
        tried = say("state the net quantity in two languages")
        raise MissingFact(tried, why, say("Give the count alone"))
    if net.count is not None:
        several = net.count > 1
        piece = f"{net.count} {('piece', 'pieces')[several]}"
        text = text.replace(piece, f"{piece} / {words.pieces[several]}", 1)
    by_weight = "NET WT " in text
    english = "NET WT" if by_weight else "NET"
    return text.replace(f"{english} ", f"{english} / {words.net[not by_weight]} ", 1)
