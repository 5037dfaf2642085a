// Keeps every file of this folder, known by its digest; nothing else is ever asked for. A newer folder is taken whole, and
// is used when the page says so or when no page is open any more.
const BASE = new URL("./", self.location.href);
const PREFIX = "diagnose " + BASE.pathname + " ";
const LIST = "files of this version";
const TYPES = { html: "text/html; charset=utf-8" };

async function digest(text) {
  const bytes = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return [...new Uint8Array(bytes)].slice(0, 8).map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

const named = digest(JSON.stringify(FILES)).then((text) => PREFIX + text);

async function olderOnes() {
  const own = await named;
  const names = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== own);
  return Promise.all(
    names.map(async (name) => {
      const cache = await caches.open(name);
      const list = await cache.match(new URL(LIST, BASE));
      return { cache, files: list ? await list.json() : {} };
    }),
  );
}

async function tell(message) {
  for (const page of await self.clients.matchAll({ includeUncontrolled: true })) page.postMessage(message);
}

// A file from an older version where it is the same, else from the host; whatever differs from its digest is refused.
async function fetched(path, wanted, older) {
  for (const { cache, files } of older) {
    const found = files[path] && files[path][0] === wanted && (await cache.match(new URL(path, BASE)));
    if (found) return found;
  }
  const found = await fetch(new URL(path, BASE), { integrity: wanted, cache: "no-cache", credentials: "same-origin" });
  if (!found.ok) throw new Error(path + ": " + found.status);
  const headers = { "Content-Type": found.headers.get("Content-Type") || "", "Content-Security-Policy": POLICY };
  return new Response(await found.arrayBuffer(), { headers });
}

async function install() {
  const cache = await caches.open(await named);
  const older = await olderOnes();
  const all = Object.values(FILES).reduce((sum, [, bytes]) => sum + bytes, 0);
  let have = 0;
  await tell({ have, all });
  const rows = Object.entries(FILES);
  await Promise.all(
    rows.map(async ([path, [wanted, bytes]]) => {
      await cache.put(new URL(path, BASE), await fetched(path, wanted, older));
      have += bytes;
      await tell({ have, all });
    }),
  );
  await cache.put(new URL(LIST, BASE), new Response(JSON.stringify(FILES)));
}

self.addEventListener("install", (event) => {
  event.waitUntil(
    install().catch(async (error) => {
      await caches.delete(await named);
      await tell({ notKept: String(error) });
      throw error;
    }),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      const own = await named;
      for (const name of await caches.keys()) if (name.startsWith(PREFIX) && name !== own) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("message", (event) => {
  if (event.data === "use it") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  event.respondWith(answer(event.request));
});

async function answer(request) {
  const url = new URL(request.url);
  const path = url.href.startsWith(BASE.href) ? url.pathname.slice(BASE.pathname.length) || "index.html" : "";
  if (request.method !== "GET" || !FILES[path]) return new Response("Not a part of this folder.", { status: 404 });
  const cache = await caches.open(await named);
  return (await cache.match(new URL(path, BASE))) || fetch(request);
}
