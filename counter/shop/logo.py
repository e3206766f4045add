"""The shop's logo: a PNG of one colour in the shop folder, as a label printer draws it.

What comes in is opened with limits, flattened onto white, turned into black and white, and written
anew: nothing of the file that was sent is kept but its black dots.
"""

from __future__ import annotations

import io
import warnings
from pathlib import Path

from counter.errors import BadInput, DiskRefused, Refused
from counter.shop.desk import Desk
from labels.errors import answer_of
from labels.say import say

NAME = "logo.png"
MOST_BYTES = 256 << 10
LEAST_SIDE, MOST_SIDE = 16, 3000
DARK = 128  # from 0 black to 255 white; what is darker is printed
TRIED = say("take that logo")
_SAVE = say("Save it as a PNG of one colour on white")


def one_colour(data: bytes) -> bytes:
    """A black and white PNG out of a PNG somebody sent. BadInput says what is wrong with it.

    The size is read from the head before a single dot is unpacked, so that a small file cannot
    unfold into gigabytes.
    """
    from PIL import Image, UnidentifiedImageError

    if len(data) > MOST_BYTES:
        why = say("it has more than {n} KiB", n=MOST_BYTES >> 10)
        raise BadInput(TRIED, why, say("Save it smaller, or with fewer colours"))
    if not data.startswith(b"\x89PNG\r\n\x1a\n"):
        raise BadInput(TRIED, say("it is no PNG file"), _SAVE)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(data), formats=["PNG"]) as sent:
                width, height = sent.size
                if not all(LEAST_SIDE <= side <= MOST_SIDE for side in (width, height)):
                    why = say("it is {width} x {height} dots", width=width, height=height)
                    do = say(
                        "Expected are {least} to {most} dots a side",
                        least=LEAST_SIDE,
                        most=MOST_SIDE,
                    )
                    raise BadInput(TRIED, why, do)
                seen = sent.convert("RGBA")
    except (
        UnidentifiedImageError,
        Image.DecompressionBombError,
        OSError,
        ValueError,
        SyntaxError,
        EOFError,
        Warning,
    ) as error:
        why = say("its picture cannot be read ({why})", why=type(error).__name__)
        raise BadInput(TRIED, why, _SAVE) from None
    paper = Image.new("RGBA", seen.size, "white")
    grey = Image.alpha_composite(paper, seen).convert("L")
    lowest, highest = grey.getextrema()
    if not (isinstance(lowest, int) and isinstance(highest, int) and lowest < DARK <= highest):
        raise BadInput(TRIED, say("all of it is dark, or none"), _SAVE)
    out = io.BytesIO()
    grey.point(lambda dot: 255 if dot >= DARK else 0).convert("1").save(out, "PNG", optimize=True)
    return out.getvalue()


def logo_file(desk: Desk) -> Path | None:
    """Where the logo is, or None where there is none."""
    file = desk.folder / NAME if desk.folder else None
    return file if file is not None and file.is_file() else None


def keep_logo(desk: Desk, data: bytes) -> Path:
    """Check a logo and put it into the shop folder, whole or not at all."""
    made = one_colour(data)
    if desk.folder is None:
        raise Refused(TRIED, say("this shop has no folder"), say("Open one with --shop DIR"))
    file = desk.folder / NAME
    part = file.with_suffix(".part")
    try:
        part.write_bytes(made)
        part.replace(file)
    except OSError as error:
        part.unlink(missing_ok=True)
        do = say("Check that the shop folder can be written")
        raise DiskRefused(TRIED, answer_of(error), do) from None
    return file


def remove_logo(desk: Desk) -> None:
    """Take the logo away. Refused where there is none."""
    file = logo_file(desk)
    if file is None:
        raise Refused(say("take the logo away"), say("there is none"))
    file.unlink(missing_ok=True)
