"""Check digits of the GS1 system. A wrong one is refused, never put right.

Sources: GS1 General Specifications 7.9.1 (numbers), 7.9.2 to 7.9.4 (prices and measures inside
restricted numbers).
"""

from __future__ import annotations

from labels.errors import BadSymbol
from labels.say import Said, say, term

GTIN_LENGTHS = (8, 12, 13, 14)
_KEY_LENGTHS = (*GTIN_LENGTHS, 18)  # 18: the number of a pallet or box (SSCC)

# GS1 General Specifications 7.9.2: what a digit counts for at its place.
_TWO_MINUS = (0, 2, 4, 6, 8, 9, 1, 3, 5, 7)
_THREE = (0, 3, 6, 9, 2, 5, 8, 1, 4, 7)
_FIVE_PLUS = (0, 5, 1, 6, 2, 7, 3, 8, 4, 9)
_FIVE_MINUS = (0, 5, 9, 4, 8, 3, 7, 2, 6, 1)
_FOUR_PLACES = (_TWO_MINUS, _TWO_MINUS, _THREE, _FIVE_MINUS)
_FIVE_PLACES = (_FIVE_PLUS, _TWO_MINUS, _FIVE_MINUS, _FIVE_PLUS, _TWO_MINUS)


def shown(text: str, most: int = 40) -> str:
    """``text`` as it stands in a sentence: control characters visible, the far end cut.

    >>> shown("01" + chr(29) + "2")
    '01<GS>2'
    """
    short = text if len(text) <= most else text[: most - 1] + "…"
    return "".join(
        "<GS>" if c == "\x1d" else c if c.isprintable() else f"<{ord(c):02X}>" for c in short
    )


def is_digits(text: str) -> bool:
    """Digits 0 to 9 only, at least one: not the digits of other scripts."""
    return text.isascii() and text.isdigit()


def _only_digits(digits: str, tried: Said) -> None:
    if not is_digits(digits):
        raise BadSymbol(tried, say("it is not made of the digits 0 to 9 alone"))


def check_digit(digits: str) -> int:
    """The digit that belongs behind ``digits``: weights 3, 1, 3, 1 … from the right, modulo 10.

    The same for GTIN-8, -12, -13, -14 and SSCC (GS1 General Specifications 7.9.1).
    Raises BadSymbol where something else than the digits 0 to 9 stands in it.

    >>> check_digit("629104150021")
    3
    """
    _only_digits(digits, say("work out the check digit of '{digits}'", digits=shown(digits)))
    total = sum(int(d) * (1 if i % 2 else 3) for i, d in enumerate(reversed(digits)))
    return -total % 10


def with_check_digit(digits: str) -> str:
    """``digits`` and their check digit. 7, 11, 12 or 13 of them, or 17 (SSCC).

    >>> with_check_digit("952123400001")
    '9521234000013'
    """
    check = check_digit(digits)
    if len(digits) + 1 not in _KEY_LENGTHS:
        tried = say("add a check digit to '{digits}'", digits=shown(digits))
        do = say("Give 7 for EAN-8, 11 for UPC-A, 12 for EAN-13 or 13 for GTIN-14")
        raise BadSymbol(tried, say("it has {n} digits", n=len(digits)), do)
    return f"{digits}{check}"


def checked(digits: str, length: int, kind: str) -> str:
    """``digits`` as they came, if they are ``length`` digits with the right check digit.

    ``kind`` is the word used in the sentence of the refusal ("EAN-13").

    >>> checked("7501031311308", 13, "EAN-13")
    Traceback (most recent call last):
        ...
    labels.errors.BadSymbol: Cannot use EAN-13 '7501031311308': its last digit is 8, but the \
digits before it ask for 9. Compare it with the original; it is never corrected here.
    """
    tried = say("use {kind} '{digits}'", kind=term(kind), digits=shown(digits))
    _only_digits(digits, tried)
    if len(digits) != length:
        why = say("it has {n} digits instead of {wanted}", n=len(digits), wanted=length)
        raise BadSymbol(tried, why)
    right = check_digit(digits[:-1])
    if int(digits[-1]) != right:
        why = say(
            "its last digit is {digit}, but the digits before it ask for {wanted}",
            digit=digits[-1],
            wanted=right,
        )
        raise BadSymbol(tried, why, say("Compare it with the original; it is never corrected here"))
    return digits


def price_check_digit_4(digits: str) -> int:
    """Check digit of a four-digit price or measure (GS1 General Specifications 7.9.3).

    The weighted sum times 3, modulo 10, is the digit itself. A wrong version is about that takes
    what is missing to ten and looks it up in the 5- table; the standard's own example passes there
    too.

    >>> price_check_digit_4("2875")
    9
    """
    return _weighted(digits, _FOUR_PLACES) * 3 % 10


def price_check_digit_5(digits: str) -> int:
    """Check digit of a five-digit price or measure (GS1 General Specifications 7.9.4).

    What is missing to the next ten, looked up backwards in the 5- table.

    >>> price_check_digit_5("14685")
    6
    """
    return _FIVE_MINUS.index(-_weighted(digits, _FIVE_PLACES) % 10)


def _weighted(digits: str, places: tuple[tuple[int, ...], ...]) -> int:
    tried = say("work out the price check digit of '{digits}'", digits=shown(digits))
    _only_digits(digits, tried)
    if len(digits) != len(places):
        why = say("it has {n} digits instead of {wanted}", n=len(digits), wanted=len(places))
        raise BadSymbol(tried, why)
    return sum(table[int(d)] for table, d in zip(places, digits, strict=True))
