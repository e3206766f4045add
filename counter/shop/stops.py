"""The last stop or release of each lot, whatever day its book says."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from counter.books import CATALOGUE
from counter.shop.catalogues import Catalogues
from counter.trade.production import Hold, Stops

STOPS_DAYS = 400  # longer than anything keeps


class StopBook:
    """What is stopped now, kept beside the catalogue: no clock and no closed day undoes it."""

    def __init__(self, catalogues: Catalogues) -> None:
        self.catalogues, self.context = catalogues, catalogues.context

    def last(self) -> Mapping[str, Hold]:
        """The last stop or release of each lot that was written lately."""
        last = self.context.last_of(Stops)
        return last.stops if last else {}

    def apart(self, within: Callable[[datetime], bool]) -> Iterator[Hold]:
        """Stops and releases of some moments that stand in no book of a day, in the order written:
        theirs was closed or in doubt, or the line that had them is lost."""
        seen = set[Hold]()
        for record in self.context.books.select(CATALOGUE, name="stops").find("stops", Stops):
            for hold in (h for h in record.stops.values() if h not in seen):
                seen.add(hold)
                if within(hold.at):
                    noted = self.context.books.select(about=hold.lot).find("holds", Hold)
                    yield from () if hold in noted else (hold,)

    def keep(self, holds: Sequence[Hold], now: datetime, by: str) -> None:
        """Let stops and releases hold whatever day the clock believes in, now and later. What is
        older than any date has run."""
        if not holds:
            return
        since = now - timedelta(days=STOPS_DAYS)
        kept = {k: h for k, h in self.last().items() if h.at.timestamp() > since.timestamp()}
        stops = {**kept, **{hold.lot: hold for hold in holds}}
        self.catalogues.keep({"stops": [Stops(stops=stops, at=now, by=by)]})
