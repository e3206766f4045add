// Packs weighed one by one: the pad, the price while one types, the list, the label that comes out.
// The text field under "as text" is the list; what stands here draws it and adds to it.

import {ask, button, padFor, say} from "./base.js";
import {printed} from "./jobs.js";

const form = document.getElementById("weigh");
const at = (id) => document.getElementById(id);
const said = JSON.parse(at("said").textContent);
const words = (key, named) => said[key].replace(/\{(\w+)\}/g, (whole, name) => named[name] ?? whole);
const para = (text, kind) => Object.assign(document.createElement("p"), {className: kind, textContent: text});
const list = at("f-weights"), weight = at("f-weight"), costs = at("costs"), blank = at("f-blank");
const kept = `weights-${form.dataset.lot}`;
let shown = 1, timer = 0, asked = 0, typing = 0;

// -- the list outlives a reload, and a counter that does not answer

try { if (!list.value.trim()) list.value = localStorage.getItem(kept) ?? ""; } catch { /* it keeps nothing */ }
const keep = () => { try { localStorage.setItem(kept, list.value); } catch { /* it keeps nothing */ } };

const query = (more) => `${form.dataset.packs}?${new URLSearchParams({lot: form.dataset.lot, ...more})}`;

// -- one more weight

async function price() {
  const mine = ++typing, text = weight.value.trim();
  if (!text) { costs.textContent = "\u00a0"; return; }
  try {
    const {packs} = await ask(query({weights: text}));
    if (mine !== typing) return;
    weight.removeAttribute("aria-invalid");
    costs.textContent = packs.map((one) => `${one.weight} · ${one.price}`).join("; ") || "\u00a0";
  } catch (refused) {
    if (mine === typing) costs.textContent = refused.status ? "…" : "\u00a0";
  }
}

async function add() {
  const text = weight.value.trim();
  weight.focus();
  if (!text) return;
  try {
    const {packs} = await ask(query({weights: text}));
    list.value = [list.value.trim(), ...packs.map((one) => one.typed)].filter(Boolean).join("\n");
    weight.value = "";
    weight.removeAttribute("aria-invalid");
    costs.textContent = packs.map((one) => `✓ ${one.weight} · ${one.price}`).join("; ");
    typing += 1;
    say("");
    changed(Infinity);
  } catch (refused) {  // what was typed stays
    typing += 1;
    costs.textContent = "\u00a0";
    weight.setAttribute("aria-invalid", "true");
    say(refused.sentence || "…", "stop", refused.number);
  }
}

// -- all of them

function changed(page = 1) {
  keep();
  asked += 1;  // what is on its way is of an older list
  shown = page;
  clearTimeout(timer);
  timer = setTimeout(draw, 150);
}

async function draw() {
  const mine = ++asked, busy = setTimeout(() => { at("busy").hidden = false; }, 250);
  const many = Number(blank.selectedOptions[0].dataset.many) > 1;
  at("positions").hidden = !many;
  if (!many) { at("f-start").value = "1"; at("f-used").value = ""; }
  try {
    const found = await ask(query({
      weights: list.value, blank: blank.value, start: at("f-start").value || "1", used: at("f-used").value,
      page: Math.min(shown, 999999),
    }));
    if (mine === asked) show(found);
  } catch (refused) {
    if (mine !== asked) { /* a newer list is being drawn */ }
    else if (refused.status) unread(refused.sentence || "…");
    else timer = setTimeout(draw, 2000);  // the counter does not answer just now
  }
  clearTimeout(busy);
  if (mine === asked) at("busy").hidden = true;
}

function unread(sentence) {
  at("as-text").open = true;
  list.setAttribute("aria-invalid", "true");
  at("e-weights").textContent = sentence;
  able(false);
}

const able = (may) => { for (const one of at("ways").children) one.disabled = !may; };

function show({packs, sum, error, fits, pages, page, picture, warnings = []}) {
  list.removeAttribute("aria-invalid");
  at("e-weights").textContent = "";
  at("sum").textContent = sum || words("no_packs");
  at("packs").replaceChildren(...packs.map(row));
  at("packs").scrollTop = shown === Infinity ? at("packs").scrollHeight : at("packs").scrollTop;
  at("words").textContent = error ? "" : packs.length ? words("packs", {n: packs.length, pages}) : words("add_first");
  at("notes").replaceChildren(...(error ? [para(error, "notice stop")] : []),
    ...(fits?.length ? [para(words("fits", {names: fits.join(", ")}), "notice")] : []),
    ...warnings.map((text) => para(text, "notice warn")));
  at("page").hidden = !picture;
  if (picture) at("page").src = picture;
  at("pages").hidden = !(pages > 1);
  if (page) shown = page;
  at("page-of").textContent = page ? words("page_of", {page, pages}) : "";
  at("page-back").disabled = !(page > 1);
  at("page-on").disabled = !(page < pages);
  able(packs.length && !error);
}

function row(one, i, all) {
  const item = document.createElement("li"), text = document.createElement("span"), cost = document.createElement("span");
  text.textContent = one.weight;
  text.className = "grow";
  cost.textContent = one.price;
  const away = button("✕", "button quiet", () => {
    list.value = all.filter((_, other) => other !== i).map((other) => other.typed).join("\n");
    changed();
    weight.focus();
  });
  away.setAttribute("aria-label", words("remove", {n: i + 1, weight: one.weight}));
  item.append(text, cost, away);
  return item;
}

// -- begin

at("add-box").hidden = false;
at("as-text").open = false;
at("pad").append(padFor(() => weight));
if (matchMedia("(pointer: coarse)").matches) weight.inputMode = "none";  // the pad is there
at("add").addEventListener("click", add);
weight.addEventListener("input", () => { clearTimeout(weight.timer); weight.timer = setTimeout(price, 120); });
weight.addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); add(); } });
list.addEventListener("input", () => changed());
form.addEventListener("change", (event) => { if (event.target.matches("#f-blank, #f-start, #f-used")) changed(); });
form.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target.matches("input")) event.preventDefault();  // printing takes its own button
});
for (const [id, step] of /** @type {[string, number][]} */ ([["page-back", -1], ["page-on", 1]])) {
  at(id).addEventListener("click", () => { shown = Math.max(1, shown + step); draw(); });
}
printed(form, () => { try { localStorage.removeItem(kept); } catch { /* it kept nothing */ } });
able(false);
draw();
