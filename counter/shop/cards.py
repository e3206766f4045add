"""What is said of food besides its label: the counter card, what is in it, why a label says it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from counter.errors import Refused
from counter.shop.desk import Desk
from counter.shop.facts import card_of, inside_of
from counter.shop.labels import Labels
from counter.shop.products import Products
from counter.trade.allergens import unsaid_in, why_unsaid
from counter.trade.contents import parts_within
from counter.trade.inside import Inside
from counter.trade.label_questions import answer_to
from counter.trade.production import Batch
from labels.say import say

if TYPE_CHECKING:
    from labels.reasons import Explained
    from labels.units import Measure


class Cards:
    """What whoever buys it may ask, and the inspector."""

    def __init__(self, desk: Desk, products: Products, labels: Labels) -> None:
        self.desk = desk
        self.products = products
        self.labels = labels

    def counter_card(self, path: Path | None = None, paper: str = "a5") -> Path:
        """A card of what carries no label: ingredients and allergens, from what is there today."""
        from labels.card import write_card

        self.products.refuse_new(say("write a counter card"))
        self.desk.files.unused(path)
        second = self.desk.settings.labels.second_language
        batches = self._there()
        catalogue = self.products.catalogue_behind(
            *(b for several in batches.values() for b in several)
        )
        for one in unsaid_in(catalogue, self.desk.settings.shop.market):
            raise Refused(
                say("write a counter card"), why_unsaid(one), say("Load the catalogue with that")
            )
        foods = card_of(
            batches, catalogue, self.desk.batch, second, self.desk.settings.label_language
        )
        path = path or self.desk.files.new("labels", f"counter-card-{self.desk.today()}.pdf")
        write_card(
            path,
            foods,
            market=self.desk.settings.shop.market,
            paper=paper,
            language=self.desk.settings.label_language,
            second_face=self.desk.second_face(),
        )
        return path

    def _there(self) -> dict[str, list[Batch]]:
        """The batches of which something is there, by product: in open tubs those alone."""
        ledger = self.desk.standing()
        tubs = ledger.open_tubs()
        scooped = {tub.product for tub in tubs}
        lots = [tub.lot for tub in tubs]
        lots += [
            r.lot.lot
            for r in ledger.rows.values()
            if r.on_hand > 0 and r.lot.product not in scooped
        ]
        found: dict[str, list[Batch]] = {}
        for lot in dict.fromkeys(lots):
            batch = self.desk.batch(lot)
            found.setdefault(batch.product, []).append(batch)
        return found

    def what_is_in_it(self) -> list[Inside]:
        """What is in each lot on hand, in each product by its recipe where none is, and in each
        topping."""
        batches = self._there()
        catalogue = self.products.catalogue_behind(
            *(b for several in batches.values() for b in several)
        )
        return inside_of(batches, catalogue, self.desk.batch)

    def explain_label(
        self, lot: str, blank: str = "", weight: Measure | None = None, dpi: int = 0
    ) -> list[Explained]:
        """Every statement of a lot's label: text, clause, heights, or why it is absent; and every
        question about it, with the answer. Refused for a lot that may not be sold."""
        from labels import explain

        batch = self.desk.batch(lot)
        self.labels.refuse_unsafe(batch)
        product = self.products.product_of(batch)
        facts = self.labels.facts(batch, product, weight)
        rows = explain(
            facts,
            self.desk.settings.shop.market,
            self.labels.blank(blank or product.pack.blank, dpi),
            language=self.desk.settings.label_language,
            second_face=self.desk.second_face(),
        )
        return rows + self._left_out_rows(batch) + self._asked_rows(lot, weight)

    def _left_out_rows(self, batch: Batch) -> list[Explained]:
        """What did not go in, and is in no list of ingredients for that."""
        from labels.reasons import unlisted

        found, catalogue = [], self.products.catalogue_behind(batch)
        parts = list(parts_within(batch, self.desk.batch))
        there = {p.ingredient for p in parts if p.grams}
        for key in dict.fromkeys(p.ingredient for p in parts if p.ingredient not in there):
            item = catalogue.ingredients.get(key)
            why = say(
                "by the log no {ingredient} went into this batch",
                ingredient=item.name if item else key,
            )
            found.append(unlisted("ingredients", "21 CFR 101.4(a)", why))
        return found

    def _asked_rows(self, lot: str, weight: Measure | None) -> list[Explained]:
        """What is asked before the label is printed, and what was answered."""
        from labels.reasons import asked

        known = self.desk.questions.confirmed()
        return [
            asked(one.text, one.clause, answer_to(one, known))
            for one in self.labels.label_questions([lot], weight)
        ]
