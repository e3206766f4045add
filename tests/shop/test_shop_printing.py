"""Labels at a printer: the size of the blank arrives, upright and legible, and a printer that does
not print is said to."""

from __future__ import annotations

from pathlib import Path

import pytest
import zxingcpp

from counter.errors import Refused
from counter.shop import printing
from counter.shop.printing import media_of, send_to_printer
from labels import blank_named
from tests.conftest import ShopInHand
from tests.shop.printer import Cups, cups, dots_of, running_cups

__all__ = ["cups", "running_cups"]

LOT = "26328-01"
PAGE = (100.0, 75.0)


@pytest.mark.parametrize(
    "blank", ["roll-60x80", "roll-100x75", "roll-150x100", "sheet-a4-2x2-105x148.5"]
)
def test_a_label_arrives_at_the_printer_upright_in_the_size_of_its_blank(
    cups: Cups, folder_shop: ShopInHand, blank: str
) -> None:
    """Without a size it came out turned by 90° on the queue's own 4 x 5 inches."""
    out, hand = cups.queue("roll"), folder_shop
    hand.batch("pressed", 4000)
    run = hand.shop.labels.print_labels([(LOT, 1)], blank=blank, dpi=203)
    sent = hand.shop.labels.send_labels(run, "roll")
    assert sent.done
    assert sent.said.startswith("request id is roll-")
    dots, page = dots_of(out), blank_named(blank).page_mm
    for side, mm in zip(dots.size, page, strict=True):
        assert side == pytest.approx(mm / 25.4 * 203, rel=0.025)  # to a size the driver knows
    found = zxingcpp.read_barcodes(dots, text_mode=zxingcpp.TextMode.Plain)
    assert [(code.text, code.orientation) for code in found] == [(LOT, 0)]


def test_a_page_is_named_as_the_printing_system_names_it() -> None:
    assert media_of((100, 75)) == "Custom.100x75mm"
    assert media_of(blank_named("sheet-letter-2x4-101.6x63.5").page_mm) == "Letter"
    assert media_of(blank_named("sheet-a4-2x4-99.1x67.7").page_mm) == "A4"


@pytest.fixture
def pdf(folder_shop: ShopInHand) -> Path:
    folder_shop.batch("firm", 2)
    return Path(folder_shop.shop.labels.print_labels([(LOT, 1)]).path)


def test_a_stopped_printer_is_said_to_be_stopped(cups: Cups, pdf: Path) -> None:
    """CUPS takes jobs for it all the same, and answers "request id is"."""
    cups.queue("stopped")
    cups.run("cupsdisable", "-r", "no paper", "stopped")
    with pytest.raises(Refused) as refusal:
        send_to_printer(pdf, "stopped", PAGE)
    assert str(refusal.value) == (
        f"Cannot print {pdf.name} on 'stopped': it is stopped (no paper). "
        f"The PDF is kept: print {pdf} from any other program."
    )
    assert cups.run("lpstat", "-o", "stopped") == ""  # nothing waits to come out later


def test_a_printer_that_takes_no_jobs_is_said_to_take_none(cups: Cups, pdf: Path) -> None:
    cups.queue("closed")
    cups.run("cupsreject", "-r", "moved to the kitchen", "closed")
    with pytest.raises(Refused, match=r"it takes no jobs \(moved to the kitchen\)"):
        send_to_printer(pdf, "closed", PAGE)


def test_a_printer_of_another_name_is_told_the_names_there_are(cups: Cups, pdf: Path) -> None:
    cups.queue("roll")
    with pytest.raises(Refused, match=r"there is no printer 'rol'\. Use one of .*\broll\b"):
        send_to_printer(pdf, "rol", PAGE)


def test_a_printer_that_is_unplugged_is_not_said_to_have_printed(
    cups: Cups, pdf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cups.queue("unplugged", "socket://127.0.0.1:9")
    monkeypatch.setattr(printing, "JOB_SECONDS", 3)
    sent = send_to_printer(pdf, "unplugged", PAGE)
    assert not sent.done
    assert "may not exist or is unavailable" in sent.said
    cups.run("cancel", "-a", "unplugged")


def test_a_job_that_fails_is_not_said_to_be_printed(cups: Cups, tmp_path: Path) -> None:
    cups.queue("roll")
    broken = tmp_path / "broken.pdf"
    broken.write_bytes(b"%PDF-1.4\n" + bytes(range(256)) * 8)
    with pytest.raises(
        Refused, match=r"^Cannot print broken\.pdf on 'roll': the job failed \(.+\)"
    ):
        send_to_printer(broken, "roll", PAGE)


def test_a_printing_system_that_does_not_run_is_named(
    cups: Cups, pdf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUPS_SERVER", "127.0.0.1:9")
    with pytest.raises(Refused, match="the printing system does not answer"):
        send_to_printer(pdf, "roll", PAGE)


def test_without_a_printing_system_the_pdf_is_kept(
    pdf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(pdf.parent))
    with pytest.raises(Refused, match=r"this computer has no printing system \(lpstat\)"):
        send_to_printer(pdf, "roll", PAGE)
