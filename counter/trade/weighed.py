"""Packs of random weight: what one costs, what its label says, and the number it is sold by.

The buyer pays for the weight that the label states and the number carries, both rounded down.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import ROUND_DOWN, Decimal

import msgspec

from counter.errors import BadInput, Refused
from counter.trade.catalogue import Catalogue, Portion, Product
from counter.trade.money import show_money
from counter.trade.prices import line_price
from counter.trade.settings import Settings
from labels.facts import NetQuantity, RandomWeight
from labels.restricted import Layout
from labels.say import figure, say, term
from labels.symbols import Symbol, ean13, upca
from labels.units import Measure, parse_measure

LIGHTEST, HEAVIEST = 1, 100_000  # grams, as at the counter
MOST_WEIGHED = 500  # packs of one run; each is a label of its own
_WEIGHT = re.compile(r"([0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[ \t]*([^\W\d_]+))?")


class WeighedPack(msgspec.Struct, frozen=True):
    """One pack: its weight as charged, the portion it is sold as, its price in minor units, and
    the restricted number that carries price or weight ("" where the product asks for none)."""

    weight: Measure
    portion: Portion
    price: int
    number: str = ""


def weighing_layouts(layouts: Iterable[Layout]) -> list[Layout]:
    """Those of EAN-13 or UPC-A with a price or a weight in them."""
    return [one for one in layouts if one.measure in ("P", "W") and len(one.pattern) in (12, 13)]


def layouts_for(item: str, layouts: Iterable[Layout]) -> list[Layout]:
    """Those of them with room for exactly the digits of ``item``."""
    return [one for one in weighing_layouts(layouts) if one.pattern.count("I") == len(item)]


def weigh_pack(
    product: Product, catalogue: Catalogue, weight: Measure, layouts: Sequence[Layout], places: int
) -> WeighedPack:
    """A pack of ``product`` that weighs ``weight``, priced like the same weight at the counter.

    The number is of the first layout that says item and price or weight exactly. Refused where
    the product is not sold by weight or no layout has room, BadInput for what is no pack's weight.
    """
    tried = say(
        "label a pack of {name} that weighs {amount}", name=product.name, amount=figure(weight)
    )
    portion = next((p for p in catalogue.portions_of(product.key) if p.per), None)
    if portion is None:
        raise Refused(
            tried, say("it is not sold by weight"), say('Give it a portion with per = "lb" or "kg"')
        )
    if not LIGHTEST <= round(weight.base) <= HEAVIEST:
        raise BadInput(tried, say("that is no weight of a pack"), say("Weigh it again"))
    stated = as_stated(weight, portion.per)
    if "weighed" not in product.pack.symbols:
        return WeighedPack(stated, portion, line_price(portion, 1, (), stated)[0])
    fitting = layouts_for(product.pack.item, layouts)
    for layout in fitting:
        if found := _numbered(product.pack.item, portion, stated, layout, places):
            return found
    if not fitting:
        why = say(
            "no layout in shop.toml takes item '{text}' with a price or a weight",
            text=product.pack.item,
        )
        raise Refused(tried, why, say('Name one, such as restricted = ["us"] under [labels]'))
    what = term("price" if fitting[0].measure == "P" else "weight")
    why = say("its number has no room for {what}", what=what)
    raise Refused(tried, why, say("Sell it in smaller packs, or name a layout with more room"))


def parse_weights(text: str, per: str, comma: bool = False) -> tuple[Measure, ...]:
    """The weights of packs out of a list, in its order; a bare number is in ``per``, lb or kg.

    They are parted by lines, spaces, semicolons or commas; with ``comma`` one between two digits
    is a decimal comma. Raises BadInput, which names what is no weight, and BadValue.

    >>> [str(one) for one in parse_weights("0.42 .38 lb; 190g", "lb")]
    ['0.42 lb', '0.38 lb', '190 g']
    """
    words = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text) if comma else text
    found: list[Measure] = []
    at = 0
    while rest := re.sub(r"^[\s;,]+", "", words[at:]):
        at = len(words) - len(rest)
        match = _WEIGHT.match(rest)
        end = match.end() if match else 0
        if match is None or rest[end : end + 1].strip(" \t\r\n;,"):
            word = re.split(r"[\s;]", text[at:], maxsplit=1)[0][:20]
            why = say("it is no weight (number {n} of the list)", n=len(found) + 1)
            tried = say("read weight '{word}'", word=word)
            raise BadInput(tried, why, say("Write each as 0.42 or 0.42 {unit}", unit=term(per)))
        found.append(parse_measure(f"{match[1]} {match[2] or per}", "mass"))
        at += end
        if len(found) > MOST_WEIGHED:
            why = say("more than {n} are too many for one run", n=MOST_WEIGHED)
            raise BadInput(say("read weights"), why, say("Print them in parts"))
    return tuple(found)


def as_stated(weight: Measure, per: str) -> Measure:
    """A weight as the label states it: hundredths of a pound or whole grams, rounded down.

    What is less than a hundredth of a pound stays as it is. The till charges for no more.

    >>> str(as_stated(Measure(Decimal("0.4275"), "lb"), "lb"))
    '0.42 lb'
    """
    if per == "lb":
        pounds = weight.to("lb").quantize(Decimal("0.01"), ROUND_DOWN)
        return Measure(pounds, "lb") if pounds else weight
    return Measure(weight.base.quantize(Decimal(1), ROUND_DOWN) or Decimal(1), "g")


def _numbered(
    item: str, portion: Portion, weight: Measure, layout: Layout, places: int
) -> WeighedPack | None:
    """The pack under a number of ``layout``; None where price or weight does not go into it."""
    value = Decimal(line_price(portion, 1, (), weight)[0]).scaleb(layout.decimals - places)
    if layout.measure == "W":  # what the number cannot say is not charged either
        value = (weight.base / 1000).scaleb(layout.decimals).quantize(Decimal(1), ROUND_DOWN)
        weight = Measure(value.scaleb(3 - layout.decimals), "g")
    room = Decimal(10) ** layout.pattern.count(layout.measure)
    if value != value.to_integral_value() or not 0 < value < room:
        return None
    price = line_price(portion, 1, (), weight)[0]
    return WeighedPack(weight, portion, price, layout.build(item, int(value)))


def net_of_pack(pack: WeighedPack, settings: Settings) -> NetQuantity:
    """Weight, price per lb or kg and total price, money as the market writes it."""
    unit, total = (
        show_money(minor, settings.cash.currency, settings.shop.language)
        for minor in (pack.portion.price, pack.price)
    )
    random = RandomWeight(
        unit_price=unit, total_price=total, per="kg" if pack.portion.per == "kg" else "lb"
    )
    return NetQuantity(grams=pack.weight.base, random=random)


def symbol_of_pack(number: str) -> Symbol:
    """The restricted number as bars: UPC-A of 12 digits, EAN-13 of 13."""
    return upca(number) if len(number) == 12 else ean13(number)
