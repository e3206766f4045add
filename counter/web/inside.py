"""What is in it: for every role, a tap from the shelf; and all of it by allergen."""

from __future__ import annotations

from flask import Blueprint, render_template

from counter.errors import NotFound
from counter.trade.inside import cell, in_none, sources_of
from counter.web.here import shop, words
from labels.allergens import LANGUAGES, may_names
from labels.say import say

page = Blueprint("inside", __name__, url_prefix="/inside")


def named(keys: tuple[str, ...]) -> str:
    """Source keys as words of the page's language."""
    language = words().language if words().language in LANGUAGES else "en"
    return ", ".join(may_names(keys, language))


@page.get("/")
def index() -> str:
    """What is on hand by allergen, and what may be in it."""
    found = shop().cards.what_is_in_it()
    sources = sources_of(shop().desk.settings.shop.market, found)
    absent = in_none(found, sources)
    return render_template(
        "inside.html",
        found=found,
        cell=cell,
        named=named,
        absent=absent,
        shown=[source for source in sources if source not in absent],
    )


@page.get("/<product>")
def one(product: str) -> str:
    """Ingredients, allergens and date of every lot of a product on hand, and of its toppings."""
    catalogue, found = shop().desk.for_sale(), shop().cards.what_is_in_it()
    if not any(one.key == product and not one.topping for one in found):
        raise NotFound(say("say what is in it"), "product", product[:60], catalogue.products)
    toppings = {key for p in catalogue.portions_of(product) for key in p.toppings}
    shown = [o for o in found if (o.key in toppings if o.topping else o.key == product)]
    return render_template("inside_one.html", found=shown, named=named)
