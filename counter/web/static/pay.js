// Taking money: two taps, and a payment that is kept until the shop's computer has answered.

import {ask, button, padFor, say} from "./base.js";
import {dialog, el, field, keep, kept, say_ as t} from "./small.js";
import {emptySlip, priced, putAside, replaceSlip, slip, tell, toSend} from "./slip.js";

const OUTBOX = "counter.outbox", AGAIN_MS = 2000;
const PATIENCE_MS = 15_000;  // then it is sent again: its key lets it be booked only once
const box = document.getElementById("outbox"), done = document.getElementById("done");
let sending = false, timer = 0;
let afterBooked = () => {};

export const onBooked = (call) => { afterBooked = call; };
const waiting = () => kept(OUTBOX, []);

// -- what is asked

export async function payCard() {
  if (!priced) return;
  const tender = await dialog(t("pay_card", {total: priced.total}), (form, close) => {
    const [place, reference] = field(t("reference"), {mode: "text", most: 40, shown: false});
    const yes = button(`${t("card")} ${priced.total}`, "button large grow", () =>
      close({kind: "card", amount: "", reference: reference.value}));
    yes.dataset.first = yes.dataset.last = "yes";
    form.append(place, yes);
    onEnter(form, () => yes.click());
  });
  if (tender) pay([tender]);
}

export async function payCash() {
  if (!priced) return;
  const given = await dialog(t("pay_cash"), (form, close) => {
    const offers = el("div", "offers");
    priced.offers.forEach((offer, i) => {
      const made = button(offer.says, i ? "button quiet" : "button", () => close(offer.given));
      made.append(el("small", "", offer.change ? t("back", {money: offer.change}) : t("exact")));
      if (!i) made.dataset.first = "yes";
      offers.append(made);
    });
    const [place, other] = field(t("other_amount"));
    const yes = button(t("book"), "button large grow", () => {
      if (other.value.trim()) close(other.value.trim());
      else other.focus();
    });
    yes.dataset.last = "yes";
    form.append(offers, place, padFor(() => other), yes);
    onEnter(form, (target) => target === other && yes.click());
  });
  if (given !== null) pay([{kind: "cash", amount: given, reference: ""}]);
}

export async function payBoth() {
  if (!priced) return;
  const tenders = await dialog(`${t("pay_both")}: ${priced.total}`, (form, close) => {
    const [cardPlace, card] = field(t("card_part"));
    const [cashPlace, cash] = field(t("cash_given"));
    let active = card;
    for (const into of [card, cash]) into.addEventListener("focus", () => { active = into; });
    const yes = button(t("book"), "button large grow", () => card.value.trim() && close([
      {kind: "card", amount: card.value.trim(), reference: ""},
      {kind: "cash", amount: cash.value.trim(), reference: ""},
    ]));
    yes.dataset.last = "yes";
    card.dataset.first = "yes";
    form.append(cardPlace, cashPlace, padFor(() => active), yes);
    onEnter(form, () => yes.click());
  });
  if (tenders) pay(tenders);
}

function onEnter(form, act) {
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    act(event.target);
  });
}

// -- what is sent, and sent again

function pay(tenders) {
  if (!slip.items.length || !priced) return;
  const payment = {
    slip: {...slip}, tenders, seen: priced.seen, total: priced.total, at: Date.now(),
    tries: 0, status: 0, sentence: "",
  };
  // First kept, then sent: whatever happens next, it is in the outbox or in the books.
  keep(OUTBOX, [...waiting(), payment]);
  replaceSlip(emptySlip());
  say("");
  sendWaiting();
}

/** Send what waits, one after the other, until the shop's computer has answered each. */
export async function sendWaiting() {
  if (sending) return;
  sending = true;
  clearTimeout(timer);
  drawWaiting();
  try {
    for (const payment of waiting()) await sendOne(payment);
  } finally {
    sending = false;
  }
  drawWaiting();
  if (waiting().length) timer = setTimeout(sendWaiting, AGAIN_MS);
}

async function sendOne(payment) {
  const {tenders, seen} = payment;
  const again = payment.tries > 0;
  update(payment.slip.key, {tries: payment.tries + 1});
  try {
    const sale = await ask("/slip/pay", {slip: toSend(payment.slip), tenders, seen, again},
      {patience: PATIENCE_MS});
    drop(payment.slip.key);
    showDone(sale);
    afterBooked();
  } catch (error) {
    const final = error.status >= 400 && error.status < 500 && ![401, 403, 408, 429].includes(error.status);
    if (!final) {
      update(payment.slip.key, {status: error.status, sentence: error.sentence});
      return;
    }
    drop(payment.slip.key);
    if (slip.items.length) putAside(payment.slip, error.sentence);
    else replaceSlip(payment.slip);
    say(error.sentence, "stop", error.number);
  }
}

function update(key, what) {
  keep(OUTBOX, waiting().map((p) => (p.slip.key === key ? {...p, ...what} : p)));
}

function drop(key) {
  keep(OUTBOX, waiting().filter((p) => p.slip.key !== key));
}

function drawWaiting() {
  box.replaceChildren(...waiting().map((payment) => {
    const first = payment.tries <= 1 && payment.status === 0 && sending;
    const card = el("div", first ? "waiting brief" : "waiting");
    card.append(el("p", "", first ? t("booking") : t("not_booked", {total: payment.total})));
    if (payment.sentence) card.append(el("p", "", payment.sentence));
    if (payment.status === 403 || payment.status === 401) {
      const link = el("a", "button", t("sign_in"));
      link.href = "/who/";
      card.append(link);
    }
    if (payment.status >= 500) {
      card.append(button(t("take_back"), "button quiet", () => {
        drop(payment.slip.key);
        if (slip.items.length) putAside();
        replaceSlip(payment.slip);
        drawWaiting();
      }));
    }
    return card;
  }));
}

// -- what was booked

function showDone(sale) {
  done.replaceChildren(el("p", "booked", `✓ ${t("booked")} ${sale.number} · ${sale.total}`));
  if (sale.change) {
    done.append(el("p", "", t("change")), el("p", "change figures", sale.change));
    done.append(el("p", "", sale.no_coins ? t("no_coins") : t("coins", {coins: sale.coins.join(", ")})));
  }
  if (sale.oversold.length) done.append(el("p", "notice warn", t("oversold", {lots: sale.oversold.join(", ")})));
  const tools = el("div", "row-of");
  const next = button(t("next"), "button large grow", () => { hideDone(); document.body.classList.remove("slip-open"); });
  next.id = "next";
  for (const [key, href] of [["receipt", sale.receipt], ["receipt_pdf", sale.pdf]]) {
    const link = el("a", "button quiet", t(key));
    link.href = href;
    link.target = "_blank";
    link.rel = "noopener";
    tools.append(link);
  }
  tools.append(next);
  done.append(tools);
  done.hidden = false;
  done.dataset.number = sale.number;
  if (!document.querySelector("dialog[open]") && !slip.items.length) next.focus({preventScroll: true});
}

export function hideDone() {
  if (done.hidden) return;
  done.hidden = true;
  done.replaceChildren();
  tell();
}
