/* Work pages that were open on this device come again without a connection: the steps of an order, its pack, and the
   style and scripts that they need; nothing else is kept or answered here. The sign-in page forgets them all. */
"use strict";

const PAGES = "changeover-pages"; /* named in leaving.js too */
const PARTS = "changeover-parts"; /* the same for everybody */
const MOST = 12; /* steps and packs of six orders: the oldest go first */
const PATIENCE_MS = 10000; /* a line that hangs is as good as none */

const scope = self.registration.scope;
const parts = new URL("../static/site/", scope).href;
const plain = (address) => address.split("#")[0];
const isPage = (address) => address.startsWith(scope) && /^\d+\/(steps|pack)\/$/.test(address.slice(scope.length));

const keptOf = (address) => caches.open(isPage(address) ? PAGES : PARTS);

const keep = async (address, answer) => {
  const kept = await keptOf(address);
  await kept.put(address, answer);
  for (const one of (await kept.keys()).slice(0, -MOST)) await kept.delete(one);
};

/* What the site answers is kept, and what it will not show any more is forgotten; a site in trouble changes nothing. */
const fromSite = async (request, address) => {
  const answer = await fetch(request, isPage(address) ? { cache: "no-store" } : {}); /* going back, browsers answer from what they have */
  if (answer.status === 200 && !answer.redirected) await keep(address, answer.clone());
  else if (answer.status < 500) await (await keptOf(address)).delete(address);
  return answer;
};

/* A page that was kept says so, in the words that it brought along. */
const fromHere = async (address) => {
  const kept = await (await keptOf(address)).match(address);
  if (!kept || !isPage(address)) return kept;
  const page = (await kept.text()).replace(/(<p id="stale"[^>]*?) hidden>/, "$1>");
  return new Response(page, { status: 200, headers: kept.headers });
};

const later = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

const answered = async (request, address) => {
  const asked = fromSite(request, address);
  const first = await Promise.race([asked.catch(() => null), later(PATIENCE_MS)]);
  return first || (await fromHere(address)) || asked.catch(() => Response.error());
};

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = plain(request.url);
  if (request.method !== "GET" || !(isPage(address) || address.startsWith(parts))) return;
  const wantsNew = isPage(address) && request.mode !== "navigate" && request.cache === "no-store";
  event.respondWith(wantsNew ? fromSite(request, address) : answered(request, address));
});
