// Payments that this browser keeps until the shop's computer has booked them. On every page: they are
// shown while they wait, and sent as soon as somebody is signed in.

import {ask, button, say} from "./base.js";
import {el, keep, kept, say_ as t} from "./small.js";

const OUTBOX = "counter.outbox", FORGONE = "counter.forgone", AGAIN_MS = 2000;
const PATIENCE_MS = 15_000;  // then it is sent again: its key lets it be booked only once
const FRESH_MS = 60_000;     // whoever took it still stands before it
const box = document.getElementById("outbox");
const said = (name) => document.querySelector(`meta[name="${name}"]`)?.content ?? "";
const signedIn = Number(said("lasts")) > 0;
let sending = false, timer = 0, drawn = "";

export const waiting = () => kept(OUTBOX, []);
const forgone = () => kept(FORGONE, []);

/** What a page with a slip does besides: `booked(sale)`, `refused(payment, error)`, `takeBack(payment)`, `changed()`. */
export const here = {};

/** A key of our own for every slip: sent twice, it is booked once. */
export function newKey() {
  // randomUUID is missing where the page comes over plain http from another computer.
  if (crypto.randomUUID) return crypto.randomUUID();
  return [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/** What the server knows of a slip; names and lots are the page's own. */
export function toSend(from) {
  const item = ({portion, quantity, lot, how = "assumed", toppings, gross = "", tare = "", unit = ""}) =>
    ({portion, quantity, lot, how, toppings, gross, tare, unit});
  return {items: from.items.map(item), where: from.where, discount: from.discount, key: from.key};
}

/** Take a payment: first kept, then sent: whatever happens next, it is in the outbox or in the books. */
export function post(slip, tenders, {seen, total}) {
  keep(OUTBOX, [...waiting(), {
    slip, tenders, seen, total, at: Date.now(), taker: said("taker"), tries: 0, status: 0, sentence: "",
  }]);
  sendWaiting();
}

/** Send what waits, one after the other, until the shop's computer has answered each. */
export async function sendWaiting() {
  if (sending) return;
  sending = true;
  clearTimeout(timer);
  draw();
  try {
    for (const payment of signedIn ? waiting() : []) if (!payment.refused) await sendOne(payment);
    for (const payment of signedIn ? forgone() : []) await tellForgone(payment);
  } finally {
    sending = false;
  }
  draw();
  if (waiting().length || forgone().length) timer = setTimeout(sendWaiting, AGAIN_MS);
}

async function sendOne(payment) {
  const {slip, tenders, seen, tries} = payment;
  // How old it is by this browser's clock, at both ends: when it was is for the server to say.
  const age = ageOf(payment);
  update(slip.key, {tries: tries + 1});
  try {
    const sent = {slip: toSend(slip), tenders, seen, again: tries > 0, age, taker: payment.taker ?? ""};
    const sale = await ask("/slip/pay", sent, {patience: PATIENCE_MS});
    drop(slip.key);
    if (here.booked) here.booked(sale);
    else say(t("booked_late", {number: sale.number, total: sale.total}), "good");
  } catch (error) {
    const {status, sentence = "", taken = ""} = error;
    if (status === undefined) throw error;
    const final = isFinal(error);
    if (final && !taken && !tries && Math.abs(age) < FRESH_MS && here.refused) {
      drop(slip.key);
      here.refused(payment, error);
    } else {
      update(slip.key, {status, sentence, taken, refused: final});
    }
  }
}

const ageOf = ({at}) => Math.round(Math.max(-3e12, Math.min(3e12, Date.now() - at))) || 0;
const isFinal = ({status, sealed}) => status >= 400 && status < 500 && ![401, 403, 408, 429].includes(status) && !sealed;

/** Money was taken and nothing of it will be booked: the books are told so, however late. */
function forgo(payment, words) {
  drop(payment.slip.key);
  keep(FORGONE, [...forgone(), {...payment, words: t(words)}]);
}

async function tellForgone({slip: {key}, seen, at, taker, words}) {
  try {
    await ask("/slip/forgone", {key, seen, words, age: ageOf({at}), taker: taker ?? ""}, {patience: PATIENCE_MS});
  } catch (error) {
    if (!isFinal(error)) return;
  }
  keep(FORGONE, forgone().filter((p) => p.slip.key !== key));
}

function update(key, what) {
  keep(OUTBOX, waiting().map((p) => (p.slip.key === key ? {...p, ...what} : p)));
}

function drop(key) {
  keep(OUTBOX, waiting().filter((p) => p.slip.key !== key));
}

// -- drawing

function draw() {
  const all = waiting(), now = JSON.stringify([all, sending && all.map(isNew)]);
  if (now === drawn) return;
  drawn = now;
  here.changed?.();
  if (signedIn || !all.length) box.replaceChildren(...all.map(drawOne));
  else box.replaceChildren(el("p", "waiting", t(all.length > 1 ? "waits_many" : "waits_one", {n: all.length, total: sum(all)})));
}

/** What was not booked at once. */
export const late = () => waiting().filter((payment) => !sending || !isNew(payment));

const isNew = (payment) => payment.tries <= 1 && payment.status === 0;

function sum(all) {
  const {places, currency, locale} = box.dataset;
  if (all.length === 1) return all[0].total;
  const minor = all.reduce((whole, payment) => whole + payment.seen, 0);
  return new Intl.NumberFormat(locale, {style: "currency", currency}).format(minor / 10 ** Number(places));
}

function drawOne(payment) {
  const {slip: {key}, status, sentence, total} = payment, first = sending && isNew(payment);
  const card = el("div", first ? "waiting brief" : "waiting"), tools = el("div", "row-of");
  const words = payment.refused ? "not_taken" : "not_booked";
  card.append(el("p", "", first ? t("booking") : t(words, {total, clock: new Date(payment.at).toLocaleString(document.documentElement.lang, {dateStyle: "short", timeStyle: "short"})})));
  if (sentence) card.append(el("p", "", sentence));
  const offer = (name, act) => tools.append(button(t(name), "button quiet", () => { act(); sendWaiting(); }));
  const goTo = (name, href) => {
    const link = el("a", "button", t(name));
    link.href = href;
    tools.append(link);
  };
  if (status === 403 || status === 401) goTo("sign_in", "/who/");
  if (payment.taken) {
    goTo("look_at_it", `/sales/${payment.taken}`);
    offer("book_anew", () => update(key, {slip: {...payment.slip, key: newKey()}, refused: false, sentence: "", taken: "", status: 0}));
  } else if (payment.refused) {
    offer("send_again", () => update(key, {refused: false}));
  }
  if ((payment.refused || status >= 500) && !payment.taken && here.takeBack) {
    offer("take_back", () => { forgo(payment, "take_back"); here.takeBack(payment); });
  }
  if (payment.refused) offer("throw_away", () => throwAway(payment));
  if (tools.children.length) card.append(tools);
  return card;
}

/** One tap throws it away, and one brings it back. */
function throwAway(payment) {
  forgo(payment, "throw_away");
  say(t("thrown_away", {total: payment.total}), "good");
  document.getElementById("say").lastChild.before(button(t("bring_back"), "", () => {
    say("");
    keep(FORGONE, forgone().filter((p) => p.slip.key !== payment.slip.key));
    keep(OUTBOX, [...waiting(), payment]);
    sendWaiting();
  }));
}

addEventListener("storage", (event) => { if (event.key === OUTBOX) draw(); });  // another tab's
draw();
addEventListener("DOMContentLoaded", sendWaiting);  // once the page's own scripts are there
