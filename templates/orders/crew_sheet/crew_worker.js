// Keeps the newest copy of crew sheets on the phone, and only those, so that one opens again where
// there is no network. A sheet whose link has ended is thrown away with the next look at it.
"use strict";
const KEPT = "crew-sheets";
const FILES = "{{ files|escapejs }}";

const isSheet = (url) => /^\/crew\/phone\/[^/]+\/$/.test(url.pathname);
const isFile = (url) => url.pathname.startsWith(FILES);

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  const isPage = event.request.mode === "navigate" && isSheet(url);
  if (isPage || isFile(url)) event.respondWith(newest(event, url));
});

// A sheet that was opened before this worker was there asks to be kept, with its files; the sign-in
// page asks to forget.
self.addEventListener("message", (event) => {
  if (event.data.forget) {
    event.waitUntil(caches.delete(KEPT));
    return;
  }
  if (!event.data.screen) return;
  const wanted = [event.data.screen, ...event.data.files].map(
    (address) => new URL(address, self.location.origin),
  );
  const ours = wanted.filter(
    (url) => url.origin === self.location.origin && (isSheet(url) || isFile(url)),
  );
  event.waitUntil(Promise.all(ours.map(async (url) => keep(url, await fetch(url)))));
});

async function newest(event, url) {
  let answer;
  try {
    answer = await fetch(event.request);
  } catch (error) {
    const copy = await (await caches.open(KEPT)).match(url.pathname);
    if (!copy) throw error;
    return copy;
  }
  event.waitUntil(keep(url, answer.clone()));
  return answer;
}

// One copy of a sheet, whatever was asked for in its address: an older one would bring back the key
// of a record that is saved.
async function keep(url, answer) {
  const store = await caches.open(KEPT);
  if (answer.status === 404 || answer.status === 410) await store.delete(url.pathname);
  if (answer.status !== 200 || answer.redirected) return;
  // When the network goes away within an answer's headers, the browser makes of it an empty 200.
  const body = await answer.arrayBuffer();
  if (body.byteLength) await store.put(url.pathname, new Response(body, { headers: answer.headers }));
}
