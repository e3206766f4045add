"""Every error of the label package.

LabelError              one sentence: what was tried, the value, what was expected, what to do
├── BadValue            a text or number that means nothing here, whatever the label
├── BadSymbol           data that a bar code of this kind cannot carry
├── MissingFact         the rule set asks for something the facts do not say
├── NoGlyph             a character that no face can write
├── DoesNotFit          a statement finds no room at the least size the law allows
├── NotReadable         our own reader cannot read the symbol that was drawn
└── NotWritten          the disk refused the file; what was there before is still there
"""

from __future__ import annotations

import errno

from labels.say import NOTHING, Said, say, sentence


def answer_of(error: OSError) -> Said:
    """What the system answered, as a reason: the usual answers in words of ours."""
    return _ANSWERS.get(error.errno or 0) or Said((error.strerror or str(error)).lower())


_ANSWERS = {
    errno.ENOENT: say("no such file or directory"),
    errno.EACCES: say("permission denied"),
    errno.EEXIST: say("file exists"),
    errno.ENOTDIR: say("not a directory"),
    errno.EISDIR: say("is a directory"),
    errno.ENOSPC: say("no space left on device"),
    errno.EROFS: say("read-only file system"),
    errno.EIO: say("input/output error"),
}


class LabelError(Exception):
    """Root of the tree. ``tried``, ``why`` and ``do`` are the three parts of the sentence."""

    def __init__(self, tried: Said, why: Said, do: Said = NOTHING) -> None:
        self.said = sentence(tried, why, do)
        super().__init__(self.said)
        self.tried, self.why, self.do = tried, why, do


class BadValue(LabelError):
    """A text or number that means nothing here, whatever the label."""


class BadSymbol(LabelError):
    """Data that a bar code of this kind cannot carry, or a size no scanner would read."""


class MissingFact(LabelError):
    """The rule set asks for something the facts do not say."""


class NoGlyph(LabelError):
    """A character that no face can write. It is refused before anything is drawn."""


class NotReadable(LabelError):
    """A symbol was drawn that our own reader cannot read back: it is not printed."""


class NotWritten(LabelError):
    """The disk refused the file. No half of it is left, and what was there before still is."""


class DoesNotFit(LabelError):
    """A statement finds no room at the least size the law allows.

    ``statement`` is its key, ``missing_mm`` the height or width that is lacking, and
    ``least_mm`` the (width, height) of the least blank that would hold the label, if known.
    """

    def __init__(
        self,
        tried: Said,
        why: Said,
        do: Said = NOTHING,
        *,
        statement: str,
        missing_mm: float,
        least_mm: tuple[float, float] | None = None,
    ) -> None:
        super().__init__(tried, why, do)
        self.statement, self.missing_mm, self.least_mm = statement, missing_mm, least_mm
