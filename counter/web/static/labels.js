// The sheet to tap on, and the page that will come out, drawn anew while one chooses.

import {ask} from "./base.js";
import {printed} from "./jobs.js";

const form = document.getElementById("labels");
const at = (id) => document.getElementById(id);
const sheets = JSON.parse(at("sheets").textContent);
const said = JSON.parse(at("said").textContent);
const blank = at("f-blank"), start = at("f-start"), used = at("f-used");
let shown = 1;

const words = (key, named) => said[key].replace(/\{(\w+)\}/g, (whole, name) => named[name] ?? whole);
const para = (text, kind) => Object.assign(document.createElement("p"), {className: kind, textContent: text});
const chosen = () => [...form.querySelectorAll("[name=lot]:checked:enabled")];

// -- the sheet

const usedOnes = () => new Set(used.value.split(",").map((word) => parseInt(word, 10)).filter(Boolean));
const firstOne = () => parseInt(start.value, 10) || 1;

function drawSheet() {
  const {columns, rows, ratio} = sheets[blank.value];
  const many = columns * rows > 1;
  at("sheet-box").hidden = at("by-number").hidden = !many;
  if (!many) { start.value = "1"; used.value = ""; return; }
  const gone = usedOnes(), first = firstOne(), place = at("sheet"), focus = document.activeElement?.dataset?.position;
  place.style.gridTemplateColumns = `repeat(${columns}, minmax(0, 1fr))`;
  place.replaceChildren(...Array.from({length: columns * rows}, (_, i) => {
    const position = i + 1, cell = document.createElement("button");
    const off = position < first || gone.has(position);
    const state = off ? "used" : position === nextFree(first, gone) ? "first" : "free";
    cell.type = "button";
    cell.dataset.position = position;
    cell.dataset.state = state;
    cell.textContent = String(position);
    cell.style.aspectRatio = `${1 / ratio}`;
    cell.setAttribute("aria-pressed", String(off));
    cell.setAttribute("aria-label", words({used: "used_one", first: "first_one", free: "free"}[state], {n: position}));
    cell.addEventListener("click", () => tap(position));
    return cell;
  }));
  if (focus) place.querySelector(`[data-position="${focus}"]`)?.focus();
}

function nextFree(first, gone) {
  while (gone.has(first)) first += 1;
  return first;
}

function tap(position) {
  const gone = usedOnes();
  if (form.elements.tap.value === "first") {
    start.value = position;
    for (const one of gone) if (one <= position) gone.delete(one);
  } else if (position < firstOne()) {  // it was used because it lay before the first: now it does not
    for (let one = position + 1; one < firstOne(); one += 1) gone.add(one);
    start.value = position;
  } else if (!gone.delete(position)) {
    gone.add(position);
  }
  used.value = [...gone].sort((a, b) => a - b).join(",");
  shown = 1;
  printed(form);
changed();
}

// -- the page that will come out

let timer = 0, asked = 0;

function changed() {
  drawSheet();
  drawLinks();
  for (const button of form.querySelectorAll("[name=do]")) button.disabled = !chosen().length;
  clearTimeout(timer);
  timer = setTimeout(preview, 300);
}

function drawLinks() {
  at("explains").replaceChildren(...chosen().map(({value}) => {
    const item = document.createElement("li"), link = document.createElement("a");
    link.href = `${form.dataset.explain}?${new URLSearchParams({lot: value, blank: blank.value})}`;
    link.textContent = words("whole_roll", {lot: value});
    item.append(link);
    return item;
  }));
}

function query() {
  const sent = new URLSearchParams({blank: blank.value, start: start.value || "1", used: used.value, page: String(shown)});
  for (const {value} of chosen()) {
    sent.append("lot", value);
    sent.append(`count.${value}`, form.elements[`count.${value}`].value);
  }
  return sent;
}

async function preview() {
  const mine = ++asked;
  if (!chosen().length) { show({}); return; }
  const busy = setTimeout(() => { at("busy").hidden = false; }, 250);
  try {
    const found = await ask(`${form.dataset.preview}?${query()}`);
    if (mine === asked) show(found);
  } catch (refused) {
    if (mine === asked) show({error: refused.sentence || "…", fits: refused.fits});
  }
  clearTimeout(busy);
  if (mine === asked) at("busy").hidden = true;
}

const asking = at("words").textContent;

/** @param {Record<string, any>} told */
function show({error, fits, labels, pages, page, picture, warnings = []}) {
  const image = at("page");
  at("words").textContent = error ? "" : labels ? words("pages", {n: labels, pages}) : asking;
  at("notes").replaceChildren(...(error ? [para(error, "notice stop")] : []),
    ...(error && fits?.length ? [para(words("fits", {names: fits.join(", ")}), "notice")] : []),
    ...warnings.map((text) => para(text, "notice warn")));
  image.hidden = !picture;
  if (picture) image.src = picture;
  at("pages").hidden = !(pages > 1);
  if (page) shown = page;
  at("page-of").textContent = page ? words("page_of", {page, pages}) : "";
  at("page-back").disabled = !(page > 1);
  at("page-on").disabled = !(page < pages);
  if (error) for (const button of form.querySelectorAll("[name=do]")) button.disabled = true;
}

for (const [id, step] of /** @type {[string, number][]} */ ([["page-back", -1], ["page-on", 1]])) {
  at(id).addEventListener("click", () => { shown = Math.max(1, shown + step); preview(); });
}
form.addEventListener("change", (event) => {
  if (event.target === blank) { blank.dataset.touched = "yes"; start.value = "1"; used.value = ""; }
  if (event.target.name === "lot" && event.target.checked && !blank.dataset.touched) {
    if (chosen().length === 1 && sheets[event.target.dataset.blank]) blank.value = event.target.dataset.blank;
  }
  if (event.target.name !== "tap") { shown = 1; changed(); }
});
form.addEventListener("input", (event) => { if (event.target.matches(".count, #f-start, #f-used")) { shown = 1; changed(); } });
form.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target.matches("input")) event.preventDefault();  // printing takes its own button
});
printed(form);
changed();
