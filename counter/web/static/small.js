// Small things of the shelf's own: elements, texts, what is kept in this browser.

const said = Object.assign({}, ...[...document.querySelectorAll('script[type="application/json"]')]
  .map((texts) => JSON.parse(texts.textContent)));
const held = new Map();  // where the browser keeps nothing (private window, full): until a reload

/** A text of the page with its {names} filled in. */
export function say_(key, named = {}) {
  return said[key].replace(/\{(\w+)\}/g, (whole, name) => named[name] ?? whole);
}

export function el(name, kind = "", text = "") {
  const made = document.createElement(name);
  if (kind) made.className = kind;
  if (text) made.textContent = text;
  return made;
}

export function sign(key) {
  const space = "http://www.w3.org/2000/svg";
  const made = document.createElementNS(space, "svg"), use = document.createElementNS(space, "use");
  made.setAttribute("class", "sign");
  made.setAttribute("viewBox", "0 0 24 24");
  made.setAttribute("aria-hidden", "true");
  use.setAttribute("href", `/static/signs.svg#${key}`);
  made.append(use);
  return made;
}

export function kept(key, otherwise) {
  if (held.has(key)) return held.get(key);
  try {
    return JSON.parse(localStorage.getItem(key)) ?? otherwise;
  } catch {
    return otherwise;
  }
}

export function keep(key, value) {
  try {
    localStorage.setItem(key, JSON.stringify(value));
    held.delete(key);
  } catch {
    held.set(key, value);
  }
}

/** A dialog with a heading, built by `fill(form, close)`. Resolves to what `close` is given, or null. */
export function dialog(title, fill) {
  const box = el("dialog", "ask"), form = el("form"), head = el("h2", "", title);
  form.method = "dialog";
  box.setAttribute("aria-label", title);
  let answer = null, shut = false;
  const close = (value) => {
    if (shut) return;  // a second tap on the same button
    shut = true;
    answer = value;
    box.close();
  };
  form.append(head);
  fill(form, close);
  const foot = el("div", "row-of"), no = el("button", "button quiet", "✕");
  no.type = "button";
  no.setAttribute("aria-label", say_("close"));
  no.addEventListener("click", () => close(null));
  foot.append(no);
  const last = form.querySelector("[data-last]");
  if (last) { foot.append(last); }
  form.append(foot);
  form.addEventListener("submit", (event) => event.preventDefault());
  box.append(form);
  document.body.append(box);
  box.showModal();
  (form.querySelector("[data-first]") ?? no).focus();
  return new Promise((done) => box.addEventListener("close", () => { box.remove(); done(answer); }));
}

// A second tap where a dialog has just gone was meant for the dialog, not for what lies under it.
const TWICE_MS = 500, NEAR_PX = 24;
let left = null;
document.addEventListener("click", (event) => {
  const {target, detail, timeStamp: at, clientX: x, clientY: y} = event;
  const inside = target.closest("dialog");
  if (!inside && detail && left && at - left.at < TWICE_MS && Math.hypot(x - left.x, y - left.y) < NEAR_PX) {
    event.stopImmediatePropagation();
    event.preventDefault();
  }
  left = inside ? {at, x, y} : null;
}, true);

/** A field with its label, for dialogs. */
export function field(label, {value = "", mode = "decimal", most = 12, shown = true} = {}) {
  const box = el("div", "field"), name = el("label", "", label), into = el("input", shown ? "shown" : "");
  into.id = `ask-${Math.random().toString(36).slice(2)}`;
  into.value = value;
  into.maxLength = most;
  into.autocomplete = "off";
  into.inputMode = mode === "decimal" && matchMedia("(pointer: coarse)").matches ? "none" : mode;
  name.htmlFor = into.id;
  box.append(name, into);
  return [box, into];
}
