// While a copy is made, the bar says how far it has come.
import {ask} from "./base.js";

const form = document.querySelector("#copy");
const bar = document.querySelector("#bar");

async function look() {
  try {
    const {done, whole} = await ask(form.dataset.ask);
    if (whole) { bar.max = whole; bar.value = done; }
  } catch { /* the answer to the form says what went wrong */ }
  setTimeout(look, 300);
}

form?.addEventListener("submit", () => {
  document.querySelector("#going").hidden = false;
  look();
}, {once: true});
