"""The inspector's folder: every record of some days, read back out of the PDF."""

from __future__ import annotations

import io
import re
from datetime import date, time
from decimal import Decimal
from pathlib import Path

import pdfplumber
import pypdfium2
import pytest
import reportlab

from counter.errors import BadInput, Refused
from counter.reports.blocks import Column, Document, Heading, Table, Text
from counter.reports.paper import MARGIN, draw_document
from counter.trade.batch_note import BatchNote
from tests.conftest import CATALOGUE, Maker, ShopInHand

TUESDAY, WEDNESDAY, THURSDAY = (date(2026, 11, n) for n in (24, 25, 26))
SECTIONS = [
    "Verdict", "Production log", "Allergens", "Cook and cooling", "Temperatures of fridge, display and hot well",
    "Thermometers", "Holding at the counter", "Date marks", "Waste", "Lots stopped and released",
    "Corrections of sealed days", "Asked and answered", "Traces",
]  # fmt: skip


def pages_of(path: Path) -> list[str]:
    with pdfplumber.open(path) as pdf:
        return [" ".join(page.extract_text().split()) for page in pdf.pages]


def outline(path: Path) -> list[tuple[int, str, int]]:
    pdf = pypdfium2.PdfDocument(path)
    found = [(mark.level, mark.get_title(), mark.get_dest().get_index()) for mark in pdf.get_toc()]
    pdf.close()
    return found


@pytest.fixture
def folder(hand: ShopInHand, tmp_path: Path) -> Path:
    hand.shop.closed_days.correct(
        TUESDAY, "one broken under the press", lot="26328-01", amount=-1, by="Ida"
    )
    return hand.shop.reports.write_inspection(TUESDAY, THURSDAY, tmp_path / "i.pdf")


def test_a_stop_on_a_closed_day_stands_in_the_folder_and_is_traced(
    hand: ShopInHand, tmp_path: Path
) -> None:
    hand.clock.set("2026-11-25 20:00")  # it was closed at six
    hand.shop.holds.hold("26329-01", True, "the mill called", by="Rosa")
    hand.clock.set("2026-11-26 09:00")
    path = hand.shop.reports.write_inspection(WEDNESDAY, THURSDAY, tmp_path / "i.pdf")
    stops = section(path, "Lots stopped and released")
    assert "Nov 25, 2026 26329-01 STOPPED 11/25/26, 8:00 PM the mill called Rosa" in stops
    assert "Lot 26329-01" in [title for _, title, _ in outline(path)]
    assert "ANYTHING ON Nov 26, 2026: there is no book of that day" in section(path, "Verdict")
    other = hand.shop.reports.write_inspection(TUESDAY, TUESDAY, tmp_path / "other.pdf")
    assert "the mill called" not in section(other, "Lots stopped and released")


def test_contents_and_bookmarks_lead_to_the_section(folder: Path) -> None:
    pages, marks = pages_of(folder), outline(folder)
    assert [title for level, title, _ in marks if level == 0] == SECTIONS
    under = [title for level, title, _ in marks if level == 1]
    assert under[0] == "Not written down"
    assert under[-2:] == ["Lot 26328-01", "Lot 26328-03"]
    for _, title, page in marks:
        assert title in pages[page]
        assert f"{title} {page + 1}" in pages[0]
    for number, page in enumerate(pages, 1):
        assert f"{number} of {len(pages)}" in page


def section(path: Path, title: str) -> str:
    """The text of all pages of a section."""
    pages, marks = pages_of(path), [m for m in outline(path) if m[0] == 0]
    where = [m[1] for m in marks].index(title)
    end = marks[where + 1][2] if where + 1 < len(marks) else len(pages)
    return " ".join(pages[marks[where][2] : end])


def test_each_section_says_what_was_written_down(folder: Path) -> None:
    log = section(folder, "Production log")
    for lot in ("26328-01", "26328-02", "26328-03", "26329-01"):
        assert lot in log
    assert "[AF-46]" in log
    assert "=SUM(A1)" in log
    assert "lot 26328-01: 16" in log
    cook = section(folder, "Cook and cooling")
    assert "boiled 10 min" in cook
    assert "not needed" in cook
    places = section(folder, SECTIONS[4])
    assert "39.2 °F" in places  # 4 °C
    assert "122 °F" in places  # 50 °C in the hot well
    assert places.count("OUT OF LIMITS") == 1
    assert "turned up" in places
    held = section(folder, "Holding at the counter")
    assert "opened cold with 8 l of lot 26328-02" in held
    assert "38.3 °F" in held  # 3.5 °C
    assert "taken away, 7 l left, put back cold" in held
    waste = section(folder, "Waste")
    assert "@dropped, by the delivery" in waste
    assert "broken" in waste
    stops = section(folder, "Lots stopped and released")
    assert "hair found" in stops
    assert "was a thread" in stops
    assert "one broken under the press" in section(folder, "Corrections of sealed days")
    traces = section(folder, "Traces")
    assert "Accounted for in number: 94 of 96 Firm Tofu, 9 of it by assumption" in traces
    surely, may_be = traces.index("Sales surely of"), traces.index("Sales that may be of")
    assert "None that is known." in traces[surely:may_be]
    assert traces[may_be:].count("11/2") >= 5


@pytest.mark.parametrize(("title", "moments"), [("Production log", 4), ("Cook and cooling", 11)])
def test_no_moment_is_torn_into_two_lines(folder: Path, title: str, moments: int) -> None:
    assert len(re.findall(r"\d\d?/\d\d?/\d\d, \d\d?:\d\d [AP]M", section(folder, title))) == moments


def test_a_batch_is_shown_as_last_corrected_even_later(hand: ShopInHand, tmp_path: Path) -> None:
    note = BatchNote(cooled=(time(5, 30), time(8)))
    hand.shop.desk.questions.given = {"late": "the slip was under the press"}
    hand.shop.amendments.amend_batch("26328-01", note, "times were on a slip", by="Ida")
    path = hand.shop.reports.write_inspection(TUESDAY, TUESDAY, tmp_path / "i.pdf")
    log = section(path, "Production log")
    assert "corrected 1x: " in log
    assert "times were on a slip" in log  # behind what stands beside it on the next line
    assert "11/24/26, 8:00 AM" in section(path, "Cook and cooling")
    assert "26329-01" not in " ".join(pages_of(path))


def test_a_batch_whose_cooling_nobody_noted_is_said_in_capitals(
    hand: ShopInHand, tmp_path: Path
) -> None:
    hand.batch(made=10, cooled=None)
    path = hand.shop.reports.write_inspection(THURSDAY, THURSDAY, tmp_path / "i.pdf")
    assert "COOLING NOT NOTED" in section(path, "Cook and cooling")


def test_a_batch_cooled_too_slowly_is_said_to_be(hand: ShopInHand, tmp_path: Path) -> None:
    times = [time(hour) for hour in (5, 8, 16)]
    hand.clock.set("2026-11-26 16:10")
    hand.batch(made=10, cook_ended=times[0], cooled=(times[1], times[2]))
    path = hand.shop.reports.write_inspection(THURSDAY, THURSDAY, tmp_path / "i.pdf")
    assert "TOO SLOW: it took 3 h 00 min" in section(path, "Cook and cooling")
    assert "Lot 26330-01" in [title for _, title, _ in outline(path)]  # stopped, so it is traced


def test_days_without_a_record_say_so(hand: ShopInHand, tmp_path: Path) -> None:
    path = hand.shop.reports.write_inspection(WEDNESDAY, WEDNESDAY, tmp_path / "i.pdf")
    assert "No temperature was written down in these days." in section(path, SECTIONS[4])
    assert "No lot was stopped or released." in section(path, "Lots stopped and released")
    with pytest.raises(Refused, match="no day of them has a book"):
        hand.shop.reports.write_inspection(date(2026, 10, 1), date(2026, 10, 2))
    with pytest.raises(BadInput, match="ends before it begins"):
        hand.shop.reports.write_inspection(WEDNESDAY, TUESDAY.replace(month=9))


def test_the_same_days_give_the_same_bytes(hand: ShopInHand, tmp_path: Path) -> None:
    first = hand.shop.reports.write_inspection(TUESDAY, WEDNESDAY, tmp_path / "a.pdf")
    hand.clock.forward(minutes=7)
    second = hand.shop.reports.write_inspection(TUESDAY, WEDNESDAY, tmp_path / "b.pdf")
    assert first.read_bytes() == second.read_bytes()


# -- the document


def drawn(document: Document, tmp_path: Path) -> list[str]:
    path = tmp_path / "d.pdf"
    path.write_bytes(draw_document(document, "a4", "en"))
    return pages_of(path)


def test_no_row_and_no_word_is_lost_over_many_pages(tmp_path: Path) -> None:
    rows = tuple(
        (f"r{n}", " ".join(f"w{n}x{i}" for i in range(n % 30)), str(n)) for n in range(300)
    )
    grid = Table("", (Column("name", 1), Column("words", 2), Column("figure", 1, "right")), rows)
    blocks = (Heading("One"), Text("Before."), grid, Heading("Two", 2), grid)
    pages = drawn(Document("T", "W", "K", blocks, "foot", intro=("I",), contents=True), tmp_path)
    words = " ".join(pages).split()
    for name, cell, _ in rows:
        assert words.count(name) == 2
        assert all(words.count(word) == 2 for word in cell.split())
    tables = [page for page in pages[1:] if "r" in page]
    assert all("name words figure" in page for page in tables)
    assert all("foot" in page for page in pages)


def test_a_word_too_long_for_its_column_is_broken_not_cut(tmp_path: Path) -> None:
    word = "abcdefghij" * 30
    grid = Table("", (Column("a", 1), Column("b", 1)), ((word, word),))
    text = "".join(drawn(Document("T", "W", "K", (grid,), "f"), tmp_path))
    letters = text.replace(" ", "")
    assert letters.count("a") >= 60
    assert letters.count("j") == 60


def test_a_row_higher_than_a_page_goes_on_on_the_next_one(tmp_path: Path) -> None:
    long = " ".join(f"w{n}" for n in range(2000))
    grid = Table("Notes", (Column("a", 1), Column("b", 3)), (("x", long), ("*y", "last")))
    pages = drawn(Document("T", "W", "K", (grid,), "f"), tmp_path)
    words = " ".join(pages).split()
    assert all(words.count(word) == 1 for word in (*long.split(), "last"))
    assert len(pages) > 1
    assert all("Notes" in page for page in pages)


def test_a_face_of_the_shop_writes_what_the_house_face_lacks_whatever_its_file_is_called(
    tmp_path: Path,
) -> None:
    face = tmp_path / """my & "odd" <face>.ttf"""
    face.write_bytes((Path(reportlab.__file__).parent / "fonts" / "Vera.ttf").read_bytes())
    grid = Table("T ∃", (Column("a ∃", 1), Column("b", 3)), (("<b>∃ & x", "∃x " * 60), ("*∃", "y")))
    blocks = (Heading("H ∃"), Text("Text ∃ <i>", bold=True), grid)
    data = draw_document(Document("D ∃", "W ∃", "K ∃", blocks, "f ∃"), "a4", "en", face)
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        text = " ".join(page.extract_text() for page in pdf.pages)
    assert text.count("∃") == 10 + 60
    assert all(word in text for word in ("<b>∃ & x", "Text ∃ <i>"))
    assert b"/Helvetica" not in data


def test_a_long_name_of_a_shop_runs_into_nothing(tmp_path: Path) -> None:
    name = "Millrace Tofu Works and Sons " * 9
    table = Table("", (Column("a", 1),), tuple((str(n),) for n in range(200)))
    path = tmp_path / "d.pdf"
    path.write_bytes(draw_document(Document(name, name, "Kind", (table,), name), "a4", "en"))
    with pdfplumber.open(path) as pdf:
        for page in pdf.pages:
            assert max(c["x1"] for c in page.chars) <= float(page.width) - MARGIN + 0.1
            [kind] = [w for w in page.extract_words() if w["text"] == "Kind"]
            beside = [c["x1"] for c in page.chars if abs(c["bottom"] - kind["bottom"]) < 4]
            assert max(x for x in beside if x < kind["x1"] - 14) < kind["x0"] - 10


def test_nothing_runs_into_the_margins(folder: Path) -> None:
    with pdfplumber.open(folder) as pdf:
        for page in pdf.pages:
            edge = MARGIN - 1
            assert min(c["x0"] for c in page.chars) >= edge
            assert max(c["x1"] for c in page.chars) <= float(page.width) - edge
            body = [c for c in page.chars if c["top"] < float(page.height) - 40]
            assert max(c["bottom"] for c in body) <= float(page.height) - MARGIN


def test_temperatures_of_a_tub_kept_by_time_are_not_judged_as_cold(
    hand: ShopInHand, tmp_path: Path
) -> None:
    batch = hand.batch("pudding", 8000)
    tub = hand.shop.tubs.open_tub(batch.lot, "time", 8000, Decimal(4))
    hand.shop.tubs.check_tub(tub.tub, Decimal(15))
    path = hand.shop.reports.write_inspection(THURSDAY, THURSDAY, tmp_path / "i.pdf")
    assert "OUT OF LIMITS" not in section(path, "Holding at the counter")


def test_allergens_what_may_have_got_in_and_what_somebody_said_stand_in_it(
    make: Maker, tmp_path: Path
) -> None:
    # 21 USC 343(w): what the labels name; 321(qq)(2)(A): highly refined oil, by a word
    oil = '[ingredients.rapeseed-oil]\nname = "Canola Oil"\n'
    none = 'name = "Peanut Oil"\nallergens_none = { peanut = "highly refined" }\n'
    text = CATALOGUE.replace(oil, "[ingredients.rapeseed-oil]\n" + none)
    hand = make(catalogue=text + '\n[kitchen]\nmay_contain = ["sesame"]\n')
    hand.batch("puffs", 14, boiled_minutes=None, cook_celsius=Decimal(180), cook_minutes=5)
    told = section(
        hand.shop.reports.write_inspection(TUESDAY, TUESDAY, tmp_path / "i.pdf"), "Allergens"
    )
    assert "26328-01 Fried Tofu Puffs soy, wheat sesame peanut: highly refined" in told
