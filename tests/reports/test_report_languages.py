"""Papers of a Spanish and of a German shop: its words, its clock, its figures, and no English.

A shop writes down its day with words that are no English (here "sic"), so that what is found in
English on its papers was said by the program.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import date, time
from decimal import Decimal
from pathlib import Path

import pdfplumber
import pytest

from counter.languages import Language
from counter.shop import Shop
from labels.say import Said
from tests.conftest import SETTINGS, Clock, Filled, ShopInHand
from tests.web.test_web_sentences import left_in_english

DAY, NEXT = date(2026, 11, 24), date(2026, 11, 25)
SPANISH = SETTINGS.replace('language = "en_US"', 'language = "es_US"')
GERMAN = SETTINGS.replace('language = "en_US"', 'language = "de_DE"').replace(
    'market = "us"', 'market = "eu"'
)
SAME = {"°Brix", "base"}  # written alike in both languages
MOMENT = {
    "es_US": re.compile(r"24/11/2026, 4:10 a\.\s?m\."),
    "de_DE": re.compile(r"24\.11\.26, 04:10"),
}


def a_full_day(hand: ShopInHand) -> None:
    """Something for every table and sentence of the papers, and a day after it."""
    shop, clock = hand.shop, hand.clock
    shop.desk.questions.given = dict.fromkeys(
        ("day", "cash", "uncounted", "cooling", "cooked", "late", "made"), "sic"
    )
    firm = hand.batch(made=96, codes={"soybeans": "AF-46"}, notes="sic", brix=Decimal("11.5"))
    clock.set("2026-11-24 05:00")
    _, tub = hand.pudding()
    smoked = hand.batch(
        "smoked",
        8,
        boiled_minutes=None,
        mixed=((firm.lot, 16),),
        cooled=(hand.ago(35), hand.ago(10)),
    )
    shop.evening.move_cash("float", 15000)
    clock.set("2026-11-24 08:00")
    shop.records.note_temperature("fridge", Decimal("4.5"), by="Ida")
    shop.records.note_temperature("fridge", Decimal(9), "sic", by="Ida")
    shop.records.check_thermometer("probe 1", "ice", Decimal("1.5"), by="Ida")
    hand.sell("firm-block*3", cash=5000)
    hand.sell("cup-small*2")
    hand.sell("smoked-block*2")
    sale = hand.sell("firm-block*2")
    shop.counter.refund(sale.number, "sic", {1: 1}, restock=True)
    shop.counter.refund(hand.sell("firm-block").number, "sic", {1: 1}, restock=True)
    shop.holds.hold(firm.lot, True, "sic", by="Ida")
    shop.holds.hold(firm.lot, False, "sic", by="Ida")
    shop.holds.hold(smoked.lot, True, "sic", by="Rosa")
    shop.waste.throw_away(firm.lot, 2, "broken", by="Ida")
    shop.waste.throw_away(firm.lot, 1, "other", "sic", by="Ida")
    shop.tubs.check_tub(tub, Decimal("3.5"), by="Ida")
    clock.set("2026-11-24 12:30")
    shop.tubs.check_tub(tub, Decimal("8.5"))
    shop.tubs.end_tub(tub, 7000, kept=False, by="Ida")
    clock.set("2026-11-24 18:34")
    slow = hand.batch("soft", 30, cook_ended=time(11), cooled=(time(14, 30), time(18)))
    shop.evening.close_day(cash=20000, by="Ida")
    clock.set("2026-11-25 04:10")
    shop.closed_days.correct(DAY, "sic", lot=slow.lot, amount=-1, by="Ida")
    hand.batch(made=48)


@pytest.fixture
def played(filled: Filled, tmp_path: Path) -> ShopInHand:
    return filled(tmp_path / "shop", a_full_day)


def papers(shop: Shop, folder: Path) -> Iterator[bytes]:
    """Every paper of the shop; the closing report and the inspector's folder come first."""
    lots = [lot.day.lot for lot in shop.reports.day_summary(DAY).lots]
    yield shop.reports.day_report(DAY)
    yield shop.reports.write_inspection(DAY, NEXT, folder / "i.pdf", lots).read_bytes()
    yield shop.reports.day_report(NEXT)
    for kind in ("week", "month", "year"):
        yield shop.reports.span_report(shop.reports.span_summary(kind, DAY))  # type: ignore[arg-type]
    yield shop.reports.write_recall_sheet(shop.records.recall(lots), folder / "r.pdf").read_bytes()


def in_language(hand: ShopInHand, settings: str) -> Shop:
    assert hand.shop.desk.folder is not None
    (hand.shop.desk.folder / "shop.toml").write_text(settings, "utf-8")
    hand.shop.desk.books.close()
    clock = Clock()
    clock.moment = hand.clock.moment
    return Shop.open(hand.shop.desk.folder, clock)


def read(pdf: bytes) -> str:
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        pages = [page.extract_text(x_tolerance=1.5) for page in document.pages]
    return " ".join(" ".join(pages).split())


@pytest.mark.parametrize("settings", [SPANISH, GERMAN], ids=["es_US", "de_DE"])
def test_papers_keep_no_english_word(
    played: ShopInHand, settings: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_up, kept, found = 0, set[str](), Language.found

    def watched(self: Language, said: Said) -> str:
        nonlocal looked_up
        text = found(self, said)
        looked_up += 1
        if text in (said.template, said.plural) and re.search(
            r"[^\W\d_]{3}", re.sub(r"{\w+}", "", text)
        ):
            kept.add(text)
        return text

    monkeypatch.setattr(Language, "found", watched)
    texts = [read(pdf) for pdf in papers(in_language(played, settings), tmp_path)]
    assert looked_up > 2000
    assert kept - SAME == set()
    german = {"was", "an"} if settings == GERMAN else set()
    assert [left_in_english(text) - german for text in texts] == [set()] * len(texts)


def test_a_spanish_paper_writes_clocks_days_and_figures_as_spanish_does(
    played: ShopInHand, tmp_path: Path
) -> None:
    day, folder, *_ = (read(pdf) for pdf in papers(in_language(played, SPANISH), tmp_path))
    assert "martes, 24 de noviembre de 2026" in day
    assert re.search(r"sellado 24/11/2026, 6:34 p\.\s?m\. por Ida", day)
    assert "Informe de cierre" in day
    assert "40.1 °F" in folder  # 4.5 °C: the market reads Fahrenheit
    assert MOMENT["es_US"].search(folder)


def test_a_german_paper_writes_clocks_days_and_figures_as_german_does(
    played: ShopInHand, tmp_path: Path
) -> None:
    day, folder, *_ = (read(pdf) for pdf in papers(in_language(played, GERMAN), tmp_path))
    assert "Dienstag, 24. November 2026" in day
    assert "versiegelt 24.11.26, 18:34 von Ida" in day
    assert "11,5" in day  # °Brix
    assert "4,5 °C" in folder
    assert MOMENT["de_DE"].search(folder)


@pytest.mark.parametrize("settings", [SPANISH, GERMAN], ids=["es_US", "de_DE"])
def test_the_same_paper_has_the_same_bytes_in_every_language(
    played: ShopInHand, settings: str, tmp_path: Path
) -> None:
    shop = in_language(played, settings)
    for n in "ab":
        (tmp_path / n).mkdir()
    assert [*papers(shop, tmp_path / "a")] == [*papers(shop, tmp_path / "b")]


def test_no_long_word_is_torn(played: ShopInHand, tmp_path: Path) -> None:
    folder = [*papers(in_language(played, GERMAN), tmp_path)][1]
    text = read(folder)
    for word in ("Aufzeichnungen", "Warmhaltebecken", "Lieferantenchargen"):
        assert word in text
