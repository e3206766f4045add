// A scanner types: a burst of keys ended by Enter, wherever the focus stands.

const QUICK = 90;      // ms between two keys of a burst; people who type need longer
const LEAST = 4;       // the shortest code
const LONG = 6;        // so much is nobody's slip of the finger, where no field has the focus
const FORGET = 3000;

/** Call `found(text)` for every scan; keys that people type into fields are left alone. */
export function onScan(found) {
  let keys = "", last = 0, quick = true, into = null, before = "";
  const typing = (element) => element?.matches?.("input, textarea, select");
  addEventListener("keydown", (event) => {
    if (event.ctrlKey && event.key === "]") {  // how many scanners type the group separator
      keys += "\x1d";
      event.preventDefault();
      return;
    }
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    const gap = event.timeStamp - last;
    if (event.key === "Enter") {
      const field = typing(document.activeElement) ? document.activeElement : null;
      const burst = quick && keys.length >= LEAST && gap < QUICK;
      const typed = !field && keys.length >= LONG && gap < FORGET;
      const text = keys;
      keys = "";
      if (!burst && !typed) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      if (field && field === into) {
        field.value = before;
        field.dispatchEvent(new Event("input", {bubbles: true}));
      }
      found(text);
      return;
    }
    if (event.key.length !== 1) return;
    const field = typing(document.activeElement) ? document.activeElement : null;
    if (gap > (field ? QUICK : FORGET)) keys = "";
    if (!keys) {
      quick = true;
      into = field;
      before = field?.value ?? "";
    } else if (gap > QUICK) {
      quick = false;
    }
    last = event.timeStamp;
    keys += event.key;
  }, true);
}
