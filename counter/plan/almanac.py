"""Holidays of the shop's region, for the plan: a day unlike its weekday."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from counter.errors import BadInput
from labels.say import say


def holidays_of(country: str, subdivision: str, years: Iterable[int]) -> dict[date, str]:
    """Holidays by day, in English where the calendar has it; none for an unknown ("") country.

    BadInput for a country or subdivision that has no calendar. A holiday of the day before or
    after that is kept in its place ("observed") goes by the same name.
    """
    if not country:
        return {}
    import holidays

    known = holidays.list_supported_countries(include_aliases=True)
    tried = say("look up the holidays")
    if country not in known:
        why = say("there is no calendar for country '{country}'", country=country)
        raise BadInput(tried, why, say('Write country_code = "US" or the like into shop.toml'))
    if subdivision and subdivision not in known[country]:
        some = ", ".join(known[country][:12]) or "none"
        why = say(
            "{country} has no subdivision '{subdivision}'", country=country, subdivision=subdivision
        )
        raise BadInput(
            tried, why, say("Mend subdivision in shop.toml; known are {names}", names=some)
        )
    wanted = sorted(set(years))
    for language in ("en_US", None):
        try:
            found = holidays.country_holidays(
                country, subdiv=subdivision or None, years=wanted, language=language
            )
            break
        except (NotImplementedError, ValueError):  # pragma: no cover - not in every calendar
            continue
    return {day: name.removesuffix(" (observed)") for day, name in found.items()}
