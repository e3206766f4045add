"""The GS1 system as this package uses it: a list of names, not a program.

Check digits stand in ``checks``, dates of two-digit years in ``century``, the table of application
identifiers in ``identifiers``, element strings in ``elements``, Digital Links in ``links``,
restricted circulation numbers in ``restricted``, and what a scanner types in ``scan``.
"""

from __future__ import annotations

from labels.century import full_year, read_date, write_date
from labels.checks import check_digit, price_check_digit_4, price_check_digit_5, with_check_digit
from labels.elements import (
    build_elements,
    decimal_element,
    human_readable,
    join_elements,
    order_elements,
    parse_brackets,
    parse_elements,
)
from labels.identifiers import IDENTIFIERS
from labels.links import build_link, parse_link
from labels.restricted import COMPANY, REGIONS, Layout, Restricted, is_restricted, read_restricted
from labels.scan import Price, Scan, parse_scan

__all__ = [
    "COMPANY",
    "IDENTIFIERS",
    "REGIONS",
    "Layout",
    "Price",
    "Restricted",
    "Scan",
    "build_elements",
    "build_link",
    "check_digit",
    "decimal_element",
    "full_year",
    "human_readable",
    "is_restricted",
    "join_elements",
    "order_elements",
    "parse_brackets",
    "parse_elements",
    "parse_link",
    "parse_scan",
    "price_check_digit_4",
    "price_check_digit_5",
    "read_date",
    "read_restricted",
    "with_check_digit",
    "write_date",
]
