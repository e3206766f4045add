"""A lake: Parquet files of the closed days of one shop or many, for engines that read such folders.

``TABLE/shop=ID/trading_year=YYYY/FIRST_LAST.parquet`` holds the days that one run brought; a run
brings the days closed since, the last of them in a file of its own, since it may be opened again:
then that file is written anew, and nothing else ever is. A file never says what is the latest
revision, which a later day may change: ``views.sql`` works it out.

``_shops/ID.json`` says which days are in the lake. A run writes beside, then that file, and then
puts its files in their places; killed in between, the next run first does what is left of that.
"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import msgspec
from filelock import FileLock, Timeout

from counter.decoders import decoder_of
from counter.errors import BadInput, Refused
from counter.reports.export import ParquetWriter, Records, load_pyarrow, whole_file, write_rows
from counter.reports.schema import Cell, Kind, Whose, schema_text
from counter.reports.tables import ALL
from labels.errors import NotWritten, answer_of
from labels.say import say

PARTS = ("shop", "trading_year")
TRIED = say("add to the lake")
DAY = timedelta(days=1)


BEGIN = datetime.min.replace(tzinfo=UTC)


class Chunk(msgspec.Struct, frozen=True, kw_only=True):
    """The days from ``first`` to ``last``, and what is of no day, catalogues and changes, from
    after ``since`` to ``until``.

    ``days`` are the closed ones with what tells their closings apart, ``files`` the paths of what
    was written of them.
    """

    first: date
    last: date
    days: dict[date, str]
    since: datetime
    until: datetime
    files: tuple[str, ...] = ()


class Held(msgspec.Struct, frozen=True, kw_only=True):
    """What a lake holds of a shop. ``run`` names the run that came to it."""

    shop: str
    run: str = ""
    chunks: tuple[Chunk, ...] = ()


class Brought(msgspec.Struct, frozen=True, kw_only=True):
    """What a run did. ``replaced`` were closed again since they were written, ``taken_out`` are
    open again, of ``missing`` somebody had removed a file; ``finished`` says that an interrupted
    run before it was brought to its end."""

    added: tuple[date, ...]
    replaced: tuple[date, ...] = ()
    taken_out: tuple[date, ...] = ()
    missing: tuple[date, ...] = ()
    rows: int = 0
    files: int = 0
    finished: bool = False


class Lake:
    """The part of a lake that is of one shop."""

    def __init__(self, folder: Path, whose: Whose, places: int) -> None:
        self.folder, self.whose, self.places = folder, whose, places
        self.file = folder / "_shops" / f"{whose.mark}.json"

    def bring(
        self,
        closed: Mapping[date, str],
        reopened: Collection[date],
        now: datetime,
        records: Callable[[Chunk], Records],
    ) -> Brought:
        """Add what is new of the ``closed`` days, by what tells their closings apart.

        ``reopened`` are days that were ever opened again; ``records`` gives those of a chunk.
        Refused without pyarrow, while another run is at it, and for a lake that knows other
        closings of days never opened again. NotWritten when the disk refuses: then the lake is as
        it was, or the next run finishes.
        """
        load_pyarrow()
        try:
            self.file.parent.mkdir(parents=True, exist_ok=True)
            with self._alone():
                held, finished = self._held(), self._finish()
                self._must_be_one_shop(held, closed, reopened)
                lost = [chunk for chunk in held.chunks if not self._whole(chunk)]
                stays, anew = plan(held.chunks, lost, closed, now)
                run = secrets.token_hex(4)
                done, rows = self._stage_all(run, anew, records)
                chunks = tuple(sorted([*stays, *done], key=lambda chunk: chunk.first))
                if done or chunks != held.chunks:
                    self._decide(Held(shop=self.whose.mark, run=run, chunks=chunks))
                    self._finish()
                self._tell()
        except OSError as error:
            do = say("Make room, or choose another folder")
            raise NotWritten(
                say("write the lake {path}", path=self.folder), answer_of(error), do
            ) from error
        before, after = _days(held.chunks), _days(chunks)
        return Brought(
            added=tuple(sorted(after.keys() - before.keys())),
            replaced=tuple(sorted(d for d in after if before.get(d, after[d]) != after[d])),
            taken_out=tuple(sorted(before.keys() - after.keys())),
            missing=tuple(sorted(_days(lost).keys() & after.keys())),
            rows=rows,
            files=sum(len(chunk.files) for chunk in done),
            finished=finished,
        )

    @contextmanager
    def _alone(self) -> Iterator[None]:
        try:
            with FileLock(self.file.with_suffix(".lock"), timeout=0):
                yield
        except Timeout:
            why = say("another program adds the days of this shop just now")
            raise Refused(TRIED, why, say("Wait until it is done")) from None

    def _held(self) -> Held:
        if not self.file.exists():
            return Held(shop=self.whose.mark)
        try:
            return decoder_of(Held).decode(self.file.read_bytes())
        except msgspec.MsgspecError as error:
            do = say("Take another folder, or remove it and the files of this shop")
            why = say("{path} is not as it was written ({text})", path=self.file, text=error)
            raise BadInput(TRIED, why, do) from None

    def _must_be_one_shop(
        self, held: Held, closed: Mapping[date, str], reopened: Collection[date]
    ) -> None:
        for day, told in _days(held.chunks).items():
            if closed.get(day) != told and day not in reopened:
                why = say(
                    "it has another closing of {date}, a day never opened again in these books",
                    date=day,
                )
                do = say("Two computers may have gone apart from one shop; choose another folder")
                raise Refused(TRIED, why, do)

    def _whole(self, chunk: Chunk) -> bool:
        return all((self.folder / file).exists() for file in chunk.files)

    def _stage_all(
        self, run: str, chunks: Iterable[Chunk], records: Callable[[Chunk], Records]
    ) -> tuple[list[Chunk], int]:
        """Write the files of chunks beside the lake; the chunks with their files, and how many
        rows."""
        done, rows, there = [], 0, self._staging(run)
        try:
            for chunk in chunks:
                writers = {k.name: _ByYear(self, there, k, chunk) for k in ALL}
                try:
                    rows += sum(write_rows(writers, records(chunk)).values())
                finally:
                    for writer in writers.values():
                        writer.close()
                files = (path for writer in writers.values() for path in writer.files)
                done.append(msgspec.structs.replace(chunk, files=tuple(files)))
        except BaseException:
            self._clean(run)
            raise
        return done, rows

    def _decide(self, held: Held) -> None:
        """From now on the run counts, and its files are put in their places whatever comes."""
        for path in self._staging(held.run).rglob("*"):
            _sync(path)
        with whole_file(self.file) as beside:
            beside.write_bytes(msgspec.json.format(msgspec.json.encode(held)))
        _sync(self.file.parent)

    def _finish(self) -> bool:
        """Put in place what the last run decided on, remove what no run did; whether any of it was
        left to do."""
        held = self._held()
        there = self._staging(held.run)
        left = sorted(there.rglob("*.parquet")) if held.run else []
        for path in left:
            place = self.folder / path.relative_to(there)
            place.parent.mkdir(parents=True, exist_ok=True)
            path.replace(place)
        known = {file for chunk in held.chunks for file in chunk.files}
        for path in self.folder.glob(f"[a-z]*/shop={self.whose.mark}/*/*.parquet"):
            if path.relative_to(self.folder).as_posix() not in known:
                path.unlink()
            elif left:
                _sync(path.parent)
        self._clean("")
        return bool(left)

    def _clean(self, run: str) -> None:
        for path in self.folder.glob(f"_staging/{self.whose.mark}-{run}*"):
            shutil.rmtree(path, ignore_errors=True)

    def _staging(self, run: str) -> Path:
        return self.folder / "_staging" / f"{self.whose.mark}-{run}"

    def _tell(self) -> None:
        """The views and the documentation of the tables, of all shops; a table that has no row yet
        is there all the same, so that the same questions can be asked of every lake."""
        for kind in ALL:
            if not any(self.folder.glob(f"{kind.name}/*/*/*.parquet")):
                path = self.folder / f"{kind.name}/{PARTS[0]}=none/{PARTS[1]}=0/none.parquet"
                path.parent.mkdir(parents=True, exist_ok=True)
                with whole_file(path) as beside:
                    ParquetWriter(beside, kind, self.places, kind.lasting).close()
        for name, text in (("views.sql", views(ALL)), ("columns.md", schema_text(ALL))):
            path = self.folder / name
            if not path.exists() or path.read_text("utf-8") != text:
                with whole_file(path) as beside:
                    beside.write_text(text, "utf-8")


class _ByYear:
    """The files of one table and chunk, one for each year that has rows."""

    def __init__(self, lake: Lake, there: Path, kind: Kind, chunk: Chunk) -> None:
        self.columns, self._kind, self._there, self._places = kind.lasting, kind, there, lake.places
        shop, year = PARTS
        self._path = f"{kind.name}/{shop}={lake.whose.mark}/{year}={{}}/{chunk.first}_{chunk.last}"
        self.files: dict[str, ParquetWriter] = {}

    def write(self, row: Sequence[Cell]) -> None:
        day = row[0]  # of every table
        assert isinstance(day, date)
        name = f"{self._path.format(day.year)}.parquet"
        if name not in self.files:
            path = self._there / name
            path.parent.mkdir(parents=True, exist_ok=True)
            self.files[name] = ParquetWriter(path, self._kind, self._places, self.columns)
        self.files[name].write(row)

    def close(self) -> None:
        for file in self.files.values():
            file.close()


def plan(
    chunks: Sequence[Chunk], lost: Collection[Chunk], closed: Mapping[date, str], now: datetime
) -> tuple[list[Chunk], list[Chunk]]:
    """The chunks that stay as they are, and those to be written: ``lost`` ones, those of days that
    were opened since, as far as they are closed, and the days closed since."""
    stays: list[Chunk] = []
    anew: list[Chunk] = []
    for chunk in chunks:
        days = {day: told for day, told in closed.items() if chunk.first <= day <= chunk.last}
        if days == chunk.days and chunk not in lost:
            stays.append(chunk)
        elif days:
            last = max(days) if max(chunk.days) not in days else chunk.last
            anew.append(msgspec.structs.replace(chunk, last=last, days=days))
    known = [*stays, *anew]
    end = max((chunk.last for chunk in known), default=date.min)
    since = max((chunk.until for chunk in known), default=BEGIN)
    new = sorted(day for day in closed if day > end)
    for some in filter(None, (new[:-1], new[-1:])):
        first = end + DAY if end > date.min else some[0]
        until = now if some == new[-1:] else since
        told = {day: closed[day] for day in some}
        anew.append(Chunk(first=first, last=some[-1], days=told, since=since, until=until))
        end = some[-1]
    return stays, anew


def views(there: Sequence[Kind]) -> str:
    """SQL for DuckDB: each table as a view over all shops, with the latest revision flagged.

    Paths are within the lake: ``SET file_search_path`` says where that is.
    """
    lines = ["-- SET file_search_path = 'the folder of this file';"]
    for kind in there:
        source, head = _read(kind.name), kind.revised
        columns, rest = "*", ""
        if head is not None:
            by = ", ".join(filter(None, ("shop_id", head.key)))
            columns = "t.*, t.revision = newest.revision AS latest"
            rest = f" AS t JOIN (SELECT {by}, max(revision) AS revision FROM {_read(head.table)}"
            rest += f" GROUP BY {by}) AS newest USING ({by})"
        lines.append(f"CREATE OR REPLACE VIEW {kind.name} AS SELECT {columns} FROM {source}{rest};")
    return "\n".join(lines) + "\n"


def _read(table: str) -> str:
    options = "hive_partitioning = true, union_by_name = true"
    return f"read_parquet('{table}/*/*/*.parquet', {options})"


def _days(chunks: Iterable[Chunk]) -> dict[date, str]:
    return {day: told for chunk in chunks for day, told in chunk.days.items()}


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
