"""What the law of a market asks for: facts in, statements out."""

from __future__ import annotations

from labels.errors import BadValue
from labels.facts import Facts
from labels.rules.statement import Run, Statement

__all__ = ["MARKETS", "Run", "Statement", "statements"]

MARKETS = ("us", "eu", "house")


def statements(
    facts: Facts, market: str, *, language: str = "en", small: bool = False
) -> list[Statement]:
    """The statements of ``market``: ``us``, ``eu``, or ``house`` (the shop's own containers).

    Raises MissingFact and BadValue as the rule set does.
    """
    from labels.rules import eu, house, us

    rules = {"us": us.statements, "eu": eu.statements, "house": house.statements}
    if market not in rules:
        why = "there are no rules for it"
        raise BadValue(f"label for market '{market}'", why, f"Use one of {', '.join(rules)}")
    return rules[market](facts, language=language, small=small)
