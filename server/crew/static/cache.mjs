// The service worker's store: a version of the page in whole, so that it opens without a network. This file has no imports, so that
// a browser whose service workers can not be modules runs it as a plain script.

(() => {
  const version = location.pathname.split("/")[2];
  const here = "/crew/" + version + "/";
  const mine = "crew-" + version;

  // The files come from the browser's own store if the page has just fetched them.
  async function add(list, ...more) {
    const names = await (await fetch(here + list)).json();
    await (await caches.open(mine)).addAll([...more, ...names.map((n) => here + n)]);
  }

  async function clear() {
    for (const name of await caches.keys()) if (name.startsWith("crew-") && name !== mine) await caches.delete(name);
    await clients.claim();
  }

  async function answer(request, key) {
    const cache = await caches.open(mine);
    const had = await cache.match(key);
    if (had) return had;
    const got = await fetch(request);
    if (got.ok && key.startsWith(here)) await cache.put(key, got.clone()); // a module the page did not start with
    return got;
  }

  addEventListener("install", (event) => event.waitUntil(add("files.json", "/crew").then(() => skipWaiting())));
  addEventListener("message", (event) => event.data === "rest" && event.waitUntil(add("rest.json")));
  addEventListener("activate", (event) => event.waitUntil(clear()));
  addEventListener("fetch", (event) => {
    const url = new URL(event.request.url);
    if (event.request.method !== "GET" || url.origin !== location.origin) return;
    if (url.pathname === "/crew") event.respondWith(answer(event.request, "/crew"));
    else if (url.pathname.startsWith(here)) event.respondWith(answer(event.request, url.pathname));
  });
})();
