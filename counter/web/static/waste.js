// The number pad beside the amount, the unit of the lot that is picked, and "all of it".
import {button, padFor} from "./base.js";

const form = document.getElementById("waste");
if (form) {
  const amount = form.elements.amount, unit = document.getElementById("unit"), pad = document.getElementById("pad");
  if (matchMedia("(pointer: coarse)").matches) amount.inputMode = "none";  // the pad is there
  const all = button(pad.dataset.all, "button quiet wide", () => {
    const lot = form.querySelector("input[name=lot]:checked");
    amount.value = lot ? lot.dataset.left : "";
  });
  pad.append(padFor(() => amount), all);
  const said = () => {
    const lot = form.querySelector("input[name=lot]:checked");
    unit.textContent = lot && lot.dataset.unit !== "piece" ? `(${lot.dataset.unit})` : "";
    all.disabled = !lot;
  };
  form.addEventListener("change", said);
  said();
}
