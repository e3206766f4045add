// In the browser, behind every page: it asks the shop's computer, and where no answer comes it shows
// what it kept. VERSION and FILES are written above by the server. Only the shelf is kept of what
// belongs to the shop; who signs in or out empties that. No change is ever answered from here.

const OURS = "counter-", FILES_OF = `counter-files-${VERSION}`, SEEN = `counter-seen-${VERSION}`;
const SHELL = "/away/", SHELF = "/shelf/", SILENT_MS = 10_000;

addEventListener("install", (event) => event.waitUntil((async () => {
  const store = await caches.open(FILES_OF);
  await store.addAll([...FILES, SHELL].map((path) => new Request(path, {cache: "reload"})));
  await skipWaiting();
})()));

addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) {
    if (name.startsWith(OURS) && name !== FILES_OF && name !== SEEN) await caches.delete(name);
  }
  await clients.claim();
})()));

addEventListener("fetch", (event) => {
  const {request} = event, {origin, pathname} = new URL(request.url);
  if (origin !== location.origin) return;
  if (request.destination === "document") {
    const file = /\.\w+$/.test(pathname);  // something to take away, not a page
    if (request.method === "GET" && !file) event.respondWith(show(request, pathname));
    if (request.method === "POST" && pathname.startsWith("/who/")) event.respondWith(enter(request));
  } else if (request.method === "GET" && FILES.includes(pathname)) {
    event.respondWith(file(request, pathname));
  }
});

async function show(request, pathname) {
  try {
    const answer = await (pathname === SHELF ? soon(fetch(request)) : fetch(request));
    // Sent somewhere else, or refused: whoever was signed in here no longer is.
    if (pathname === SHELF && !answer.ok) await forget();
    return answer;
  } catch {
    return (pathname === "/" || pathname === SHELF) && await lastSeen() || shell();
  }
}

/** An answer in good time, else none: a network out of reach says nothing for minutes. */
function soon(answer) {
  return Promise.race([answer, new Promise((_, no) => setTimeout(no, SILENT_MS, new Error("silence")))]);
}

/** The shelf as last seen, marked as such; nothing once the session it was seen in has ended. */
async function lastSeen() {
  const found = await caches.match(SHELF, {cacheName: SEEN});
  if (!found || !(Number(found.headers.get("X-Until")) > Date.now())) return null;
  // In a shop with PINs: only in the browser session in which somebody had signed in.
  const here = found.headers.get("X-Here");
  if (here && here !== (await self.cookieStore?.get(`counter-here-${location.port}`))?.value) return null;
  return marked(found, 'data-away="yes"');
}

async function shell(mark = "") {
  const found = await caches.match(SHELL, {cacheName: FILES_OF});
  return found ? marked(found, mark) : Response.error();
}

async function marked(found, mark) {
  const text = (await found.text()).replace("<html ", `<html ${mark} `);
  return new Response(text, {headers: found.headers});
}

/** Somebody signs in or out: what was seen before is gone first, whether or not it is answered. */
async function enter(request) {
  await forget();
  try {
    return await fetch(request);
  } catch {
    return shell('data-sent="yes"');
  }
}

async function forget() {
  for (const name of await caches.keys()) {
    if (name.startsWith("counter-seen-")) await caches.delete(name);
  }
}

async function file(request, pathname) {
  try {
    return await fetch(request);
  } catch (error) {
    const found = await caches.match(pathname, {cacheName: FILES_OF});
    if (found) return found;
    throw error;
  }
}
