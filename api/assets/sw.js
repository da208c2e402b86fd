// Works beside the pages: files that never change from the cache, and the pages
// of today's work as they were last seen while the shop's server is out of reach.
// Nothing of the API is kept; a page is kept for whoever is signed in, and gone
// when somebody comes or goes.
"use strict";

const FILES_CACHE = `onetrip-files-${BUILD}`;
const PAGES_CACHE = `onetrip-pages-${BUILD}`;
const DOORS = ["/sign-in", "/tablet", "/sign-out"];
const KEPT = /^\/shops\/[^/]+\/(today|jobs\/[^/]+)$/;
const MOST_PAGES = 40;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(FILES_CACHE).then((cache) => cache.addAll([...FILES, "/offline"])).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const dropOld = async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => ![FILES_CACHE, PAGES_CACHE].includes(name)).map((name) => caches.delete(name)));
    await self.clients.claim();
  };
  event.waitUntil(dropOld());
});

const plain = (url) => new URL(url).origin + new URL(url).pathname;

async function keep(url, html) {
  const cache = await caches.open(PAGES_CACHE);
  const headers = { "content-type": "text/html; charset=utf-8", "x-kept-at": new Date().toISOString() };
  await cache.delete(plain(url));
  await cache.put(plain(url), new Response(html, { headers }));
  const kept = await cache.keys();
  await Promise.all(kept.slice(0, Math.max(0, kept.length - MOST_PAGES)).map((old) => cache.delete(old)));
}

// As it stood: the page says so by the mark on its first tag.
async function stood(url) {
  const kept = KEPT.test(new URL(url).pathname) && await (await caches.open(PAGES_CACHE)).match(plain(url));
  if (!kept) return (await caches.match("/offline")) ?? Response.error();
  const at = kept.headers.get("x-kept-at");
  const html = (await kept.text()).replace("<html ", `<html data-stood="${at}" `);
  return new Response(html, { headers: kept.headers });
}

async function visit(event) {
  const { request } = event;
  let answer;
  try { answer = await fetch(request); } catch { return stood(request.url); }
  if (answer.ok && KEPT.test(new URL(answer.url).pathname) && answer.headers.has("x-request-id")) {
    const copy = answer.clone();
    event.waitUntil(copy.text().then((html) => keep(answer.url, html)));
  }
  // Whoever was signed in is not any more. (A redirect is followed by a visit of its own.)
  if (DOORS.includes(new URL(request.url).pathname)) event.waitUntil(caches.delete(PAGES_CACHE));
  return answer;
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && DOORS.includes(url.pathname)) {
    event.waitUntil(caches.delete(PAGES_CACHE));
    return;
  }
  if (request.method !== "GET") return;
  // By its own address, or by the plain name that the manifest has.
  const file = FILES.find((known) => [known, known.replace(/\.[0-9a-f]{12}\./, ".")].includes(url.pathname));
  if (file) {
    event.respondWith(caches.match(file).then((kept) => kept ?? fetch(request)));
  } else if (request.mode === "navigate") event.respondWith(visit(event));
});

self.addEventListener("message", (event) => {
  const { url, html } = event.data ?? {};
  if (event.origin === self.location.origin && url && KEPT.test(new URL(url).pathname)) event.waitUntil(keep(url, html));
});
