"""What somebody does who wants to sell bad food, or print an untrue label, by ordinary commands.

A step is ``HH:MM command``, or ``+N HH:MM command`` on the N-th day after Tuesday 2026-11-24; a step
without a time follows at once. Before a command stand ``!`` where it must be refused (and goes on)
and ``?`` where it may be. ``edit`` changes a text in ``catalogue.toml`` or ``shop.toml`` and puts it
to use. The last step ends as ``must`` says: ``no`` (refused), ``asks ABOUT``, or ``yes``.
"""

from __future__ import annotations

from typing import NamedTuple


class Trick(NamedTuple):
    """``says`` stands in the sentence of a refusal; ``source`` is the rule that is tried."""

    name: str
    source: str
    steps: str
    must: str
    says: str = ""


COOK = "--boiled 10min --cooked-at"
GOOD = f"{COOK} 05:00 --cooled 06:40,09:00"  # cooked at five, cold at nine
COOLING = "Food Code 3-501.14(A)"
DATES = "Food Code 3-501.17(A), 3-501.18"
RAW = "common practice, no source: raw soy milk is not for eating"
TIME = "Food Code 3-501.19(B)"
HOLDING = "Food Code 3-501.16(A)"
REHEAT = "Food Code 3-403.11(A), (D)"
STOP = "the shop's own rule: a stop holds everywhere until it is released"
ALLERGENS = "21 USC 343(w), 343(q)"
LOG = "the shop's own rule: a figure that can hardly be is asked about"
ROOM = "Food Code 3-501.16(A)(2), 3-501.19(B)"

TRICKS = (
    # -- silence
    Trick("say nothing of the cooling and sell it after six hours", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        11:10 sell firm-block --card""", "no", "5 °C"),
    Trick("sell it within the six hours, as the law allows", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        10:30 sell firm-block --card""", "yes"),
    Trick("say nothing of the cooling and label it after six hours", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        11:10 labels 26328-01""", "no", "5 °C"),
    Trick("sell it the day after, never noted cold", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        +1 08:00 sell firm-block --card""", "no", "5 °C"),
    Trick("close the day over what was never noted cold, and sell it", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        18:00 count 26328-01 48
        18:05 close --cash 150 --sure cooling='it was in the cold room'
        +1 08:00 sell 26328-01 --card""", "no", "5 °C"),
    Trick("note 21 °C in time and never 5 °C", COOLING, f"""
        06:45 batch firm --made 48 {COOK} 05:00 --cooled 06:40
        11:10 sell firm-block --card""", "no", "5 °C"),
    Trick("leave out when the cook ended", COOLING, """
        05:10 batch firm --made 48 --boiled 10min
        11:15 sell firm-block --card""", "no", "5 °C"),
    Trick("leave out the cook", RAW, """
        05:10 batch firm --made 48
        08:00 sell firm-block --card""", "no", "no cook is recorded"),
    Trick("leave out the cook and label it", RAW, """
        05:10 batch firm --made 48
        08:00 labels 26328-01""", "no", "no cook is recorded"),
    Trick("write a cook that is too short", RAW, """
        09:05 batch firm --made 48 --cook 80C,3min --cooked-at 05:00 --cooled 06:40,09:00
        09:10 sell firm-block --card""", "no", "shorter"),
    Trick("smoke what is raw", RAW, """
        05:10 batch firm --made 48
        08:00 batch smoked --made 24 --from 26328-01:24""", "no", "no cook is recorded"),
    Trick("smoke what was never noted cold", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        11:30 batch smoked --made 24 --from 26328-01:24""", "no", "5 °C"),
    Trick("open a cold tub of what was never cold", HOLDING, f"""
        05:10 batch pudding --made 16l {COOK} 05:00
        08:00 tub open 26328-01 --cold --holds 8l --temp 4C""", "no"),
    Trick("open a cold tub and measure nothing", HOLDING, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --cold --holds 8l""", "no", "temperature"),
    Trick("open a tub by time and measure nothing", TIME, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --by-time --holds 8l""", "no", "temperature"),
    Trick("open a hot tub and measure nothing", HOLDING, f"""
        05:10 batch pudding --made 16l {COOK} 05:00
        05:20 tub open 26328-01 --hot --holds 8l""", "no", "temperature"),
    Trick("measure a cold tub once, and never again", HOLDING, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --cold --holds 8l --temp 4C
        13:25 sell cup-small --card""", "no", "no temperature check"),
    # -- late notes
    Trick("note the cooling a day late, without saying why", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        +1 08:00 batch firm --amend 26328-01 --cooled 06:40,09:00 --because forgot""",
        "asks late"),
    Trick("note a day late that it took too long", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        ?+1 08:00 batch firm --amend 26328-01 --cooled 06:40,12:30 --because forgot --sure late='Teo measured it'
        sell 26328-01 --card""", "no", "cooled too slowly"),
    Trick("say after the labels that the cook ended an hour earlier", COOLING, f"""
        09:10 batch firm --made 48 {GOOD}
        labels 26328-01
        batch firm --amend 26328-01 --cooked-at 04:00 --because 'wrong clock'
        sell 26328-01 --card""", "no", "cooled too slowly"),
    Trick("write last evening's cook as if it were tonight's", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 23:10
        05:20 sell firm-block --card""", "no", "5 °C"),
    Trick("write a cook that has not ended yet", COOLING, """
        05:10 batch firm --made 48 --boiled 10min --cooked-at 06:30""", "no"),
    Trick("write beforehand when it will be cold", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00 --cooled 06:40,09:00""", "no"),
    Trick("heal a warm tub with a reading of before", HOLDING, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --cold --holds 8l --temp 4C
        12:00 tub check 26328-01/1 12C
        ?12:10 tub check 26328-01/1 4C --at 11:30 --sure late='read off the chart'
        12:15 sell cup-small --card""", "no", "12 °C"),
    Trick("heal a tub after more than four hours with a good reading", HOLDING, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --cold --holds 8l --temp 4C
        10:00 tub check 26328-01/1 12C
        13:30 tub check 26328-01/1 4C
        13:35 sell cup-small --card""", "no"),
    Trick("log a batch for tomorrow", LOG, f"""
        09:10 batch firm --made 48 {GOOD} --at '2026-11-25 05:10'""", "no"),
    # -- corrections
    Trick("correct the cook to a shorter one and go on selling", RAW, f"""
        09:10 batch firm --made 48 {GOOD}
        batch firm --amend 26328-01 --boiled 2min --because 'the clock was wrong'
        sell 26328-01 --card""", "no", "shorter"),
    Trick("add wheat after the labels are printed", ALLERGENS, f"""
        09:10 batch firm --made 48 {GOOD}
        labels 26328-01
        batch firm --amend 26328-01 --with wheat-flour=200g --because forgot
        sell 26328-01 --card""", "no", "wheat"),
    Trick("make a batch larger the day after", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        +1 08:00 batch firm --amend 26328-01 --made 96 --because forgot""", "no"),
    Trick("let somebody at the counter release what the program stopped", STOP, f"""
        09:10 batch firm --made 48 {COOK} 05:00 --cooled 07:40,09:00
        !release 26328-01 --because 'looks good to me' --by Ida
        sell 26328-01 --card""", "no", "cooled too slowly"),
    Trick("release it with no more than ok", STOP, f"""
        09:10 batch firm --made 48 {COOK} 05:00 --cooled 07:40,09:00
        !release 26328-01 --because ok --by Rosa
        sell 26328-01 --card""", "no", "cooled too slowly"),
    Trick("sell what was made from a stopped lot", STOP, f"""
        09:10 batch firm --made 48 {GOOD}
        09:20 batch smoked --made 24 --from 26328-01:24
        stop 26328-01 --because 'glass in the kettle'
        sell smoked-block --card""", "no", "26328-01 went into it"),
    Trick("release the first and sell what was made from it", STOP, f"""
        09:10 batch firm --made 48 {GOOD}
        09:20 batch smoked --made 24 --from 26328-01:24
        stop 26328-01 --because 'glass in the kettle'
        release 26328-01 --because 'it was another kettle' --by Rosa
        sell smoked-block --card""", "no", "26328-01 went into it"),
    Trick("sell another lot of the same bad beans", STOP, f"""
        09:10 batch firm --made 48 {GOOD} --code soybeans=B-77
        09:20 batch soft --made 30 {GOOD} --code soybeans=b-77
        stop --code B-77 --because 'recalled by the supplier'
        sell soft-block --card""", "no", "stopped"),
    Trick("sell a voided batch", LOG, f"""
        09:10 batch firm --made 48 {GOOD}
        void 26328-01 --because 'never made'
        sell 26328-01 --card""", "no"),
    # -- the day's end, and days after
    Trick("sell after the last day, the day closed in between", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        18:00 count 26328-01 48
        18:05 close --cash 150
        +5 08:00 sell 26328-01 --card""", "no", "2026-11-28"),
    Trick("sell yesterday's at half past two in the night", DATES, f"""
        09:10 batch pudding --made 16l {GOOD}
        +1 20:00 tub open 26328-01 --cold --holds 8l --temp 4C
        +2 00:30 tub check 26328-01/1 4C
        +2 02:30 sell cup-small --card""", "no", "2026-11-25"),
    Trick("let the day begin at noon", DATES, """
        edit shop.toml 'day_starts = "03:00"' 'day_starts = "12:00"'""", "no"),
    Trick("keep a hot tub over the night", HOLDING, f"""
        05:10 batch pudding --made 16l {COOK} 05:00
        05:20 tub open 26328-01 --hot --holds 8l --temp 70C
        +1 08:00 sell cup-small --card""", "no"),
    Trick("reopen the day and sell from the tub that went", HOLDING, f"""
        05:10 batch pudding --made 16l {COOK} 05:00
        05:20 tub open 26328-01 --hot --holds 8l --temp 70C
        08:00 tub check 26328-01/1 65C
        09:00 close --cash 150 --sure cooling='all of it was hot' --sure uncounted='all went'
        09:05 close --reopen --because 'one more cup'
        09:06 sell cup-small --card""", "no"),
    Trick("close with ten dollars too few and say nothing", LOG, f"""
        09:10 batch firm --made 48 {GOOD}
        18:00 count 26328-01 48
        18:05 close --cash 140""", "asks cash"),
    Trick("close and count nothing", LOG, f"""
        09:10 batch firm --made 48 {GOOD}
        18:05 close --cash 150""", "asks uncounted"),
    # -- counts and stock
    Trick("count five hundred of forty-eight", LOG, f"""
        09:10 batch firm --made 48 {GOOD}
        count 26328-01 500""", "asks count.26328-01"),
    Trick("tap what only an expired lot can be", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        +4 09:10 batch firm --made 2 {GOOD}
        +5 08:00 sell firm-block*3 --card""", "no", "26328-01"),
    Trick("tap it in two rows of one slip", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        +4 09:10 batch firm --made 2 {GOOD}
        +5 08:00 sell firm-block*2 firm-block --card""", "no", "26328-01"),
    Trick("name the good lot in the hand", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        +4 09:10 batch firm --made 2 {GOOD}
        +5 08:00 sell firm-block@26332-01*3 --card""", "yes"),
    Trick("scan the number of the product, with an expired lot there", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        +5 09:10 batch firm --made 48 {GOOD}
        sell 9521234000013 --card""", "no", "26328-01"),
    Trick("take back what is past its date, and sell it again", DATES, f"""
        09:10 batch firm --made 1 {GOOD} --sure made='one to try'
        sell 26328-01 --card
        +5 08:00 refund 2026-11-24/0001 --because 'wrong one' --restock""", "no"),
    Trick("put a cup back into the tub", HOLDING, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --cold --holds 8l --temp 4C
        sell cup-small --card
        refund 2026-11-24/0001 --because 'wrong one' --restock""", "no", "tub"),
    # -- the catalogue
    Trick("let it keep longer after it is made", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        edit catalogue.toml 'name = "Firm Tofu"\nsecond_name = "Tofu firme"\nkeeps = 5' 'name = "Firm Tofu"\nsecond_name = "Tofu firme"\nkeeps = 7'
        +5 08:00 sell 26328-01 --card""", "no", "2026-11-28"),
    Trick("let nothing need cooling", COOLING, f"""
        05:10 batch firm --made 48 {COOK} 05:00
        edit catalogue.toml 'keeps = 5\nmould = "48"' 'keeps = 5\ncooled = false\nmould = "48"'
        """, "no", "its cooling is not noted"),
    Trick("let firm tofu need no cook", RAW, """
        edit catalogue.toml 'keeps = 5\nmould = "48"' 'keeps = 5\ncook = false\nmould = "48"'
        05:10 batch firm --made 48""", "no", "no lot is named"),
    Trick("let wheat go from the wheat flour", ALLERGENS, """
        edit catalogue.toml 'name = "Wheat Flour"\nsecond_name = "Harina de trigo"\nallergens = ["wheat"]' 'name = "Wheat Flour"\nsecond_name = "Harina de trigo"'
        """, "no", "wheat"),
    Trick("let soy go from the beans", ALLERGENS, """
        edit catalogue.toml 'allergens = ["soy"]' 'allergens = []'""", "no", "soy"),
    Trick("name an allergen that nobody knows", ALLERGENS, """
        edit catalogue.toml 'allergens = ["sesame"]' 'allergens = ["sesam"]'""", "no", "sesam"),
    Trick("call seitan spices", ALLERGENS, """
        edit catalogue.toml 'name = "Spices"' 'name = "Seitan"'""", "no", "wheat"),
    Trick("fry in sesame oil and name no sesame", ALLERGENS, """
        edit catalogue.toml 'name = "Canola Oil"' 'name = "Sesame Oil"'""", "no", "sesame"),
    Trick("ask ten times the price", LOG, """
        edit catalogue.toml 'price = "3.25"\nbreaks = [{ quantity = 3' 'price = "32.50"\nbreaks = [{ quantity = 3'""",
        "no", "32.50"),
    Trick("give two products one number", "GS1 General Specifications 2.1: a number names one item", """
        edit catalogue.toml '9521234000020' '9521234000013'""", "no", "9521234000013"),
    Trick("keep it ten days without a study", DATES, f"""
        edit catalogue.toml 'keeps = 5\nmould = "48"' 'keeps = 10\nmould = "48"'
        09:10 batch firm --made 48 {GOOD}
        +7 08:00 sell 26328-01 --card""", "no", "2026-11-30"),
    Trick("call it frozen and keep it in the refrigerator", DATES, f"""
        edit catalogue.toml 'keeps = 5\nmould = "48"' 'keeps = 60\nheld = "frozen"\nmould = "48"'
        09:10 batch firm --made 48 {GOOD}
        +8 08:00 sell 26328-01 --card""", "no"),
    Trick("take a product out of the catalogue while it lies there", LOG, f"""
        09:10 batch pulp --made 10 {GOOD}
        edit catalogue.toml '[products.pulp]' '[products.pulp-new]' '[portions.pulp]\nproduct = "pulp"' '[portions.pulp]\nproduct = "pulp-new"'""",
        "no", "pulp"),
    # -- clocks
    Trick("let the computer believe that it is the day after tomorrow", DATES, f"""
        09:10 batch soft --made 30 {GOOD}
        +2 09:10 batch firm --made 48 {GOOD}""", "asks day"),
    Trick("set the clock back to sell what has passed", DATES, f"""
        09:10 batch pudding --made 16l {GOOD}
        +3 08:00 batch firm --made 48 --boiled 10min --sure day='yes, Friday'
        +1 09:10 batch soft --made 30 {GOOD}""", "asks day"),
    Trick("set the clock back over a tub", TIME, f"""
        09:10 batch pudding --made 16l {GOOD}
        12:20 tub open 26328-01 --by-time --holds 8l --temp 4C
        11:00 sell cup-small --card""", "no"),
    Trick("stop a lot that a wrong clock made, and sell it", STOP, f"""
        +1 09:10 batch firm --made 48 {GOOD} --sure day='so says the computer'
        09:20 stop 26329-01 --because 'hair in it'
        +1 10:00 sell 26329-01 --card""", "no", "hair in it"),
    # -- tubs kept over
    Trick("keep a cold tub and open it anew, again and again", HOLDING, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --cold --holds 8l --temp 4C
        11:00 tub check 26328-01/1 12C
        11:10 tub check 26328-01/1 4C
        11:20 tub end 26328-01/1 --left 8l --keep
        11:30 tub open 26328-01 --cold --holds 8l --temp 4C
        13:00 tub check 26328-01/2 12C
        13:20 tub check 26328-01/2 4C
        13:35 sell cup-small --card""", "yes"),
    Trick("the same until four hours are together", HOLDING, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --cold --holds 8l --temp 4C
        11:00 tub check 26328-01/1 12C
        11:30 tub check 26328-01/1 4C
        11:35 tub end 26328-01/1 --left 8l --keep
        11:40 tub open 26328-01 --cold --holds 8l --temp 4C
        13:00 tub check 26328-01/2 12C
        13:50 tub check 26328-01/2 4C
        13:55 sell cup-small --card""", "no"),
    Trick("heat cold pudding a little and call it hot", REHEAT, f"""
        09:10 batch pudding --made 16l {GOOD}
        10:00 tub open 26328-01 --hot --holds 8l --temp 60C""", "no", "74 °C"),
    Trick("put back what stood by time", TIME, f"""
        09:10 batch pudding --made 16l {GOOD}
        09:20 tub open 26328-01 --by-time --holds 8l --temp 4C
        10:00 tub end 26328-01/1 --left 6l --keep""", "no", "only a cold tub"),
    Trick("begin the four hours again with a new tub of the rest", TIME, f"""
        09:10 batch pudding --made 8l {GOOD}
        09:20 tub open 26328-01 --by-time --holds 8l --temp 4C
        13:25 tub open 26328-01 --by-time --holds 8l --temp 4C""", "no"),
    # -- places
    Trick("leave it in a warm refrigerator", ROOM, f"""
        09:10 batch firm --made 48 {GOOD}
        09:30 temperature fridge 4C
        11:00 temperature fridge 9C
        13:40 sell firm-block --card""", "no"),
    Trick("let it stand on the counter", ROOM, f"""
        09:10 batch firm --made 48 {GOOD}
        09:30 move 26328-01 display 4C
        13:40 sell firm-block --card""", "no"),
    Trick("freeze it on the last day and thaw it a week later", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        +4 08:00 move 26328-01 freezer
        +11 08:00 move 26328-01 fridge 2C
        +12 08:00 sell 26328-01 --card""", "no"),
    # -- labels
    Trick("print for a shop that nobody has named", "21 CFR 101.5", f"""
        new
        09:10 batch firm --made 48 {GOOD}
        labels 26328-01""", "no"),
    Trick("sell in a shop that nobody has named", "21 CFR 101.5", f"""
        new
        09:10 batch firm --made 48 {GOOD}
        sell 26328-01 --card""", "no"),
    Trick("call it organic", "7 CFR 205.301", f"""
        edit catalogue.toml 'name = "Firm Tofu"' 'name = "Organic Firm Tofu"'
        09:10 batch firm --made 48 {GOOD}
        labels 26328-01""", "asks label.firm.organic"),
    Trick("write sixteen ounces on a block of eight", "21 CFR 101.7", f"""
        edit catalogue.toml 'net = "14 oz"' 'net = "14 lb"'
        09:10 batch firm --made 48 {GOOD}
        labels 26328-01""", "asks label.firm.net"),
    Trick("leave one ingredient without its second name", "21 CFR 101.15(c)(2)", f"""
        edit catalogue.toml 'name = "Calcium Sulfate"\nsecond_name = "Sulfato de calcio"' 'name = "Calcium Sulfate"'
        09:10 batch firm --made 48 {GOOD}
        labels 26328-01""", "no", "Calcium Sulfate"),
    Trick("label what is stopped", STOP, f"""
        09:10 batch firm --made 48 {GOOD}
        stop 26328-01 --because 'hair in it'
        labels 26328-01""", "no", "hair in it"),
    Trick("label what is past its date", DATES, f"""
        09:10 batch firm --made 48 {GOOD}
        +5 08:00 labels 26328-01""", "no"),
)  # fmt: skip
