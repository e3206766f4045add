"""A limit on guesses: a PIN of four digits has only 10,000 of them."""

from __future__ import annotations

from counter.errors import Refused
from labels.say import Said, say

FREE = 5
WAIT_S = 60
MOST_WAIT_S = 3600


class Tries:
    """Wrong tries by name. Five are free, then every one doubles the wait, up to an hour."""

    def __init__(self) -> None:
        self._wrong: dict[str, tuple[int, float]] = {}

    def check(self, name: str, now: float, tried: Said) -> None:
        """Refused while the wait of ``name`` lasts."""
        count, until = self._wrong.get(name, (0, 0.0))
        if count >= FREE and now < until:
            minutes = int((until - now) // 60) + 1
            raise Refused(
                tried,
                say("the PIN was wrong {n} times", n=count),
                say("Wait {n} min and try again", n=minutes),
            )

    def missed(self, name: str, now: float) -> None:
        count = self._wrong.get(name, (0, 0.0))[0] + 1
        wait = min(MOST_WAIT_S, WAIT_S * 2 ** max(0, min(count - FREE, 10)))
        self._wrong[name] = (count, now + wait if count >= FREE else now)

    def fitted(self, name: str) -> None:
        self._wrong.pop(name, None)
