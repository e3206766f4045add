"""Market ``house``: tags for the shop's own cooler, tubs and crates. Not for a pack that is sold.

Food Code 3-302.12 (a working container carries the common name of the food) and 3-501.17 (the
day by which it is eaten or thrown away).
"""

from __future__ import annotations

from labels.facts import Facts
from labels.rules.statement import Run, Statement, absent, bold, plain, unasked
from labels.say import say
from labels.words import us_date

_WORDS = {"best-by": "Best by", "use-by": "Use by"}


def statements(facts: Facts) -> list[Statement]:
    """Name, date, lot and what else is to be remembered."""
    found = [Statement(key="name", clause="Food Code 3-302.12", runs=bold(facts.name))]
    if facts.second_name:
        found.append(
            Statement(
                key="second-name", clause="none", runs=plain(facts.second_name), optional=True
            )
        )
    mark = facts.date_mark
    clause = "Food Code 3-501.17(A)"
    if mark is None:
        found.append(absent("date", clause, say("no date is given")))
    else:
        runs = (Run(f"{_WORDS[mark.kind]} "), Run(us_date(mark.day), bold=True, big=True))
        found.append(Statement(key="date", clause=clause, runs=runs))
    if facts.packed:
        found.append(unasked("packed", "none", f"Made on {us_date(facts.packed)}"))
    if facts.frozen_on:
        found.append(unasked("frozen", "none", f"Frozen on {us_date(facts.frozen_on)}"))
    if facts.lot:
        found.append(unasked("lot", "none", f"Lot {facts.lot}"))
    if facts.handling:
        found.append(unasked("handling", "none", facts.handling))
    return found
