"""What the log would write, the last batches of a product, cooling noted in two steps, and the
very labels that would be printed."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import msgspec
import pytest

from counter.errors import BadInput, NotFound, Refused
from counter.trade.batch_note import BatchNote, read_note
from counter.trade.units import parse_clock, parse_number, parse_positions
from tests.conftest import Maker, ShopInHand, kilos


def note(**more: object) -> BatchNote:
    return BatchNote(**{"made": 48, "boiled_minutes": 10, **more})  # type: ignore[arg-type]


def test_a_preview_is_the_batch_that_would_be_written_and_writes_nothing(hand: ShopInHand) -> None:
    one = note(brix=Decimal("9.1"), ingredients={"soybeans": kilos("6")})
    shown = hand.shop.production.preview_batch("firm", one).batch
    assert hand.shop.production.made_on(hand.shop.desk.today()) == []
    assert hand.shop.production.log_batch("firm", one) == shown
    assert shown.warnings[0] == "9.1 °Brix is unusual for Firm Tofu: mostly 10 to 13"


def test_a_preview_without_an_amount_takes_one_mould_and_does_not_judge_the_yield(
    hand: ShopInHand,
) -> None:
    shown = hand.shop.production.preview_batch(
        "firm", note(made=None, ingredients={"soybeans": kilos("1")})
    )
    assert (shown.batch.made, shown.batch.warnings, shown.stopped) == (48, (), "")


def test_a_preview_says_why_the_batch_would_be_stopped(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-24 12:00")
    slow = note(cook_ended=parse_clock("05:00"), cooled=(parse_clock("08:10"), None))
    assert hand.shop.production.preview_batch("firm", slow).stopped == (
        "cooled too slowly: it took 3 h 10 min to reach 21 °C / 70 °F, allowed are 2 h"
    )


def test_cooling_is_noted_in_two_steps_and_is_complete_with_the_second(hand: ShopInHand) -> None:
    made = hand.batch(cook_ended=parse_clock("04:00"))
    hand.clock.set("2026-11-24 05:30")
    warm = hand.shop.amendments.amend_batch(
        made.lot, BatchNote(cooled=(parse_clock("05:30"), None)), "read"
    )
    assert warm.uncooled
    assert hand.shop.desk.ledger().rows[made.lot].lot.uncooled
    hand.clock.set("2026-11-24 08:00")
    both = (parse_clock("05:30"), parse_clock("08:00"))
    cold = hand.shop.amendments.amend_batch(made.lot, BatchNote(cooled=both), "read")
    assert not cold.uncooled
    assert not hand.shop.desk.ledger().rows[made.lot].lot.stopped


def test_the_first_step_alone_stops_a_batch_that_cooled_too_slowly(hand: ShopInHand) -> None:
    made = hand.batch(cook_ended=parse_clock("04:00"))
    hand.clock.set("2026-11-24 06:30")
    late = BatchNote(cooled=(parse_clock("06:30"), None))
    hand.shop.amendments.amend_batch(made.lot, late, "read")
    assert hand.shop.desk.ledger().rows[made.lot].lot.stopped == (
        "cooled too slowly: it took 2 h 30 min to reach 21 °C / 70 °F, allowed are 2 h"
    )


def test_a_record_of_both_times_reads_as_before() -> None:
    from counter.trade.cooling import Cooling

    text = b'{"to_21":"2026-11-24T05:30:00-08:00","to_5":"2026-11-24T08:00:00-08:00"}'
    cooling = msgspec.json.decode(text, type=Cooling)
    assert cooling.to_5 is not None


def test_another_coagulant_stands_in_place_of_the_recipes_own(hand: ShopInHand) -> None:
    nigari = read_note({"coagulant": "nigari 300g"}, "piece", hand.shop.desk.catalogue, str)
    made = hand.shop.production.log_batch(
        "firm", msgspec.structs.replace(nigari, made=48, boiled_minutes=10)
    )
    assert [p.ingredient for p in made.ingredients] == ["soybeans", "water", "nigari"]


def test_the_last_batches_of_a_product_come_newest_first_as_corrected(hand: ShopInHand) -> None:
    for day in ("2026-11-21", "2026-11-22", "2026-11-23"):
        hand.clock.set(f"{day} 04:10")
        hand.batch("firm", 48, brix=Decimal(11))
        hand.batch("soft", 30)
        hand.shop.evening.close_day(None)
    hand.clock.set("2026-11-24 04:10")
    hand.shop.amendments.amend_batch("26327-01", BatchNote(brix=Decimal(12)), "misread")
    found = hand.shop.production.recent_batches("firm", 2)
    assert [(b.lot, b.brix) for b in found] == [("26327-01", 12), ("26326-01", 11)]
    assert len(hand.shop.production.recent_batches("firm", 30)) == 3
    hand.clock.set("2027-02-24 04:10")
    assert hand.shop.production.recent_batches("firm", 30) == []


def test_the_batches_of_a_day_are_its_own_lots(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    day = hand.shop.desk.today()
    hand.shop.evening.close_day(None)
    hand.clock.set("2026-11-25 04:10")
    hand.shop.amendments.amend_batch("26328-01", BatchNote(brix=Decimal(12)), "misread")
    assert [b.brix for b in hand.shop.production.made_on(day)] == [12]
    assert hand.shop.production.made_on(day + timedelta(days=1)) == []
    assert hand.shop.production.made_on(date(2020, 1, 1)) == []


@pytest.mark.parametrize("text", ["", "twelve", "1,5", "NaN", "1e9", "٣"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="it is not a number"):
        parse_number(text, "°Brix")


def test_positions_are_numbers_with_commas() -> None:
    assert parse_positions(" 3, 4,,7 ") == (3, 4, 7)
    with pytest.raises(BadInput, match="Cannot read positions '0': they are no numbers."):
        parse_positions("0")


# -- labels


def test_the_preview_of_labels_is_the_very_file_that_is_written(folder_shop: ShopInHand) -> None:
    hand = folder_shop
    hand.batch("firm", 3)
    built = hand.shop.labels.preview_labels([("26328-01", None)])
    assert (built.labels, hand.shop.products.printed_of("26328-01")) == (3, [])
    run = hand.shop.labels.print_labels([("26328-01", None)])
    assert Path(run.path).read_bytes() == built.data


def test_labels_of_a_lot_that_were_printed_on_an_earlier_day_are_a_reprint(
    folder_shop: ShopInHand,
) -> None:
    hand = folder_shop
    hand.batch("firm", 3)
    hand.shop.labels.print_labels([("26328-01", 2)])
    hand.shop.evening.close_day(None)
    hand.clock.set("2026-11-25 04:10")
    assert hand.shop.labels.print_labels([("26328-01", 1)]).again == ("26328-01",)
    assert [(p.labels, p.again) for p in hand.shop.products.printed_of("26328-01")] == [
        (2, False),
        (1, True),
    ]


def test_no_preview_of_what_may_not_be_labelled(make: Maker) -> None:
    hand = make()
    hand.shop.production.log_batch("firm", BatchNote(made=48))
    with pytest.raises(Refused, match="no cook is recorded"):
        hand.shop.labels.preview_labels([("26328-01", None)])
    with pytest.raises(NotFound):
        hand.shop.labels.preview_labels([])


def test_the_shops_own_blanks_come_first(hand: ShopInHand) -> None:
    own = tuple(hand.shop.desk.settings.blanks)
    assert tuple(hand.shop.labels.blanks())[: len(own)] == own
    assert hand.shop.labels.blanks()["roll-60x80"].width == 60
