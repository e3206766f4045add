"""A kind of payment is known everywhere or nowhere: what is decided by it is a ``match`` that type
checking holds complete, and what is said of it stands in the texts and the options."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from counter.cli import main
from counter.languages import language, names
from counter.trade.payments import KINDS, Payment, PaymentKind, Tender, how_paid, settle
from counter.trade.refunds import Refund, kind_of, left_of_kinds
from counter.trade.sales import Sale

AT = datetime(2026, 11, 26, 9, tzinfo=UTC)


def sale_paid(*payments: Payment) -> Sale:
    total = sum(payment.amount for payment in payments)
    return Sale(number="2026-11-26/0001", at=AT, lines=(), taxes=(), total=total, payments=payments)


@pytest.mark.parametrize("kind", KINDS)
def test_what_was_paid_by_one_kind_goes_back_by_that_kind(kind: PaymentKind) -> None:
    payments, _, _ = settle(500, (Tender(kind, 500),), coin=1, places=2)
    sale = sale_paid(*payments)
    assert [p.kind for p in payments] == [kind]
    assert kind_of(sale, [], 500, None, 2) == kind_of(sale, [], 500, kind, 2) == (kind, 0)
    back = Refund(
        number="2026-11-26/R001",
        sale=sale.number,
        lines=(),
        amount=500,
        kind=kind,
        why="sour",
        at=AT,
    )
    assert {k: n for k, n in back.handed.items() if n} == {kind: 500}
    assert left_of_kinds(sale, [back]) == dict.fromkeys(KINDS, 0)


def test_how_something_is_paid_names_each_kind_once_and_nothing_is_for_nothing() -> None:
    assert how_paid([]) == "for nothing"
    assert how_paid([Tender("cash"), Tender("card"), Tender("card")]) == "by card and in cash"


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_its_word_on_the_page_and_its_option(kind: PaymentKind) -> None:
    for code in names():
        assert language(code, code).page(f"slip.{kind}")
    for command in ("sell", "refund"):
        assert f"--{kind}" in CliRunner().invoke(main, [command, "--help"]).output
