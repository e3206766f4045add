// Work that takes long: from the tap on the page says that it is under way, how far it has come,
// and when it is done. A second tap does nothing meanwhile. Without this file the links and forms
// work all the same; then the browser alone shows that it waits.

import {ask, askWords, fieldsOf, say, token} from "./base.js";

const said = JSON.parse(document.getElementById("job-said").textContent);
const words = (key, named = {}) => said[key].replace(/\{(\w+)\}/g, (whole, name) => named[name] ?? whole);
const LOOK_MS = 350, SOON_MS = 120, PATIENCE = 20;
const going = new Set();

/** Begin what `path` asks for (a form's `sent` is posted), show it under `place`; the answer when
    it is done, or null when it failed and was said. */
export async function begin(what, path, place, sent, sure = "") {
  const box = draw(place, what);
  try {
    let job = await asked(path, sent, sure), lost = 0, wait = SOON_MS;
    while (job.state === "going") {
      box.at(job.done, job.whole);
      await new Promise((go) => setTimeout(go, wait));
      wait = LOOK_MS;
      try {
        job = await ask(job.ask);
        lost = 0;
      } catch (fault) {  // the counter does not answer just now: the work may be going on
        if (fault.status || ++lost > PATIENCE) throw fault;
      }
    }
    if (job.state === "failed") throw {sentence: job.error, ...job};
    return {...job, box};
  } catch (fault) {
    box.away();
    const answers = fault.questions?.length ? await askWords(fault) : null;
    if (answers) return begin(what, path, place, sent, [sure, answers].filter(Boolean).join("&"));
    say(fault.sentence || words("lost"), "stop", fault.number);
    return null;
  }
}

/** Ask for a job; a form is sent as forms are. */
async function asked(path, sent, sure) {
  const headers = {"X-Job": "yes", ...(sure ? {"X-Sure": sure} : {})};
  if (!(sent instanceof FormData)) return ask(path, sent, {headers});
  let answer;
  try {
    answer = await fetch(path, {method: "POST", headers: {...headers, "X-Token": token}, body: fieldsOf(sent), credentials: "same-origin"});
  } catch {
    throw {sentence: "", status: 0};
  }
  const found = await answer.json().catch(() => null);
  if (answer.ok && found) return found;
  throw {status: answer.status, sentence: found?.error ?? "", number: "", ...found};
}

function draw(place, what) {
  place.parentElement.querySelector(`:scope > .job`)?.remove();
  const box = document.createElement("div"), text = document.createElement("p"), bar = document.createElement("progress");
  box.className = "job card no-print";
  text.setAttribute("role", "status");
  bar.setAttribute("aria-label", what);
  box.append(text, bar);
  place.after(box);
  requestAnimationFrame(() => { text.textContent = words("going", {what}); });  // a status must be there before it changes
  return {
    at(done, whole) { if (whole) { bar.max = whole; bar.value = Math.min(done, whole); } },
    done(sentence, link) { bar.remove(); text.replaceChildren(sentence, " ", ...(link ? [link] : [])); box.classList.add("good"); },
    away() { box.remove(); },
  };
}

/** A file that is ready is saved at once; its link stays for once more. */
function save(job) {
  const link = document.createElement("a");
  link.href = job.place;
  link.download = job.file;
  link.textContent = words("again");
  job.box.done(words("ready", {name: job.file}), link);
  link.click();
}

async function work(control, what, path, sent) {
  if (going.has(control)) return;
  going.add(control);
  control.setAttribute("aria-disabled", "true");
  const row = control.closest("tr") ? control.closest("table") : control.closest(".row-of, form") ?? control;
  const job = await begin(what, path, row, sent);
  going.delete(control);
  control.removeAttribute("aria-disabled");
  if (!job) return;
  if (job.file) save(job);
  else location.assign(job.place);
}

/** A form whose buttons print: sent once, told of under its buttons, then on to what came of it.
    What is refused is said, and all that was typed stays. `done` is called before it goes on. */
export function printed(form, done = () => {}) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    event.stopPropagation();
    const tapped = event.submitter;
    if (!tapped || going.has(form)) return;
    going.add(form);
    tapped.setAttribute("aria-disabled", "true");
    const sent = new FormData(form);
    sent.append(tapped.name, tapped.value);
    const job = await begin(label(tapped), form.action, tapped.parentElement, sent);
    going.delete(form);
    tapped.removeAttribute("aria-disabled");
    if (!job) return;
    done();
    location.assign(job.place);
  });
}

const label = (control) => control.dataset.job || control.getAttribute("aria-label") || control.textContent.trim();

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[data-job]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  work(link, label(link), link.href);
});

document.addEventListener("submit", (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target), button = event.submitter;
  if (form.dataset.job === undefined) return;
  event.preventDefault();
  event.stopImmediatePropagation();  // it may be sent again when it is done
  const path = button?.getAttribute("formaction") || form.action;
  if (form.method === "post") work(button ?? form, label(button ?? form), path, {});
  else work(button ?? form, label(button ?? form), `${path}?${fieldsOf(new FormData(form))}`);
}, {capture: true});
