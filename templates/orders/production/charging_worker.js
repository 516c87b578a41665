// Keeps the last good copy of charging screens on the tablet, so that one can be opened again while
// the network is away. Nothing else is kept: no other page, no paper, no answer to a weight. The
// sign-in page throws everything away, and so does the idle limit where there is no network to sign
// in with, so nobody sees what was another person's.
"use strict";
const KEPT = "charging-screens";
const FILES = "{{ files|escapejs }}";
const IDLE_MS = {{ idle_minutes }} * 60000;
const AT = "X-Kept-At";
const USED = "charging-used"; // says when somebody last touched a screen

const isScreen = (url) => /^\/batches\/[^/]+\/charge\/$/.test(url.pathname);
const isFile = (url) => url.pathname.startsWith(FILES);

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (event.request.mode === "navigate" && isScreen(url)) event.respondWith(screen(event, url));
  else if (isFile(url)) event.respondWith(file(event, url));
});

// Counts sign-outs: what was asked for before one is not kept after it.
let forgotten = 0;

// A screen that was opened before this worker was there asks to be kept, with its files; the sign-in
// page asks to forget.
self.addEventListener("message", (event) => {
  if (event.data.forget) {
    forgotten += 1;
    event.waitUntil(Promise.all([caches.delete(KEPT), caches.delete(USED)]));
    return;
  }
  if (event.data.used) {
    event.waitUntil(noteUse());
    return;
  }
  const wanted = [event.data.screen, ...event.data.files].map(
    (address) => new URL(address, self.location.origin),
  );
  const ours = wanted.filter(
    (url) => url.origin === self.location.origin && (isScreen(url) || isFile(url)),
  );
  event.waitUntil(Promise.all(ours.map(keepFetched)));
});

async function keepFetched(url) {
  const asked = forgotten;
  const answer = await fetch(url, { credentials: "same-origin" });
  await keep(url, answer, asked);
}

async function screen(event, url) {
  const asked = forgotten;
  let answer;
  try {
    answer = await fetch(event.request);
  } catch (error) {
    const copy = await (await caches.open(KEPT)).match(url.pathname);
    if (!copy) throw error;
    if (await isIdle(copy)) {
      await caches.delete(KEPT);
      throw error;
    }
    return marked(copy);
  }
  event.waitUntil(keep(url, answer.clone(), asked));
  return answer;
}

async function file(event, url) {
  const asked = forgotten;
  try {
    const answer = await fetch(event.request);
    event.waitUntil(keep(url, answer.clone(), asked));
    return answer;
  } catch (error) {
    const copy = await (await caches.open(KEPT)).match(url.pathname);
    if (!copy) throw error;
    return copy;
  }
}

async function keep(url, answer, asked) {
  // A redirect leads to the sign-in page, which is no copy of the screen.
  if (answer.status !== 200 || answer.redirected) return;
  // When the network goes away within an answer's headers, the browser makes of it an empty 200.
  const body = await answer.arrayBuffer();
  if (!body.byteLength) return;
  const headers = new Headers(answer.headers);
  headers.set(AT, new Date().toISOString());
  const copy = new Response(body, { headers });
  const store = await caches.open(KEPT);
  if (asked === forgotten) await store.put(url.pathname, copy);
  else await caches.delete(KEPT);
}

async function noteUse() {
  if (!(await caches.has(KEPT))) return;
  const asked = forgotten;
  const store = await caches.open(USED);
  if (asked === forgotten) await store.put("/", new Response(String(Date.now())));
}

// Nobody has loaded this screen or touched any for as long as a session lives.
async function isIdle(copy) {
  const note = await (await caches.open(USED)).match("/");
  const touched = note ? Number(await note.text()) : 0;
  const last = Math.max(Date.parse(copy.headers.get(AT)), touched);
  return Date.now() - last > IDLE_MS;
}

async function marked(copy) {
  const at = copy.headers.get(AT);
  const html = (await copy.text()).replace(
    'id="charge-network"',
    `id="charge-network" data-kept-at="${at}"`,
  );
  return new Response(html, { headers: copy.headers });
}
