"""The verdict in front of the inspector's folder, worked out again by a second, plain path.

A week is played by the dice with gaps, failed checks with and without what was done, cooling noted
late, too slow or never, and tubs that went. It is exported as CSV, read with the csv module, and
every figure of the verdict is made anew from it; nothing of the program's own reckoning is used.
"""

from __future__ import annotations

import csv
import io
import random
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pdfplumber
import pytest

from counter.shop import make_shop
from counter.shop.production import BatchNote
from counter.trade.tubs import TubOpened
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand
from tests.reports.plain import us_date, us_moment

MONDAY = date(2026, 11, 23)
WEEK = [MONDAY + timedelta(days=n) for n in range(7)]
SUNDAY = WEEK[-1]
SHUT = WEEK[3]  # on Thursday the shop does nothing
SHOP_ZONE = ZoneInfo("America/Los_Angeles")
Row = dict[str, str]
Tables = dict[str, list[Row]]


def play(hand: ShopInHand, day: date, dice: random.Random) -> None:
    """A day of a shop that notes well, badly or not at all."""
    shop, clock, on = hand.shop, hand.clock, f"{day} "
    kind = WEEK.index(day)
    clock.set(on + "08:30")
    read = {"cook_ended": time(4, 50), "cooled": (time(6, 10), time(8, 20))}
    hand.batch(made=48, **read)
    if kind == 0:
        hand.batch("soft", 30, cook_ended=time(4, 50))  # never cooled by the log
        hand.batch("soft", 30, cook_ended=None, cooled=read["cooled"])
    if kind == 1:  # too slow, and so stopped by the program
        clock.set(on + "16:00")
        slow = hand.batch("soft", 30, cook_ended=time(5), cooled=(time(8), time(15, 50)))
        shop.holds.hold(slow.lot, False, "tasted and measured by the owner", by="Rosa")
        clock.set(on + "16:10")
        return
    if kind != 5:
        shop.records.note_temperature("fridge", Decimal(4), by="Ida")
    pudding = hand.batch("pudding", 32000, **read)
    moment = datetime.fromisoformat(on + "09:00")
    if kind == 2:  # noted late, with the words for it
        late = hand.batch("soft", 30, cook_ended=time(4, 50))
        clock.set(on + "12:07")
        shop.desk.questions.given = {"late": "the slip lay under the scale"}
        note = BatchNote(cooled=(time(6, 10), time(8, 20)))
        shop.amendments.amend_batch(late.lot, note, "times were on a slip", by="Ida")
        shop.desk.questions.given = {}
        moment = datetime.fromisoformat(on + "12:30")
    clock.set(f"{moment}")
    cold = shop.tubs.open_tub(pudding.lot, "cold", 8000, Decimal(4), by="Ida").tub
    hot = shop.tubs.open_tub(
        pudding.lot, "hot", 4000, Decimal(66), by="Ida", reheated=Decimal(76), reheat_minutes=35
    ).tub
    for n in range(dice.randrange(1, 4)):
        moment += timedelta(minutes=dice.randrange(20, 200))
        clock.set(f"{moment}")
        shop.tubs.check_tub(
            cold, Decimal(dice.choice(["3", "4.5", "8"])), by=dice.choice(["Ida", "Oz"])
        )
        shop.tubs.check_tub(hot, Decimal(dice.choice(["60", "52"])))
        if n == 0 and kind != 5:  # nobody measured the fridge on Saturday
            warm = dice.random() < 0.5 or kind == 4
            note = dice.choice(["", "door stood open"]) if kind != 4 else ""
            shop.records.note_temperature("fridge", Decimal(9 if warm else 3), note, by="Oz")
            if kind == 4:
                shop.waste.throw_away(pudding.lot, 500, "temperature", by="Oz")
                clock.forward(minutes=5)
                shop.records.note_temperature("fridge", Decimal(8), "shut the door", by="Oz")
        if n == 1 and kind != 5:
            shop.records.note_temperature("fridge", Decimal(3))
    moment += timedelta(minutes=dice.randrange(10, 300))
    clock.set(f"{moment}")
    shop.tubs.end_tub(hot, 1000, kept=False, by="Oz")
    shop.tubs.end_tub(cold, 3000, kept=False)
    if kind == 6:  # as old books have it: cooled, and no reheating noted; and no measuring either
        lot = hand.batch("pudding", 8000, **read).lot
        with shop.desk.writing() as entry:
            entry.add(TubOpened(tub=f"{lot}/9", lot=lot, mode="hot", level=2000, at=entry.at))
        shop.records.check_thermometer("probe 1", "ice", Decimal("1.5"), by="Ida")


@pytest.fixture(scope="module", params=[1, 2, 3])
def week(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Tables, dict[str, list[str]], str]:
    """The exported tables, the sentences of the verdict by topic, and its summary."""
    from counter.shop.questions import Questions as Asking
    from tests.conftest import SAID

    place = tmp_path_factory.mktemp("week")
    clock, dice = Clock(f"{MONDAY} 04:10"), random.Random(request.param)
    hand = ShopInHand(make_shop(place / "shop", SETTINGS, clock), clock)
    hand.shop.products.load_catalogue(CATALOGUE)
    asked = Asking.answered

    def answered(self: Asking, questions, by=""):  # type: ignore[no-untyped-def]
        questions = list(questions)
        yes = {q.about: "it is so" for q in questions}
        given, self.given = self.given, {**yes, **SAID, **self.given}
        try:
            return asked(self, questions, by)
        finally:
            self.given = given

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Asking, "answered", answered)
        for day in WEEK:
            if day != SHUT:
                play(hand, day, dice)
                if day != SUNDAY:
                    clock.forward(minutes=40)
                    hand.shop.evening.close_day(by="Ida")
        path = hand.shop.reports.write_inspection(MONDAY, SUNDAY, place / "i.pdf")
    tables = {}
    for kind in hand.shop.exports.kinds():
        stream = io.StringIO(newline="")
        hand.shop.exports.export_to(kind, stream, MONDAY, SUNDAY)
        tables[kind] = list(csv.DictReader(io.StringIO(stream.getvalue(), newline="")))
    return tables, *verdict_of(path)


def verdict_of(path: Path) -> tuple[dict[str, list[str]], str]:
    """The first column of each table of the verdict, one string a topic; and what stands above."""
    topics: dict[str, list[str]] = {}
    summary, topic = "", ""
    titles = {
        "Not written down", "Places: how often they were measured", "Cook and cooling",
        "Tubs: how often they were measured", "Out of limits, and what was done",
        "Reheating for hot holding", "Stopped, released, and why", "Tubs thrown away, and why",
        "Thermometers checked", "Who was on duty",
    }  # fmt: skip
    with pdfplumber.open(path) as pdf:
        for whole in pdf.pages[1:]:
            page = whole.crop((0, 60, float(whole.width), float(whole.height)))  # below its head
            lines = page.extract_text_lines(return_chars=True)
            if lines[0]["text"] == "Production log":
                break
            heads = (w["x0"] - 1 for w in page.extract_words() if w["text"] == "source")
            edge = next(heads, float(whole.width))  # a page of topics with nothing to say has none
            left = whole.crop((0, 60, edge, float(whole.height) - 40))
            for text in left.extract_text().splitlines():
                if text.startswith("Not written down: "):
                    summary = text
                elif text in titles:
                    topic = text
                    topics.setdefault(topic, [])
                elif topic and text != "by the records":
                    topics[topic].append(text)
    return {t: [" ".join(lines)] for t, lines in topics.items()}, summary


# -- the second path: rows of the CSV and sums by hand


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def clock(moment: datetime) -> str:
    return us_moment(moment.astimezone(SHOP_ZONE))


def degrees(celsius: str) -> str:
    shown = (Decimal(celsius) * 9 / 5 + 32).quantize(Decimal("0.1"), ROUND_HALF_UP)
    return f"{shown.normalize():f} °F"


def took(start: datetime, end: datetime) -> str:
    seconds = int((end - start).total_seconds())
    return f"{seconds // 3600} h {seconds % 3600 // 60:02d} min"


def gap(start: datetime, end: datetime) -> str:
    return f"{took(start, end)}, from {clock(start)} to {clock(end)}"


def longest(moments: list[datetime]) -> tuple[datetime, datetime]:
    moments = sorted(moments)
    best = moments[0], moments[0]
    for one, two in pairwise(moments):
        if two - one > best[1] - best[0]:
            best = one, two
    return best


def good_in_tub(mode: str, celsius: str) -> bool:
    return Decimal(celsius) >= 57 if mode == "hot" else Decimal(celsius) <= 5


Week = tuple[Tables, dict[str, list[str]], str]


def test_every_day_and_place_that_nobody_measured_is_named(week: Week) -> None:
    tables, said, _ = week
    missing = said["Not written down"][0]
    readings = [t for t in tables["temperatures"] if t["place"] == "fridge"]
    days = {row["trading_day"] for row in tables["batches"]}
    held = {str(d) for d in WEEK if str(d) in days}  # each batch lies in the fridge first
    measured = {t["trading_day"] for t in readings}
    assert str(WEEK[5]) in held - measured
    for day in map(str, WEEK):
        named = f"NO TEMPERATURE OF fridge ON {us_date(day)}" in missing
        assert named is (day in held - measured), day
    assert f"ANYTHING ON {us_date(SHUT)}: there is no book of that day" in missing
    one, two = longest([at(t["moment"]) for t in readings])
    assert said["Places: how often they were measured"][0].startswith(
        f"fridge: measured on {len(held & measured)} of {len(held)} days on which it held food,"
        f" times in all: {len(readings)}; longest time between two measurements {gap(one, two)}."
    )
    assert (
        "display: held no food by the log, times measured: 0."
        in said["Places: how often they were measured"][0]
    )


def test_every_gap_of_more_than_four_hours_in_a_tub_is_named(week: Week) -> None:
    tables, said, _ = week  # every 4 hours: common practice, no source
    told = said["Tubs: how often they were measured"][0]
    end = {t["tub"]: at(t["moment"]) for t in tables["ended"]}
    last = max(at(r["entered"]) for rows in tables.values() for r in rows if "entered" in r)
    named = 0
    for tub in tables["tubs"]:
        name = tub["tub"]
        checks = [at(c["moment"]) for c in tables["checks"] if c["tub"] == name]
        moments = sorted([at(tub["moment"]), *checks, end.get(name, last)])
        times = len(checks) + bool(tub["celsius"])
        gaps = list(pairwise(moments))
        long = [g for g in gaps if (g[1] - g[0]).total_seconds() > 4 * 3600]
        head = f"Tub {name}, held {tub['mode']}: times measured: {times}; "
        if long:
            named += 1
            words = "; ".join(gap(*g) for g in long)
            assert f"{head}NOT MEASURED FOR MORE THAN 4 HOURS: {words}." in told
        else:
            words = gap(*longest(moments))
            assert f"{head}never longer than {words}: within 4 hours." in told
        assert (f"THE END OF tub {name}" in said["Not written down"][0]) is (name not in end)
    assert told.count("NOT MEASURED FOR MORE THAN 4 HOURS") == named > 0


def expected_out(tables: Tables) -> tuple[list[str], list[str]]:
    """The sentences of what was out of limits, and what of it nobody did anything about."""
    told, silent = [], []
    for t in tables["temperatures"]:
        if Decimal(t["celsius"]) <= 5:
            continue
        what = f"{t['place']}, {degrees(t['celsius'])} at {clock(at(t['moment']))}"
        done = [f'noted "{t["note"]}"'] if t["note"] else []
        rows = [
            r
            for r in tables["holds"]
            if r["stopped"] == "true" and r["trading_day"] == t["trading_day"]
        ]
        rows = [r for r in rows if at(r["moment"]) >= at(t["moment"])]
        for moment in dict.fromkeys(r["moment"] for r in rows):
            lots = ", ".join(r["lot"] for r in rows if r["moment"] == moment)
            done.append(f"stopped at {clock(at(moment))}: lot {lots} (why stands below)")
        done += [
            f"some of lot {w['lot']} thrown away, out of its temperature, at {clock(at(w['moment']))}"
            for w in tables["waste"]
            if w["trading_day"] == t["trading_day"]
            and w["reason"] == "temperature"
            and at(w["moment"]) >= at(t["moment"])
        ]
        good = sorted(
            at(r["moment"]) for r in tables["temperatures"]
            if at(r["moment"]) > at(t["moment"]) and Decimal(r["celsius"]) <= 5
        )  # fmt: skip
        told.append(acted(what, done, good, silent))
    ended = {t["tub"]: t for t in tables["ended"]}
    for tub in tables["tubs"]:
        mine = [c for c in tables["checks"] if c["tub"] == tub["tub"]]
        for n, c in enumerate(mine):
            if good_in_tub(tub["mode"], c["celsius"]):
                continue
            what = f"Tub {tub['tub']}, {degrees(c['celsius'])} at {clock(at(c['moment']))}"
            later = [
                at(x["moment"]) for x in mine[n + 1 :] if good_in_tub(tub["mode"], x["celsius"])
            ]
            gone = ended.get(tub["tub"])
            done = []
            if gone and not later:
                done = [
                    f"taken away at {clock(at(gone['moment']))}, {why_gone(tables, tub['tub'])}"
                ]
            told.append(acted(what, done, later, silent, bool(gone)))
    return told, silent


WHY = {  # the words of each reason
    "temperature": "out of its temperature", "time": "past its time at the counter",
    "unmeasured": "its temperature not measured", "tasting": "tasting", "stopped": "stopped lot",
    "other": "other", "date": "past its date",
}  # fmt: skip


def why_gone(tables: Tables, tub: str) -> str:
    rows = [w for w in tables["waste"] if w["tub"] == tub and w["reason"] != "scooping"]
    return ", ".join(w["words"] or WHY[w["reason"]] for w in rows)


def acted(
    what: str, done: list[str], good: list[datetime], silent: list[str], gone: bool = False
) -> str:
    again = "" if gone else "; not measured within its limits again in these days"
    if good:
        again = f"; within its limits again at {clock(good[0])}"
    if not done:
        silent.append(what)
        return f"{what}: WHAT WAS DONE IS NOT WRITTEN DOWN{again}."
    return f"{what}: {'; '.join(done)}{again}."


def test_each_measurement_out_of_limits_says_what_was_done_or_that_nobody_wrote_it(
    week: Week,
) -> None:
    tables, said, summary = week  # Food Code 3-501.16(A)
    told = said["Out of limits, and what was done"][0]
    expected, silent = expected_out(tables)
    assert silent
    assert len(silent) < len(expected)
    for sentence in expected:
        assert sentence in told
    assert sum(map(len, expected)) + len(expected) - 1 == len(told)  # and there is nothing else
    missing = said["Not written down"][0]
    assert missing.count("WHAT WAS DONE ABOUT ") == len(silent)
    assert all(f"WHAT WAS DONE ABOUT {what}" in missing for what in silent)
    assert summary.endswith(
        f"Measured out of limits: {len(expected)}, of these without a word of what was done:"
        f" {len(silent)}."
    )


def test_cooling_never_noted_late_or_too_slow_is_named(week: Week) -> None:
    tables, said, _ = week  # Food Code 3-501.14(A): 2 hours to 21 °C, 6 to 5 °C
    told, missing = said["Cook and cooling"][0], said["Not written down"][0]
    last = {b["lot"]: b for b in tables["batches"]}
    slow = in_time = 0
    for lot, batch in last.items():
        assert (f"THE COOLING OF lot {lot}" in missing) is (not batch["cooled_21"])
        assert (f"THE END OF THE COOK OF lot {lot}" in missing) is (not batch["cook_ended"])
        blind = bool(batch["cooled_5"]) and not batch["cook_ended"]
        assert (f"Lot {lot}: when it began to cool is not noted" in told) is blind
        if not batch["cooled_5"] or blind:
            continue
        ended, warm = at(batch["cook_ended"]), at(batch["cooled_21"])
        is_slow = (warm - ended).total_seconds() > 2 * 3600
        slow += is_slow
        in_time += not is_slow and at(batch["cooled_5"]) - ended <= timedelta(hours=6)
        if is_slow:
            words = f"it took {took(ended, warm)} to reach 21 °C / 70 °F, allowed are 2 h"
            assert f"Lot {lot} cooled TOO SLOWLY: {words}." in told
        written = next(b for b in tables["batches"] if b["lot"] == lot and b["cooled_5"])
        late = at(written["entered"]) - at(written["cooled_5"])
        is_late = late > timedelta(minutes=30)
        assert (f"Lot {lot}: 5 °C / 41 °F at" in told) is is_late
        if is_late:
            [words] = [
                a["words"] for a in tables["answers"]
                if (a["trading_day"], a["line"]) == (written["trading_day"], written["line"])
                and a["about"] == "late"
            ]  # fmt: skip
            reached = at(batch["cooled_5"])
            assert (
                f"Lot {lot}: 5 °C / 41 °F at {reached:%H:%M} is noted late,"
                f" {took(reached, at(written['entered']))} after it; the reason given:"
                f' "{words}".' in told
            )
    assert slow == missing.count("THE END OF THE COOK OF lot ") == 1
    assert "the slip lay under the scale" in told
    assert (
        f"{in_time} of {len(last)} batches that must be cooled are noted as cold in time." in told
    )


def test_reheating_is_noted_or_its_lack_is_named(week: Week) -> None:
    tables, said, _ = week  # Food Code 3-403.11(A), (D)
    hot = [t for t in tables["tubs"] if t["mode"] == "hot"]
    cooled = {b["lot"]: b["cooled_21"] for b in tables["batches"]}
    missing = said["Not written down"][0]
    assert [t["tub"] for t in hot if not t["reheated"]] == ["26333-03/9"]
    for tub in hot:
        text = f"Tub {tub['tub']}: reheated to {degrees(tub['reheated'] or '0')}"
        text += f" in {tub['reheat_minutes']} minutes."
        assert (text in said["Reheating for hot holding"][0]) is bool(tub["reheated"])
        lacking = not tub["reheated"] and at(cooled[tub["lot"]]) <= at(tub["moment"])
        assert (f"THE REHEATING OF tub {tub['tub']}: its lot was cooled" in missing) is lacking
        opened = f"THE TEMPERATURE OF tub {tub['tub']} AT ITS OPENING"
        assert (opened in missing) is (not tub["celsius"])


def test_stops_releases_and_what_was_thrown_away_carry_who_and_why(week: Week) -> None:
    tables, said, _ = week
    told = said["Stopped, released, and why"][0]
    assert {h["stopped"] for h in tables["holds"]} == {"true", "false"}
    last = {h["lot"]: h for h in tables["holds"]}
    for h in tables["holds"]:
        mine = [x for x in tables["holds"] if x["lot"] == h["lot"]]
        before = mine[mine.index(h) - 1] if mine.index(h) else {"stopped": "false", "why": ""}
        what, why = "stopped" if h["stopped"] == "true" else "released", h["why"]
        if (h["stopped"], before["stopped"]) == ("true", "true"):
            what, why = "stopped as well", why.removeprefix(before["why"] + "; ")
        text = f"Lot {h['lot']} {what} at {clock(at(h['moment']))} by {h['person'] or 'NO NAME'}: {why}"
        still = h is last[h["lot"]] and h["stopped"] == "true"
        assert f"{text}{'; not released in these days' if still else ''}." in told
    gone = [t for t in tables["ended"] if t["kept"] == "false" and int(t["left_ml"])]
    assert len(gone) == 10
    for t in gone:
        left = f"{int(t['left_ml']) // 1000} l thrown away at {clock(at(t['moment']))}"
        text = (
            f"Tub {t['tub']}: {left} by {t['person'] or 'NO NAME'}: {why_gone(tables, t['tub'])}."
        )
        assert text in said["Tubs thrown away, and why"][0]


def test_names_of_each_day_stand_with_their_first_and_last_entry(week: Week) -> None:
    tables, said, summary = week
    entries: dict[tuple[str, str], tuple[datetime, set[str]]] = {}
    for rows in tables.values():
        for row in rows:
            if "entered" in row:
                key = row["trading_day"], row["line"]
                names = entries.setdefault(key, (at(row["entered"]), set()))[1]
                names.update({row.get("person", "")} - {""})
    missing, told = said["Not written down"][0], said["Who was on duty"][0]
    for day in map(str, WEEK):
        mine = [entry for (d, _), entry in entries.items() if d == day]
        nobody = sum(not names for _, names in mine)
        text = f"NO NAME ON {nobody} OF {len(mine)} ENTRIES OF {us_date(day)}"
        assert (text in missing) is bool(nobody)
        for name in {n for _, names in mine for n in names}:
            when = [moment for moment, names in mine if name in names]
            first, last = clock(min(when)), clock(max(when))
            line = f"{name}, {len(when)} entries, first {first}, last {last}."
            if len(when) == 1:
                line = line.replace("entries", "entry")
            assert f"{us_date(day)}: {line}" in told
    capitals = (
        "ANYTHING ON", "NO TEMPERATURE OF", "WHAT WAS DONE ABOUT", "THE COOLING OF", "NO NAME ON",
        "THE END OF", "THE REHEATING OF", "THE TEMPERATURE OF", "WHEN lot",
    )  # fmt: skip
    lines = sum(missing.count(words) for words in capitals)
    assert summary.startswith(f"Not written down: {lines}. ")


def test_a_thermometer_check_stands_with_its_verdict(week: Week) -> None:
    tables, said, _ = week  # Food Code 4-502.11(B), 4-203.11: right to 1 °C
    [check] = tables["thermometers"]
    assert abs(Decimal(check["celsius"])) > 1
    assert said["Thermometers checked"] == [
        f"probe 1 in ice water: {degrees(check['celsius'])} at {clock(at(check['moment']))}:"
        " NOT RIGHT TO 1 °C; Ida."
    ]


def test_no_check_of_a_thermometer_is_said_in_capitals(hand: ShopInHand, tmp_path: Path) -> None:
    path = hand.shop.reports.write_inspection(
        date(2026, 11, 25), date(2026, 11, 25), tmp_path / "i.pdf"
    )
    said, _ = verdict_of(path)
    assert "NO CHECK OF A THERMOMETER IN THESE DAYS" in said["Not written down"][0]
