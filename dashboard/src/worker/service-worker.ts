/**
 * Opens the page without a signal. It keeps the page's own files and nothing else: what the page knows of the work it
 * keeps itself. A new version is taken as a whole, once all of its files are there, so that old and new never mix.
 */
export {};

declare const self: ServiceWorkerGlobalScope;

const CACHE = 'brimline-page';
const START = '/';
/** A weak signal must not hold the page longer than a person waits for a lamp to light. */
const PATIENCE_MS = 3_000;

self.addEventListener('install', (event) => {
  event.waitUntil(takeVersion().then(() => self.skipWaiting()));
});

self.addEventListener('activate', (event) => {
  event.waitUntil(self.clients.claim());
});

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin || url.pathname.startsWith('/api/')) return;
  if (request.mode === 'navigate') event.respondWith(start(event));
  else event.respondWith(keptFile(request));
});

/** The page from the server while it answers in time; otherwise the one that is kept. */
async function start(event: FetchEvent): Promise<Response> {
  const kept = await (await caches.open(CACHE)).match(START);
  if (kept === undefined) return fetch(event.request);
  const fresh = fetch(START, { cache: 'no-store' });
  event.waitUntil(
    fresh
      .then((response) => (response.ok ? takeVersion() : undefined))
      .catch((fault: unknown) => console.info('the kept page serves on', fault)),
  );
  const patience = new Promise<Response>((resolve) => setTimeout(() => resolve(kept.clone()), PATIENCE_MS));
  return Promise.race([fresh.then((response) => (response.ok ? response : kept)).catch(() => kept), patience]);
}

async function keptFile(request: Request): Promise<Response> {
  return (await (await caches.open(CACHE)).match(request)) ?? fetch(request);
}

/** Fetches the page and every file that it names, and only then puts them in the place of the version before. */
async function takeVersion(): Promise<void> {
  const page = await fetch(START, { cache: 'no-store' });
  if (!page.ok) throw new Error(`the page answered ${page.status}`);
  const text = await page.clone().text();
  const files = [...text.matchAll(/(?:src|href)="(\/[^"]+)"/g)].map((match) => match[1]!);
  const cache = await caches.open(CACHE);
  const missing = [];
  for (const file of files) {
    if ((await cache.match(file)) === undefined) missing.push(file);
  }
  await cache.addAll(missing);
  await cache.put(START, page);
  const wanted = new Set([START, ...files].map((path) => new URL(path, self.location.origin).href));
  for (const request of await cache.keys()) {
    if (!wanted.has(request.url)) await cache.delete(request);
  }
}
