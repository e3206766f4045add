"""What the law of a market asks for: facts in, statements out."""

from __future__ import annotations

from labels.errors import BadValue
from labels.facts import Facts
from labels.rules import eu, house, us
from labels.rules.statement import Run, Statement
from labels.say import say

__all__ = ["MARKETS", "Run", "Statement", "statements"]

MARKETS = ("us", "eu", "house")


def statements(
    facts: Facts, market: str, *, language: str = "en", small: bool = False
) -> list[Statement]:
    """The statements of ``market``: ``us``, ``eu``, or ``house`` (the shop's own containers).

    ``small`` asks for the short date wordings, where the market knows them (``us``).
    Raises MissingFact and BadValue as the rule set does.
    """
    if market == "us":
        return us.statements(facts, language=language, small=small)
    if market == "eu":
        return eu.statements(facts, language=language)
    if market == "house":
        return house.statements(facts)
    do = say("Use one of {names}", names=", ".join(MARKETS))
    tried = say("label for market '{market}'", market=market)
    raise BadValue(tried, say("there are no rules for it"), do)
