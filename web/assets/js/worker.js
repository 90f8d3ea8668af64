// @ts-check
// Worker: keeps the pages of timing and recording, with what they are made of,
// so that they open when the shop is out of reach. The shop comes first: what is
// kept is shown only where it does not answer. Who signs in or out leaves nothing.

const kept = "np-pages-1", patience = 4000, calm = 20_000; // ms
const pages = /^\/time$|^\/time\/[^/]+$|^\/orders\/[^/]+\/record$/;
const parts = /^\/assets\//, contents = /^\/assets\/[0-9a-f]{16}\//; // the latter are never another under the same address
const most = 400; // kept, the oldest goes first
const here = /** @type {any} */ (self);
let patient = 0; // until when the shop is not waited for, after it did not answer

here.addEventListener("install", () => here.skipWaiting());
here.addEventListener("activate", (/** @type {any} */ e) => e.waitUntil(here.clients.claim()));
here.addEventListener("message", (/** @type {any} */ e) => {
  const all = /** @type {string[]} */ (e.data?.keep || []);
  e.waitUntil(caches.open(kept).then((c) => Promise.all(all.map(async (url) => {
    if (await c.match(plain(url))) return;
    const r = await fetch(url).catch(() => null);
    if (r) await keep(c, new Request(url), r);
  })).then(async () => { for (const k of (await c.keys()).slice(0, -most)) await c.delete(k); })));
});
here.addEventListener("fetch", (/** @type {any} */ e) => {
  const r = /** @type {Request} */ (e.request), at = new URL(r.url);
  if (at.origin !== location.origin) return;
  if (r.method === "POST" && ["/sign-in", "/sign-out", "/phone"].includes(at.pathname)) e.waitUntil(caches.delete(kept));
  if (r.method !== "GET") return;
  if (parts.test(at.pathname) || r.mode === "navigate" && pages.test(at.pathname)) e.respondWith(answer(r, at));
});

/** @param {Cache} c @param {Request} r @param {Response} a */
async function keep(c, r, a) { if (a.ok && !a.redirected) await c.put(plain(r.url), a); }

/** An address without what only tells that something was kept. @param {string} url */
function plain(url) {
  const u = new URL(url);
  u.searchParams.delete("kept");
  u.hash = "";
  return u.href;
}

/** @param {Request} r @param {URL} at */
async function answer(r, at) {
  const c = await caches.open(kept);
  const had = await c.match(plain(r.url)) || await like(c, at);
  if (had && contents.test(at.pathname)) return had;
  if (!had && at.pathname !== "/time/new") return fetch(r);
  if (Date.now() >= patient) {
    try {
      const a = await fetch(r, { signal: AbortSignal.timeout(patience) });
      if (a.status < 502) { keep(c, r, a.clone()).catch(() => {}); return a; }
    } catch { patient = Date.now() + calm; }
  }
  if (at.pathname === "/time/new") return begin(c, at);
  return had || Response.error();
}

/** The page of another run of the same design on the same machine. @param {Cache} c @param {URL} at */
async function like(c, at) {
  if (!/^\/time\/(?!new$)/.test(at.pathname)) return undefined;
  const same = (/** @type {URL} */ u) => ["design", "machine", "speed", "job"].every((k) => (u.searchParams.get(k) || "") === (at.searchParams.get(k) || ""));
  for (const k of await c.keys()) {
    const u = new URL(k.url);
    if (/^\/time\/./.test(u.pathname) && u.searchParams.has("design") && same(u)) return c.match(k);
  }
  return undefined;
}

/** A new timing without the shop: of what was timed on this phone before. @param {Cache} c @param {URL} at */
async function begin(c, at) {
  for (const k of await c.keys()) {
    const u = new URL(k.url), q = u.searchParams;
    if (/^\/time\/./.test(u.pathname) && q.get("design") === at.searchParams.get("design") && q.get("machine") === at.searchParams.get("machine") &&
      (!at.searchParams.get("speed") || q.get("speed") === at.searchParams.get("speed")) && (q.get("job") || "") === at.searchParams.getAll("job").join("+")) {
      const id = Array.from(crypto.getRandomValues(new Uint8Array(26)), (b) => "abcdefghijklmnopqrstuvwxyz234567"[b & 31]).join("");
      return Response.redirect(`/time/${id}?${q}`, 303);
    }
  }
  return Response.error();
}
