"""One sentence for the page that comes after a change."""

from __future__ import annotations

from typing import Literal

from flask import session


def note(sentence: str, kind: Literal["good", "warn", "stop"] = "good") -> None:
    """Say ``sentence`` on the next page this browser opens."""
    session["notices"] = [*session.get("notices", []), (kind, sentence[:600])][-5:]
