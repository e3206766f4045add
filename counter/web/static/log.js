// The form of a batch: its date and gates while one types, and the small helps of wet hands.

import {ask} from "./base.js";

const form = /** @type {any} */ (document.getElementById("batch"));
const at = (id) => document.getElementById(id);

// -- one tap: the time of now, the cook of the last time

const [hour, minute] = form.dataset.now.split(":").map(Number);  // the shop's clock, not the tablet's
const two = (n) => String(n).padStart(2, "0");

for (const button of form.querySelectorAll("[data-now-for]")) {
  button.addEventListener("click", () => {
    const minutes = Math.floor(hour * 60 + minute + performance.now() / 60000);
    fill({[button.dataset.nowFor]: `${two(Math.floor(minutes / 60) % 24)}:${two(minutes % 60)}`});
  });
}
for (const button of form.querySelectorAll("[data-fill]")) {
  button.addEventListener("click", () => fill(JSON.parse(button.dataset.fill)));
}

function fill(values) {
  for (const [name, value] of Object.entries(values)) {
    const into = form.elements[name];
    if (into) into.value = value;
  }
  form.dispatchEvent(new Event("input", {bubbles: true}));
}

// -- only what belongs to this way of cooking

function showCook() {
  const how = form.elements.cook?.value;
  for (const part of form.querySelectorAll("[data-when-cook]")) {
    part.hidden = how !== part.dataset.whenCook;
  }
}

// -- Enter goes on to the next field: nobody sends half a batch by it

form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.matches("button, textarea, summary")) return;
  event.preventDefault();
  const all = [...form.querySelectorAll("input:not([type=hidden]), select, textarea, button:not([type=button])")]
    .filter((element) => element.checkVisibility());
  all[all.indexOf(event.target) + 1]?.focus();
});

// -- the date and the gates

let timer = 0, asked = 0;

function later() {
  showCook();
  clearTimeout(timer);
  if (form.dataset.preview) timer = setTimeout(preview, 250);
}

async function preview() {
  const mine = ++asked;
  const sent = new URLSearchParams();
  for (const [name, value] of new FormData(form)) {
    if (value && !["token", "notes", "same"].includes(name)) sent.append(name, String(value));
  }
  try {
    const found = await ask(`${form.dataset.preview}?${sent}`);
    if (mine === asked) show(found);
  } catch (refused) {
    if (mine === asked) show({wrong: {}, refused: refused.sentence ?? "", gates: []});
  }
}

function show(found) {
  at("p-lot").textContent = found.lot ?? "";
  at("p-kind").textContent = found.kind ?? "";
  at("p-day").textContent = found.day ?? "–";
  at("p-reason").textContent = found.reason ? `${found.reason}.` : "";
  const gates = [...(found.refused ? [{kind: "stop", sentence: found.refused}] : []), ...found.gates];
  at("p-gates").replaceChildren(...gates.map(({kind, sentence}) => {
    const made = document.createElement("p");
    made.className = `notice ${kind}`;
    made.textContent = sentence;
    return made;
  }));
  for (const place of form.querySelectorAll(".wrong")) {
    const into = at(place.id.replace("e-", "f-")), wrong = found.wrong[into?.name] ?? "";
    if (into === document.activeElement && !place.textContent) continue;  // not while it is being typed
    place.textContent = wrong;
    if (wrong) into.setAttribute("aria-invalid", "true"); else into?.removeAttribute("aria-invalid");
  }
  for (const [key, weight] of Object.entries(found.parts ?? {})) {
    const into = form.elements[`amount.${key}`];
    if (into) into.placeholder = weight;
  }
}

form.addEventListener("input", later);
form.addEventListener("change", later);
form.addEventListener("focusout", later);
later();
