"""Work that takes long, in a thread of its own, while the page says how far it has come.

A view gives what is to be done to :func:`begun`. Asked by the page's own program (header
``X-Job``), it is answered at once with where to ask on; without a program it is done there and
then. What a job wrote lies in a folder of ours until it is fetched, fifteen minutes at most.
"""

from __future__ import annotations

import secrets
import shutil
import threading
import time
import weakref
from collections.abc import Callable
from pathlib import Path
from tempfile import mkdtemp
from typing import Any, Literal

import msgspec
from flask import current_app, g, request

from counter.errors import Asked, BookDamaged, NotFound, Refused
from counter.shop import Shop
from counter.trade.asking import Question
from counter.web.faults import LOG, status_of
from counter.web.guard import token
from counter.web.here import shop, t
from labels.say import say

KEPT_S = 15 * 60
MOST_AT_ONCE = 3
Kind = Literal["good", "warn", "stop"]
Progress = Callable[[int, int], None]
_FIRST = threading.Lock()


class Done(msgspec.Struct, frozen=True):
    """What came of a job: a file to save, ``name`` in the job's folder, or a page to go to,
    the ``endpoint`` with ``name`` where it takes one; and what that page should say first."""

    name: str = ""
    endpoint: str = ""
    notes: tuple[tuple[Kind, str], ...] = ()


Work = Callable[[Shop, Path, Progress], Done]


class Job:
    """One piece of work. ``owner`` is the session that began it, ``what`` the address asked."""

    def __init__(self, owner: str, what: str, place: Path) -> None:
        self.key, self.owner, self.what, self.place = secrets.token_urlsafe(12), owner, what, place
        self.progress = (0, 0)
        self.made: Done | None = None
        self.error: Exception | None = None
        self.number = ""
        self.ended: float | None = None

    def tell(self, done: int, whole: int) -> None:
        self.progress = (done, whole)

    @property
    def questions(self) -> tuple[Question, ...]:
        return self.error.questions if isinstance(self.error, Asked) else ()

    def run(self, own: Shop, work: Work) -> None:
        """Do it. Whatever goes wrong is its answer: the page must learn that it is over."""
        try:
            self.place.mkdir()
            self.made = work(own, self.place, self.tell)
        except Exception as error:
            self.fail(error)
        finally:
            self.ended = time.monotonic()

    def fail(self, error: Exception) -> None:
        self.error, self.number = error, secrets.token_hex(3)
        status = status_of(error)
        said = f"{self.number} {status} job {self.what[:200]!r} {str(error)[:600]!r}"
        LOG.error(said, exc_info=error) if status >= 500 else LOG.info(said)
        error.__traceback__ = None  # it would hold the shop


class Jobs:
    """The jobs of one app."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._lock = threading.Lock()
        self._folder = Path(mkdtemp(prefix="counter-"))
        weakref.finalize(self, shutil.rmtree, self._folder, True)

    def begin(self, owner: str, what: str) -> tuple[Job, bool]:
        """A new job, or the same one where this session has it in work; and whether it is new."""
        with self._lock:
            self._forget_old()
            going = [job for job in self._jobs.values() if job.ended is None]
            for job in going:
                if (job.owner, job.what) == (owner, what):
                    return job, False
            if len(going) >= MOST_AT_ONCE:
                why = say("{n} others are in work", n=MOST_AT_ONCE)
                raise Refused(say("begin that"), why, say("Wait until one is done"))
            job = Job(owner, what, self._folder)
            job.place /= job.key
            self._jobs[job.key] = job
            return job, True

    def job(self, key: str, owner: str) -> Job:
        """A job of this session; NotFound for any other, and once it is forgotten."""
        found = self._jobs.get(key)
        if found is None or found.owner != owner:
            raise NotFound(say("look after that"), "such work", key[:20], (), say("Tap once more"))
        return found

    def _forget_old(self) -> None:
        for key, job in list(self._jobs.items()):
            if job.ended is not None and time.monotonic() - job.ended > KEPT_S:
                del self._jobs[key]
                shutil.rmtree(job.place, ignore_errors=True)


def jobs() -> Jobs:
    """The jobs of this app."""
    with _FIRST:
        if "jobs" not in current_app.extensions:
            current_app.extensions["jobs"] = Jobs()
    found: Jobs = current_app.extensions["jobs"]
    return found


def wanted_as_job() -> bool:
    """Whether the page's own program asked, which shows progress and can wait."""
    return request.headers.get("X-Job") is not None


def begun(work: Work, what: str = "") -> Job:
    """Begin ``work`` in a thread with a shop of its own; at once where there is none to open.

    ``what`` tells two pieces of work apart; the address that was asked, where it is empty.
    """
    job, new = jobs().begin(token(), what or request.full_path)
    if not new:
        return job
    app: Any = current_app._get_current_object()  # type: ignore[attr-defined]  # CounterApp
    own = app.shop_of_its_own()
    if own is None:
        job.run(shop(), work)
        return job
    own.desk.questions.given = shop().desk.questions.given

    def go() -> None:
        try:
            job.run(own, work)
            if isinstance(job.error, BookDamaged):
                app.watch.told(job.error.said)
        finally:
            own.desk.books.close()

    threading.Thread(target=go, name=f"job {job.key}", daemon=True).start()
    return job


def in_its_language(work: Work) -> Work:
    """A job that says sentences says them in the language of the page that began it."""
    app, words = current_app._get_current_object(), g.words  # type: ignore[attr-defined]

    def speaking(own: Shop, place: Path, tell: Progress) -> Done:
        with app.app_context():
            g.words, g.shop = words, own
            made = work(own, place, tell)
            if day := own.desk.begun:  # no request of its own says so
                said: tuple[Kind, str] = ("good", t("asked.day", day=words.date(day, "full")))
                made = msgspec.structs.replace(made, notes=(*made.notes, said))
            return made

    return speaking
