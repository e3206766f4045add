// Taking money: two taps, and a payment that outbox.js keeps until the shop's computer has answered.

import {button, padFor, say} from "./base.js";
import {here, post} from "./outbox.js";
import {dialog, el, field, say_ as t} from "./small.js";
import {emptySlip, priced, putAside, replaceSlip, slip, tell} from "./slip.js";

const done = document.getElementById("done");
let afterBooked = () => {};

export const onBooked = (call) => { afterBooked = call; };

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

// -- what is taken

function pay(tenders) {
  if (!slip.items.length || !priced) return;
  const taken = {...slip}, shown = priced;
  replaceSlip(emptySlip());
  say("");
  post(taken, tenders, shown);
}

here.booked = (sale) => {
  showDone(sale);
  afterBooked();
};
here.refused = (payment, error) => {
  if (slip.items.length) putAside(payment.slip, error.sentence);
  else replaceSlip(payment.slip);
  say(error.sentence, "stop", error.number);
};
here.takeBack = ({slip: taken, sentence}) => {
  if (slip.items.length) putAside(taken, sentence);
  else replaceSlip(taken);
};

// -- what was booked

function showDone(sale) {
  done.replaceChildren(el("p", "booked", `✓ ${t("booked")} ${sale.number} · ${sale.total}`));
  if (sale.kept) done.append(el("p", "", t("paid_then", {moment: sale.kept})));
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
