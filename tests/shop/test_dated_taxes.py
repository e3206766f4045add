"""A rate has a day from which it holds, and a late note is booked at the rate of its own moment."""

from __future__ import annotations

from datetime import date, datetime, time
from decimal import Decimal

import pytest

from counter.errors import BadInput
from counter.shop import Shop
from counter.trade.payments import Tender
from counter.trade.rates import Rate, Tax, TaxChange
from counter.trade.sales import Sale, Slip
from counter.trade.settings import SettingsChange, parse_settings
from tests.conftest import SETTINGS, ZONE, ShopInHand

OLD, NEW = Decimal("0.086"), Decimal("0.105")
DATED = f"""{SETTINGS}
[[tax.changes]]
from = 2026-11-25
classes = {{ prepared = {{ here = "{NEW}", away = "{NEW}" }} }}
"""
IN_PLACE = SETTINGS.replace(f'"{OLD}"', f'"{NEW}"')


def write(hand: ShopInHand, text: str) -> None:
    """Change shop.toml as somebody with an editor does; a running shop follows."""
    assert hand.shop.desk.folder is not None
    (hand.shop.desk.folder / "shop.toml").write_text(text, "utf-8")
    hand.shop.setup.follow_settings()


def sold(hand: ShopInHand, at: str = "") -> Sale:
    moment = datetime.fromisoformat(at).replace(tzinfo=ZONE) if at else None
    items = (hand.shop.counter.read_item("taxed-block", moment),)
    return hand.shop.counter.sell(Slip(items), [Tender("card")], moment)


def rate(sale: Sale) -> Decimal:
    (line,) = sale.taxes
    return line.rate


@pytest.fixture
def day_before(folder_shop: ShopInHand) -> ShopInHand:
    """A shop that sold at the old rate on the 24th, and is opened again on the 25th."""
    text = folder_shop.shop.products.catalogue_text().replace(
        '[portions.firm-block]\nproduct = "firm"', '[portions.taxed-block]\nproduct = "firm"'
    )
    text = text.replace('tax = "grocery"', 'tax = "prepared"')
    folder_shop.shop.products.load_catalogue(text)
    folder_shop.batch("firm", 48)
    folder_shop.clock.set("2026-11-24 12:00")
    assert rate(sold(folder_shop)) == OLD
    folder_shop.clock.set("2026-11-25 10:00")
    return folder_shop


def test_the_later_of_the_days_that_have_come_holds() -> None:
    first, second = (
        TaxChange(date(2027, 1, d), {"a": Rate(Decimal(d), Decimal(d))}) for d in (1, 9)
    )
    tax = Tax(classes={"a": Rate(), "b": Rate()}, changes=(second, first))
    held = [tax.at(date(2027, 1, d)).classes["a"].here for d in (1, 8, 9)]
    assert held == [1, 1, 9]
    assert tax.at(date(2026, 12, 31)).classes == tax.classes


def test_a_new_rate_stands_in_place_or_with_its_day_and_no_other_is_touched() -> None:
    held = Tax(classes={"a": Rate(OLD, OLD), "b": Rate()})
    today, later = date(2027, 1, 1), date(2027, 1, 9)
    new = {"a": Rate(NEW, NEW), "b": Rate()}
    in_place, dated = (held.with_rates(new, day, today) for day in (today, later))
    assert in_place == Tax(classes=new)
    assert dated == Tax(classes=held.classes, changes=(TaxChange(later, {"a": new["a"]}),))
    # One that has a day already is changed with a day, and one that leaves takes its days along.
    again = dated.with_rates({**new, "c": Rate()}, today, today)
    assert again.classes == {**held.classes, "c": Rate()}
    assert [change.since for change in again.changes] == [today, later]
    assert dated.with_rates({"b": Rate()}, today, today) == Tax(classes={"b": Rate()})
    assert dated.with_rates(held.classes, today, today) == dated


def test_a_rate_with_a_day_holds_from_midnight_on(day_before: ShopInHand) -> None:
    day_before.clock.set("2026-11-24 23:58")
    write(day_before, DATED)
    assert rate(sold(day_before)) == OLD
    day_before.clock.set("2026-11-25 00:00")
    assert rate(sold(day_before)) == NEW
    assert rate(sold(day_before, "2026-11-24 23:59")) == OLD


def test_a_rate_edited_in_place_leaves_late_notes_of_yesterday_as_they_were(
    day_before: ShopInHand,
) -> None:
    write(day_before, IN_PLACE)
    assert rate(sold(day_before, "2026-11-24 17:00")) == OLD
    assert rate(sold(day_before)) == NEW
    day_before.clock.set("2026-11-25 15:00")
    assert rate(sold(day_before, "2026-11-24 17:30")) == OLD
    assert rate(sold(day_before, "2026-11-25 12:00")) == NEW


def test_the_books_know_the_old_rate_also_when_opened_anew(day_before: ShopInHand) -> None:
    write(day_before, IN_PLACE)
    assert day_before.shop.desk.folder is not None
    again = ShopInHand(Shop.open(day_before.shop.desk.folder, day_before.clock), day_before.clock)
    assert again.shop.desk.settings.tax.classes["prepared"].away == NEW
    assert rate(sold(again)) == NEW
    assert rate(sold(again, "2026-11-24 17:00")) == OLD


def test_what_somebody_wrote_into_the_file_is_noted_with_the_next_sale(
    day_before: ShopInHand,
) -> None:
    write(day_before, IN_PLACE)
    assert day_before.shop.setup.last_settings_change() is None
    sold(day_before)
    last = day_before.shop.setup.last_settings_change()
    assert last is not None
    assert last.lines == (
        f"tax.classes.prepared: here {OLD}, away {OLD} -> here {NEW}, away {NEW}",
    )


def test_a_day_gone_by_that_is_written_down_holds_for_its_late_notes(
    day_before: ShopInHand,
) -> None:
    write(day_before, DATED.replace("2026-11-25", "2026-11-24"))
    assert rate(sold(day_before, "2026-11-24 17:00")) == NEW


def test_a_dated_rate_folded_into_the_class_later_still_held_from_its_day(
    day_before: ShopInHand,
) -> None:
    write(day_before, DATED)
    assert rate(sold(day_before)) == NEW
    day_before.clock.set("2026-11-26 10:00")
    write(day_before, IN_PLACE)
    assert rate(sold(day_before)) == NEW
    assert rate(sold(day_before, "2026-11-25 11:00")) == NEW
    assert rate(sold(day_before, "2026-11-24 11:00")) == OLD


@pytest.mark.parametrize("later", [IN_PLACE, DATED])
def test_a_forgotten_sale_has_the_rate_of_its_moment(day_before: ShopInHand, later: str) -> None:
    shop, day = day_before.shop, date(2026, 11, 24)
    shop.desk.questions.given = {"uncounted": "it was late", "cash": "it was late"}
    shop.evening.close_day(day=day)
    write(day_before, later)
    item = shop.counter.read_item("taxed-block")
    made = shop.closed_days.forgotten_sale(day, item, "card", "on the slip", time(9, 30))
    assert made.tax == 28  # 325 x 0.086 = 27.95
    shop.evening.close_day()
    day_before.clock.set("2026-11-26 10:00")
    day = date(2026, 11, 25)
    made = shop.closed_days.forgotten_sale(day, item, "card", "on the slip", time(9, 30))
    assert made.tax == (34 if later == DATED else 28)  # 325 x 0.105 = 34.1


def test_a_refund_has_the_rate_of_its_sale(day_before: ShopInHand) -> None:
    sale = sold(day_before)
    write(day_before, IN_PLACE)
    assert day_before.shop.counter.refund(sale.number, "broken").amount == sale.total


def test_books_written_before_rates_were_noted_go_on(day_before: ShopInHand) -> None:
    shop = day_before.shop
    old = SettingsChange(("shop.city: 'A' -> 'B'",), day_before.clock.moment)
    shop.desk.books.commit("catalogue", {"settings": [old]}, day_before.clock.moment)
    assert rate(sold(day_before)) == OLD
    write(day_before, IN_PLACE)
    assert rate(sold(day_before)) == NEW
    assert rate(sold(day_before, "2026-11-24 17:00")) == OLD


def test_a_sale_is_priced_without_reading_the_years_before(day_before: ShopInHand) -> None:
    shop = day_before.shop
    sold(day_before)

    def select(*_: object, **__: object) -> object:
        raise AssertionError("the books are read")

    shop.desk.books.select = select  # type: ignore[assignment, method-assign]
    assert rate(sold(day_before)) == OLD
    shop.counter.shelf()


@pytest.mark.parametrize(("old", "new", "why"), [
    ("prepared = { here", "prepaid = { here", "there is no tax class 'prepaid'"),
    (f'away = "{NEW}" }}', 'away = "10.5" }', "a rate is a part of one, such as 0.0825"),
    ("2026-11-25", '"soon"', 'expected is a day, not "soon"'),
])  # fmt: skip
def test_a_rate_with_a_day_that_cannot_be_is_refused(old: str, new: str, why: str) -> None:
    assert old in DATED
    with pytest.raises(BadInput, match="tax.changes") as caught:
        parse_settings(DATED.replace(old, new))
    assert why.lower() in str(caught.value).lower()
