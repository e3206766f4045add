"""From a batch in the log to the facts on its pack. Pure: the label package says the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, TypedDict

import msgspec

from counter.errors import Refused
from counter.trade.allergens import none_of
from counter.trade.catalogue import Catalogue, Part, Product, Topping
from counter.trade.contents import BatchOf, bringing, may_contain_within, parts_within
from counter.trade.inside import Inside
from counter.trade.production import Batch
from counter.trade.settings import Settings
from counter.trade.stock import Lot
from counter.trade.weighed import WeighedPack, net_of_pack, symbol_of_pack, weigh_pack
from labels.facts import DateMark, Facts, Ingredient, Maker, NetQuantity, Panel
from labels.links import build_link
from labels.rules.listing import name_with_parts
from labels.say import at_terminal, say
from labels.symbols import Symbol, ean8, ean13, gs1_128, lot_symbol, qr, upca
from labels.units import Measure


def maker_of(settings: Settings) -> Maker:
    """Who answers for the food, out of ``shop.toml``."""
    shop = settings.shop
    return Maker(
        name=shop.name,
        street=shop.street,
        city=shop.city,
        state=shop.state,
        zip=shop.zip,
        country=shop.country,
        phone=shop.phone,
        in_directory=shop.in_directory,
    )


def ingredients_of(parts: Sequence[Part], catalogue: Catalogue) -> tuple[Ingredient, ...]:
    """What went in, compounds opened, with the weights of the batch; not what was left out."""
    found = []
    for part in (p for p in parts if p.grams):
        item = catalogue.ingredients.get(part.ingredient)
        if item is None:
            raise Refused(
                say("list the ingredient '{ingredient}'", ingredient=part.ingredient),
                say("no catalogue since then says what it is"),
                say("Put it into the catalogue again, with its allergens"),
            )
        found.append(
            Ingredient(
                name=item.name,
                grams=part.grams,
                second=item.second_name.strip(),
                parts=ingredients_of(item.parts, catalogue),
                allergens=item.allergens,
                water=item.water,
                aid=item.processing_aid,
                quid=item.quid,
            )
        )
    return tuple(found)


def contents_of(
    batch: Batch, catalogue: Catalogue, batch_of: BatchOf, seen: frozenset[str] = frozenset()
) -> tuple[Ingredient, ...]:
    """The ingredients of a batch, and as compounds the lots mixed into it that hold others."""
    found = list(ingredients_of(batch.ingredients, catalogue))
    seen |= {batch.lot}
    for source, amount in bringing(batch, catalogue, batch_of):
        if source.lot in seen:
            continue
        product = catalogue.products.get(source.product)
        whole = sum((p.grams for p in source.ingredients), Decimal(0))
        found.append(
            Ingredient(
                name=product.name if product else source.product,
                second=product.second_name.strip() if product else "",
                grams=whole * amount / max(1, source.made),
                parts=contents_of(source, catalogue, batch_of, seen),
            )
        )
    return tuple(found)


_ASK = {
    "en": "ask us what is in it",
    "de": "fragen Sie uns nach den Zutaten",
    "fr": "demandez-nous ce qu’il contient",
    "es": "pregúntenos qué lleva",
    "zh": "请向我们询问配料",
    "vi": "xin hỏi chúng tôi về thành phần",
}


def gtin14(number: str) -> str:
    """A number of 8, 12 or 13 digits as the 14 that element strings carry."""
    return number.zfill(14)


def symbols_of(
    product: Product, batch: Batch, pack: WeighedPack | None = None
) -> tuple[Symbol, ...]:
    """The bar codes the product asks for, of this batch; ``weighed`` only of a weighed ``pack``."""
    number = product.pack.number
    item = {8: ean8, 12: upca, 13: ean13}
    day = batch.mark.day.strftime("%y%m%d")
    dated = "17" if batch.mark.kind == "use-by" else "15"
    elements = [("01", gtin14(number)), (dated, day), ("10", batch.lot)]
    make = {
        "lot": lambda: lot_symbol(batch.lot),
        "item": lambda: item[len(number)](number),
        "gs1": lambda: gs1_128(elements),
        "link": lambda: qr(build_link(elements)),
        "weighed": lambda: symbol_of_pack(pack.number if pack else ""),
    }
    return tuple(make[k]() for k in product.pack.symbols if pack or k != "weighed")


def net_of(product: Product) -> NetQuantity | None:
    """Net quantity as the catalogue says it, drained weight included."""
    pack = product.pack
    if not pack.net:
        return None
    net = NetQuantity.of(pack.net)
    if not pack.drained:
        return net
    return NetQuantity(grams=net.grams, ml=net.ml, drained=NetQuantity.of(pack.drained).grams)


class _ListStyle(TypedDict):
    percent_clause: Decimal | None
    disperse: bool


def storage_of(product: Product, settings: Settings, unfrozen: bool) -> str | None:
    """The storage words somebody wrote: the product's, or the shop's, which are for what is held
    cold. None where the label has its usual ones, "" where none are to stand."""
    shop = settings.labels.storage
    text = product.pack.storage or (shop if product.held == "cold" or shop == "-" else "")
    if unfrozen and text != "-":
        return None  # they are for what lies frozen
    return "" if text == "-" else text or None


def _list_style(product: Product) -> _ListStyle:
    """How its ingredients are listed, on the pack as on the card."""
    percent = product.pack.percent_clause
    return {
        "percent_clause": Decimal(percent) if percent else None,
        "disperse": product.pack.sub_ingredients == "dispersed",
    }


def card_of(
    batches: Mapping[str, Sequence[Batch]],
    catalogue: Catalogue,
    batch_of: BatchOf,
    second_language: str = "",
    language: str = "en",
) -> list[Facts]:
    """What carries no label, for the counter card: each pudding with its cups, what lies unwrapped,
    each topping.

    ``batches`` maps a product to the batches that are there today; without one its recipe speaks.
    Batches that do not hold the same are listed one by one, with their lot. A topping of which the
    catalogue does not say what is in it stands there too, with the word to ask.
    """
    foods = []
    for product in (p for p in catalogue.products.values() if p.tub or p.unwrapped):
        cups = ", ".join(portion.name for portion in catalogue.portions_of(product.key))
        there = batches.get(product.key, ())
        lists = {b.lot: contents_of(b, catalogue, batch_of) for b in there}
        if len({_named_in(found) for found in lists.values()}) < 2:
            last = list(lists.values())[-1:] or [ingredients_of(product.recipe, catalogue)]
            lists = {"": last[0]}
        for lot, found in lists.items():
            if found:
                foods.append(
                    Facts(
                        name=f"{product.name} {lot}".strip(),
                        form=cups,
                        second_language=second_language,
                        second_name=product.second_name.strip() if second_language else "",
                        ingredients=found,
                        may_contain=may_contain_within(
                            [b for b in there if lot in ("", b.lot)],
                            product.key,
                            catalogue,
                            batch_of,
                        ),
                        **_list_style(product),
                    )
                )
    for topping in catalogue.toppings.values():
        if topping.ingredient in catalogue.ingredients:
            parts = (Part(topping.ingredient, Decimal(1)),)
            second = catalogue.ingredients[topping.ingredient].second_name
            foods.append(
                Facts(
                    name=topping.name,
                    second_language=second_language,
                    may_contain=catalogue.may_contain,
                    second_name=second.strip() if second_language else "",
                    ingredients=ingredients_of(parts, catalogue),
                )
            )
        else:
            ask = _ASK.get(language.split("-")[0], _ASK["en"])
            only = (Ingredient(name=topping.name),)  # of no weight: nothing is known of it
            foods.append(Facts(name=f"{topping.name}: {ask}", ingredients=only))
    return foods


def inside_of(
    batches: Mapping[str, Sequence[Batch]], catalogue: Catalogue, batch_of: BatchOf
) -> list[Inside]:
    """What is in each lot that is there, in each product of which none is, and in each topping."""
    found: list[Inside] = []
    for key, product in catalogue.products.items():
        there = batches.get(key, ())
        found += [inside_lot(batch, catalogue, batch_of) for batch in there]
        if not there:
            keys = [p.ingredient for p in product.recipe if p.grams]
            items = ingredients_of(product.recipe, catalogue)
            may = catalogue.may_contain_of(key)
            found.append(_inside(product, items, catalogue, keys, may))
    for topping in catalogue.toppings.values():
        keys = [key for key in [topping.ingredient] if key in catalogue.ingredients]
        items = ingredients_of([Part(key, Decimal(1)) for key in keys], catalogue)
        found.append(_inside(topping, items, catalogue, keys, catalogue.may_contain, topping=True))
    return found


def inside_lot(batch: Batch, catalogue: Catalogue, batch_of: BatchOf) -> Inside:
    """What is in a batch."""
    product, mark = (
        catalogue.product(batch.product, say("look up lot {lot}", lot=batch.lot)),
        batch.mark,
    )
    keys = [p.ingredient for p in parts_within(batch, batch_of) if p.grams]
    items = contents_of(batch, catalogue, batch_of)
    may = may_contain_within([batch], product.key, catalogue, batch_of)
    return _inside(
        product, items, catalogue, keys, may, lot=batch.lot, kind=mark.kind, day=mark.day
    )


def _inside(
    one: Product | Topping,
    items: Sequence[Ingredient],
    catalogue: Catalogue,
    keys: Sequence[str],
    may: Sequence[str],
    **more: Any,
) -> Inside:
    contains = dict.fromkeys(key for item in items for key in item.all_allergens())
    by_hand = one.allergens_none if isinstance(one, Product) else {}
    none = {**none_of(catalogue, keys), **by_hand}
    there = {key.partition(":")[0] for key in contains}
    return Inside(
        key=one.key,
        name=one.name,
        contains=tuple(contains),
        ingredients=tuple(name_with_parts(i) for i in sorted(items, key=lambda i: -i.grams)),
        may_contain=tuple(key for key in may if key not in contains),
        none={source: why for source, why in none.items() if source not in there},
        **more,
    )


def _named_in(found: Sequence[Ingredient]) -> tuple[object, ...]:
    """What a list names, whatever the weights."""
    return tuple((item.name, item.allergens, _named_in(item.parts)) for item in found)


def facts_of(
    batch: Batch,
    product: Product,
    catalogue: Catalogue,
    settings: Settings,
    batch_of: BatchOf,
    weight: Measure | None = None,
    lot: Lot | None = None,
) -> Facts:
    """Everything a label of this batch says; nothing is typed a second time. ``lot`` is how it lies
    now: what freezing does to its date and its words.

    ``batch_of`` finds the lots mixed into it; ``weight`` is that of one pack of random weight.
    Refused where neither it nor a net quantity in the catalogue says how much is in a pack that is
    sold by weight.
    """
    pack, paper = product.pack, settings.labels
    weighed = None
    if weight is not None:
        weighed = weigh_pack(product, catalogue, weight, settings.layouts, settings.places)
    net = net_of_pack(weighed, settings) if weighed else net_of(product)
    if net is None and any(p.per for p in catalogue.portions_of(product.key)):
        why = say("a pack of {product} is weighed, and no weight is given", product=product.name)
        raise Refused(
            say("label lot {lot}", lot=batch.lot),
            why,
            say("Weigh each, and name it{how}", how=at_terminal(": --weight 0.42lb")),
        )
    finished = None
    if net is not None and net.grams is not None and product.unit == "piece":
        # The water a block lies in is no part of what the ingredients became.
        finished = (net.drained or net.grams) * batch.made
    elif product.unit == "g":
        finished = Decimal(batch.made)
    mark = lot.mark if lot else batch.mark
    batch = msgspec.structs.replace(batch, mark=mark)  # for the bar codes
    unfrozen = product.held == "frozen" and lot is not None and not lot.frozen
    return Facts(
        name=product.name,
        second_name=product.second_name.strip() if paper.second_language else "",
        second_language=paper.second_language,
        ingredients=contents_of(batch, catalogue, batch_of),
        **_list_style(product),
        finished=finished,
        net=net,
        e_mark=pack.e_mark,
        date_mark=DateMark(mark.kind, mark.day),
        lot=batch.lot,
        maker=maker_of(settings),
        storage=storage_of(product, settings, unfrozen),
        held="cold" if unfrozen else product.held,
        frozen_on=lot.frozen_on if lot and product.held == "frozen" and lot.frozen else None,
        thawed=bool(lot and lot.thawed_on),
        may_contain=may_contain_within([batch], product.key, catalogue, batch_of),
        beverage=pack.beverage,
        handling=pack.handling,
        panel=Panel(pack.shape, pack.panel_mm) if pack.panel_mm else None,
        symbols=symbols_of(product, batch, weighed),
        low_bars=pack.low_bars,
    )
