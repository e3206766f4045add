"""Records that leave the shop as tables: CSV, Parquet, and a lake that grows by the closed days."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import msgspec

from counter.books import CATALOGUE
from counter.errors import Refused
from counter.shop.closings import Closings
from counter.shop.desk import LATEST_NOTE_DAYS, Desk
from counter.shop.files import Progress
from counter.shop.sticks import mark_of
from counter.trade.closing import Closing
from counter.trade.mendings import Lost, Mending
from counter.trade.production import Batch
from counter.trade.tables import records_in
from counter.trade.units import check_days
from labels.say import say

if TYPE_CHECKING:
    from counter.reports.export import Exported, Format
    from counter.reports.lake import Brought, Chunk
    from counter.reports.schema import Place, Whose

    Record = tuple[str, Place, Any]
    Places = partial[Place]

SHOP_WIDE = {"closings", "reopenings", "catalogues", "changes", "mendings", "lost"}


class Exports:
    """Files for other programs."""

    def __init__(self, desk: Desk, closings: Closings) -> None:
        self.desk = desk
        self.closings = closings

    def span(self, first: date | None, last: date | None) -> tuple[date, date]:
        """A range of days; open ends are the first and the last book. BadInput for one that ends
        before it begins."""
        days = self.desk.books.days()
        if not days:
            raise Refused(
                say("read the books"),
                say("no day is begun yet"),
                say("Log a batch or a sale first"),
            )
        start, end = first or days[0], last or max(days[-1], first or days[-1])
        check_days(start, end)
        return start, end

    def export(
        self,
        name: str,
        output: Path,
        first: date | None = None,
        last: date | None = None,
        form: Format = "csv",
        progress: Progress | None = None,
    ) -> list[Exported]:
        """One kind of record, or ``all``, of a range of days as files.

        A folder takes one file a kind and ``columns.md``; one kind may go into a file. NotFound
        for no such kind; Refused for Parquet without pyarrow; NotWritten when the disk refuses.
        """
        from counter.reports.export import chosen_kinds, export_to_files, file_names

        wanted = chosen_kinds(name)
        self.span(first, last)
        files = file_names(wanted, output, form)
        found = self.leaving({kind.source for kind in wanted}, first, last, progress)
        return export_to_files(files, found, self.desk.settings.places, form)

    def kinds(self) -> list[str]:
        """The kinds of records that can be exported."""
        from counter.reports.tables import kinds

        return list(kinds())

    def export_to(
        self, name: str, stream: IO[str], first: date | None = None, last: date | None = None
    ) -> int:
        """One kind of record as CSV to an open stream; how many rows."""
        from counter.reports.export import chosen_kinds, export_to_stream

        wanted = chosen_kinds(name)
        if len(wanted) > 1:
            do = say("Name a folder with -o, or one kind")
            raise Refused(
                say("export all to one stream"), say("each kind is a table of its own"), do
            )
        self.span(first, last)
        found = self.leaving({wanted[0].source}, first, last)
        return export_to_stream(wanted[0], stream, found, self.desk.settings.places)

    def export_lake(self, folder: Path, progress: Progress | None = None) -> Brought:
        """Bring a lake of Parquet files up to the closed days; see :mod:`counter.reports.lake`.

        Refused where no day is closed, and without pyarrow; NotWritten when the disk refuses.
        """
        from counter.reports.lake import TRIED, Lake
        from counter.reports.tables import ALL

        every = list(self.leaving({"closings", "reopenings"}))
        closed = {at.day: f"{r.at.isoformat()} {at.revision}" for _, at, r in every if at.latest}
        if not closed:
            raise Refused(
                TRIED, say("no day is closed yet"), say("Close a day; an open one still changes")
            )
        again = {at.day for source, at, _ in every if source == "reopenings"}
        sources = {kind.source for kind in ALL}

        def records(chunk: Chunk) -> Iterator[Record]:
            moments = chunk.since, chunk.until
            return self.leaving(sources, chunk.first, chunk.last, progress, moments)

        lake = Lake(folder, self.whose, self.desk.settings.places)
        return lake.bring(closed, again, self.desk.now(), records)

    # -- the records, each with its place

    def leaving(
        self,
        sources: Collection[str],
        first: date | None = None,
        last: date | None = None,
        progress: Progress | None = None,
        moments: tuple[datetime, datetime] | None = None,
    ) -> Iterator[Record]:
        """All records of some sources and a range of days: those of the day books in the order
        written, then closings and reopenings, the catalogues that held in these days, changes,
        mendings with what they lost, and stops in no book of a day.

        With ``moments`` only what no later day makes untrue: which batch is the latest is left
        open, and of what is no day's there is that from after the first to the second.
        """
        from counter.reports.schema import Place

        start, end = self.span(first, last)
        place = partial(Place, whose=self.whose)
        if walked := set(sources) - SHOP_WIDE:
            newest = {} if moments or "batches" not in sources else self._newest(start, end)
            for day, commit in self.closings.commits(start, end, progress):
                at = place(day=day, line=commit.n, entered=commit.entered)
                for source in commit.records.keys() & walked:
                    for record in commit.records[source]:
                        yield source, _which(at, record, newest), record
        if set(sources) & {"closings", "reopenings"}:
            yield from self._of_closings(start, end, place)
        start, end = first or date.min, last or date.max

        def within(came: datetime, until: datetime) -> bool:
            if moments:
                since, upto = (moment.timestamp() for moment in moments)
                return since < came.timestamp() <= upto
            return self.desk.day_of(came) <= end and self.desk.day_of(until) >= start

        if "catalogues" in sources:
            yield from self._of_catalogues(within, place)
        if "changes" in sources:
            yield from self._of_changes(within, place)
        if set(sources) & {"mendings", "lost"}:
            yield from self._of_mendings(within, place)
        if "holds" in sources:
            for hold in self.desk.stops.apart(lambda at: within(at, at)):
                yield "holds", place(day=self.desk.day_of(hold.at)), hold

    def _newest(self, first: date, last: date) -> dict[str, int]:
        """The highest revision of each batch of some days, also where it was corrected later."""
        until = min(last, date.max - timedelta(days=LATEST_NOTE_DAYS))
        commits = self.closings.commits(first, until + timedelta(days=LATEST_NOTE_DAYS))
        batches = records_in(Batch, (commit.records for _, commit in commits))
        return {batch.lot: batch.revision for batch in batches}

    def _of_closings(self, first: date, last: date, place: Places) -> Iterator[Record]:
        """Closings with how often the day was closed before, and reopenings, in the order written.
        Of a day that is open again no closing is the latest."""
        every = self.closings.all_between(first, last)
        last_of = {record.day: record for record in every}
        counts: dict[date, int] = {}
        for record in every:
            day = record.day
            if isinstance(record, Closing):
                revision = counts[day] = counts.get(day, -1) + 1
                latest = last_of[day] is record
                yield "closings", place(day=day, revision=revision, latest=latest), record
            else:
                yield "reopenings", place(day=day), record

    def _of_catalogues(
        self, within: Callable[[datetime, datetime], bool], place: Places
    ) -> Iterator[Record]:
        held, now = self.desk.catalogues.every(), self.desk.now()
        came_by_now = [came for came, _ in held if came.timestamp() <= now.timestamp()]
        for i, (came, catalogue) in enumerate(held):
            until = held[i + 1][0] if i + 1 < len(held) else max(came, now)
            if within(came, until):
                latest = i == len(came_by_now) - 1
                at = place(day=self.desk.day_of(came), revision=i, latest=latest, since=came)
                yield "catalogues", at, catalogue

    def _of_changes(
        self, within: Callable[[datetime, datetime], bool], place: Places
    ) -> Iterator[Record]:
        from counter.reports.changed import changed

        commits = (entry.records for entry in self.desk.books.entries(CATALOGUE))
        for line in changed(commits, self.desk.catalogues.every(), self.desk.settings.places):
            if within(line.at, line.at):
                yield "changes", place(day=self.desk.day_of(line.at)), line

    def _of_mendings(
        self, within: Callable[[datetime, datetime], bool], place: Places
    ) -> Iterator[Record]:
        for mending in self.desk.books.select(name="mendings").find("mendings", Mending):
            if within(mending.at, mending.at):
                yield "mendings", place(day=self.desk.day_of(mending.at)), mending
        for entry in self.desk.books.select(name="lost").entries():
            for lost in (one for one in entry.records["lost"] if isinstance(one, Lost)):
                if within(lost.at, lost.at):
                    day, number = self.desk.day_of(lost.at), entry.number
                    yield "lost", place(day=day, book=entry.book, line=entry.n, number=number), lost

    @property
    def whose(self) -> Whose:
        """The shop, as it stands in each row."""
        from counter.reports.schema import Whose

        settings = self.desk.settings
        # A letter first: by its digits alone a folder of a lake would be taken for a number.
        return Whose(
            mark=f"s{mark_of(self.desk.books)}",
            name=settings.shop.name,
            currency=settings.cash.currency,
            zone=settings.shop.timezone,
        )


def _which(at: Place, record: Any, newest: Mapping[str, int]) -> Place:
    """The place of a record, with whether it is the latest revision of its batch."""
    if not isinstance(record, Batch) or record.lot not in newest:
        return at
    return msgspec.structs.replace(at, latest=newest[record.lot] == record.revision)
