"""The books read whole in the background, while the page sells: at its start, once a day, when
somebody reads what is damaged, and after the files were moved by no program of ours.

What is sold on is looked at before each writing (``Books.fault``), and stops it. Damage in what is
closed does not: it stands as a notice until the books are mended.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import suppress

from counter.errors import BooksError, CounterError
from counter.shop import Shop
from counter.web.faults import LOG
from labels.say import NOTHING, Said

DAY_S = 24 * 3600
REST_S = 60  # at least, between two readings
PAUSE_S = 0.04  # every hundred lines, which take some milliseconds: so ten years last minutes


class Watch:
    """What is known of damage in the books. ``again`` opens the same shop once more."""

    def __init__(self, again: Callable[[], Shop] | None) -> None:
        self.found = NOTHING  # what is damaged, in words
        self._again, self._mended, self._moves = again, "", 1  # to open is to look
        self._wanted = threading.Event()

    def start(self) -> None:
        """Begin to watch; ends with the program."""
        threading.Thread(target=self._go_on, name="watch over the books", daemon=True).start()

    def _go_on(self) -> None:
        while True:
            self._wanted.clear()
            self.look()
            time.sleep(REST_S)
            self._wanted.wait(DAY_S)

    def look(self) -> None:
        """Read all lines now, over a connection of its own; quickly where damage is known, so that
        it can be mended."""
        try:
            if self._again is None:
                return
            own = self._again()
            try:
                self._mended = own.audit.mended_last
                found = own.audit.damage(lambda _n, _all: time.sleep(0 if self.found else PAUSE_S))
            finally:
                own.desk.books.close()
        except CounterError as error:  # the shop in use will say so itself
            LOG.info("the books were not read in the background: %s", error)
            return
        if found and found != self.found:
            LOG.error("%s", found)
        self.found = found

    def told(self, sentence: Said) -> None:
        """Somebody has read what is damaged."""
        self.found = self.found or sentence
        self._wanted.set()

    def see(self, shop: Shop) -> None:
        """Look whether somebody mended the books or moved the files."""
        moved, self._moves = shop.desk.books.moves > self._moves, shop.desk.books.moves
        if moved and not self.found:
            self._wanted.set()
        with suppress(BooksError):
            if self.found and shop.audit.mended_last != self._mended:
                self.found = NOTHING
                self._wanted.set()

    def give_way(self, shop: Shop) -> None:
        """Let go of books that are known to be damaged: they can be mended while the page stands.
        They are opened again when needed."""
        if self.found or shop.desk.books.fault:
            shop.desk.books.close()

    def notices(self, shop: Shop) -> list[Said]:
        """What the keeper of the shop should know of the disk and the books."""
        said = shop.desk.books.notices
        return said if shop.desk.books.fault or not self.found else [*said, self.found]
