// Counts are kept as soon as they are typed; coins make a running sum, in whole minor units, to be shown.
import {ask, say} from "./base.js";

const counts = document.getElementById("counts");

async function keep(input) {
  if (!input.value.trim() || input.value === input.dataset.kept) return;
  const value = input.value, row = input.closest("tr"), cell = row.querySelector(".compared");
  try {
    const found = await ask(counts.dataset.ask, {lot: input.dataset.lot, amount: value, day: counts.dataset.day});
    input.dataset.kept = value;
    input.removeAttribute("aria-invalid");
    row.className = found.state;
    const chip = document.createElement("span"), hint = document.createElement("span");
    chip.className = found.state === "warn" ? "chip warn" : "chip";
    chip.textContent = found.says;
    hint.className = "hint";
    hint.textContent = ` ${counts.dataset.expected.replace("{amount}", found.expected)}`;
    cell.replaceChildren(chip, hint);
    say("");
  } catch (fault) {
    input.setAttribute("aria-invalid", "true");
    say(fault.sentence || counts.dataset.unkept, "stop", fault.number);
  }
}

if (counts) {
  counts.addEventListener("change", (event) => {
    if (event.target.dataset.lot) keep(event.target);
  });
  // Enter goes to the next lot: a count is kept on the way, and nothing is sent half done.
  counts.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.dataset.lot) return;
    event.preventDefault();
    const all = [...counts.querySelectorAll("input[data-lot]")];
    const next = all[all.indexOf(event.target) + 1] ?? document.querySelector("#cash [data-coin]") ?? event.target;
    next.focus();
    next.select();
  });
}

for (const table of document.querySelectorAll("table.coins")) {
  const {places, currency, locale} = table.dataset;
  const shown = new Intl.NumberFormat(locale, {style: "currency", currency});
  const money = (minor) => shown.format(minor / 10 ** Number(places));
  const sum = () => {
    let whole = 0;
    for (const input of table.querySelectorAll("[data-coin]")) {
      const text = input.value.trim(), good = /^[0-9]{0,5}$/.test(text);
      const line = good ? Number(text) * Number(input.dataset.coin) : 0;
      input.toggleAttribute("aria-invalid", false);
      if (!good) input.setAttribute("aria-invalid", "true");
      input.closest("tr").querySelector("[data-line]").textContent = line ? money(line) : "";
      whole += line;
    }
    table.querySelector("[data-sum]").textContent = money(whole);
  };
  table.addEventListener("input", sum);
  table.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.dataset.coin) return;
    event.preventDefault();
    const all = [...table.querySelectorAll("[data-coin]")];
    const next = all[all.indexOf(event.target) + 1] ?? table.closest("form").querySelector("button");
    next.focus();
  });
  sum();
}
