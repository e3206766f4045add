"""One sentence for the page that comes after a change."""

from __future__ import annotations

from typing import Literal

from flask import session

from counter.web.here import words


def note(sentence: str, kind: Literal["good", "warn", "stop"] = "good") -> None:
    """Say ``sentence`` on the next page this browser opens, in the language of this one."""
    sentence = words().said(sentence)
    session["notices"] = [*session.get("notices", []), (kind, sentence[:600])][-5:]
