"""The list of names that ``labels.gs1`` and ``labels.symbols`` offer."""

from __future__ import annotations

import labels.gs1
import labels.symbols


def test_the_faces_offer_these_names_and_no_others() -> None:
    assert labels.gs1.__all__ == [
        "COMPANY", "IDENTIFIERS", "REGIONS", "Layout", "Price", "Restricted", "Scan",
        "build_elements", "build_link", "check_digit", "decimal_element",
        "full_year", "human_readable", "is_restricted", "join_elements", "order_elements",
        "parse_brackets", "parse_elements", "parse_link", "parse_scan", "price_check_digit_4",
        "price_check_digit_5", "read_date", "read_restricted", "with_check_digit", "write_date",
    ]  # fmt: skip
    assert labels.symbols.__all__ == [
        "SIZES", "Symbol", "bar_heights_mm", "code128", "dots_per_mm", "ean8", "ean13", "gs1_128",
        "lot_symbol", "module_dots", "qr", "symbol_width_mm", "upca", "with_check_digit",
    ]  # fmt: skip


def test_every_name_on_the_list_is_there() -> None:
    for face in (labels.gs1, labels.symbols):
        for name in face.__all__:
            assert getattr(face, name) is not None
