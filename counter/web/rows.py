"""The rows of the shelf as the templates draw them."""

from __future__ import annotations

import hashlib
from typing import Any

from flask import render_template

from counter.trade.catalogue import Portion
from counter.trade.shelf import Shelf, ShelfProduct
from counter.web.here import shop, t, words
from counter.web.picture import in_row, share, stack_of, standing_behind


def price_words(portion: Portion, product: ShelfProduct) -> list[str]:
    """The price, prices for several, and the last-day price where a lot is at its last day."""
    w = words()
    per = f" / {portion.per}" if portion.per else ""
    said = [w.money(portion.price) + per]
    said += [t("shelf.several", n=b.quantity, price=w.money(b.price)) for b in portion.breaks]
    last = [lot for lot in product.lots if lot.last_day and not lot.refusal and lot.amount > 0]
    if portion.last_day_price is not None and last:
        said.append(t("shelf.last_day_price", price=w.money(portion.last_day_price) + per))
    return said


def row_of(product: ShelfProduct) -> dict[str, Any]:
    """One row: portions to tap, lots as stacks or slabs, tubs as vessels."""
    catalogue = shop().desk.for_sale()
    made = catalogue.products.get(product.product)
    mould = made.mould if made else 1
    blocks = in_row(product)
    lots = [
        {
            "lot": lot,
            "state": "reserve" if lot.reserve else state_of(lot.refusal, lot.last_day),
            "stack": stack_of(lot.amount, blocks) if product.unit == "piece" else None,
            "behind": standing_behind(product, lot),
            "full": share(standing_behind(product, lot), mould),
        }
        for lot in product.lots
    ]
    return {
        "product": product,
        "tub": bool(made and made.tub),
        "lots": lots,
        "portions": [
            {
                "portion": p,
                "prices": price_words(p, product),
                "cups": sum(t.cups.get(p.key, 0) for t in product.tubs if not t.refusal),
                "toppings": [
                    (
                        k,
                        catalogue.toppings[k].name,
                        words().money(catalogue.toppings[k].price)
                        if catalogue.toppings[k].price
                        else "",
                    )
                    for k in p.toppings
                ],
            }
            for p in catalogue.portions_of(product.product)
        ],
        "left": sum(lot.amount for lot in product.lots if not lot.refusal),
        "tubs": [(tub, share(tub.level, mould)) for tub in product.tubs],
    }


def state_of(refusal: str, last_day: bool) -> str:
    if refusal:
        return "refused"
    return "last" if last_day else ""


def drawn_rows(shelf: Shelf) -> list[dict[str, str]]:
    """Each row's key, markup, and a mark that changes when the row does."""
    found = []
    for product in shelf.products:
        html = render_template("shelf_row.html", row=row_of(product))
        mark = hashlib.sha256(html.encode()).hexdigest()[:12]
        found.append({"key": product.product, "html": html, "mark": mark})
    return found
