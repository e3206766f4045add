"""Symbols of random content, printed tired and looked at: ``python -m tests.codes.sweep [PRINTS]``.

Prints the figures that ``test_printed`` quotes. A *look* is one picture of one print of one symbol.
"""

from __future__ import annotations

import random
import string
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from labels.checks import with_check_digit
from labels.sizes import bar_heights_mm, dots_per_mm, module_dots
from labels.symbols import Symbol, code128, ean8, ean13, gs1_128, lot_symbol, qr, upca
from tests.codes.drawing import Scanner, answers_of_zbar, answers_of_zxing, draw, print_tired

DPIS = (203, 300, 600)
GAINS = (-0.5, 0.0, 0.5)


def _digits(chance: random.Random, count: int, first: str = "") -> str:
    return with_check_digit(first + "".join(chance.choices("0123456789", k=count - len(first))))


def _lot(chance: random.Random) -> str:
    return f"26{chance.randint(1, 365):03}-{chance.randint(1, 99):02}"


def _text(chance: random.Random) -> Symbol:
    letters = string.ascii_letters + string.digits + "-/ ."
    return code128("".join(chance.choices(letters, k=chance.randint(4, 14))))


def _elements(chance: random.Random) -> list[tuple[str, str]]:
    day = f"26{chance.randint(1, 12):02}{chance.randint(1, 28):02}"
    last = chance.choice([("10", _lot(chance)), ("3103", f"{chance.randint(50, 4000):06}")])
    return [("01", _digits(chance, 13, "0952")), (chance.choice(["15", "17"]), day), last]


def _link(chance: random.Random) -> Symbol:
    return qr(f"https://id.gs1.org/01/{_digits(chance, 13, '0952')}/10/{_lot(chance)}")


MAKERS: dict[str, Callable[[random.Random], Symbol]] = {
    "lot": lambda chance: lot_symbol(_lot(chance)),
    "code128": _text,
    "ean-13": lambda chance: ean13(_digits(chance, 12)),
    "ean-8": lambda chance: ean8(_digits(chance, 7)),
    "upc-a": lambda chance: upca(_digits(chance, 11)),
    "gs1-128": lambda chance: gs1_128(_elements(chance)),
    "qr": _link,
}


class Spoilt(NamedTuple):
    """What is wrong with a print: see ``drawing.print_tired``; ``tilt`` is to either side."""

    gain: float = 0.0
    specks: float = 0.02
    tilt: float = 2.0


TIRED = [Spoilt(gain) for gain in GAINS]


class Seen(NamedTuple):
    """What went in, and all that each reader sees, first what it sees along most lines.

    There is one symbol in a picture and a scanner gives one answer, so the first counts.
    """

    says: str
    zxing: list[str]
    zbar: list[str]

    @property
    def by_zxing(self) -> bool:
        return self.zxing[:1] == [self.says]

    @property
    def by_zbar(self) -> bool:
        return self.zbar[:1] == [self.says]

    @property
    def wrong(self) -> bool:
        """A reader's answer is another than what went in."""
        return not {*self.zxing[:1], *self.zbar[:1]} <= {self.says}

    @property
    def doubtful(self) -> bool:
        """A reader sees something else besides, along fewer lines."""
        return len(self.zxing) > 1 or len(self.zbar) > 1


def look(
    kind: str,
    dpi: int,
    spoilt: Spoilt,
    number: int,
    *,
    smallest: bool = False,
    height_mm: float = 0.0,
    scanner: Scanner = Scanner(),  # noqa: B008  (a plain value)
    again: int = 0,
    grown: bool = False,
) -> Seen:
    """One look at print ``number``, at the target module width or the ``smallest``; bars as high as
    the standard asks at the least, or ``height_mm``. ``again`` counts looks at the same print: the
    pixels fall upon it elsewhere. ``grown``: specks are spoilt as bars are."""
    chance = random.Random(f"{kind} {dpi} {spoilt} {number}")
    symbol = MAKERS[kind](chance)
    dots = module_dots(symbol, dpi, smallest=smallest)
    least, _ = bar_heights_mm(symbol, dots / dots_per_mm(dpi))
    clean = draw(symbol, dpi, dots=dots, height=round((height_mm or least) * dots_per_mm(dpi)))
    page = print_tired(clean, gain=spoilt.gain, specks=spoilt.specks, chance=chance, grown=grown)
    hand = random.Random(f"{symbol.data} {again}")
    picture = scanner.look(page, dots, hand.choice((-1, 1)) * spoilt.tilt, hand)
    says = "0" + symbol.data if symbol.kind == "upc-a" else symbol.data
    return Seen(says, answers_of_zxing(picture, symbol.kind), answers_of_zbar(picture, symbol.kind))


def count(looks: Iterable[Seen]) -> Counter[str]:
    """How many looks there were; how many each reader, or neither, read; wrong and doubtful ones."""
    total: Counter[str] = Counter()
    for seen in looks:
        total["looks"] += 1
        total["zxing"] += seen.by_zxing
        total["zbar"] += seen.by_zbar
        total["neither"] += not seen.by_zxing and not seen.by_zbar
        total["wrong"] += seen.wrong
        total["doubtful"] += seen.doubtful
    return total


def _cell(total: Counter[str]) -> str:
    more = "".join(
        f", {total[what]} {what}" for what in ("neither", "wrong", "doubtful") if total[what]
    )
    return f"{total['zxing']} {total['zbar']} of {total['looks']}{more}"


def _tell(title: str, prints: int, spoilt: Iterable[Spoilt], **how: Any) -> None:
    """A line a kind, a cell a resolution: read by ZXing, by ZBar, of how many looks."""
    print(f"\n{title}")
    spoilt, whole = list(spoilt), Counter[str]()
    for kind in MAKERS:
        cells = []
        for dpi in DPIS:
            total = count(look(kind, dpi, s, n, **how) for s in spoilt for n in range(prints))
            whole += total
            cells.append(_cell(total))
        print(f"  {kind:8} {' | '.join(cells)}", flush=True)
    print(f"  in all   {_cell(whole)}", flush=True)


def looks_needed(kind: str, dpi: int, spoilt: Spoilt, number: int, most: int) -> int:
    """How often one must look at a print until both readers have read it; ``most`` + 1 if never."""
    read = {"zxing": False, "zbar": False}
    for again in range(most):
        seen = look(kind, dpi, spoilt, number, again=again)
        read["zxing"] |= seen.by_zxing
        read["zbar"] |= seen.by_zbar
        if all(read.values()):
            return again + 1
    return most + 1


def _tell_looks_when_straight(prints: int) -> None:
    print("\ntarget module width, half a dot fatter, held exactly straight: most looks needed")
    for kind in MAKERS:
        most = [
            max(looks_needed(kind, dpi, Spoilt(0.5, 0, 0), n, 10) for n in range(prints))
            for dpi in DPIS
        ]
        print(f"  {kind:8} {' | '.join(map(str, most))}", flush=True)


def main(prints: int) -> None:
    """Print every table, with ``prints`` prints of each kind at each resolution and gain."""
    few = max(1, prints // 6)
    print("read by ZXing, by ZBar, of so many looks | at", ", ".join(f"{dpi} dpi" for dpi in DPIS))
    _tell("target module width", prints, TIRED)
    _tell("least module width", prints, TIRED, smallest=True)
    _tell("target, bars 5 mm high", few, TIRED, height_mm=5.0)
    _tell("target, specks grown", few, [s for s in TIRED if s.gain], grown=True)
    for title, spoilt in {
        "nothing wrong": Spoilt(specks=0, tilt=0),
        "half a dot fatter, half a degree": Spoilt(0.5, specks=0, tilt=0.5),
        "half a dot fatter, held exactly straight": Spoilt(0.5, specks=0, tilt=0),
        "half a dot thinner, held exactly straight": Spoilt(-0.5, specks=0, tilt=0),
        "specks": Spoilt(tilt=0),
        "tilt": Spoilt(specks=0),
        "all, and a whole dot fatter": Spoilt(1.0),
        "all, and specks in one dot of twenty": Spoilt(0.5, specks=0.05),
    }.items():
        _tell(f"least module width, {title}", few, [spoilt], smallest=True)
    _tell_looks_when_straight(few)
    for scanner in (
        Scanner(spot=0.5),
        Scanner(pixels=3),
        Scanner(pixels=8),
        Scanner(contrast=1.0),
        Scanner(contrast=0.4),
    ):
        _tell(f"target module width, {scanner}", few, TIRED, scanner=scanner)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
