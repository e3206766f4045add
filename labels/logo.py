"""A picture that is to stand on a label: whole, and of a size that a label can show."""

from __future__ import annotations

import warnings
from functools import lru_cache
from pathlib import Path

from labels.errors import BadValue
from labels.say import Said, say

MOST_BYTES, MOST_DOTS = 4 << 20, 3000  # common practice, no source: no label shows more


def ratio_of(path: str) -> float:
    """Width by height of a picture. Raises BadValue for what is none, is not whole or too large."""
    file = Path(path)
    tried = say("print the logo {file}", file=file.name)
    try:
        told = file.stat()
    except OSError as error:
        raise BadValue(tried, say("there is no such file"), say("Give a PNG file")) from error
    if told.st_size > MOST_BYTES:
        why = say("it has more than {n} MiB", n=MOST_BYTES >> 20)
        raise BadValue(tried, why, say("Save it smaller"))
    width, height = _sides(file, tried, told.st_mtime_ns, told.st_size)
    return width / height


@lru_cache(8)
def _sides(file: Path, tried: Said, *_changed: int) -> tuple[int, int]:
    """Width and height in dots, of a picture read to its end: a head alone proves nothing. The
    sides are looked at before a dot is unpacked."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings(), Image.open(file) as image:
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            if max(image.size) <= MOST_DOTS:
                image.load()
            width, height = image.size
    except Image.DecompressionBombError:
        width, height = MOST_DOTS + 1, 1
    except UnidentifiedImageError as error:
        why = say("there is no picture in that file")
        raise BadValue(tried, why, say("Give a PNG file")) from error
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        why = say("the picture in that file is not whole")
        raise BadValue(tried, why, say("Give a PNG file")) from error
    if max(width, height) > MOST_DOTS:
        why = say("it has more than {n} dots a side", n=MOST_DOTS)
        raise BadValue(tried, why, say("Save it smaller"))
    return width, height
