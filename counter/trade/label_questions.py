"""What is asked once before the first label of a product, and again when what it rests on changes.

What is doubtful on the label itself the label package says (:mod:`labels.doubts`); here it becomes
a question of the shop, together with what only the catalogue knows.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from counter.trade.asking import Answer, Question, still_open
from counter.trade.catalogue import Product
from counter.trade.production import Batch
from labels.doubts import doubts
from labels.facts import Facts
from labels.say import Said, say

LONG_DAYS = 10  # kept cold, in a market eu: common practice, no source


def questions_of(batch: Batch, product: Product, facts: Facts, market: str) -> list[Question]:
    """The questions about the label of a batch."""
    tried = say("print labels of {name}", name=product.name)
    found = [
        Question(
            about=f"label.{product.key}.{doubt.key}",
            tried=tried,
            text=doubt.text,
            clause=doubt.clause,
            basis=doubt.basis,
        )
        for doubt in doubts(facts, market, filled(batch, facts))
    ]
    cold = market == "eu" and product.held == "cold"
    if cold and product.keeps > LONG_DAYS and not product.study:
        found.append(
            Question(
                about=f"label.{product.key}.keeps",
                tried=tried,
                text=say("it keeps {n} days cold, and no study says so", n=product.keeps),
                clause="EU 1169/2011 Art. 24; 2073/2005 Art. 3(2), from memory",
                basis=str(product.keeps),
            )
        )
    return found


def answer_to(question: Question, known: Mapping[str, Answer]) -> Said:
    """What was said to it, by whom and when; or that it is open yet."""
    if still_open([question], known):
        return say("nobody has said so: it is asked before the first label is printed")
    kept = known[question.about]
    by = f"{kept.by}, " if kept.by else ""
    return Said(f"{kept.words} ({by}{kept.at:%Y-%m-%d %H:%M})")


def filled(batch: Batch, facts: Facts) -> Decimal | None:
    """Grams or millilitres in all packs of a batch, by their net quantity; None without one."""
    if batch.unit != "piece":
        return Decimal(batch.made)
    one = facts.net and (facts.net.drained or facts.net.grams or facts.net.ml)
    return one * batch.made if one else None
