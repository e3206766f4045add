"""Nothing printed for others overwrites what was printed before: the shop's own rule."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from counter.errors import Refused
from counter.shop.labels import LabelRun
from tests.conftest import ShopInHand

LOT = "26328-01"


def names(hand: ShopInHand, kind: str) -> list[str]:
    return sorted(p.name for p in ((hand.shop.desk.folder or Path()) / kind).iterdir())


def test_labels_printed_again_are_a_file_of_their_own_and_the_record_names_it(
    folder_shop: ShopInHand,
) -> None:
    hand = folder_shop
    hand.batch(made=3)
    first = Path(hand.shop.labels.print_labels([(LOT, 2)]).path)
    before = first.read_bytes()
    again = [Path(hand.shop.labels.print_labels([(LOT, 1)]).path) for _ in range(2)]
    assert [p.name for p in again] == [f"{LOT}-203dpi-2.pdf", f"{LOT}-203dpi-3.pdf"]
    assert first.read_bytes() == before
    assert [p.file for p in hand.shop.products.printed_of(LOT)] == [
        first.name,
        *(p.name for p in again),
    ]


def test_labels_refused_while_they_were_drawn_leave_those_of_before(
    folder_shop: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    import labels

    hand = folder_shop
    hand.batch(made=3)
    hand.shop.labels.print_labels([(LOT, 2)])
    write = labels.write_pdf

    def stopped_meanwhile(*given: object, **named: object) -> object:
        hand.shop.holds.hold(LOT, True, "a hair was found")
        return write(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(labels, "write_pdf", stopped_meanwhile)
    with pytest.raises(Refused, match="a hair was found"):
        hand.shop.labels.print_labels([(LOT, 1)])
    assert names(hand, "labels") == [f"{LOT}-203dpi.pdf"]


def test_recall_sheets_and_folders_for_the_inspector_stay_as_they_were_given(
    folder_shop: ShopInHand,
) -> None:
    hand, shop = folder_shop, folder_shop.shop
    hand.batch(made=9)
    day = shop.desk.today()
    given = [
        shop.reports.write_recall_sheet(shop.records.recall([LOT])),
        shop.reports.write_inspection(day, day),
    ]
    before = [p.read_bytes() for p in given]
    hand.clock.set("2026-11-24 09:00")
    hand.sell("firm-block*2")
    shop.reports.write_recall_sheet(shop.records.recall([LOT]))
    shop.reports.write_inspection(day, day)
    assert [p.read_bytes() for p in given] == before
    assert names(hand, "reports") == sorted([
        f"recall-{LOT}.pdf", f"recall-{LOT}-2.pdf", f"inspection-{day}-{day}.pdf",
        f"inspection-{day}-{day}-2.pdf",
    ])  # fmt: skip


def test_what_was_printed_into_a_named_file_stays(folder_shop: ShopInHand, tmp_path: Path) -> None:
    shop, day = folder_shop.shop, folder_shop.shop.desk.today()
    folder_shop.batch(made=3)
    sheet, table, folder, packs, card = (tmp_path / name for name in "abcde")

    def prints() -> list[Callable[[], object]]:
        return [
            lambda: shop.reports.write_recall_sheet(shop.records.recall([LOT]), sheet),
            lambda: shop.reports.write_recall_csv(shop.records.recall([LOT]), table),
            lambda: shop.reports.write_inspection(day, day, folder),
            lambda: shop.labels.print_labels([(LOT, 1)], packs),
            lambda: shop.cards.counter_card(card),
        ]

    for draw in prints():
        draw()
    before = [p.read_bytes() for p in (sheet, table, folder, packs, card)]
    for draw, name in zip(prints(), "abcde", strict=True):
        with pytest.raises(Refused) as refused:
            draw()
        assert str(refused.value) == (
            f"Cannot write {name}: there is such a file, and what was printed before stays."
            " Name another file."
        )
    others: list[Callable[[], object]] = [
        lambda: shop.reports.keep_report(day, packs),
        lambda: shop.reports.keep_day_csv(day, packs),
        lambda: shop.labels.scale_check(packs),
        lambda: shop.labels.picture_labels(LabelRun(str(packs), 1, 1, (LOT,), dpi=203), packs),
    ]
    for draw in others:  # nor is it written over by something else
        with pytest.raises(Refused, match="Cannot write d: there is such a file"):
            draw()
    assert shop.reports.keep_report(day, tmp_path / "r") == shop.reports.keep_report(
        day, tmp_path / "r"
    )
    assert [p.read_bytes() for p in (sheet, table, folder, packs, card)] == before
    assert len(shop.products.printed_of(LOT)) == 1


def test_a_day_closed_again_has_a_report_of_its_own_and_the_same_report_is_one_file(
    folder_shop: ShopInHand,
) -> None:
    hand, shop = folder_shop, folder_shop.shop
    hand.batch(made=9)
    day = shop.desk.today()
    shop.evening.close_day()
    first = shop.reports.keep_report(day)
    before = first.read_bytes()
    assert shop.reports.keep_report(day) == first
    hand.clock.forward(minutes=5)
    shop.evening.reopen_day("two blocks more")
    hand.sell("firm-block*2")
    shop.evening.close_day()
    assert names(hand, "reports") == [f"{day}-2.pdf", f"{day}.pdf"]
    assert first.read_bytes() == before
