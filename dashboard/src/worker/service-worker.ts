/**
 * Opens the page without a signal. It keeps the page's own files and nothing else: what the page knows of the work it
 * keeps itself. A new version is taken as a whole, once all of its files are there, so that old and new never mix.
 */
export {};

declare const self: ServiceWorkerGlobalScope;

const CACHE = 'brimline-page';
const START = '/';
/** The server answers with the page to whoever asks for one. */
const PAGE: RequestInit = { cache: 'no-store', headers: { accept: 'text/html' } };
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

self.addEventListener('push', (event) => {
  const message: unknown = event.data?.json();
  if (isAlert(message)) event.waitUntil(showAlert(message));
  else console.error('a push message is no alert of ours', message);
});

self.addEventListener('notificationclick', (event) => {
  event.notification.close();
  const { link } = event.notification.data as { readonly link: string | null };
  event.waitUntil(openPage(link ?? '/#/today'));
});

/** What the server sends about one topic. */
interface PushedAlert {
  readonly topic: string;
  /** It is moot: what was shown is taken back. */
  readonly withdrawn: boolean;
  readonly title: string;
  readonly body: string;
  readonly link: string | null;
}

function isAlert(message: unknown): message is PushedAlert {
  if (typeof message !== 'object' || message === null) return false;
  const { topic, withdrawn, title, body } = message as Readonly<Record<string, unknown>>;
  return (
    typeof topic === 'string' && typeof withdrawn === 'boolean' && typeof title === 'string' && typeof body === 'string'
  );
}

/** One notification a topic: a newer one takes the place of the older, and none is left of what is moot. */
async function showAlert({ topic, withdrawn, title, body, link }: PushedAlert): Promise<void> {
  if (!withdrawn) {
    await self.registration.showNotification(title, { body, tag: topic, icon: '/mark.svg', data: { link } });
    return;
  }
  for (const notification of await self.registration.getNotifications({ tag: topic })) notification.close();
}

/** The page that is open already, or a new one. */
async function openPage(link: string): Promise<void> {
  const url = new URL(link, self.location.origin);
  if (url.origin !== self.location.origin) return;
  const [open] = await self.clients.matchAll({ type: 'window', includeUncontrolled: true });
  if (open === undefined) await self.clients.openWindow(url.href);
  else await (await open.navigate(url.href))?.focus();
}

/** The page from the server while it answers in time; otherwise the one that is kept. */
async function start(event: FetchEvent): Promise<Response> {
  const kept = await (await caches.open(CACHE)).match(START);
  if (kept === undefined) return fetch(event.request);
  const fresh = fetch(START, PAGE);
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
  const page = await fetch(START, PAGE);
  if (!page.ok) throw new Error(`the page answered ${page.status}`);
  const text = await page.clone().text();
  const named = [...text.matchAll(/(?:src|href)="(\/(?!api\/)[^"]+)"/g)].map((match) => match[1]!);
  const parts = /<meta name="files" content="([^"]*)"/.exec(text)?.[1]?.split(' ') ?? [];
  const files = [...new Set([...named, ...parts])];
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
