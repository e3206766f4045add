// What this browser keeps for the time when the shop's computer does not answer; worker.js shows it.
// Where a browser has no workers (plain http from another computer), nothing is kept.

const said = (name) => document.querySelector(`meta[name="${name}"]`)?.content ?? "";
const FILES_OF = `counter-files-${said("version")}`, SEEN = `counter-seen-${said("version")}`;
const SHELF = "/shelf/", ROWS = "/shelf.json", LANGUAGE = "counter.language";
const able = "serviceWorker" in navigator && "caches" in globalThis;

/** How long whoever is signed in stays so, in seconds; 0 where nobody is. */
const lasts = Number(said("lasts"));

/** Whether this page was kept earlier, and is shown because no answer came. */
export const away = document.documentElement.dataset.away === "yes";

async function forget() {
  for (const name of await caches.keys()) {
    if (name.startsWith("counter-seen-")) await caches.delete(name);
  }
}

/**
 * A mark that lives exactly as long as this browser's session, as the session's own cookie does:
 * once the browser was closed, nobody is signed in, and what was seen before is not shown.
 */
function mark() {
  const name = `counter-here-${location.port}`;  // cookies know no ports
  const found = document.cookie.split("; ").find((one) => one.startsWith(`${name}=`));
  if (found) return found.slice(name.length + 1);
  const made = crypto.randomUUID();
  document.cookie = `${name}=${made}; path=/; SameSite=Strict`;
  return made;
}

/** Keep the shelf as it is now. Called by the shelf itself, once it has been shown. */
export async function keepShelf() {
  if (!able || away || !lasts) return;
  await navigator.serviceWorker.ready;
  const answer = await fetch(SHELF, {redirect: "error", headers: {"X-Kept": "yes"}});
  const text = await answer.text();
  // A newer program may have begun meanwhile: its page is kept by itself, with its own files.
  if (!answer.ok || !text.includes(`name="version" content="${said("version")}"`)) return;
  const headers = new Headers(answer.headers);
  headers.set("X-Until", String(Date.now() + lasts * 1000));
  headers.set("X-Here", said("locked") ? mark() : "");
  headers.delete("Content-Length");
  const store = await caches.open(SEEN);
  await store.delete(ROWS);  // they are older than this page
  await store.put(SHELF, new Response(text, {headers}));
}

/** Keep the rows as the server has just told them, as long as the page around them is kept. */
export async function keepRows(found) {
  if (!able || !(await caches.match(SHELF, {cacheName: SEEN}))) return;
  await (await caches.open(SEEN)).put(ROWS, new Response(JSON.stringify(found)));
}

/** The rows as last seen, or null. */
export async function keptRows() {
  const found = able ? await caches.match(ROWS, {cacheName: SEEN}) : null;
  return found ? found.json() : null;
}

async function begin() {
  // Nobody is signed in, or the shelf is closed: what was seen before is no longer to be shown.
  const shut = location.pathname === SHELF && !document.getElementById("rows");
  if (!lasts || shut) await forget();
  await navigator.serviceWorker.register("/worker.js", {updateViaCache: "none"});
  const language = document.documentElement.lang;
  if (localStorage.getItem(LANGUAGE) === language) return;
  await navigator.serviceWorker.ready;
  await (await caches.open(FILES_OF)).add(new Request("/away/", {cache: "reload"}));
  localStorage.setItem(LANGUAGE, language);
}

// A browser that refuses (private window, full disk) goes on without.
if (able && !away) begin().catch(() => {});
