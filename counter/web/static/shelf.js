// The shelf: taps, scans and tubs; it looks every second whether anything has changed.

import {ask, askNumber, button, padFor, say, within} from "./base.js";
import {away, keepRows, keepShelf, keptRows} from "./keep.js";
import {here, late, sendWaiting} from "./outbox.js";
import {hideDone, onBooked, payBoth, payCard, payCash} from "./pay.js";
import {onScan} from "./scan.js";
import * as s from "./slip.js";
import {dialog, el, field, keep, kept, say_ as t} from "./small.js";

const LOOK_MS = 1000, SILENT_MS = 6000, HOLD_MS = 450, AIM_MS = 350;
const rows = document.getElementById("rows"), band = document.getElementById("band");
const get = (id) => document.getElementById(id);

// -- putting things on the slip

function facts(tap) {
  const {portion, name, per, toppings} = tap.dataset;
  return {portion, name, per, offered: JSON.parse(toppings || "[]")};
}

async function put(item, count = 1) {
  hideDone();
  if (get("say").classList.contains("good")) say("");
  if (item.per && !item.gross) {
    const weighed = await weigh(item);
    if (weighed) s.add({...item, ...weighed});
    return;
  }
  s.add({...item, quantity: count});
}

async function putMany(item) {
  if (item.per) return put(item);
  const text = await askNumber({title: t("how_many", {name: item.name}), point: false, ok: t("add")});
  const count = Number(text);
  if (text && Number.isInteger(count) && count > 0 && count < 1000) put(item, count);
}

function weigh(item) {
  const units = item.per === "kg" || item.per === "g" ? ["kg", "g"] : ["lb", "oz"];
  const known = kept("counter.tare", {tare: "", unit: item.per});
  return dialog(t("weigh", {name: item.name}), (form, close) => {
    const [grossPlace, gross] = field(t("gross"));
    const [tarePlace, tare] = field(t("tare"), {value: known.tare});
    const unitPlace = el("fieldset", "picks");
    unitPlace.append(el("legend", "unseen", t("unit")));
    for (const unit of units) {
      const label = el("label"), pick = el("input");
      Object.assign(pick, {type: "radio", name: "unit", value: unit, checked: unit === item.per});
      label.append(pick, el("span", "", unit));
      unitPlace.append(label);
    }
    let active = gross;
    for (const into of [gross, tare]) into.addEventListener("focus", () => { active = into; });
    const two = el("div", "two");
    two.append(grossPlace, tarePlace);
    const take = () => {
      if (!gross.value.trim()) return;
      const unit = form.querySelector("[name=unit]:checked").value;
      keep("counter.tare", {tare: tare.value.trim(), unit});
      close({gross: gross.value.trim(), tare: tare.value.trim(), unit});
    };
    const yes = button(t("add"), "button large grow", take);
    gross.dataset.first = yes.dataset.last = "yes";
    form.append(two, unitPlace, padFor(() => active), yes);
    form.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && event.target.tagName === "INPUT") { event.preventDefault(); take(); }
    });
  });
}

let held = 0, wasHeld = false, moved = -Infinity;
rows.addEventListener("pointerdown", (event) => {
  const tap = event.target.closest("button.tap");
  wasHeld = false;
  clearTimeout(held);
  if (!tap) return;
  held = setTimeout(() => { wasHeld = true; putMany(facts(tap)); }, HOLD_MS);
});
for (const kind of ["pointerup", "pointercancel", "pointerleave", "scroll"]) {
  rows.addEventListener(kind, () => clearTimeout(held));
}
addEventListener("scroll", () => clearTimeout(held), {passive: true});
rows.addEventListener("contextmenu", (event) => { if (event.target.closest("button.tap")) event.preventDefault(); });
rows.addEventListener("click", (event) => {
  if (event.detail && event.timeStamp - moved < AIM_MS) return;  // what was aimed at has moved
  if (wasHeld) { wasHeld = false; return; }
  const tap = event.target.closest("button.tap");
  if (tap) return void put(facts(tap));
  const many = event.target.closest("[data-many]");
  if (many) return void putMany(facts(rows.querySelector(`[data-portion="${CSS.escape(many.dataset.many)}"]`)));
  const tub = event.target.closest("[data-check-tub], [data-end-tub], [data-open-tub]");
  if (tub) tubTap(tub.dataset);
});

// -- codes

async function code(text, scanned = false) {
  if (!text.trim()) return;
  try {
    const found = await ask("/slip/read", {text: text.trim(), scanned});
    if (scanned && s.answers(found.lot)) return;
    const tap = rows.querySelector(`[data-portion="${CSS.escape(found.portion)}"]`);
    say("");
    const {portion, name, per, lot, how, quantity, toppings, gross, unit} = found;
    put({portion, name, per, lot, how, toppings, gross, unit, offered: tap ? facts(tap).offered : []}, quantity);
  } catch (error) {
    say(error.sentence || t("offline"), "stop", error.number);
    if (!error.which?.length) return;
    const found = await s.whichLot(error);
    // The lot goes beside the number of the pack, before how many there are of it.
    if (found) code(text.trim().replace(/(\*\d+)?$/, `@${found.lot}$1`));
  }
}

onScan((text) => code(text, true));
get("code-form").addEventListener("submit", (event) => {
  event.preventDefault();
  code(get("code").value);
  get("code").value = "";
});

// -- tubs

async function tell(path, sent) {
  try {
    const found = await ask(path, sent);
    say(found.says, found.good ? "good" : "stop");
    look();
  } catch (error) {
    say(error.sentence || t("offline"), "stop", error.number);
  }
}

const FAHRENHEIT = {cold: [38, 39, 40, 41], hot: [135, 140, 145, 150]};
const CELSIUS = {cold: [2, 3, 4, 5], hot: [57, 60, 63, 66]};

const degree = () => `°${rows.dataset.fahrenheit === "yes" ? "F" : "C"}`;

function temperature(form, mode, close, ok) {
  const us = rows.dataset.fahrenheit === "yes";
  const temps = el("div", "temps");
  for (const degrees of (us ? FAHRENHEIT : CELSIUS)[mode] ?? []) {
    const text = `${degrees} °${us ? "F" : "C"}`;
    temps.append(button(text, "button quiet", () => close(text)));
  }
  const [place, other] = field(`${t("open_temp")} °${us ? "F" : "C"}`);
  const yes = button(ok, "button large grow", () => other.value.trim() && close(other.value.trim()));
  yes.dataset.last = "yes";
  form.append(temps, place, padFor(() => other), yes);
  temps.querySelector("button")?.setAttribute("data-first", "yes");
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target === other) { event.preventDefault(); yes.click(); }
  });
}

async function tubTap(about) {
  if (about.checkTub) {
    const tub = about.checkTub;
    const measured = await dialog(t("check_title", {tub}), (form, close) => temperature(form, about.mode, close, t("check_note")));
    if (measured) tell("/tubs/check", {tub, temperature: measured});
  } else if (about.endTub) {
    const tub = about.endTub;
    const ended = await dialog(t("end_title", {tub}), (form, close) => {
      const [place, left] = field(t("end_left"), {value: String(Math.max(0, about.level))});
      left.dataset.first = "yes";
      const gone = button(t("end_thrown"), "button stop large grow", () => close({left: left.value, kept: false}));
      form.append(place, padFor(() => left, false));
      if (about.mode === "cold") form.append(button(t("end_kept"), "button quiet wide", () => close({left: left.value, kept: true})));
      gone.dataset.last = "yes";
      form.append(gone);
    });
    if (ended) tell("/tubs/end", {tub, ...ended});
  } else {
    openTub(JSON.parse(about.lots));
  }
}

async function openTub(lots) {
  if (!lots.length) { say(t("no_lot")); return; }
  const opened = await dialog(t("open_title"), (form, close) => {
    const choice = (name, legend, options) => {
      const set = el("fieldset", "picks");
      set.append(el("legend", "", legend));
      options.forEach(([value, text], i) => {
        const label = el("label"), pick = el("input");
        Object.assign(pick, {type: "radio", name, value, checked: i === 0});
        label.append(pick, el("span", "", text));
        set.append(label);
      });
      return set;
    };
    form.append(choice("lot", t("open_lot"), lots.map(([lot, left]) => [lot, `${lot} · ${left}`])));
    form.append(choice("mode", t("open_how"), ["cold", "hot", "time"].map((mode) => [mode, t(`mode_${mode}`)])));
    const [place, degrees] = field(`${t("open_temp")} ${degree()}`);
    const picked = (name) => form.querySelector(`[name=${name}]:checked`).value;
    const yes = button(t("open_it"), "button large grow", () => {
      if (!degrees.value.trim()) return degrees.focus();
      close({lot: picked("lot"), mode: picked("mode"), temperature: degrees.value.trim()});
    });
    yes.dataset.last = "yes";
    degrees.dataset.first = "yes";
    form.append(place, padFor(() => degrees), yes);
  });
  const heated = opened?.mode === "hot" ? await reheating() : {};
  if (opened && heated) tell("/tubs/open", {...opened, ...heated});
}

function reheating() {
  return dialog(t("reheat_title"), (form, close) => {
    const [heatPlace, reheated] = field(`${t("reheat_to")} ${degree()}`);
    const [tookPlace, took] = field(t("reheat_took"));
    let active = reheated;
    for (const into of [reheated, took]) into.addEventListener("focus", () => { active = into; });
    const two = el("div", "two");
    two.append(heatPlace, tookPlace);
    const yes = button(t("open_it"), "button large grow", () => {
      const empty = [reheated, took].find((into) => !into.value.trim());
      if (empty) return empty.focus();
      close({reheated: reheated.value.trim(), took: took.value.trim()});
    });
    reheated.dataset.first = yes.dataset.last = "yes";
    form.append(el("p", "hint", t("reheat_hint")), button(t("reheat_none"), "button quiet wide", () => close({})), two,
      padFor(() => active), yes);
  });
}

// -- the slip's own buttons

async function discount() {
  const before = s.slip.discount;
  const made = await dialog(t("discount_title"), (form, close) => {
    const [place, off] = field(`${t("percent")} %`, {value: before?.text.replace("%", "") ?? ""});
    const kinds = el("fieldset", "picks");
    kinds.append(el("legend", "unseen", t("discount_title")));
    for (const [value, text] of [["%", t("percent")], ["", t("money_off")]]) {
      const label = el("label"), pick = el("input");
      Object.assign(pick, {type: "radio", name: "kind", value, checked: value === (before && !before.text.endsWith("%") ? "" : "%")});
      pick.addEventListener("change", () => { place.querySelector("label").textContent = `${text} ${value}`; });
      label.append(pick, el("span", "", text));
      kinds.append(label);
    }
    const [whyPlace, why] = field(t("why"), {value: before?.why ?? "", mode: "text", most: 200, shown: false});
    const chips = el("div", "chips");
    for (const word of t("whys").split("|")) chips.append(button(word, "button quiet", () => { why.value = word; }));
    const yes = button(t("give"), "button large grow", () => {
      if (!off.value.trim()) return off.focus();
      if (!why.value.trim()) return why.focus();
      close({text: off.value.trim() + form.querySelector("[name=kind]:checked").value, why: why.value.trim()});
    });
    off.dataset.first = yes.dataset.last = "yes";
    form.append(kinds, place, padFor(() => off), whyPlace, chips);
    if (before) form.append(button(t("none"), "button quiet wide", () => close("none")));
    form.append(yes);
  });
  if (made) s.changeSlip((slip) => { slip.discount = made === "none" ? null : made; });
}

get("discount").addEventListener("click", discount);
get("put-aside").addEventListener("click", () => s.putAside());
get("clear").addEventListener("click", () => {
  const before = s.slip;
  s.replaceSlip(s.emptySlip());
  say(t("cleared"), "good");
  // A slip is emptied with one tap, and a wet finger is not always where it was meant to be.
  get("say").lastChild.before(button(t("bring_back"), "", () => {
    say("");
    if (s.slip.items.length) s.putAside();
    s.replaceSlip(before);
  }));
});
get("pay-card").addEventListener("click", payCard);
get("pay-cash").addEventListener("click", payCash);
get("pay-both").addEventListener("click", payBoth);
get("fold").addEventListener("click", () => document.body.classList.remove("slip-open"));
get("unfold").addEventListener("click", () => { document.body.classList.add("slip-open"); get("pay-card").focus({preventScroll: true}); });
for (const pick of document.querySelectorAll("[name=where]")) {
  pick.addEventListener("change", () => s.changeSlip((slip) => { slip.where = pick.value; }));
}
get("lines").addEventListener("click", async (event) => {
  const count = event.target.closest("[data-count]");
  if (!count) return;
  const i = Number(count.dataset.count), item = s.slip.items[i];
  const text = await askNumber({title: t("how_many", {name: item.name}), value: String(item.quantity), point: false, ok: t("add")});
  const wanted = Number(text);
  if (text !== null && text !== "" && Number.isInteger(wanted) && wanted >= 0 && wanted < 1000) {
    s.changeSlip((slip) => { slip.items[i].quantity = wanted; });
  }
});

function draw() {
  const {slip, priced} = s, full = slip.items.length > 0;
  s.drawLines();
  s.drawAside();
  get("sums").hidden = !full;
  get("empty").hidden = full || !get("done").hidden;
  get("lines").hidden = !full;
  for (const pick of document.querySelectorAll("[name=where]")) pick.checked = pick.value === slip.where;
  const figures = get("figures");
  if (!priced && full) {
    const line = el("div", "total");
    line.append(el("span", "", t("total")), el("span", "", "…"));
    figures.replaceChildren(line);
  } else if (priced) {
    const line = (name, text, kind = "") => {
      const made = el("div", kind);
      made.append(el("span", "", name), el("span", "", text));
      return made;
    };
    figures.replaceChildren(...[
      priced.discount || priced.taxes.length ? line(t("subtotal"), priced.subtotal) : "",
      priced.discount ? line(`${t("discount")}: ${priced.why}`, priced.discount) : "",
      ...priced.taxes.map(([name, text]) => line(name, text)),
      line(t("total"), priced.total, "total"),
      priced.cash ? el("p", "hint", t("in_cash", {cash: priced.cash})) : "",
    ].filter(Boolean));
  }
  for (const id of ["pay-card", "pay-cash", "pay-both"]) get(id).disabled = !priced;
  const count = slip.items.reduce((sum, item) => sum + item.quantity, 0);
  const open = late().length, words = full ? t("unfold", {n: count, total: priced?.total ?? "…"}) : document.querySelector(".slip-head h2").textContent;
  get("unfold").classList.toggle("nothing", !full);
  get("unfold").classList.toggle("waits", open > 0);
  get("unfold-words").textContent = open ? `${words} · ${t("unbooked", {n: open})}` : words;
}

s.onChange(draw);
here.changed = draw;
onBooked(() => { draw(); look(); });

// -- what the others do

let seen = rows.dataset.clock;  // when the shop's computer last told of a change, at most a minute ago
let mark = rows.dataset.mark, looking = false, failed = 0, pressed = false;

// A row that is drawn anew under a finger would swallow the tap: wait until it is lifted.
addEventListener("pointerdown", () => { pressed = true; }, true);
for (const kind of ["pointerup", "pointercancel"]) {
  addEventListener(kind, () => setTimeout(() => { pressed = false; }, 50), true);
}

/** Where on the page all that can be tapped begins. */
const places = () => [...rows.querySelectorAll("button")].map((each) => each.getBoundingClientRect().top + scrollY).join();

async function look() {
  if (looking || pressed) return;
  looking = true;
  const before = places();
  try {
    const answer = await fetch("/shelf.json", {headers: {"If-None-Match": `"${mark}"`}, credentials: "same-origin", redirect: "manual", signal: within(SILENT_MS)});
    if (answer.status === 200) {
      const found = await answer.json();
      if (pressed) { looking = false; return; }
      mark = (answer.headers.get("ETag") ?? "").replace(/^W\//, "").replaceAll('"', "");
      show(found);
      keepRows(found).catch(() => {});
      if (s.slip.items.length) s.priceSlip();
    } else if (answer.type === "opaqueredirect" || answer.status === 403) {
      location.assign("/who/?next=/shelf/");
    } else if (answer.status === 409) {
      location.reload();  // the day was closed
    } else if (answer.status !== 304) {
      throw answer;
    }
    if (away) return void comeBack();
    if (failed) { failed = 0; sendWaiting(); if (s.slip.items.length) s.priceSlip(); }
  } catch (error) {
    failed += error.name === "TimeoutError" ? 2 : 1;  // silence was waited for long enough
  }
  sayAway(away || failed > 1);
  if (places() !== before) moved = performance.now();
  looking = false;
}

/** Say that nobody answers, and from when the figures are. */
function sayAway(now) {
  const note = get("offline"), lead = t("last_seen", {clock: seen});
  if (now && note.firstChild?.textContent !== lead) note.replaceChildren(el("b", "", lead), ` ${t("last_seen_means")}`);
  note.hidden = !now;
  document.body.classList.toggle("is-away", now);
}

/** The page was kept from earlier and the server answers again: begin anew, unless somebody is typing. */
function comeBack() {
  if (document.querySelector("dialog[open]")) { looking = false; return; }
  location.reload();
}

function show(found) {
  seen = found.clock;
  if (band.innerHTML !== found.band) band.innerHTML = found.band;
  const old = new Map([...rows.children].map((row) => [row.dataset.key, row]));
  const next = found.rows.map(({key, mark: its, html}) => {
    const row = old.get(key) ?? el("li", "row");
    if (row.dataset.mark !== its) {
      const focus = row.contains(document.activeElement) ? [...row.querySelectorAll("button")].indexOf(document.activeElement) : -1;
      row.dataset.key = key;
      row.dataset.mark = its;
      row.innerHTML = html;  // our own markup, every text in it escaped by the server
      if (focus >= 0) row.querySelectorAll("button")[focus]?.focus({preventScroll: true});
    }
    return row;
  });
  if (next.some((row, i) => rows.children[i] !== row) || next.length !== rows.children.length) rows.replaceChildren(...next);
}

if (away) {
  sayAway(true);
  keptRows().then((found) => { if (found) show(found); sayAway(true); }).catch(() => {});
}
keepShelf().catch(() => {});
setInterval(() => { if (!document.hidden) look(); }, LOOK_MS);
document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
draw();
s.priceSlip();
