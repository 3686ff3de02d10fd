// Answers for the pages of the bed where there is no network: with the page as it was last opened. SHELL, VERSION and
// NO_PAGE are written above this text by the program.
"use strict";

const SHELL_CACHE = `wardwright-shell-${VERSION}`;
const PAGES = "wardwright-pages";
const KEPT = ["/bedside", "/observe/new", "/carry-out"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL_CACHE).then((cache) => cache.addAll(SHELL)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("wardwright-shell-") && name !== SHELL_CACHE) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (SHELL.includes(url.pathname + url.search)) {
    event.respondWith(caches.match(event.request).then((kept) => kept ?? fetch(event.request)));
  } else if (event.request.mode === "navigate" && KEPT.includes(url.pathname)) {
    event.respondWith(page(event.request, url));
  }
});

// One page serves everybody who draws: the script puts in the person and the entry that the address names.
function keyOf(url) {
  const job = url.searchParams.get("breakdown");
  return url.pathname + (job ? `?breakdown=${encodeURIComponent(job)}` : "");
}

async function page(request, url) {
  const key = keyOf(url);
  try {
    const response = await fetch(request, { signal: AbortSignal.timeout(6000) });
    // A page of an older version is for one draft only.
    if (response.ok && response.type === "basic" && !url.searchParams.get("version")) {
      const cache = await caches.open(PAGES);
      await cache.put(key, response.clone());
    }
    return response;
  } catch {
    const kept = await caches.match(key);
    if (kept) return kept;
    return new Response(
      NO_PAGE,
      { status: 503, headers: { "content-type": "text/plain; charset=utf-8" } },
    );
  }
}
