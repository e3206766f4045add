"""An invented shop's food, and random food for the laws every label obeys."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import zxingcpp
from hypothesis import strategies as st

from labels import Blank, DateMark, Facts, Ingredient, Maker, NetQuantity, Panel
from labels.picture import render
from labels.symbols import Symbol, code128, ean8, ean13, lot_symbol, qr, upca
from tests.needs import lacking

CJK_FACE = "/usr/share/fonts/truetype/droid/DroidSansFallbackFull.ttf"  # fonts-droid-fallback


def cjk_face() -> str:
    """A face for Chinese, where this machine has it."""
    if not Path(CJK_FACE).is_file():
        lacking("a Chinese face", "Install it (Debian: fonts-droid-fallback)")
    return CJK_FACE


MAKER = Maker(
    name="Millrace Tofu Works",
    street="14 Sluice Street",
    city="Alder Ferry",
    state="OR",
    zip="97099",
    phone="555-0142",
)
WATER = Ingredient(name="water", second="agua", grams=Decimal(9000), water=True)
SOYBEANS = Ingredient(name="soybeans", second="soya", grams=Decimal(3000), allergens=("soy",))
GYPSUM = Ingredient(name="calcium sulfate", second="sulfato de calcio", grams=Decimal(60))


def texts_on(path: Path, dpi: int) -> list[str]:
    """What a reader finds on the first page of a PDF; it reads a UPC-A as EAN-13 with a zero."""
    dots = render(path, dpi).convert("L")
    found = zxingcpp.read_barcodes(dots, text_mode=zxingcpp.TextMode.Plain)
    return [c.text.removeprefix("0") if len(c.text) == 13 else c.text for c in found]


def rectangle(width: float, height: float) -> Panel:
    return Panel("rectangle", (Decimal(str(width)), Decimal(str(height))))


def firm_tofu(**changed: Any) -> Facts:
    """A water-packed block, with anything about it changed."""
    told: dict[str, Any] = {
        "name": "Firm Tofu",
        "second_name": "Tofu firme",
        "second_language": "es",
        "ingredients": (WATER, SOYBEANS, GYPSUM),
        "finished": Decimal(6000),
        "net": NetQuantity.of("14 oz"),
        "date_mark": DateMark("best-by", date(2026, 11, 30)),
        "lot": "26328-01",
        "maker": MAKER,
        "panel": rectangle(110, 75),
        "symbols": (lot_symbol("26328-01"),),
    }
    return Facts(**{**told, **changed})


_WORDS = ["tofu", "smoked", "five-spice", "sesame", "ginger", "Öl", "jalapeño", "Žižka", "black"]
_NAMES = st.lists(st.sampled_from(_WORDS), min_size=1, max_size=4).map(" ".join)
_KEYS = ["soy", "wheat", "sesame", "tree-nut:almond", "fish:cod", "milk"]
_GRAMS = st.integers(1, 9000).map(Decimal)
_PLAIN = st.builds(
    Ingredient,
    name=_NAMES,
    second=_NAMES,
    grams=_GRAMS,
    allergens=st.lists(st.sampled_from(_KEYS), max_size=2, unique=True).map(tuple),
)
_COMPOUND = st.builds(
    Ingredient,
    name=_NAMES,
    second=_NAMES,
    grams=_GRAMS,
    parts=st.lists(_PLAIN, min_size=2, max_size=3).map(tuple),
)
SYMBOLS: list[Symbol] = [
    lot_symbol("26328-01"),
    code128("A7 mixed 99"),
    ean13("9521234000013"),
    ean8("95012346"),
    upca("036000291452"),
    qr("https://id.gs1.org/01/09521234000013/10/26328-01?15=261130"),
]
_NET = st.one_of(
    st.builds(NetQuantity, grams=st.integers(20, 3000).map(Decimal)),
    st.builds(NetQuantity, ml=st.integers(20, 3000).map(Decimal)),
    st.builds(NetQuantity, count=st.integers(2, 12)),
)

FOODS = st.builds(
    firm_tofu,
    name=_NAMES,
    second_name=st.sampled_from(["", "Tofu firme", "Đậu phụ"]),
    ingredients=st.lists(st.one_of(_PLAIN, _COMPOUND), min_size=2, max_size=6).map(tuple),
    finished=st.none(),
    net=_NET,
    panel=st.builds(rectangle, st.integers(30, 200), st.integers(30, 200)),
    symbols=st.lists(st.sampled_from(SYMBOLS), max_size=1).map(tuple),
    handling=st.sampled_from(["", "Once open, cover with fresh water and use within 3 days."]),
    date_mark=st.sampled_from(
        [DateMark("best-by", date(2026, 11, 30)), DateMark("use-by", date(2026, 9, 5))]
    ),
)
BLANKS = st.builds(
    Blank,
    name=st.just("random"),
    width=st.integers(400, 1600).map(lambda tenths: tenths / 10),
    height=st.integers(300, 2000).map(lambda tenths: tenths / 10),
    dpi=st.sampled_from([203, 300, 600]),
)
SMALL_BLANKS = st.builds(
    Blank, name=st.just("small"), width=st.integers(30, 90), height=st.integers(15, 50)
)
