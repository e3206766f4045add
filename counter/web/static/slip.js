// The slip: kept in this browser, priced by the server. It survives a reload and a dead server.

import {ask, button, say} from "./base.js";
import {newKey, toSend} from "./outbox.js";
import {dialog, el, keep, kept, say_ as t, sign} from "./small.js";

const KEY = "counter.slip", ASIDE = "counter.aside";

export function emptySlip() {
  return {items: [], where: "away", discount: null, key: newKey()};
}

export let slip = kept(KEY, null) ?? emptySlip();
export let priced = null;   // the server's answer for the slip as it stands, or null
let blamed = [], asked = 0, timer = 0, trouble = "";
let doubt = null;           // the refusal that asks for the lot of the entries in `blamed`
const changed = [];         // who wants to know

export const onChange = (told) => changed.push(told);
export const tell = () => { for (const told of changed) told(); };

/** Everything about the items that makes two of them one entry. */
const same = (a, b) => a.portion === b.portion && a.lot === b.lot && a.how === b.how && !a.gross && !b.gross
  && a.toppings.join() === b.toppings.join();

function tidy() {
  const found = [];
  for (const item of slip.items) {
    if (item.quantity < 1) continue;
    const twin = found.find((other) => same(other, item));
    if (twin) twin.quantity = Math.min(999, twin.quantity + item.quantity);
    else found.push(item);
  }
  slip.items = found;
}

export function changeSlip(change) {
  change(slip);
  tidy();
  keep(KEY, slip);
  priced = null;
  trouble = "";
  blamed = [];
  doubt = null;
  tell();
  clearTimeout(timer);
  timer = setTimeout(() => priceSlip(true), 60);
}

export function add(item) {
  changeSlip((now) => now.items.push({quantity: 1, lot: "", how: "assumed", toppings: [], ...item}));
}

export function replaceSlip(next) {
  slip = next;
  changeSlip(() => {});
}

/** Ask the server what it costs. `byHand`: somebody is there to be asked for a lot. */
export async function priceSlip(byHand = false) {
  const mine = ++asked;
  if (!slip.items.length) { priced = null; tell(); return; }
  try {
    const found = await ask("/slip/price", toSend(slip), {patience: 8000});
    if (mine !== asked) return;
    priced = found;
    blamed = [];
    doubt = null;
    if (trouble) say("");
    trouble = "";
  } catch (error) {
    if (mine !== asked) return;
    if (error.status) {
      priced = null;
      blamed = error.items ?? [];
      doubt = error.which?.length ? error : null;
      if (trouble !== error.sentence) say(error.sentence, "stop", error.number);
      trouble = error.sentence;
    }
  }
  tell();
  if (doubt && byHand) askLot(blamed.at(-1));
}

// -- which lot it is

let answering = null;

/** The lot of the piece in the hand, picked or scanned; those that may not be sold cannot be. */
export async function whichLot({sentence, which}) {
  if (answering) return null;
  const found = await dialog(t("which_lot"), (form, close) => {
    const box = el("div", "offers which");
    for (const [lot, day, why] of which) {
      const made = button("", "button", () => close({lot, how: "named"}));
      made.append(el(why ? "s" : "span", "", lot), el("small", "", day), ...(why ? [el("small", "why", why)] : []));
      made.disabled = Boolean(why);
      box.append(made);
    }
    box.querySelector("button:enabled")?.setAttribute("data-first", "yes");
    form.append(el("p", "", sentence), box);
    answering = (lot) => which.some(([one, , why]) => one === lot && !why) && (close({lot, how: "scanned"}), true);
  });
  answering = null;
  return found;
}

/** Whether a scanned label answers the question that is open. */
export const answers = (lot) => Boolean(lot && answering?.(lot));

async function askLot(i) {
  const item = slip.items[i], found = item && await whichLot(doubt);
  if (found) changeSlip((now) => { if (now.items[i] === item) Object.assign(item, found); });
}

// Another tab of this browser has the same slip: what one changes, the other shows.
addEventListener("storage", (event) => {
  if (event.key === KEY) {
    slip = kept(KEY, null) ?? emptySlip();
    priceSlip();
  }
  if (event.key === KEY || event.key === ASIDE) tell();
});

// -- slips set aside

export const aside = () => kept(ASIDE, []);

export function putAside(which = slip, why = "") {
  if (!which.items.length) return;
  const words = which.items.map((i) => `${i.quantity} ${i.name}`).join(", ");
  keep(ASIDE, [...aside(), {slip: which, words, at: Date.now(), why}]);
  if (which === slip) replaceSlip(emptySlip());
  else tell();
}

export function takeUp(index) {
  const all = aside();
  const [taken] = all.splice(index, 1);
  keep(ASIDE, all);
  if (slip.items.length) putAside();
  replaceSlip(taken.slip);
}

// -- drawing

const lines = document.getElementById("lines");
let drawn = "";

/** Draw the slip; the button that had the focus has it again. */
export function drawLines() {
  const now = JSON.stringify([slip.items, priced?.items, blamed, Boolean(doubt)]);
  if (now === drawn) return;
  drawn = now;
  const focus = document.activeElement?.dataset?.step;
  lines.replaceChildren(...slip.items.map(drawLine));
  if (focus) lines.querySelector(`[data-step="${CSS.escape(focus)}"]`)?.focus();
  lines.lastElementChild?.scrollIntoView({block: "nearest"});
}

function drawLine(item, i) {
  const parts = priced?.items?.[i] ?? [];
  const line = el("li", blamed.includes(i) ? "blamed" : "");
  const top = el("div", "line-top");
  const weight = parts[0]?.weight || (item.gross ? `${item.gross} ${item.unit}` : "");
  top.append(
    el("span", "", `${weight ? weight : item.quantity} ${weight ? "" : "× "}${item.name}`),
    el("span", "price", parts.map((p) => p.price).join(" + ") || "…"),
  );
  const under = el("div", "line-under");
  const kind = el("span", "line-kind");
  const kinds = parts.filter((p) => p.kind);
  kinds.forEach((p) => kind.append(el("b", "", parts.length > 1 ? `${p.quantity} × ${p.kind} ` : `${p.kind} `)));
  kind.append([...new Set(parts.flatMap((p) => p.lots))].join(" ") || (item.lot ? t("lot", {lot: item.lot}) : ""));
  under.append(kind, steps(item, i));
  line.append(top, under);
  if (doubt && blamed.includes(i)) line.append(button(t("which_lot"), "button stop", () => askLot(i)));
  if (item.offered?.length && !item.gross) line.append(toppings(item, i));
  return line;
}

function steps(item, i) {
  const box = el("span", "steps");
  const step = (text, label, by) => {
    const made = el("button", "", text);
    made.type = "button";
    made.dataset.step = `${i}${text}`;
    made.setAttribute("aria-label", label);
    made.addEventListener("click", () => changeSlip((now) => { now.items[i].quantity += by; }));
    return made;
  };
  box.append(step("−", t("less", {name: item.name}), -1));
  if (!item.gross) {
    const count = el("button", "count", String(item.quantity));
    count.type = "button";
    count.dataset.step = `${i}n`;
    count.dataset.count = i;
    count.setAttribute("aria-label", `${t("number_of", {name: item.name})}: ${item.quantity}`);
    box.append(count, step("+", t("more", {name: item.name}), 1));
  }
  return box;
}

function toppings(item, i) {
  const box = el("div", "toppings");
  for (const [key, name, extra] of item.offered) {
    const made = el("button", "", extra ? `${name} +${extra}` : name);
    made.type = "button";
    made.dataset.step = `${i}${key}`;
    made.setAttribute("aria-pressed", String(item.toppings.includes(key)));
    made.addEventListener("click", () => changeSlip((now) => toggle(now, i, key)));
    box.append(made);
  }
  return box;
}

/** A topping on one of several cups makes an entry of its own. */
function toggle(now, i, key) {
  const item = now.items[i];
  const has = item.toppings.includes(key);
  const next = has ? item.toppings.filter((k) => k !== key) : [...item.toppings, key].sort();
  if (item.quantity > 1 && !has) {
    item.quantity -= 1;
    now.items.splice(i + 1, 0, {...item, quantity: 1, toppings: next});
  } else {
    item.toppings = next;
  }
}

export function drawAside() {
  const box = document.getElementById("aside");
  box.replaceChildren(...aside().map((held, i) => {
    const clock = new Date(held.at).toLocaleTimeString(document.documentElement.lang, {hour: "2-digit", minute: "2-digit"});
    const made = el("button", held.why ? "button quiet refused" : "button quiet", "");
    made.type = "button";
    made.append(sign("aside"), el("span", "", `${clock} ${held.words.slice(0, 34)}${held.words.length > 34 ? "…" : ""}`));
    made.setAttribute("aria-label", t("take_up", {clock, words: held.words}));
    made.addEventListener("click", () => takeUp(i));
    return made;
  }));
}
