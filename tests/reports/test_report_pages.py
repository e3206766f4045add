"""The reports on paper: every figure is there, shortened nowhere, and the bytes are the same."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from datetime import date, time
from pathlib import Path

import pdfplumber
import pytest

from counter.present import Presenter, decimals, weight
from counter.reports import blocks
from counter.reports.paper import draw_document
from counter.reports.pen import BODY
from counter.reports.report import draw_report
from counter.reports.spans import SpanSummary
from counter.shop import Shop
from counter.trade.sales import SlipItem
from counter.trade.units import show_amount
from tests.conftest import DATED_CATALOGUE, SETTINGS, Maker, ShopInHand
from tests.reports.conftest import LAST
from tests.reports.plain import us_clock


def read(pdf: bytes) -> str:
    """All text of a PDF as another program reads it, words parted by one blank."""
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        pages = [page.extract_text(x_tolerance=1.5) for page in document.pages]
    return " ".join(" ".join(pages).split())


def words_of_day(shop: Shop, day: date) -> list[str]:
    """Every figure of a day's summary as it must stand on paper."""
    found, telling = shop.reports.day_summary(day), shop.reports.telling()
    money = telling.money
    words = [money(found.price), money(found.net), money(found.total), money(found.paid)]
    words += [money(found.wasted_cost), money(found.wasted_price), money(found.refunded)]
    words += [money(found.cash.start), money(found.cash.expected), money(found.cash.left)]
    for p in found.portions:
        words += [f"{p.name} {p.quantity}", money(p.net)]
        words += [show_amount(p.drawn, p.unit)] if p.unit != "piece" else []
    words += [telling.round_money(h.total) for h in found.hours if h.total]
    for paid in found.payments:
        words += [f"{paid.kind.capitalize()} {paid.payments} {money(paid.amount)}"]
        words += [money(paid.amount - paid.refunded)]
    for tax in found.taxes:
        words += [tax.tax_class, money(tax.base), money(tax.tax), money(tax.tax - tax.refunded)]
    words += [f"{telling.product(k)} {us_clock(at)}" for k, at in found.sold_out_at.items()]
    words += [_lot_line(lot.day, telling) for lot in found.lots]
    for w in found.waste:
        unit = next(f.unit for f in found.flows if f.product == w.product)
        words += [f"{show_amount(w.amount, unit)} {money(w.cost)} {money(w.price)}"]
    for y in found.yields:
        words += [f"{y.lot} {telling.product(y.product)} {show_amount(y.made, y.unit)}"]
        words += [f"{y.brix.normalize():f}"] if y.brix is not None else []
        if y.beans_g:
            words += [weight(y.beans_g), decimals(y.weighs / y.beans_g)]
    for tub in found.tubs:
        words += [tub.tub, show_amount(tub.left, "ml")]
        words += [f"{us_clock(c.at)} {telling.temperature(c.celsius)}" for c in tub.checks]
    words += [w for r in found.refunds for w in (r.number, r.sale, money(r.amount), r.why)]
    words += [w for h in found.holds for w in (h.lot, h.why)]
    return [" ".join(word.split()) for word in words]


def _lot_line(lot: object, telling: Presenter) -> str:
    """``26325-01 Firm Tofu 11-25 – 188 146 16 3 23 –`` without the date."""
    from counter.trade.closing import LotDay

    assert isinstance(lot, LotDay)
    amounts = (
        lot.carried_in, lot.made, lot.sold, lot.used, sum(lot.wasted.values()), lot.carried_out,
        lot.variance,
    )  # fmt: skip
    return " ".join(telling.some(n, lot.unit) for n in amounts)


def days_of(shop: Shop) -> list[date]:
    return [c.day for c in shop.closings.between(date(2026, 1, 1), LAST)]


def test_another_program_reads_every_figure_of_a_closing_report(week: Shop) -> None:
    for day in days_of(week)[-3:]:
        text = read(week.reports.day_report(day))
        missing = [word for word in words_of_day(week, day) if word not in text]
        assert not missing
        assert "…" not in text


def test_a_report_is_one_or_two_pages(week: Shop) -> None:
    for day in days_of(week)[-3:]:
        with pdfplumber.open(io.BytesIO(week.reports.day_report(day))) as document:
            assert len(document.pages) <= 2


def test_the_foot_of_every_sheet_says_the_seal_as_it_is_compared_and_no_other_link(
    week: Shop,
) -> None:
    day = days_of(week)[-1]
    closing = week.closings.of(day)
    with pdfplumber.open(io.BytesIO(week.reports.day_report(day))) as document:
        for sheet in document.pages:
            text = sheet.extract_text()
            [foot] = re.findall(r"· seal ((?:[0-9a-f]{4} ?){4})", text)
            assert week.audit.check_seal(foot)[0] == day
            assert closing.book_link[:4] not in text


def test_the_report_kept_at_closing_is_the_report_on_demand(week: Shop, week_folder: Path) -> None:
    for day in days_of(week)[-2:]:
        assert (week_folder / "reports" / f"{day}.pdf").read_bytes() == week.reports.day_report(day)


def test_another_process_draws_the_same_bytes(week_folder: Path, week: Shop) -> None:
    program = (
        "import sys, pathlib, datetime, hashlib\n"
        "from counter.shop import Shop\n"
        "shop = Shop.open(pathlib.Path(sys.argv[1]))\n"
        "pdf = shop.reports.day_report(datetime.date.fromisoformat(sys.argv[2]))\n"
        "print(hashlib.sha256(pdf).hexdigest())\n"
    )
    from hashlib import sha256

    ran = subprocess.run(
        [sys.executable, "-c", program, str(week_folder), str(LAST)],
        capture_output=True, text=True, check=True, env={"PYTHONHASHSEED": "7"},
    )  # fmt: skip
    assert ran.stdout.strip() == sha256(week.reports.day_report(LAST)).hexdigest()


def test_all_faces_are_embedded(week: Shop, tmp_path: Path) -> None:
    sheet = tmp_path / "recall.pdf"
    lot = week.reports.day_summary(LAST).lots[0].day.lot
    week.reports.write_recall_sheet(week.records.recall([lot]), sheet)
    span = week.reports.span_report(week.reports.span_summary("week", LAST))
    for pdf in (week.reports.day_report(LAST), span, sheet.read_bytes()):
        with pdfplumber.open(io.BytesIO(pdf)) as document:
            fonts = {c["fontname"] for page in document.pages for c in page.chars}
        assert fonts
        assert all("FiraSansCondensed" in font for font in fonts)
        assert b"/Helvetica" not in pdf  # what the engine would take by itself


def test_nothing_reaches_over_the_margin(week: Shop) -> None:
    summary = week.reports.span_summary("week", LAST)
    for pdf in (week.reports.day_report(LAST), week.reports.span_report(summary)):
        with pdfplumber.open(io.BytesIO(pdf)) as document:
            for page in document.pages:
                assert min(c["x0"] for c in page.chars) >= 39
                assert max(c["x1"] for c in page.chars) <= float(page.width) - 39
                assert max(c["bottom"] for c in page.chars) <= float(page.height) - 30


@pytest.mark.parametrize("kind", ["week", "month", "year"])
def test_another_program_reads_every_figure_of_a_span(week: Shop, kind: str) -> None:
    summary = week.reports.span_summary(kind, LAST)  # type: ignore[arg-type]
    text, telling = read(week.reports.span_report(summary)), week.reports.telling()
    missing = [word for word in words_of_span(summary, telling) if word not in text]
    assert not missing
    assert week.reports.span_report(summary) == week.reports.span_report(summary)


def words_of_span(summary: SpanSummary, telling: Presenter) -> list[str]:
    money = telling.money
    words = [money(summary.total), money(summary.wasted_cost), money(summary.wasted_price)]
    words += [f"{p.name} {p.quantity} {money(p.net)}" for p in summary.portions]
    for product in summary.products:
        flow = product.flow
        amounts = (flow.carried_in, flow.made, flow.sold, flow.used, flow.wasted_all)
        words.append(" ".join(telling.some(n, flow.unit) for n in amounts))
        words.append(f"{money(product.net)} {money(product.wasted_cost)}")
    words += [money(n) for t in summary.taxes for n in (t.left_base, t.tax, t.refunded, t.left)]
    words += [money(amount) for amount in summary.payments.values()]
    if summary.kind == "year":
        words += [
            f"{p.first:%B} {p.days} {p.sales} {money(p.total)}" for p in summary.pieces if p.days
        ]
    else:
        words += [f"{d.sales} {money(d.total)}" for d in summary.days]
    words += [decimals(y.per_kilo / 1000) for y in summary.yields if y.per_kilo is not None]
    return [" ".join(word.split()) for word in words]


def test_words_behind_figures_stand_apart_from_them() -> None:
    columns = blocks.figures("labels", 1, str), blocks.words("why", 1, lambda _: "tasting")
    rows = blocks.table("Lots", ["7"], *columns)
    sheet = draw_document(blocks.Document("Day", "Shop", "Report", (rows,), "foot"), "a4", "en")
    with pdfplumber.open(io.BytesIO(sheet)) as document:
        found = {w["text"]: w for w in document.pages[0].extract_words()}
    for figure, word in (("7", "tasting"), ("labels", "why")):
        assert found[word]["x0"] - found[figure]["x1"] > BODY, (figure, word)


def test_a_letter_no_face_has_never_takes_the_line_with_it(hand: ShopInHand) -> None:
    hand.batch("firm", 24)
    hand.sell("firm-block")
    closing = hand.shop.evening.close_day(notes="豆腐 came late, Žižka knows")
    text = read(hand.shop.reports.day_report(closing.day))
    assert "?? came late, Žižka knows" in text


def test_a_day_of_nothing_has_a_report(hand: ShopInHand) -> None:
    hand.shop.evening.move_cash("float", 15000)
    text = read(hand.shop.reports.day_report(hand.shop.desk.today()))
    for word in ("Nothing was sold.", "No lot was there.", "Nothing was wasted.", "not sealed"):
        assert word in text


def test_a_day_of_very_many_lots_goes_on_over_pages(hand: ShopInHand) -> None:
    for n in range(90):
        hand.batch("firm", 10 + n)
    with pdfplumber.open(
        io.BytesIO(hand.shop.reports.day_report(hand.shop.desk.today()))
    ) as document:
        text = " ".join(page.extract_text() for page in document.pages)
        assert len(document.pages) > 3
    assert all(f"26328-{n:02}" in text for n in range(1, 91))
    assert "Lots, continued" in text


def test_an_eu_shop_reads_a4_and_its_own_money(make: Maker) -> None:
    eu = (
        SETTINGS.replace('market = "us"', 'market = "eu"')
        .replace('currency = "USD"', 'currency = "EUR"')
        .replace('language = "en_US"', 'language = "de_DE"')
        .replace('mode = "added"', 'mode = "included"')
    )
    hand = make(eu, DATED_CATALOGUE)
    hand.batch("firm", 24)
    hand.sell("firm-block*2")
    pdf = hand.shop.reports.day_report(hand.shop.desk.today())
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        page = document.pages[0]
        assert (round(float(page.width)), round(float(page.height))) == (595, 842)
    text = read(pdf)
    assert "6,50 €" in text
    assert "Dienstag, 24. November 2026" in text
    assert "davon Steuer" in text


def test_a_report_that_cannot_be_kept_does_not_undo_the_closing(folder_shop: ShopInHand) -> None:
    shop = folder_shop.shop
    folder_shop.batch("firm", 24)
    assert shop.desk.folder is not None
    (shop.desk.folder / "reports").write_text("in the way")
    closing = shop.evening.close_day()
    assert shop.desk.sealed_until() == closing.day
    assert shop.evening.report_trouble


def test_the_same_summary_gives_the_same_bytes(hand: ShopInHand) -> None:
    hand.batch("firm", 24)
    hand.sell("firm-block*2")
    summary = hand.shop.reports.day_summary(hand.shop.desk.today())
    telling = Presenter(hand.shop.desk.settings, hand.shop.desk.catalogue, minus="−")
    assert draw_report(summary, telling) == draw_report(summary, telling)


def test_what_a_correction_changes_stands_whole_on_both_days_papers(hand: ShopInHand) -> None:
    shop, day = hand.shop, hand.shop.desk.today()
    lot = hand.batch("firm", 24).lot
    shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    item = SlipItem("firm-block", 12, lot, how="named")
    shop.closed_days.forgotten_sale(day, item, "cash", "the tablet was off", time(15, 45))
    for text in map(
        read, (shop.reports.day_report(day), shop.reports.day_report(shop.desk.today()))
    ):
        assert "…" not in text
        for words in ("sold 12 x", "at 15:45", "taken", "drawer", "+$36.00"):
            assert words in text
