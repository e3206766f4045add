"""The tables of an export, kind by kind, in the order of a day."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any, NamedTuple

from counter.reports.catalogue_tables import CATALOGUE
from counter.reports.schema import CLOSED, Kind, Revised

BATCH, CLOSING = Revised("batches", "lot"), Revised("closings", "trading_day")
# fmt: off
# One column a line, and its table around it.
DONE = """
moment moment at when it happened, on the shop's clock
person text by who wrote it down
"""
REVISION = """
lot text = lot code of the batch
revision whole = 0 as logged first, then counted up
"""
OF_CLOSING = "revision whole @revision 0 as closed first, counted up where the day was reopened\n"
LINE_OF_SALE = "line_of_sale whole lines.# line of the sale, from 1\n"
DRAWN = """
lot text lines.draws.lot it was drawn from
amount whole lines.draws.amount in the lot's unit
tub text lines.draws.tub through which it was scooped
how text lines.draws.how the lot is known: assumed (the oldest by the log), named or scanned
"""


class NotedPart(NamedTuple):
    ingredient: str
    grams: Decimal | None
    written: str
    code: str


def noted_parts(batch: Any) -> Iterator[NotedPart]:
    """What went into a batch with its supplier code, and codes of what carries no amount."""
    for part in batch.ingredients:
        code = batch.codes.get(part.ingredient, "")
        yield NotedPart(part.ingredient, part.grams, part.written, code)
    for key in sorted(set(batch.codes) - {p.ingredient for p in batch.ingredients}):
        yield NotedPart(key, None, "", batch.codes[key])


DAYS = (
    Kind("batches", "batches", "Batches as logged; a correction is a row of a higher revision.",
         REVISION + """
product text = key of the product
unit text = what amounts of this lot are counted in: piece, ml or g
made whole = how much came out
moment moment at when it was made
date_kind text mark.kind best-by or use-by
pack_date day mark.day the date on the pack
last_date day mark.limit day after it the lot is never sold; empty where the shop decides
date_reason text mark.reason how the date follows
brix number = strength of the soy milk, °Brix
cook_minutes whole cook.minutes how long it was boiled or held
cook_celsius number cook.celsius °C; empty when boiled
cook_ended moment cook.ended when the cook was over
cooled_21 moment cooling.to_21 when 21 °C / 70 °F was reached
cooled_5 moment cooling.to_5 when 5 °C / 41 °F was reached
press_kpa number = pressure of the press, kPa
press_minutes whole = how long it was pressed
not_cooked text raw why it did not count as cooked; empty when it did
chilled flag = whether it must be cooled
why text = why it was corrected
notes text = of the maker
person text by who wrote it down
void text = why it never was; empty for a batch that was made
passed_57 moment = when it passed 57 °C / 135 °F as it cooled, where that was measured
frozen_date day frozen_mark.day the date on the pack while it is held frozen
""", revised=BATCH),
    Kind("ingredients", "batches", "What went into each batch.", REVISION + """
ingredient text *.ingredient key of the ingredient
grams number *.grams empty where only a supplier code was noted
written text *.written as the maker wrote it; empty when taken from the recipe
supplier_code text *.code of the supplier for what he brought
""", over=noted_parts, revised=BATCH),
    Kind("mixed", "batches", "Older stock that went into a batch.", REVISION + """
number whole mixed.# counted from 1
from_lot text mixed.lot lot it was taken from
amount whole mixed.amount in that lot's unit
""", over="mixed", revised=BATCH),
    Kind("warnings", "batches", "Figures outside the usual, as said when the batch was logged.",
         REVISION + """
warning text warnings the sentence
""", over="warnings", revised=BATCH),
    Kind("holds", "holds", "Lots stopped and released; without a line what no book of a day says,"
         " since that day was closed or in doubt.", """
lot text = lot code
stopped flag = false when released
why text = the reason
by_program flag own whether the program itself stopped it
""" + DONE),
    Kind("printed", "printed", "Labels printed.", """
lot text = lot code
labels whole = how many
blank text = sheet or roll they were printed on
file text = their PDF
again flag = whether some had been printed before
""" + DONE),
    Kind("tubs", "tubs", "Tubs opened at the counter.", """
tub text = name of the tub
lot text = what is in it
mode text = hot, cold or time
level whole = ml in it
celsius number = °C as it was opened
reheated number = °C, of cold food that was reheated for hot holding
reheat_minutes whole = how long that took
""" + DONE),
    Kind("checks", "checks", "Temperatures measured in tubs.", """
tub text = name of the tub
celsius number = °C
""" + DONE),
    Kind("ended", "ended", "Tubs taken off the counter.", """
tub text = name of the tub
left_ml whole left ml left in it
kept flag = put back cold
""" + DONE),
    Kind("temperatures", "temperatures", "Temperatures of places that hold food.", """
place text = name of the place
hot flag = whether it holds hot food
celsius number = °C
ok flag = within its limit by the rule of that day
note text = what was noted with it
freezer flag = whether it keeps frozen food
""" + DONE),
    Kind("thermometers", "thermometers", "Thermometers checked in water.", """
thermometer text = name of the thermometer
water text = ice (0 °C) or boiling (100 °C)
celsius number = what it showed
ok flag = whether it was right to 1 °C
note text = what was noted with it
""" + DONE),
    Kind("moves", "moves", "Where lots were brought, and what the food measured.", """
lot text = lot code
place text = where it lies from then on
kind text = cold, hot, freezer, or room where it is not chilled
celsius number = °C of the food
labels whole = packs of it that bore labels then
""" + DONE),
    Kind("sales", "sales", "Sales; total + rounding is what was paid.", """
sale text number number of the sale
eaten text where here or away
total money = with tax, before cash is rounded
discount money = off the whole slip
why text = why the discount
rounding money = of cash
change money = handed back
tax_included flag included whether prices hold the tax
""" + DONE + """
paid moment kept.paid where the payment was kept, and booked later
booked moment kept.booked when that was
paid_day day kept.day on which it was paid; where that was closed, the sale stands in a later one
sent_by text kept.sent_by who was signed in when it was booked, where not who took it
claimed text kept.claimed who it says took it, where nothing proves that
shown money kept.shown total the customer was shown, where it is another
"""),
    Kind("sale_lines", "sales", "Lines of sales.", "sale text number number of the sale\n"
         + LINE_OF_SALE + """
portion_key text lines.portion key of the portion
product text lines.product key of the product
name text lines.name what the portion was called
quantity whole lines.quantity how many
weight text lines.weight as it was weighed
grams number lines.weight what was weighed, in grams
toppings text lines.toppings their keys joined with +
price_kind text lines.kind price, several or last day
price money lines.price before discount
discount money lines.discount its share of it
net money lines.net price less discount
tax_class text lines.tax_class what it is taxed as
tax money lines.tax on it or in it
""", over="lines"),
    Kind("sale_lots", "sales", "Lots that lines of sales drew on.",
         "sale text number number of the sale\n" + LINE_OF_SALE + DRAWN, over="lines.draws"),
    Kind("sale_taxes", "sales", "Tax by class over each sale.", """
sale text number number of the sale
number whole taxes.# counted from 1
tax_class text taxes.tax_class what is taxed so
rate number taxes.rate a part of one
base money taxes.base what the tax is of
tax money taxes.tax the tax
""", over="taxes"),
    Kind("payments", "sales", "Payments.", """
sale text number number of the sale
number whole payments.# counted from 1
kind text payments.kind cash or card
amount money payments.amount what counts toward the sale
given money payments.given what was handed over in cash
reference text payments.reference the terminal's own
""", over="payments"),
    Kind("refunds", "refunds", "Money given back.", """
refund text number number of the refund
sale text = number of the sale
amount money = before cash is rounded
kind text = cash or card
rounding money = of cash
restocked flag = whether the goods went back on hand
why text = the reason
reference text = the terminal's own
by_card money = what of a refund in cash went back on the card
""" + DONE),
    Kind("refund_lines", "refunds", "Lines of refunds.", """
refund text number number of the refund
sale text = number of the sale
number whole lines.# counted from 1
line_of_sale whole lines.line line of the sale, from 1
quantity whole lines.quantity how many
amount money lines.amount given back for them
tax money lines.tax of it, on it or in it
""", over="lines"),
    Kind("refund_lots", "refunds", "Lots that refunds speak of.", """
refund text number number of the refund
sale text = number of the sale
line_of_sale whole lines.line line of the sale, from 1
""" + DRAWN, over="lines.draws"),
    Kind("waste", "waste", "What was thrown away, tasted, given away.", """
lot text = lot code
amount whole = in the lot's unit
reason text = why, in one of the shop's words for it
words text = where the reason is other
tub text = out of which
""" + DONE),
    Kind("counts", "counts", "What somebody counted.", """
lot text = lot code
amount whole = in the lot's unit
""" + DONE),
    Kind("drawer", "drawer", "Money put into the drawer and taken out.", """
kind text = float, in or out
amount money = how much
why text = the reason
coins text = value in the smallest unit x count
""" + DONE),
    Kind("corrections", "corrections", "Corrections of sealed days, in the day they were written.",
         """
correction text number number of the correction
corrects day = the sealed day
what text = sale, lot, waste, cash, temperature or other
text text = what was wrong
sale text = number of a sale it speaks of
lot text = lot it speaks of
amount whole = how much more of the lot there is than that day says
money money taken how much more the sales of that day brought than it says
on_shelf flag = whether that day's stock followed
drawer money in_drawer how much more should have been in the drawer of the sealed day
tax money = of a forgotten sale, on it or in it
paid text = cash or card, of a forgotten sale
place text reading.place of a forgotten temperature
celsius number reading.celsius of a forgotten temperature, °C
happened moment = when it was sold or measured
unit text = of the lot
""" + DONE),
    Kind("correction_lines", "corrections", "What sales that nobody had entered were of.", """
correction text number number of the correction
number whole lines.# counted from 1
portion_key text lines.portion key of the portion
product text lines.product key of the product
quantity whole lines.quantity how many
weight text lines.weight as it was weighed
grams number lines.weight what was weighed, in grams
net money lines.net price less discount
""", over="lines"),
    Kind("answers", "answers", "What the program asked before it believed it, and the answer.", """
about text = what the question was about
asked text = the question as it was put
words text = the answer
tried text = what it was asked of
""" + DONE),
    Kind("closings", "closings", "Closings of days; more than one where a day was reopened.",
         OF_CLOSING + """
sales whole = how many
total money = of the sales, with tax
discounts money = in all
refunds whole = how many
refunded money = before cash was rounded
cash_start money cash.start in the drawer as the day began
cash_sales money cash.sales taken in cash
cash_refunds money cash.refunds given back in cash
cash_in money cash.moved_in put into the drawer
cash_out money cash.moved_out taken out of it
cash_rounding money cash.rounding of cash sales
cash_expected money cash.expected in the drawer by the books
cash_counted money cash.counted empty when nobody counted
cash_variance money cash.variance expected less counted
cash_left money cash.left what stayed in the drawer
batches whole = how many were made
labels whole = how many were printed
notes text = of whoever closed
book_lines whole = last line of the sealed book
book_link text = its link
cash_opening money cash.opening what the closing before left, or the usual float
cash_start_missing money cash.start_missing what was missing of it at the start
given_back money takings.given_back what refunds handed back, rounded where it was cash
taken_back whole = sales that went back whole; portions and averages are without them
taken_back_total money = of those sales
""" + DONE, lead=CLOSED, revised=CLOSING),
    Kind("closing_lots", "closings", "Each lot over each closed day: made + carried in ="
         " sold + used + wasted + carried out + variance.", OF_CLOSING + """
lot text lots.lot lot code
product text lots.product key of the product
unit text lots.unit what it is counted in
carried_in whole lots.carried_in from the day before
made whole lots.made that day
sold whole lots.sold less what came back
used whole lots.used went into another batch
wasted whole lots.wasted for all reasons
carried_out whole lots.carried_out to the next day
variance whole lots.variance what is missing
counted flag lots.counted whether somebody counted it
oversold flag lots.oversold whether more was sold than there was
stopped text lots.stopped why it is stopped
corrected whole lots.corrected what corrections of earlier days added
minutes_out whole lots.out out of its temperature, all together
""", over="lots", lead=CLOSED, revised=CLOSING),
    Kind("closing_waste", "closings", "Waste of each closed day by lot and reason.",
         OF_CLOSING + """
lot text lots.lot lot code
product text lots.product key of the product
reason text lots.wasted.key why
amount whole lots.wasted.item in the lot's unit
""", over="lots.wasted", lead=CLOSED, revised=CLOSING),
    Kind("closing_losses", "closings", "Waste of each closed day by reason, in money.", OF_CLOSING
         + """
product text waste.product key of the product
reason text waste.reason why
amount whole waste.amount in the product's unit
cost money waste.cost what it cost to make
price money waste.price what it would have brought at the usual price
""", over="waste", lead=CLOSED, revised=CLOSING),
    Kind("closing_portions", "closings", "What each closed day sold, by portion.", OF_CLOSING + """
portion_key text portions.portion key of the portion
name text portions.name what it was called
product text portions.product key of the product
quantity whole portions.quantity how many
net money portions.net net of discounts, without added tax
""", over="portions", lead=CLOSED, revised=CLOSING),
    Kind("closing_back", "closings", "What closings take off the portions of earlier days, of"
         " sales taken back whole since.", OF_CLOSING + """
sale text back.sale number of the sale
portion_key text back.portions.portion key of the portion
name text back.portions.name what it was called
product text back.portions.product key of the product
quantity whole back.portions.quantity how many
net money back.portions.net net of discounts, without added tax
""", over="back.portions", lead=CLOSED, revised=CLOSING),
    Kind("closing_payments", "closings", "Payments of each closed day by kind.", OF_CLOSING + """
kind text payments.key cash or card
amount money payments.item what was paid so
""", over="payments", lead=CLOSED, revised=CLOSING),
    Kind("closing_taxes", "closings", "Tax of each closed day by class and rate, less refunds.",
         OF_CLOSING + """
tax_class text by_rate.tax_class what is taxed so
rate number by_rate.rate a part of one
base money by_rate.base of the sales; it holds the tax where prices do
tax money by_rate.tax of the sales
refunded_base money by_rate.refunded_base of the refunds
refunded_tax money by_rate.refunded tax that refunds gave back
left_base money by_rate.left_base base less refunded_base
left_tax money by_rate.left tax less refunded_tax
""", over="by_rate", lead=CLOSED, revised=CLOSING),
    Kind("reopenings", "reopenings", "Closed days that were opened again.", """
why text = the reason
""" + DONE, lead=CLOSED),
    Kind("mendings", "mendings", "What became of damaged books.", """
lines whole = how many were brought back
lost_lines text lost their numbers in the shop, joined with +
unproved_lines text unproved of those that no link proves, since the line before is lost
filled_lines text filled of those that came from a copy
from_copy text copy the file of that copy
kept_as text kept the file of the damaged books
made_up text = lots and tubs of which little but the name is known, joined with +
""" + DONE, lead=CLOSED),
    Kind("lost", "lost", "Lines that could not be brought back, on the day of the mending.", """
number whole @number number of the line in the shop
book text @book a day, catalogue, closings; lost where that is not known
line_of_book whole @line line of that book
moment moment at when the books were mended
since moment = when the line before it was entered
until moment = when the line after it was entered
spoke_of text names lots, numbers and keys that it spoke of, as far as known, joined with +
""", lead=CLOSED),
)
ALL = (*DAYS, *CATALOGUE)


def kinds() -> dict[str, Kind]:
    """All tables by name, in the order of a day."""
    return {kind.name: kind for kind in ALL}
