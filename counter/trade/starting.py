"""A shop that is still as it was made: whose name, and whose recipes nobody has confirmed.

A label names the firm and its place of business (21 CFR 101.5; EU 1169/2011 Art. 8(1), 9(1)(h)) and
what went in (21 CFR 101.4(a); Art. 9(1)(b), (c)). What a new shop begins with is an example of how
it is written and true of nobody, so it neither prints nor sells.
"""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache

from counter.errors import Refused
from counter.trade.asking import Question
from counter.trade.catalogue import Catalogue
from counter.trade.settings import ShopFacts
from labels.say import Said, at_terminal, say

EXAMPLES = {
    "name": "Your shop's name",
    "street": "1 Example Street",
    "city": "Your town",
    "zip": "00000",
}
RECIPES = Question(
    about="recipes",
    tried=say("confirm the recipes"),
    text=say("they came with the program: are they yours, with all that is in each ingredient"),
    clause="21 CFR 101.4(a), EU 1169/2011 Art. 9(1)(b), (c)",
)


@lru_cache(8)
def unwritten(shop: ShopFacts) -> tuple[str, ...]:
    """The fields of a shop's name and address that are those of the example; looked at once, since
    each sale asks."""
    same = (f for f, example in EXAMPLES.items() if _bare(getattr(shop, f)) == _bare(example))
    return tuple(same)


def _bare(text: str) -> str:
    """Letters and digits alone: a comma more makes nobody's address of it."""
    return "".join(filter(str.isalnum, text)).casefold()


def same_recipes(catalogue: Catalogue, example: Catalogue) -> bool:
    """Whether a catalogue makes what the example makes, of the same; its prices may be others."""
    return catalogue.ingredients == example.ingredients and _made(catalogue) == _made(example)


def _made(catalogue: Catalogue) -> dict[str, set[tuple[str, Decimal]]]:
    """Of how much of what each product is made, in whatever order and words."""
    return {k: {(p.ingredient, p.grams) for p in v.recipe} for k, v in catalogue.products.items()}


def refusal_for_new(tried: Said, shop: ShopFacts, examples: bool) -> Refused | None:
    """Why a shop neither prints nor sells yet; ``examples``: its recipes are those of the example,
    and nobody has said that they are its own."""
    if fields := unwritten(shop):
        why = say(
            "who the shop is stands there as in the example: {names}", names=", ".join(fields)
        )
        return Refused(tried, why, say("Write who you are under Set-up, or into shop.toml"))
    if examples:
        why = say("the recipes came with the program, and nobody has confirmed them")
        how = at_terminal(", or with `counter catalogue confirm`")
        do = say("Load your own, or confirm them: under Set-up{how}", how=how)
        return Refused(tried, why, do)
    return None
