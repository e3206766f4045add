// What every page needs: asking the server, saying a sentence, forms sent once, the number pad.

export const token = document.querySelector('meta[name="token"]').content;

/** A signal that gives up after so many milliseconds; none in a browser that is too old for it. */
// @ts-ignore: younger than the checker's library, and than some tablets
export const within = (ms) => (ms ? AbortSignal.timeout?.(ms) : undefined);

/** What was written into a form, as an address or a body carries it. */
export const fieldsOf = (fields) => new URLSearchParams(/** @type {any} */ (fields));

/**
 * Ask the server. Resolves to the JSON answer; rejects with {sentence, status} (status 0: no answer).
 * With `patience`, in milliseconds, no answer in that time is no answer: a network out of reach is silent.
 */
export async function ask(path, sent, {method = sent === undefined ? "GET" : "POST", headers = {}, patience = 0} = {}) {
  let answer;
  try {
    answer = await fetch(path, {
      method, headers: {"X-Token": token, ...(sent === undefined ? {} : {"Content-Type": "application/json"}), ...headers},
      body: sent === undefined ? undefined : JSON.stringify(sent), credentials: "same-origin",
      signal: within(patience),
    });
  } catch {
    throw {sentence: "", status: 0};
  }
  const found = await answer.json().catch(() => null);
  if (answer.ok && found !== null) return found;
  if (found?.questions?.length) {
    const answers = await askWords(found);
    const sure = [headers["X-Sure"], answers].filter(Boolean).join("&");  // what was answered before holds
    if (answers) return ask(path, sent, {method, headers: {...headers, "X-Sure": sure}, patience});
  }
  throw {status: answer.ok ? 0 : answer.status, sentence: found?.error ?? "", number: found?.number ?? "", ...found};
}

const bar = document.getElementById("say");

/** Say one sentence, large, to eyes and screen readers; it stays until the next one or its button. */
export function say(sentence, kind = "stop", number = "") {
  bar.replaceChildren();
  bar.className = `say ${kind}`;
  bar.hidden = !sentence;
  if (!sentence) return;
  const words = document.createElement("span");
  words.textContent = number ? `${sentence} (${number})` : sentence;
  const away = document.createElement("button");
  away.type = "button";
  away.textContent = "✓";
  away.setAttribute("aria-label", "OK");
  away.addEventListener("click", () => say(""));
  bar.append(words, away);
}

// A form is sent once: a second tap on its button does nothing.
document.addEventListener("submit", (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (form.dataset.sent) { event.preventDefault(); return; }
  if (form.method !== "post") return;
  form.dataset.sent = "yes";
  if (!form.matches(".asked, :has([type=password])")) {  // for who is asked and goes back
    const typed = [...new FormData(form)].filter(([name, value]) => name !== "token" && typeof value === "string");
    sessionStorage.setItem("typed", JSON.stringify({at: location.href, form: [...document.forms].indexOf(form), typed}));
  }
  document.body.classList.add("busy");
});
addEventListener("pageshow", () => {
  document.body.classList.remove("busy");
  for (const form of document.forms) delete form.dataset.sent;
});

// A select or radio that changes the page at once says so with data-go.
document.addEventListener("change", (event) => {
  if (event.target.dataset.go !== undefined) event.target.form.requestSubmit();
});

// A button that puts its words into the field it names.
document.addEventListener("click", (event) => {
  const tap = event.target.closest?.("[data-puts-into]");
  if (tap) document.getElementById(tap.dataset.putsInto).value = tap.textContent.trim();
});

// A page that comes back with a field to look at, or asks something, begins there.
document.querySelector('main [aria-invalid="true"], main .asked input:not([type="hidden"])')?.focus();

// Away from a question: back to the page that it came from, with all that was typed there.
document.querySelector("main [data-back]")?.addEventListener("click", (event) => {
  const was = sessionStorage.getItem("typed");
  if (!was) return;
  event.preventDefault();
  sessionStorage.setItem("back", "yes");
  location.assign(JSON.parse(was).at);
});
if (sessionStorage.getItem("back") && !document.querySelector("main [data-back]")) {
  const {at, form, typed} = JSON.parse(sessionStorage.getItem("typed") ?? "{}"), left = new Map();
  sessionStorage.removeItem("back");
  if (at === location.href) for (const [name, value] of typed) left.set(name, [...(left.get(name) ?? []), value]);
  for (const each of left.size ? document.forms[form]?.elements ?? [] : []) {
    if (!each.name || ["hidden", "file"].includes(each.type)) continue;
    const had = left.get(each.name) ?? [];
    if (["radio", "checkbox"].includes(each.type)) each.checked = had.includes(each.value);
    else if (had[0] !== undefined) each.value = had[0];
    else continue;
    if (had.some(Boolean)) each.closest("details")?.setAttribute("open", "");
    each.dispatchEvent(new Event("change", {bubbles: true}));
  }
}

// A button that prints the page.
document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-print]")) print();
});

/** What the program asks before it believes it. Resolves to the answers as a query, or null. */
export function askWords({questions}) {
  const box = document.getElementById("asked").content.firstElementChild.cloneNode(true);
  const form = box.querySelector("form"), blank = form.querySelector(".field");
  box.querySelector(".notice b").textContent = `${questions[0].tried}.`;
  for (const {about, text, clause} of questions) {
    const place = blank.cloneNode(true), [label, hint, input] = place.children;
    label.textContent = text;
    hint.textContent = clause;
    label.htmlFor = input.id = `sure-${about}`;
    hint.id = `clause-${about}`;
    input.setAttribute("aria-describedby", hint.id);
    input.name = about;
    blank.before(place);
  }
  blank.remove();
  form.querySelector("button[type=button]").addEventListener("click", () => box.close(""));
  document.body.append(box);
  box.showModal();
  form.querySelector("input").focus();
  return new Promise((done) => box.addEventListener("close", () => {
    box.remove();
    done(box.returnValue === "yes" ? fieldsOf(new FormData(form)).toString() : null);
  }));
}

/** A dialog with a number pad. Resolves to the text typed, or null when it is put away. */
export function askNumber({title, value = "", point = true, label = title, ok = "OK", extra = null}) {
  const box = document.createElement("dialog");
  box.className = "ask";
  box.setAttribute("aria-label", title);
  const form = document.createElement("form");
  form.method = "dialog";
  const head = document.createElement("h2");
  head.textContent = title;
  const shown = document.createElement("input");
  shown.className = "shown";
  shown.inputMode = matchMedia("(pointer: coarse)").matches ? "none" : "decimal";
  shown.value = value;
  shown.autocomplete = "off";
  shown.maxLength = 12;
  shown.setAttribute("aria-label", label);
  const keys = padFor(() => shown, point);
  const foot = document.createElement("div");
  foot.className = "row-of";
  const no = button("✕", "button quiet", () => box.close(""));
  no.setAttribute("aria-label", document.documentElement.lang === "es" ? "Cerrar" : "Close");
  const yes = document.createElement("button");
  yes.className = "button large grow";
  yes.textContent = ok;
  yes.value = "yes";
  foot.append(no, yes);
  form.append(head, shown, ...(extra ? [extra(form)] : []), keys, foot);
  box.append(form);
  document.body.append(box);
  box.showModal();
  shown.focus();
  shown.select();
  return new Promise((done) => box.addEventListener("close", () => {
    box.remove();
    done(box.returnValue === "yes" ? shown.value.trim() : null);
  }));
}

/** The keys of a pad that type into the field that `field()` names. */
export function padFor(field, point = true) {
  const keys = document.createElement("div");
  keys.className = "pad";
  let fresh = true;
  for (const key of [..."789456123", point ? "." : "", "0", "⌫"]) {
    if (!key) { keys.append(document.createElement("span")); continue; }
    const made = button(key, "", () => {
      const into = field();
      const all = into.selectionStart === 0 && into.selectionEnd === into.value.length;
      const before = fresh && all ? "" : into.value;
      fresh = false;
      into.value = key === "⌫" ? before.slice(0, -1) : (before + key).slice(0, into.maxLength);
      into.setSelectionRange?.(into.value.length, into.value.length);
      into.dispatchEvent(new Event("input", {bubbles: true}));
    });
    if (key === "⌫") made.setAttribute("aria-label", "⌫ 1");
    keys.append(made);
  }
  return keys;
}

export function button(text, kind, tap) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = kind;
  made.textContent = text;
  made.addEventListener("click", tap);
  return made;
}
