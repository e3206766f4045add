"""What reads JSON as records, made once for each type and never by two threads at a time.

msgspec keeps what it learns of a record at its class, and another thread that makes a decoder
meanwhile finds it half done: reading with that one ends the whole program (msgspec 0.22, proved by
``tests/books/test_books_threads.py``). To read with a decoder that is made is safe.
"""

from __future__ import annotations

import threading
from typing import Any, TypeVar

import msgspec

from labels.say import from_kept

_T = TypeVar("_T")
_made: dict[Any, msgspec.json.Decoder[Any]] = {}
_one_by_one = threading.Lock()


def decoder_of(kind: type[_T]) -> msgspec.json.Decoder[_T]:
    """The decoder of a type, of which texts are read as they are kept."""
    found = _made.get(kind)
    if found is None:
        with _one_by_one:
            found = _made.setdefault(kind, msgspec.json.Decoder(kind, dec_hook=from_kept))
    return found
