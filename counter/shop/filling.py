"""Where a mending takes lines from that the damaged books have no more: what mendings before it set
aside, and copies, sealed ones too."""

from __future__ import annotations

import re
from contextlib import suppress
from pathlib import Path
from zipfile import BadZipFile, ZipFile

from counter.books import CATALOGUE
from counter.books.copies import unsealed
from counter.books.engine import FILE
from counter.books.lines import Misfit, from_text, read_line
from counter.books.mend import Kept
from counter.books.workplace import Workplace
from counter.errors import BadArchive, BooksError, CounterError, SealedCopy
from counter.shop.sealing import Seal, kept_seal
from counter.shop.sticks import MARK
from counter.trade.settings import Settings
from labels.say import Said, say

_LOG = re.compile(rf"{re.escape(FILE)}\.damaged-\d+-wal")


def set_aside_so_far(folder: Path, aside: Path, answered: int) -> tuple[Kept, Kept]:
    """What lies in the damaged file that was set aside and in logs that were kept of it, and in
    files of mendings before it. ``answered`` is the number of the line answered last."""
    own, others = Kept(), Kept()
    logs = {folder / one.name.removesuffix("-wal") for one in kept_logs(folder)}
    for old in {folder / p.name.removesuffix("-wal") for p in folder.glob(f"{FILE}.damaged-*")}:
        if old != aside and old not in logs:
            others.read(old)
    own.read(aside)
    top = max(own.top, answered)
    for part in sorted(logs):
        log = Kept()
        log.read(part)
        # Kept before somebody put older books back by hand: other lines have their numbers since.
        (others if log.differs(own) or (answered and log.top > top) else own).read(part)
    return own, others


def kept_logs(folder: Path) -> list[Path]:
    """The logs that the engine was about to throw away since the last mending."""
    return [p for p in folder.glob(f"{FILE}.damaged-*-wal") if _LOG.fullmatch(p.name)]


def own_key(folder: Path) -> Seal | None:
    """The key that the copies of a shop are sealed with; None for none."""
    with suppress(CounterError):  # one that cannot be read opens nothing
        return kept_seal(folder)
    return None


def newest_copy(settings: Settings, folder: Path, own: Kept, lock: Seal | None) -> Path | None:
    """The newest copy that begins as this shop does; None where none can be read. SealedCopy where
    it may be one that does not open."""
    place = folder / Path(settings.backup.folder).expanduser()
    if not settings.backup.folder or not place.is_dir():
        return None
    begun = (line for lines in own.lines.values() for line in lines if line.line == 1)
    marks = [  # as copies have it; none where a mending could not bring the line back
        f"-{line.link[:MARK]}-"
        for line in begun
        if line.book == CATALOGUE and "lost" not in read_line(line.body).records
    ]
    for path in sorted(place.glob("*.zip*"), key=lambda p: p.stat().st_mtime, reverse=True):
        kept = Kept()
        try:
            read_copy(path, kept, lock)
        except SealedCopy as error:
            if not marks or any(mark in path.name for mark in marks):
                do = say("Give the passphrase that it was sealed with, or mend with --no-copy")
                raise SealedCopy(error.tried, error.why, do) from None
        except BooksError:
            continue
        else:
            if kept.lines and (not own.lines.get(1) or kept.lines.get(1) == own.lines.get(1)):
                return path
    return None


def read_copy(path: Path, kept: Kept, lock: Seal | None) -> None:
    """Take in what a copy holds: its database, and its lines as text. A copy need not be whole,
    since nothing is taken that does not follow by its link."""
    tried = say("read backup {file}", file=path)
    try:
        with (
            Workplace("tofu-copy-") as place,
            path.open("rb") as raw,
            ZipFile(unsealed(raw, lock, tried)) as archive,
        ):
            for name in archive.namelist():
                if name.endswith(f"/{FILE}"):
                    file = Path(place) / FILE
                    with suppress(BadZipFile, BadArchive):
                        file.write_bytes(archive.read(name))
                    kept.read(file)
                elif name.startswith("books/") and name.endswith(".txt"):
                    for text in archive.read(name).splitlines():
                        with suppress(Misfit):
                            line = from_text(text)
                            kept.add(line.n, line.link, line.body)
    except (BadZipFile, OSError) as error:
        raise BadArchive(tried, Said(str(error)), say("Name a .zip of `counter backup`")) from None
