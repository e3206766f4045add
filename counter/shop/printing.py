"""Handing a PDF to the system's printing (CUPS), where there is one.

What CUPS does by itself is not what a label wants: it takes the size of a page from the queue and
not from the PDF, and it takes jobs for a printer that is stopped or unplugged. So the size goes
along, the queue is asked before, and the end of the job is waited for.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import time
from pathlib import Path

import msgspec

from counter.errors import Refused
from labels.blanks import PAPERS
from labels.say import Said, say

PATIENCE_SECONDS = 30  # for an answer of the printing system
JOB_SECONDS = 20  # for a job to come out; a long one goes on alone
_PAUSE_SECONDS = 0.3
_JOBS = ("lpstat", "-l", "-W")
_FAILED = re.compile(r"Alerts: .*(abort|cancel|error)")


class Sent(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a job: ``done``, it left the queue without a fault; ``said``, what the
    printing system answered, or says of a job that is still there."""

    done: bool
    said: str


def media_of(page_mm: tuple[float, float]) -> str:
    """A page as CUPS names it, from its width and height in millimetres.

    >>> media_of((100, 75)), media_of((62.5, 29)), media_of((215.9, 279.4)), media_of((210, 297))
    ('Custom.100x75mm', 'Custom.62.5x29mm', 'Letter', 'A4')
    """
    names = {"letter": "Letter", "a4": "A4"}
    width, height = page_mm
    found = (names[paper] for paper, size in PAPERS.items() if tuple(size) == tuple(page_mm))
    return next(found, f"Custom.{width:g}x{height:g}mm")


def send_to_printer(path: Path, printer: str, page_mm: tuple[float, float]) -> Sent:
    """Hand ``path``, pages of so many millimetres, to ``lp`` for the printer named.

    Refused where there is no printing system, no such printer, a stopped one, one that takes no
    jobs, no answer, or a job that failed. The PDF stays.
    """
    tried = say("print {file} on '{printer}'", file=path.name, printer=printer)
    do = say("The PDF is kept: print {file} from any other program", file=path)
    _ask(printer, tried=tried, do=do)
    size = f"media={media_of(page_mm)}"
    as_it_is = ("-o", "orientation-requested=3", "-o", "print-scaling=none")  # 3: not turned
    command = ("lp", "-d", printer, "-o", size, *as_it_is, "--", str(path))
    status, said = _run(*command, tried=tried, do=do)
    said = " ".join(said.split())
    if status:
        why = Said(said) or say("the printing system answered {status}", status=status)
        raise Refused(tried, why, do)
    return _end_of(said, printer, tried=tried, do=do)


def _ask(printer: str, *, tried: Said, do: Said) -> None:
    """Refuse a printer that is not there, is stopped, or takes no jobs."""
    asked = ("-r", "-p", printer, "-a", printer)
    said = " ".join(_run("lpstat", *asked, tried=tried, do=do)[1].split())
    if "scheduler is running" not in said:
        raise Refused(tried, say("the printing system does not answer ({answer})", answer=said), do)
    if "Invalid destination" in said:
        names = ", ".join(_run("lpstat", "-e", tried=tried, do=do)[1].split()) or "–"
        raise Refused(
            tried,
            say("there is no printer '{printer}'", printer=printer),
            say("Use one of {names}", names=names),
        )
    if reason := _reason("disabled since", said):
        raise Refused(tried, say("it is stopped ({why})", why=reason), do)
    if reason := _reason("not accepting requests since", said):
        raise Refused(tried, say("it takes no jobs ({why})", why=reason), do)


def _end_of(said: str, printer: str, *, tried: Said, do: Said) -> Sent:
    """Wait for the end of the job that ``lp`` answered with, a bounded time. Refused where it
    failed."""
    found = re.search(r"request id is (\S+)", said)
    until = time.monotonic() + JOB_SECONDS
    while found:
        job = rf"^{re.escape(found[1])} .*\n(?:\s.*\n?)*"
        waiting, ended = (
            re.search(job, _run(*_JOBS, which, "-o", printer, tried=tried, do=do)[1], re.MULTILINE)
            for which in ("not-completed", "completed")
        )
        told = waiting or ended
        if told and _FAILED.search(told[0]):
            _run("cancel", found[1], tried=tried, do=do)  # else it may come out some day
            raise Refused(tried, say("the job failed ({status})", status=_status(told[0])), do)
        if waiting is None:
            return Sent(done=True, said=said)
        if time.monotonic() > until:
            return Sent(done=False, said=_status(waiting[0]))
        _ask(printer, tried=tried, do=do)  # a fault of the printer may stop its queue
        time.sleep(_PAUSE_SECONDS)
    return Sent(done=False, said=said)


def _run(*command: str, tried: Said, do: Said) -> tuple[int, str]:
    """Status and answer of a program of the printing system, in English."""
    if shutil.which(command[0]) is None:
        raise Refused(
            tried, say("this computer has no printing system ({program})", program=command[0]), do
        )
    try:
        done = subprocess.run(
            command,
            capture_output=True,
            text=True,
            errors="replace",
            check=False,
            timeout=PATIENCE_SECONDS,
            env={**os.environ, "LC_ALL": "C"},
        )
    except subprocess.TimeoutExpired:
        raise Refused(
            tried, say("it did not answer in {seconds} s", seconds=PATIENCE_SECONDS), do
        ) from None
    except OSError as error:
        raise Refused(
            tried, say("the printing system cannot be started ({why})", why=error), do
        ) from None
    return done.returncode, done.stdout + done.stderr


def _reason(sign: str, said: str) -> str:
    """Why a queue is closed, behind a ``sign`` of it; "" where the sign is not there."""
    found = re.search(rf"{sign}.*? -(?: (.*?))?(?= \S+ (?:not )?accepting|$)", said)
    return (found[1] or "–") if found else ""


def _status(told: str) -> str:
    found = re.search(r"Status: *(\S.*)", told)
    return found[1].strip() if found else "–"
