"""Backups: the setting as it stands, the last copies, a copy now, whether a copy can be read back
and whether the books are whole, and how to put a copy back."""

from __future__ import annotations

from contextlib import suppress
from decimal import Decimal
from pathlib import Path

from flask import Blueprint, current_app, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, BooksError, CounterError, DiskRefused
from counter.shop import Shop
from counter.web.forms import told
from counter.web.here import damage, field, mend_command, needs, shop, t, unhurried, words
from counter.web.jobs import Done, Kind, Progress, Work, begun, in_its_language, wanted_as_job
from counter.web.notes import note
from counter.web.papers import nobody, told_of
from labels.say import say

page = Blueprint("backups", __name__, url_prefix="/setup/backups")

SHOWN = 20
MOST_FINDINGS = 4


def size(count: int) -> str:
    """Bytes as people read them: ``84 KiB``, ``1.3 MiB``."""
    if count < 1 << 20:
        return f"{words().number(-(-count // 1024))} KiB"
    return f"{words().number(Decimal(count * 10 // (1 << 20)) / 10)} MiB"


def show() -> str:
    kept = shop().desk.settings.backup
    unread = False
    try:
        found = shop().copies.listed() if kept.folder else []
    except DiskRefused:
        found, unread = [], True
    mending = None
    with suppress(BooksError):  # they are damaged, and the page says so
        mending = shop().audit.mending
    place = (shop().desk.folder or Path()) / Path(kept.folder).expanduser() if kept.folder else None
    return render_template(
        "backups.html",
        kept=kept,
        folder=place,
        copies=found[:SHOWN],
        unread=unread,
        size=size,
        newest=found[0].name if found else "",
        sealed=shop().copies.copies_sealed,
        damage=damage(),
        mend=mend_command(),
        mending=mending,
    )


@page.get("/")
@needs("owner")
def index() -> str:
    """Where copies go, which are there, and the button."""
    return show()


def worked(work: Work) -> AnyResponse | tuple[str, int]:
    """Do something long and say what came of it, on this page; as a job where that is asked for."""
    if wanted_as_job():
        return told_of(begun(in_its_language(work)))
    try:
        done = work(shop(), Path(), nobody)
    except CounterError as error:
        status = told(error)
        return show(), status
    for kind, sentence in done.notes:
        note(sentence, kind)
    return redirect(url_for("backups.index"))


def said(*notes: tuple[Kind, str]) -> Done:
    return Done(endpoint="backups.index", notes=notes)


@page.post("/")
@needs("owner")
@unhurried
def copy() -> AnyResponse | tuple[str, int]:
    """Copy the whole shop now and read the copy back."""

    def work(own: Shop, _place: Path, tell: Progress) -> Done:
        saved = own.copies.back_up(progress=tell, program=True)
        return said(("good" if saved.good else "warn", saved.said))

    return worked(work)


@page.post("/seal")
@needs("owner")
@unhurried
def seal() -> AnyResponse | tuple[str, int]:
    """Seal copies with a passphrase from now on, or no more."""
    passphrase = field("passphrase", "", 200)

    def work(own: Shop, _place: Path, _tell: Progress) -> Done:
        if not passphrase:
            own.copies.leave_copies_open()
            return said(("warn", t("backups.now_open")))
        own.copies.seal_copies(passphrase)
        return said(("good", t("backups.now_sealed")))

    if passphrase != field("again", "", 200):
        raise BadInput(
            say("seal the copies"), say("the two do not agree"), say("Type the same words twice")
        )
    return worked(work)


@page.post("/prove/<name>")
@needs("owner")
@unhurried
def prove(name: str) -> AnyResponse | tuple[str, int]:
    """Read a copy back, every byte and every link: whether it could be put back."""

    def work(own: Shop, _place: Path, tell: Progress) -> Done:
        found = own.copies.prove_copy(name[:200], tell)
        if found.damaged:
            books = ", ".join(found.damaged)
            return said(("warn", t("backups.proved_damaged", name=name, books=books)))
        return said(("good", t("backups.proved", name=name, n=len(found.files))))

    return worked(work)


@page.post("/check")
@needs("owner")
@unhurried
def check() -> AnyResponse | tuple[str, int]:
    """Read every line of every book of this shop, and say what does not follow."""

    def work(own: Shop, _place: Path, tell: Progress) -> Done:
        found = own.audit.check(tell)
        lines = t("backups.checked", n=found.lines, books=found.books)
        known: list[tuple[Kind, str]] = [("warn", one) for one in found.known[:MOST_FINDINGS]]
        if not found.findings:
            return said(("good", f"{lines} {t('backups.all_follow')}"), *known)
        if found.damage:
            current_app.watch.told(found.damage)  # type: ignore[attr-defined]  # CounterApp
        wrong: list[tuple[Kind, str]] = [
            ("stop", one.sentence) for one in found.findings[:MOST_FINDINGS]
        ]
        return said(("warn", f"{lines} {t('backups.findings', n=len(found.findings))}"), *wrong)

    return worked(work)
