"""The tables of an export, kind by kind, in the order of a day."""

from __future__ import annotations

from counter.reports.schema import (
    Kind,
    closing_lots,
    closing_sums,
    closing_waste,
    coins,
    draws,
    each,
    fields_of,
    ingredients,
    lines_of,
    plain,
    warnings,
)

ALL = (
    Kind("batches", "batches", "Batches as logged; a correction is a row of a higher revision.",
         fields_of("""
lot text lot code
revision whole 0 as logged first, then counted up
product text
unit text what amounts of this lot are counted in: piece, ml or g
made whole how much came out
at moment when it was made
date_kind text best-by or use-by
date day the date on the pack
last_date day after it the lot is never sold; empty where the shop decides
date_reason text
brix number strength of the soy milk, °Brix
cook_minutes whole
cook_celsius number °C; empty when boiled
cook_ended moment
cooled_21 moment when 21 °C / 70 °F was reached
cooled_5 moment when 5 °C / 41 °F was reached
press_kpa number
press_minutes whole
not_cooked text why it did not count as cooked; empty when it did
chilled flag whether it must be cooled
why text why it was corrected
notes text
by text
void text why it never was; empty for a batch that was made
passed_57 moment when it passed 57 °C / 135 °F as it cooled, where that was measured
"""), plain("lot", "revision", "product", "unit", "made", "at", "mark.kind", "mark.day",
             "mark.limit", "mark.reason", "brix", "cook.minutes", "cook.celsius", "cook.ended",
             "cooling.to_21", "cooling.to_5", "press_kpa", "press_minutes", "raw", "chilled",
             "why", "notes", "by", "void",
             "passed_57")),
    Kind("ingredients", "batches", "What went into each batch.", fields_of("""
lot text
revision whole
ingredient text
grams number empty where only a supplier code was noted
written text as the maker wrote it; empty when taken from the recipe
supplier_code text
"""), ingredients),
    Kind("mixed", "batches", "Older stock that went into a batch.", fields_of("""
lot text
revision whole
number whole
from_lot text
amount whole in that lot's unit
"""), each("mixed", ("lot", "revision"), ("lot", "amount"))),
    Kind("warnings", "batches", "Figures outside the usual, as said when the batch was logged.",
         fields_of("""
lot text
revision whole
warning text
"""), warnings),
    Kind("holds", "holds", "Lots stopped and released.", fields_of("""
lot text
stopped flag false when released
why text
at moment
by text
"""), plain("lot", "stopped", "why", "at", "by")),
    Kind("printed", "printed", "Labels printed.", fields_of("""
lot text
labels whole
blank text
file text
again flag whether some had been printed before
at moment
by text
"""), plain("lot", "labels", "blank", "file", "again", "at", "by")),
    Kind("tubs", "tubs", "Tubs opened at the counter.", fields_of("""
tub text
lot text
mode text hot, cold or time
level whole ml in it
celsius number
at moment
by text
reheated number °C, of cold food that was reheated for hot holding
reheat_minutes whole how long that took
"""), plain("tub", "lot", "mode", "level", "celsius", "at", "by", "reheated", "reheat_minutes")),
    Kind("checks", "checks", "Temperatures measured in tubs.", fields_of("""
tub text
celsius number
at moment
by text
"""), plain("tub", "celsius", "at", "by")),
    Kind("ended", "ended", "Tubs taken off the counter.", fields_of("""
tub text
left whole ml left in it
kept flag put back cold
at moment
by text
"""), plain("tub", "left", "kept", "at", "by")),
    Kind("temperatures", "temperatures", "Temperatures of places that hold food.", fields_of("""
place text
hot flag whether it holds hot food
celsius number
ok flag within its limit by the rule of that day
note text
at moment
by text
freezer flag whether it keeps frozen food
"""), plain("place", "hot", "celsius", "ok", "note", "at", "by", "freezer")),
    Kind("thermometers", "thermometers", "Thermometers checked in water.", fields_of("""
thermometer text
water text ice (0 °C) or boiling (100 °C)
celsius number what it showed
ok flag whether it was right to 1 °C
note text
at moment
by text
"""), plain("thermometer", "water", "celsius", "ok", "note", "at", "by")),
    Kind("moves", "moves", "Where lots were brought, and what the food measured.", fields_of("""
lot text
place text
kind text cold, hot, freezer, or room where it is not chilled
celsius number
at moment
by text
labels whole packs of it that bore labels then
"""), plain("lot", "place", "kind", "celsius", "at", "by", "labels")),
    Kind("sales", "sales", "Sales; total + rounding is what was paid.", fields_of("""
sale text number of the sale
at moment
where text here or away
total money
discount money
why text why the discount
rounding money of cash
change money
tax_included flag whether prices hold the tax
by text
"""), plain("number", "at", "where", "total", "discount", "why", "rounding", "change", "included",
             "by")),
    Kind("sale_lines", "sales", "Lines of sales.", fields_of("""
sale text
line_of_sale whole from 1
portion text
product text
name text
quantity whole
weight text as weighed
toppings text joined with +
price_kind text price, several or last day
price money before discount
discount money
net money price less discount
tax_class text
tax money on it or in it
"""), lines_of),
    Kind("sale_lots", "sales", "Lots that lines of sales drew on.", fields_of("""
sale text
line_of_sale whole
lot text
amount whole in the lot's unit
tub text
how text assumed (the oldest by the log), named or scanned
"""), draws(("number",))),
    Kind("sale_taxes", "sales", "Tax by class over each sale.", fields_of("""
sale text
number whole
tax_class text
rate number a part of one
base money
tax money
"""), each("taxes", ("number",), ("tax_class", "rate", "base", "tax"))),
    Kind("payments", "sales", "Payments.", fields_of("""
sale text
number whole
kind text cash or card
amount money what counts toward the sale
given money what was handed over in cash
reference text the terminal's own
"""), each("payments", ("number",), ("kind", "amount", "given", "reference"))),
    Kind("refunds", "refunds", "Money given back.", fields_of("""
refund text
sale text
amount money
kind text cash or card
rounding money of cash
restocked flag whether the goods went back on hand
why text
reference text
at moment
by text
by_card money what of a refund in cash went back on the card
"""), plain("number", "sale", "amount", "kind", "rounding", "restocked", "why", "reference",
             "at", "by", "by_card")),
    Kind("refund_lines", "refunds", "Lines of refunds.", fields_of("""
refund text
sale text
number whole
line_of_sale whole
quantity whole
amount money
tax money
"""), each("lines", ("number", "sale"), ("line", "quantity", "amount", "tax"))),
    Kind("refund_lots", "refunds", "Lots that refunds speak of.", fields_of("""
refund text
sale text
line_of_sale whole
lot text
amount whole
tub text
how text assumed (the oldest by the log), named or scanned
"""), draws(("number", "sale"))),
    Kind("waste", "waste", "What was thrown away, tasted, given away.", fields_of("""
lot text
amount whole
reason text
words text where the reason is other
tub text
at moment
by text
"""), plain("lot", "amount", "reason", "words", "tub", "at", "by")),
    Kind("counts", "counts", "What somebody counted.", fields_of("""
lot text
amount whole
at moment
by text
"""), plain("lot", "amount", "at", "by")),
    Kind("drawer", "drawer", "Money put into the drawer and taken out.", fields_of("""
kind text float, in or out
amount money
why text
coins text value in the smallest unit x count
at moment
by text
"""), coins),
    Kind("corrections", "corrections", "Corrections of sealed days, in the day they were written.",
         fields_of("""
correction text
corrects day the sealed day
what text sale, lot, waste, cash or other
text text
sale text
lot text
amount whole how much more of the lot there is than that day says
money money how much more the sales of that day brought than it says
on_shelf flag whether that day's stock followed
at moment
by text
drawer money how much more should have been in the drawer of the sealed day
tax money of a forgotten sale, on it or in it
paid text cash or card, of a forgotten sale
place text of a forgotten temperature
celsius number
happened moment when it was sold or measured
unit text of the lot
"""), plain("number", "corrects", "what", "text", "sale", "lot", "amount", "taken", "on_shelf",
             "at", "by", "in_drawer", "tax", "paid", "reading.place", "reading.celsius",
             "happened", "unit")),
    Kind("correction_lines", "corrections", "What sales that nobody had entered were of.",
         fields_of("""
correction text
number whole
portion text
product text
quantity whole
weight text as weighed
net money
"""), each("lines", ("number",), ("portion", "product", "quantity", "weight", "net"))),
    Kind("answers", "answers", "What the program asked before it believed it, and the answer.",
         fields_of("""
about text
asked text the question as it was put
words text the answer
at moment
by text
tried text what it was asked of
"""), plain("about", "asked", "words", "at", "by", "tried")),
    Kind("closings", "closings", "Closed days; the last closing where a day was reopened.",
         fields_of("""
day day
at moment
sales whole
total money
discounts money
refunds whole
refunded money before cash was rounded
cash_start money
cash_sales money
cash_refunds money
cash_in money
cash_out money
cash_rounding money
cash_expected money
cash_counted money empty when nobody counted
cash_variance money expected less counted
cash_left money what stayed in the drawer
batches whole
labels whole
notes text
by text
book_lines whole last line of the sealed book
book_link text its link
cash_opening money what the closing before left, or the usual float
cash_start_missing money what was missing of it at the start
given_back money what refunds handed back, rounded where it was cash
taken_back whole sales that went back whole; portions and averages are without them
taken_back_total money
"""), plain("day", "at", "sales", "total", "discounts", "refunds", "refunded", "cash.start",
             "cash.sales", "cash.refunds", "cash.moved_in", "cash.moved_out", "cash.rounding",
             "cash.expected", "cash.counted", "cash.variance", "cash.left", "batches", "labels",
             "notes", "by", "book_lines", "book_link", "cash.opening", "cash.start_missing",
             "takings.given_back", "taken_back", "taken_back_total")),
    Kind("closing_lots", "closings", "Each lot over each closed day: made + carried in ="
         " sold + used + wasted + carried out + variance.", fields_of("""
day day
lot text
product text
unit text
carried_in whole
made whole
sold whole
used whole went into another batch
wasted whole
carried_out whole
variance whole
counted flag
oversold flag
stopped text why
corrected whole what corrections of earlier days added
minutes_out whole out of its temperature, all together
"""), closing_lots),
    Kind("closing_waste", "closings", "Waste of each closed day by reason.", fields_of("""
day day
lot text
reason text
amount whole
"""), closing_waste),
    Kind("closing_portions", "closings", "What each closed day sold, by portion.", fields_of("""
day day
number whole
portion text
name text
product text
quantity whole
net money net of discounts, without added tax
"""), each("portions", ("day",), ("portion", "name", "product", "quantity", "net"))),
    Kind("closing_sums", "closings", "Payments by kind and tax by class of each closed day.",
         fields_of("""
day day
what text paid by, or tax
key text
amount money
"""), closing_sums),
    Kind("closing_taxes", "closings", "Tax of each closed day by class and rate, less refunds.",
         fields_of("""
day day
number whole
tax_class text
rate number a part of one
base money of the sales; it holds the tax where prices do
tax money
refunded_base money
refunded money tax that refunds gave back
left_base money base less refunded_base
left money tax less refunded
"""), each("by_rate", ("day",), ("tax_class", "rate", "base", "tax", "refunded_base", "refunded",
                                 "left_base", "left"))),
    Kind("reopenings", "reopenings", "Closed days that were opened again.", fields_of("""
day day
why text
at moment
by text
"""), plain("day", "why", "at", "by")),
)  # fmt: skip


def kinds() -> dict[str, Kind]:
    """All tables by name, in the order of a day."""
    return {kind.name: kind for kind in ALL}
